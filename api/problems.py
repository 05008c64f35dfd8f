"""Problem details (RFC 9457): one shape for every error that the service answers."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException

from valuation.errors import LedgerError, ValuationError, shown

MEDIA_TYPE = "application/problem+json"
TYPE_PAGE = "/help"
MOST_FAULTS = 50
"""Faults of one request that are told one by one."""
log = logging.getLogger("valuation.api")


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
    """The body of a problem answer."""
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
    """Any error as the body of a problem answer; what nobody foresaw keeps its words to itself."""
    if isinstance(error, Refusal):
        return problem(error.status, error.code, error.detail, instance, errors=_place(error.where, error.detail))
    if isinstance(error, LedgerError):
        return problem(409, error.code, str(error), instance, errors=_place(error.where, str(error)))
    if isinstance(error, ValuationError):
        return problem(422, error.code, str(error), instance, errors=_place(error.where, str(error)))
    detail = (
        "The service met an error that nobody foresaw; it is in the log. Look whether what you asked for was written "
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


async def answer(request: Request, error: Exception) -> Response:
    """The answer to any error: problem details, or a page where a page was asked for."""
    path = request.url.path
    if isinstance(error, RequestValidationError):
        return await _reply(request, _invalid(error, path))
    if isinstance(error, HTTPException):
        code = {404: "service.not_found", 405: "service.method"}.get(error.status_code, "service.request")
        return await _reply(request, problem(error.status_code, code, str(error.detail), path), error.headers)
    body = as_problem(error, path)
    if body["status"] == 500:
        log.error("unexpected error at %s", path, exc_info=error)
    return await _reply(request, body, error.headers if isinstance(error, Refusal) else None)


def install(app: FastAPI) -> None:
    """Answer every error of the app by ``answer``. What nobody foresaw goes on to the guard, which does the same."""

    async def handle(request: Request, error: Exception) -> Response:
        return await answer(request, error)

    for kind in (ValuationError, Refusal, RequestValidationError, HTTPException):
        app.add_exception_handler(kind, handle)


async def _reply(request: Request, body: dict[str, Any], headers: Mapping[str, str] | None = None) -> Response:
    body = _sendable(body)
    own = dict(headers or {})
    by_browser = "text/html" in request.headers.get("accept", "") or "hx-request" in request.headers
    if by_browser and not request.url.path.startswith("/api/"):
        from api.pages.render import problem_page

        page = await problem_page(request, body)
        page.headers.update(own)
        return page
    return JSONResponse(body, body["status"], headers=own, media_type=MEDIA_TYPE)


def _invalid(error: RequestValidationError, path: str) -> dict[str, Any]:
    faults = [
        {"where": _short_text(".".join(map(str, one["loc"]))), "why": one["msg"], "found": _short(one.get("input"))}
        for one in error.errors()[:MOST_FAULTS]
    ]
    first = f"{faults[0]['where']}: {faults[0]['why']}" if faults else "the request"
    detail = f"Cannot use the request: {first}. The documentation at /api/docs says what is accepted."
    return problem(422, "service.request", detail, path, errors=faults)


def _sendable(value: Any) -> Any:
    """The same plain data with half characters (lone surrogates, which JSON can spell and UTF-8 cannot) written out."""
    if isinstance(value, str):
        return value.encode("utf-8", "backslashreplace").decode()
    if isinstance(value, dict):
        return {_sendable(key): _sendable(one) for key, one in value.items()}
    return [_sendable(one) for one in value] if isinstance(value, list) else value


def _short(value: Any) -> str:
    """What was found, in a few words, however large or deep it is."""
    return f"{len(value)} bytes" if isinstance(value, bytes) else _short_text(shown(value))


def _short_text(text: str) -> str:
    return text if len(text) <= 200 else text[:200] + "…"
