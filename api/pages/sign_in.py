"""Signing in with the service's token, and out again."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, Response

from api.deps import TheSettings
from api.guard import COOKIE, client_of
from api.pages.render import Page, go, page
from api.sessions import LIFE_SECONDS, Door, Sessions

router = APIRouter()


@dataclass(frozen=True, kw_only=True)
class SignInPage(Page):
    """The form for the token.

    Attributes
    ----------
    wrong : bool
        Whether another token was just given.
    """

    template = "sign_in.html"
    wrong: bool = False


@router.get("/sign-in")
def sign_in_page(request: Request) -> HTMLResponse:
    """The form for the token."""
    return page(request, SignInPage(title="Sign in", here=""))


@router.post("/sign-in")
def sign_in(request: Request, settings: TheSettings, token: Annotated[str, Form(max_length=500)] = "") -> Response:
    """Begin a session for a browser that knows the token; the one that it had before ends."""
    door: Door = request.app.state.door
    sessions: Sessions = request.app.state.sessions
    if not settings.token.get_secret_value() or not door.opens(token, client_of(request.scope)):
        return page(request, SignInPage(title="Sign in", here="", wrong=True), 401)
    answer = go("/")
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
    answer = go("/sign-in")
    answer.delete_cookie(COOKIE, httponly=True, samesite="strict", secure=settings.secure_cookies)
    return answer
