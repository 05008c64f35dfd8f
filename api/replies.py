"""Every error answered: as problem details (RFC 9457), or as a page where a page was asked for."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException

from api.pages.render import problem_page
from api.problems import MEDIA_TYPE, Refusal, as_problem, problem
from valuation.errors import ValuationError, shown

MOST_FAULTS = 50
"""Faults of one request that are told one by one."""
log = logging.getLogger("valuation.api")


async def answer(request: Request, error: Exception) -> Response:
    """The answer to any error: problem details, or a page where a page was asked for.

    Parameters
    ----------
    request : Request
    error : Exception
    """
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
