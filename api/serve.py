"""Listening: the service by uvicorn, with settings from the environment."""

from __future__ import annotations

from api.settings import Settings
from valuation.threads import one_thread


def main() -> None:
    """Listen on the host and port of the settings until stopped.

    Raises
    ------
    SystemExit
        If the settings contradict each other, with what is wrong in words.
    """
    one_thread()
    import uvicorn
    from pydantic import ValidationError

    try:
        settings = Settings.from_environment()
    except ValidationError as error:
        raise SystemExit("\n".join(str(one["msg"]).removeprefix("Value error, ") for one in error.errors())) from error
    uvicorn.run(
        "api.app:create_app",
        factory=True,
        host=settings.host,
        port=settings.port,
        server_header=False,
        log_level="warning",
        http="api.patience:PatientProtocol",
        timeout_graceful_shutdown=5,
    )
