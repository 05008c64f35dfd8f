"""The guard at the door: which hosts and origins are served, who may come in, how large a request may be."""

from __future__ import annotations

from http.cookies import CookieError, SimpleCookie
from urllib.parse import urlencode, urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.problems import Refusal
from api.replies import answer
from api.sessions import Door, Sessions
from api.settings import Settings, is_loopback
from valuation.errors import shown

COOKIE = "valuation_session"
BACK = "back"
"""Names, at the sign-in page, the page to come back to."""
MOST_DIGITS = 15
"""Of a length that a request names; one with more is too large whatever it is."""
UNSAFE = {"POST", "PUT", "PATCH", "DELETE"}
OPEN_PATHS = ("/healthz", "/sign-in", "/certificate", "/static/")
SECURITY_HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
        "font-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}


class Guard:
    """ASGI middleware: host, origin, token, size of the request, and the security headers of every answer."""

    def __init__(self, app: ASGIApp, settings: Settings, door: Door, sessions: Sessions) -> None:
        self.app, self.settings, self.door, self.sessions = app, settings, door, sessions
        self.hosts = {host.casefold() for host in settings.allowed_hosts}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request, or refuse it before the app sees it."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        started = False
        body = _Body(receive, self.settings.max_upload_bytes)

        async def guarded_send(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start" and not started:
                if body.too_large:  # whoever read the body may have put the refusal into words of its own
                    raise self._too_large()
                started = True
                own = MutableHeaders(scope=message)
                for name, value in SECURITY_HEADERS.items():
                    own.setdefault(name, value)
                if not scope["path"].startswith("/static/"):
                    own.setdefault("Cache-Control", "no-store")
            await send(message)

        error: Exception | None = None
        open_to_all = not self.settings.token.get_secret_value()
        scope["state"] = {**scope.get("state", {}), "session": "", "signed_in": open_to_all}
        try:
            self._check(scope, headers)
            await self.app(scope, body, guarded_send)
        except Exception as found:  # a refusal of the guard, or what nobody foresaw
            error = found
        if started:
            if error is not None:
                raise error
            return
        if body.too_large:
            error, body.too_large = self._too_large(), False
        if error is not None:
            answer_to = await _refused(Request(scope), error)
            await answer_to(scope, receive, guarded_send)

    def _check(self, scope: Scope, headers: Headers) -> None:
        host = headers.get("host", "")
        name = _host_name(host)
        if not (is_loopback(name) or name.casefold() in self.hosts):
            raise Refusal(
                400,
                "service.host",
                f"Cannot serve the host {shown(name)}: it is not one of this service's. Use the address that the "
                "service printed, or add the name to VALUATION_ALLOWED_HOSTS.",
            )
        if scope["method"] in UNSAFE:
            _check_origin(headers, host)
        state = scope["state"]
        if not state["signed_in"]:
            state["session"] = self._session(headers)
            state["signed_in"] = bool(state["session"]) or self._has_token(scope, headers)
        if not (state["signed_in"] or _is_open(scope["path"])):
            raise Refusal(
                401,
                "service.sign_in",
                "Cannot answer without the token: none was given, or another. Sign in at /sign-in, or send the header "
                "'Authorization: Bearer' with the token.",
                {"WWW-Authenticate": "Bearer"},
            )
        length = headers.get("content-length", "0")
        digits = length.isascii() and length.isdigit()
        if digits and (len(length) > MOST_DIGITS or int(length) > self.settings.max_upload_bytes):
            raise self._too_large()

    def _session(self, headers: Headers) -> str:
        """Number of the open session that the browser shows; empty when there is none."""
        try:
            cookie = SimpleCookie(headers.get("cookie", "")).get(COOKIE)
        except CookieError:
            return ""
        return cookie.value if cookie is not None and self.sessions.use(cookie.value) else ""

    def _has_token(self, scope: Scope, headers: Headers) -> bool:
        kind, _, given = headers.get("authorization", "").partition(" ")
        return kind.casefold() == "bearer" and self.door.opens(given.strip(), client_of(scope))

    def _too_large(self) -> Refusal:
        limit = self.settings.max_upload_bytes
        return Refusal(
            413,
            "service.too_large",
            f"Cannot take the request: it is larger than {limit:,} bytes. Send a smaller table, or raise "
            "VALUATION_MAX_UPLOAD_BYTES.",
        )


class _Body:
    """The body of a request as it comes in, cut off where it grows beyond the limit."""

    def __init__(self, receive: Receive, limit: int) -> None:
        self.receive, self.limit, self.taken, self.too_large = receive, limit, 0, False

    async def __call__(self) -> Message:
        message = await self.receive()
        self.taken += len(message.get("body", b""))
        if self.taken > self.limit:
            self.too_large = True
            return {"type": "http.disconnect"}
        return message


def client_of(scope: Scope) -> str:
    """Address of the client of a request."""
    client = scope.get("client")
    return str(client[0]) if client else ""


def _is_open(path: str) -> bool:
    return any(path == one or (one[-1] == "/" and path.startswith(one)) for one in OPEN_PATHS)


def _host_name(host: str) -> str:
    """Name of a host without its port; what is not a host at all stays as it is and is then refused as unknown."""
    try:
        return urlsplit(f"//{host}").hostname or "" if host.count("@") == 0 else host
    except ValueError:
        return host


def _check_origin(headers: Headers, host: str) -> None:
    """Refuse an unsafe request that a browser sends for a page of another site."""
    origin, site = headers.get("origin"), headers.get("sec-fetch-site", "")
    foreign = site in ("cross-site", "same-site") if origin is None else origin.partition("://")[2] != host
    if foreign:
        raise Refusal(
            403,
            "service.origin",
            f"Cannot take the request: it comes from a page of another site ({shown(origin or site)}). Use this "
            "service's own pages, or a program that sends no Origin header.",
        )


def sign_in_address(path: str, query: str = "") -> str:
    """Where to sign in, and come back to the page that was asked for.

    Parameters
    ----------
    path, query : str
        Of the page.
    """
    page = f"{path}?{query}" if query else path
    return "/sign-in" if page == "/" else f"/sign-in?{urlencode({BACK: page})}"


async def _refused(request: Request, error: Exception) -> Response:
    """The answer of a request that was refused or broke; a page that needs signing in leads there."""
    html = "text/html" in request.headers.get("accept", "")
    if isinstance(error, Refusal) and error.status == 401 and html and request.method == "GET":
        return RedirectResponse(sign_in_address(request.url.path, request.url.query), 303)
    return await answer(request, error)
