"""Listening: the service by uvicorn, with settings from the environment, for this computer or for a telephone too."""

from __future__ import annotations

import contextlib
import io
import os
import secrets
import socket
import sys
import webbrowser
from collections.abc import Mapping
from typing import TYPE_CHECKING

from api.settings import Settings, is_loopback
from valuation.threads import one_thread

if TYPE_CHECKING:
    from api.certificate import Certificate

EVERYWHERE = "0.0.0.0"
"""Listens on every network that this computer is in."""
TOKEN_BYTES = 12
"""Of a token that is made for one run: 96 bits."""


def main(*, browser: bool = False, phone: bool = False) -> None:
    """Listen on the host and port of the settings until stopped.

    Parameters
    ----------
    browser : bool
        Whether to open the desk in this computer's browser, where there is one.
    phone : bool
        Whether telephones on the local network may come in: over TLS, with a code to sign in.

    Raises
    ------
    SystemExit
        If the settings contradict each other, or another program has the port, with what is wrong in words.
    """
    one_thread()
    import uvicorn
    from pydantic import ValidationError

    from api.certificate import certificate, own_names

    names = own_names() if phone else []
    try:
        settings = Settings.from_environment(for_telephones(os.environ, names) if phone else None)
    except ValidationError as error:
        raise SystemExit("\n".join(str(one["msg"]).removeprefix("Value error, ") for one in error.errors())) from error
    tls = certificate(settings.ledger, names) if phone else None
    _check_port(settings)
    from api.app import create_app

    app = create_app(settings)
    app.state.authority = tls.authority if tls else None
    server = uvicorn.Server(
        uvicorn.Config(
            app,
            host=settings.host,
            port=settings.port,
            server_header=False,
            log_level="warning",
            http="api.patience:PatientProtocol",
            timeout_graceful_shutdown=5,
            ssl_certfile=tls.chain if tls else None,
            ssl_keyfile=tls.key if tls else None,
        )
    )
    door = app.state.door
    start = server.startup

    async def startup(sockets: list[socket.socket] | None = None) -> None:
        await start(sockets)
        here = _address(settings, "127.0.0.1" if settings.host == EVERYWHERE else settings.host, tls)
        link = f"{here}/sign-in#{door.new_code()}" if door.guarded else here
        if tls is None:
            print(f"The desk is open at {here}. Ctrl-C closes it.", flush=True)
        else:
            there = _address(settings, names[0], tls)
            print(told_to_telephones(here, there, door.new_code(), settings.token.get_secret_value(), tls), flush=True)
        if browser and has_browser(os.environ):
            webbrowser.open(link)

    server.startup = startup  # type: ignore[method-assign]
    with contextlib.suppress(KeyboardInterrupt):
        server.run()


def for_telephones(environment: Mapping[str, str], names: list[str]) -> dict[str, str]:
    """Variables of the environment as they must be for telephones: what is set stays, as far as it lets them in.

    Parameters
    ----------
    environment : mapping of str to str
    names : list of str
        Of this computer on the local network.
    """
    found = dict(environment)
    host = found.get("VALUATION_HOST", "")
    token = found.get("VALUATION_TOKEN", "") or secrets.token_urlsafe(TOKEN_BYTES)
    hosts = [*filter(None, [found.get("VALUATION_ALLOWED_HOSTS", "")]), *names]
    return {
        **found,
        "VALUATION_HOST": host if host and not is_loopback(host) else EVERYWHERE,
        "VALUATION_TOKEN": token,
        "VALUATION_ALLOWED_HOSTS": ",".join(hosts),
        "VALUATION_SECURE_COOKIES": "yes",
    }


def has_browser(environment: Mapping[str, str], platform: str = sys.platform) -> bool:
    """Whether this computer has a screen with a browser: a browser of the terminal would take the terminal.

    Parameters
    ----------
    environment : mapping of str to str
    platform : str
        As Python calls it.
    """
    return platform in ("darwin", "win32") or any(environment.get(one) for one in ("DISPLAY", "WAYLAND_DISPLAY"))


def told_to_telephones(here: str, there: str, code: str, token: str, tls: Certificate) -> str:
    """What the terminal shows of the desk for telephones: a QR code that signs in, and what else to know.

    Parameters
    ----------
    here, there : str
        Addresses of the desk for this computer and for others.
    code : str
        Signs in once.
    token : str
        Signs in always.
    tls : Certificate
    """
    from api.certificate import fingerprint
    from api.sessions import CODE_SECONDS

    link = f"{there}/sign-in#{code}"
    return (
        f"The desk is open at {there} on this network, and at {here} on this computer. Ctrl-C closes it.\n\n"
        f"{qr_code(link)}"
        f"Point a telephone's camera at it, or open {link}\n"
        f"It signs in one telephone, within {CODE_SECONDS / 60:.0f} minutes. Others sign in with the token {token}\n\n"
        "The telephone warns that it does not know the desk's certificate, since nobody vouches for it but this\n"
        f"computer. 'On the telephone' in README says how it comes to trust it. The certificate's SHA-256:\n"
        f"{fingerprint(tls.chain)}"
    )


def qr_code(link: str) -> str:
    """A link as a QR code of block letters; nothing where the terminal cannot write them."""
    import segno

    out = io.StringIO()
    segno.make(link, error="m", micro=False).terminal(out, compact=True, border=2)
    text = out.getvalue()
    try:
        text.encode(sys.stdout.encoding or "ascii")
    except UnicodeEncodeError:
        return ""
    return f"{text}\n"


def _address(settings: Settings, host: str, tls: Certificate | None) -> str:
    shown = f"[{host}]" if ":" in host else host
    return f"{'https' if tls else 'http'}://{shown}:{settings.port}"


def _check_port(settings: Settings) -> None:
    """Refuse a port that another program has, in words."""
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    with socket.socket(family) as tried:
        tried.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            tried.bind((settings.host, settings.port))
        except OSError as error:
            raise SystemExit(
                f"Cannot listen on {settings.host}, port {settings.port}: {error.strerror}. If the desk is open in "
                "another window, use that one; else name another port with --port."
            ) from error
