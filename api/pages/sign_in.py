"""Signing in with the service's token, and out again."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import FileResponse, HTMLResponse, Response

from api.deps import TheSettings
from api.guard import COOKIE, client_of
from api.pages.render import Page, go, page
from api.problems import Refusal, not_found
from api.sessions import LIFE_SECONDS, Door, Sessions

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, kw_only=True)
class SignInPage(Page):
    """The form for the token.

    Attributes
    ----------
    back : str
        Address of the page to come back to.
    out : bool
        Whether this browser was just signed out.
    """

    template = "sign_in.html"
    back: str
    out: bool = False


@router.get("/sign-in")
def sign_in_page(
    request: Request,
    back: Annotated[str, Query(max_length=2000)] = "/",
    out: Annotated[bool, Query()] = False,
) -> HTMLResponse:
    """The form for the token."""
    return page(request, SignInPage(title="Sign in", here="", back=_own_page(back), out=out))


@router.post("/sign-in")
def sign_in(
    request: Request,
    settings: TheSettings,
    token: Annotated[str, Form(max_length=500)] = "",
    back: Annotated[str, Form(max_length=2000)] = "/",
) -> Response:
    """Begin a session for a browser that knows the token or a code; the one that it had before ends."""
    door: Door = request.app.state.door
    sessions: Sessions = request.app.state.sessions
    if not door.opens(token, client_of(request.scope), codes=True):
        detail = (
            "Cannot sign in: that is neither the desk's token nor a code that still signs in. A code does so once, and "
            "for ten minutes. Type the token, or start the desk again for another code."
        )
        raise Refusal(401, "service.sign_in", detail, where="token")
    answer = go(_own_page(back))
    answer.set_cookie(
        COOKIE,
        sessions.begin(request.state.session),
        max_age=int(LIFE_SECONDS),
        httponly=True,
        samesite="strict",
        secure=settings.secure_cookies,
    )
    return answer


@router.post("/sign-out")
def sign_out(request: Request, settings: TheSettings) -> Response:
    """End the session of this browser."""
    sessions: Sessions = request.app.state.sessions
    sessions.end(request.state.session)
    answer = go("/sign-in?out=true")
    answer.delete_cookie(COOKIE, httponly=True, samesite="strict", secure=settings.secure_cookies)
    return answer


@router.get("/certificate")
def certificate(request: Request) -> Response:
    """The certificate of the authority that a telephone may trust; it holds nothing secret."""
    authority: Path | None = request.app.state.authority
    if authority is None:
        raise not_found("a certificate: this desk listens without one. Start it with 'valuation serve --phone'")
    return FileResponse(authority, media_type="application/x-x509-ca-cert", filename="valuation-desk.crt")


def _own_page(address: str) -> str:
    """An address within this service; its first page in place of any other."""
    own = address.startswith("/") and not address.startswith(("//", "/\\")) and address.isprintable()
    return address if own else "/"
