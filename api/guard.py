"""The guard at the door: which hosts and origins are served, who may come in, how large a request may be."""

from __future__ import annotations

import hashlib
import hmac
import json
from http.cookies import CookieError, SimpleCookie
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.problems import MEDIA_TYPE, Refusal, as_problem
from api.settings import Settings, is_loopback

COOKIE = "valuation_pass"
UNSAFE = {"POST", "PUT", "PATCH", "DELETE"}
OPEN_PATHS = ("/healthz", "/sign-in", "/static/")
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


def cookie_value(settings: Settings) -> str:
    """What the cookie of a signed-in browser holds: proof of the token, not the token."""
    key = settings.token.get_secret_value().encode()
    return hmac.new(key, b"valuation pages", hashlib.sha256).hexdigest()


def is_token(settings: Settings, given: str) -> bool:
    """Whether a password is the service's, compared in constant time."""
    return hmac.compare_digest(settings.token.get_secret_value().encode(), given.encode())


class Guard:
    """ASGI middleware: host, origin, token, size of the request, and the security headers of every answer."""

    def __init__(self, app: ASGIApp, settings: Settings) -> None:
        self.app, self.settings = app, settings
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
                answer = MutableHeaders(scope=message)
                for name, value in SECURITY_HEADERS.items():
                    answer.setdefault(name, value)
                if not scope["path"].startswith("/static/"):
                    answer.setdefault("Cache-Control", "no-store")
            await send(message)

        try:
            self._check(scope, headers)
            await self.app(scope, body, guarded_send)
            refusal = self._too_large() if body.too_large and not started else None
        except Refusal as found:
            refusal = found
        except Exception:
            if not body.too_large:
                raise
            refusal = self._too_large()
        if refusal is not None and not started:
            body.too_large = False
            await _refuse(refusal, scope, headers, guarded_send)

    def _check(self, scope: Scope, headers: Headers) -> None:
        host = headers.get("host", "")
        name = _host_name(host)
        if not (is_loopback(name) or name.casefold() in self.hosts):
            raise Refusal(
                400,
                "service.host",
                f"Cannot serve the host {name!r}: it is not one of this service's. Use the address that the service "
                "printed, or add the name to VALUATION_ALLOWED_HOSTS.",
            )
        if scope["method"] in UNSAFE:
            _check_origin(headers, host)
        if self.settings.token.get_secret_value() and not self._signed_in(scope, headers):
            raise Refusal(
                401,
                "service.sign_in",
                "Cannot answer without the token: none was given, or another. Sign in at /sign-in, or send the header "
                "'Authorization: Bearer' with the token.",
                {"WWW-Authenticate": "Bearer"},
            )
        length = headers.get("content-length", "0")
        if length.isdigit() and int(length) > self.settings.max_upload_bytes:
            raise self._too_large()

    def _signed_in(self, scope: Scope, headers: Headers) -> bool:
        if any(scope["path"] == path or (path[-1] == "/" and scope["path"].startswith(path)) for path in OPEN_PATHS):
            return True
        kind, _, given = headers.get("authorization", "").partition(" ")
        if kind.casefold() == "bearer" and is_token(self.settings, given.strip()):
            return True
        try:
            cookie = SimpleCookie(headers.get("cookie", "")).get(COOKIE)
        except CookieError:
            return False
        return cookie is not None and hmac.compare_digest(cookie.value.encode(), cookie_value(self.settings).encode())

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


def _host_name(host: str) -> str:
    return urlsplit(f"//{host}").hostname or "" if host.count("@") == 0 else host


def _check_origin(headers: Headers, host: str) -> None:
    """Refuse an unsafe request that a browser sends for a page of another site."""
    origin, site = headers.get("origin"), headers.get("sec-fetch-site", "")
    foreign = site in ("cross-site", "same-site") if origin is None else urlsplit(origin).netloc != host
    if foreign:
        raise Refusal(
            403,
            "service.origin",
            f"Cannot take the request: it comes from a page of another site ({origin or site}). Use this service's "
            "own pages, or a program that sends no Origin header.",
        )


async def _refuse(refusal: Refusal, scope: Scope, headers: Headers, send: Send) -> None:
    if refusal.status == 401 and "text/html" in headers.get("accept", "") and scope["method"] == "GET":
        await send({"type": "http.response.start", "status": 303, "headers": [(b"location", b"/sign-in")]})
        await send({"type": "http.response.body", "body": b""})
        return
    body = json.dumps(as_problem(refusal, scope["path"])).encode()
    own = [(name.lower().encode(), value.encode()) for name, value in refusal.headers.items()]
    kind, length = (b"content-type", MEDIA_TYPE.encode()), (b"content-length", str(len(body)).encode())
    await send({"type": "http.response.start", "status": refusal.status, "headers": [kind, length, *own]})
    await send({"type": "http.response.body", "body": body})
