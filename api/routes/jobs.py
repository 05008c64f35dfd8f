"""Long work: look at it, stop it."""

from __future__ import annotations

from collections.abc import Callable
from operator import attrgetter
from typing import Annotated, Any

from fastapi import APIRouter, Path
from fastapi.responses import JSONResponse, Response

from api.deps import TheDesk
from api.jobs import RETRY_SECONDS, Awaited, Job
from api.models.shared import JobAnswer
from api.problems import Refusal, answers, not_found

router = APIRouter(prefix="/api/v1/jobs", tags=["long work"])
JobId = Annotated[str, Path(max_length=40, description="As the answer with status 202 gave it.")]


def job_answer(job: Job) -> JobAnswer:
    """A job as the JSON answers show it."""
    result = job.result if job.state == "done" and isinstance(job.result, str) else None
    return JobAnswer(
        id=job.id,
        what=job.what,
        state=job.state,
        step=job.step,
        share=job.share,
        begun=job.begun,
        problem=job.problem,
        result=result,
    )


def accepted(job: Job) -> JSONResponse:
    """The answer 202: the work goes on, look at its job."""
    body = job_answer(job).model_dump(mode="json")
    return JSONResponse(body, 202, headers={"Location": f"/api/v1/jobs/{job.id}"})


def answered(job: Job, wait: float, done: Callable[[Job], Any] = attrgetter("result")) -> Response:
    """What the work found, or what ``done`` makes of it; 202 with the job when that takes longer than ``wait``.

    Parameters
    ----------
    job : Job
    wait : float
        Seconds.
    done : callable
        Makes the answer of the job's result.
    """
    return Awaited(job, wait, done, accepted)


def still_at_it(job: Job) -> Response:
    """The refusal where the answer cannot be a job: what was asked is to be asked again."""
    raise Refusal(
        503,
        "service.fitting",
        f"Cannot answer yet: '{job.what}' is still under way. Nothing was written. Try again in a few seconds.",
        {"Retry-After": str(RETRY_SECONDS)},
    )


ACCEPTED: dict[int | str, dict[str, Any]] = {
    202: {"model": JobAnswer, "description": "The work takes longer; look at the job named."}
}


@router.get("", responses=answers(), summary="Work under way and done")
def list_jobs(desk: TheDesk) -> list[JobAnswer]:
    """Newest first."""
    return [job_answer(job) for job in desk.jobs.all()]


@router.get("/{job_id}", responses=answers(404, 422), summary="One piece of work")
def one_job(desk: TheDesk, job_id: JobId) -> JobAnswer:
    """Its progress, and where its answer is once it is done."""
    return job_answer(_find(desk, job_id))


@router.delete("/{job_id}", responses=answers(404, 422), summary="Stop a piece of work")
def stop_job(desk: TheDesk, job_id: JobId) -> JobAnswer:
    """Nothing is written by work that is stopped; work that is at writing ends first."""
    job = _find(desk, job_id)
    job.stop(Refusal(409, "service.stopped", f"'{job.what}' was stopped on request. Nothing was written."))
    job.finished.wait(2.0)
    return job_answer(job)


def _find(desk: TheDesk, job_id: str) -> Job:
    job = desk.jobs.find(job_id)
    if job is None:
        raise not_found(f"the job {job_id!r}; finished work is forgotten after a while")
    return job
