"""Problem details (RFC 9457): one shape for every error that the service answers."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any

from pydantic import BaseModel, Field

from valuation.errors import LedgerError, ValuationError

MEDIA_TYPE = "application/problem+json"
TYPE_PAGE = "/help"


class Problem(BaseModel):
    """Problem details of RFC 9457 with the stable code of the refusal."""

    type: str = Field(description="Address of the page that explains the code.", examples=["/help#comparables.too_few"])
    title: str = Field(description="The kind of problem.", examples=["Unprocessable Content"])
    status: int = Field(description="The HTTP status once more.", examples=[422])
    detail: str = Field(description="What cannot be done, what was found, what is accepted, what to do next.")
    code: str = Field(description="Stable code, the same in README and command line.", examples=["vehicle.invalid"])
    instance: str = Field("", description="Path of the request.")
    errors: list[dict[str, Any]] = Field(default_factory=list, description="Single faults of the request, if any.")


class Refusal(Exception):
    """A refusal of the service itself, as against those of the library; ``where`` names the field it is about."""

    def __init__(
        self, status: int, code: str, detail: str, headers: dict[str, str] | None = None, *, where: str = ""
    ) -> None:
        super().__init__(detail)
        self.status, self.code, self.detail, self.headers, self.where = status, code, detail, headers or {}, where


def not_found(what: str) -> Refusal:
    """The refusal for a thing that is not there."""
    return Refusal(404, "service.not_found", f"Cannot find {what}. Look it up in its list and try again.")


def problem(status: int, code: str, detail: str, instance: str = "", **more: Any) -> dict[str, Any]:
    """The body of a problem answer.

    Parameters
    ----------
    status : int
        Of the answer.
    code : str
        Stable code.
    detail : str
        In words.
    instance : str
        Path of the request.
    **more : Any
        Further members.
    """
    return {
        "type": f"{TYPE_PAGE}#{code}",
        "title": HTTPStatus(status).phrase,
        "status": status,
        "detail": detail,
        "code": code,
        "instance": instance,
        "errors": more.get("errors", []),
    }


def as_problem(error: Exception, instance: str = "") -> dict[str, Any]:
    """Any error as the body of a problem answer; what nobody foresaw keeps its words to itself.

    Parameters
    ----------
    error : Exception
    instance : str
        Path of the request.
    """
    if isinstance(error, Refusal):
        return problem(error.status, error.code, error.detail, instance, errors=_place(error.where, error.detail))
    if isinstance(error, LedgerError):
        return problem(409, error.code, str(error), instance, errors=_place(error.where, str(error)))
    if isinstance(error, ValuationError):
        return problem(422, error.code, str(error), instance, errors=_place(error.where, str(error)))
    detail = (
        "The service met an unexpected error; it is in the log. Check whether what you asked for was written "
        "before you try again."
    )
    return problem(500, "service.unexpected", detail, instance)


def _place(where: str, why: str) -> list[dict[str, Any]]:
    return [{"where": where, "why": why}] if where else []


def answers(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """Documentation of the problem answers of a route; each of the guard's refusals is always among them."""
    given = sorted({400, 401, 403, 413, 429, *statuses})
    return {
        status: {"model": Problem, "description": HTTPStatus(status).phrase, "content": {MEDIA_TYPE: {}}}
        for status in given
    }
