"""Problem details (RFC 9457): one shape for every error that the service answers."""

from __future__ import annotations

import logging
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.encoders import jsonable_encoder
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException

from valuation.errors import LedgerError, ValuationError

MEDIA_TYPE = "application/problem+json"
TYPE_PAGE = "/help"
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
    detail = "The service met an error that nobody foresaw; it is in the log. Nothing was written. Try again."
    return problem(500, "service.unexpected", detail, instance)


def _place(where: str, why: str) -> list[dict[str, Any]]:
    return [{"where": where, "why": why}] if where else []


def answers(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """Documentation of the problem answers of a route; each of the guard's refusals is always among them."""
    found = sorted({400, 401, 403, 413, *statuses})
    return {
        status: {"model": Problem, "description": HTTPStatus(status).phrase, "content": {MEDIA_TYPE: {}}}
        for status in found
    }


def install(app: FastAPI) -> None:
    """Answer every error of the app as problem details, or as a page where a page was asked for."""

    async def reply(request: Request, body: dict[str, Any], headers: dict[str, str] | None = None) -> Response:
        by_browser = "text/html" in request.headers.get("accept", "") or "hx-request" in request.headers
        if by_browser and not request.url.path.startswith("/api/"):
            from api.pages.render import problem_page

            return await problem_page(request, body)
        return JSONResponse(body, body["status"], headers=headers, media_type=MEDIA_TYPE)

    @app.exception_handler(ValuationError)
    async def _refused(request: Request, error: ValuationError) -> Response:
        return await reply(request, as_problem(error, request.url.path))

    @app.exception_handler(Refusal)
    async def _service_refused(request: Request, error: Refusal) -> Response:
        return await reply(request, as_problem(error, request.url.path), error.headers)

    @app.exception_handler(RequestValidationError)
    async def _invalid(request: Request, error: RequestValidationError) -> Response:
        faults = [
            {"where": ".".join(map(str, one["loc"])), "why": one["msg"], "found": _short(one.get("input"))}
            for one in error.errors()
        ]
        first = f"{faults[0]['where']}: {faults[0]['why']}" if faults else "the request"
        detail = f"Cannot use the request: {first}. The documentation at /api/docs says what is accepted."
        return await reply(request, problem(422, "service.request", detail, request.url.path, errors=faults))

    @app.exception_handler(HTTPException)
    async def _http(request: Request, error: HTTPException) -> Response:
        code = {404: "service.not_found", 405: "service.method"}.get(error.status_code, "service.request")
        body = problem(error.status_code, code, str(error.detail), request.url.path)
        return await reply(request, body, dict(error.headers or {}))

    @app.exception_handler(Exception)
    async def _unexpected(request: Request, error: Exception) -> Response:
        log.exception("unexpected error at %s", request.url.path, exc_info=error)
        return await reply(request, as_problem(error, request.url.path))


def _short(value: Any) -> str:
    text = str(jsonable_encoder(value, custom_encoder={bytes: lambda data: f"{len(data)} bytes"}))
    return text if len(text) <= 200 else text[:200] + "…"
