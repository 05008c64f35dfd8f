"""Work under way as a page: progress, a way to stop it, and on to the result."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fastapi import APIRouter, Request
from fastapi.responses import Response

from api.deps import TheDesk
from api.jobs import Awaited, Job
from api.pages.render import Page, go, page
from api.problems import Refusal, not_found

if TYPE_CHECKING:
    from valuation.ledger import TableRecord

router = APIRouter()
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


def follow(job: Job) -> Response:
    """On to the result of work that is soon done, or to its page while it is under way; its refusal if it failed."""

    def to_result(job: Job) -> Response:
        return go(str(job.result).removeprefix("/api/v1"))  # a page stands at the address of its JSON twin

    return Awaited(job, FOLLOW_SECONDS, to_result, lambda job: go(f"/work/{job.id}"))


@router.get("/work/{job_id}")
def work_page(request: Request, desk: TheDesk, job_id: str) -> Response:
    """Progress; moves on by itself."""
    job = _find(desk, job_id)
    if job.finished.is_set():
        return follow(job)
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


def fit_or_follow(desk: TheDesk, table: TableRecord, then: str) -> Response | None:
    """``None`` once the table is fitted; until then the page of that work, which comes back to ``then``."""
    return None if desk.is_fitted(table) else follow(desk.warm(table, then))
