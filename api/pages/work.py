"""Work under way as a page: progress, a way to stop it, and on to the result."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response

from api.deps import TheDesk
from api.desk import Desk
from api.jobs import Awaited, Job
from api.pages.refused import typed_into
from api.pages.render import Page, go, page
from api.problems import Refusal, not_found

router = APIRouter(include_in_schema=False)
FOLLOW_SECONDS = 1.0
"""How long a browser waits before it is shown the work's page: most work is done sooner."""


@dataclass(frozen=True, kw_only=True)
class WorkPage(Page):
    """One piece of work.

    Attributes
    ----------
    job : Job
    """

    template = "work.html"
    job: Job


def follow(
    request: Request, job: Job, done: Callable[[Job], Response] | None = None, seconds: float = FOLLOW_SECONDS
) -> Response:
    """On to the result of work that is soon done, or to its page while it is under way; its refusal if it failed.

    Parameters
    ----------
    request : Request
        What was typed into its form is kept, for a refusal that comes late.
    job : Job
    done : callable, optional
        Makes the answer of work that is soon done; on to the page of its result unless given.
    seconds : float
        How long a browser waits before it is shown the work's page.
    """

    def to_result(job: Job) -> Response:
        return go(str(job.result).removeprefix("/api/v1"))  # a page stands at the address of its JSON twin

    def to_its_page(job: Job) -> Response:
        if (typed := typed_into(request)) is not None:
            desk: Desk = request.app.state.desk
            desk.typed.keep(job.id, typed)
        return go(f"/work/{job.id}")

    return Awaited(job, seconds, done or to_result, to_its_page)


@router.get("/work/{job_id}")
def work_page(request: Request, desk: TheDesk, job_id: str) -> Response:
    """Progress; moves on by itself."""
    job = _find(desk, job_id)
    if job.finished.is_set():
        request.state.typed = desk.typed.find(job_id)  # a refusal goes back to the form that began the work
        return follow(request, job)
    return page(request, WorkPage(title=job.what, here="", twin=f"/api/v1/jobs/{job.id}", job=job))


@router.post("/work/{job_id}/stop")
def stop(request: Request, desk: TheDesk, job_id: str) -> Response:
    """Stop it."""
    job = _find(desk, job_id)
    job.stop(Refusal(409, "service.stopped", f"'{job.what}' was stopped on request. Nothing was written."))
    job.finished.wait(3.0)
    return go("/")


def _find(desk: TheDesk, job_id: str) -> Job:
    job = desk.jobs.find(job_id)
    if job is None:
        raise not_found(f"the work {job_id!r}; finished work is forgotten after a while")
    return job
