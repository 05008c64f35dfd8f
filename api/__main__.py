"""``python -m api``: start the service with settings from the environment."""

from __future__ import annotations

from api.settings import Settings


def main() -> None:
    """Listen on the host and port of the settings until stopped."""
    import uvicorn

    settings = Settings.from_environment()
    uvicorn.run(
        "api.app:create_app", factory=True, host=settings.host, port=settings.port, server_header=False, workers=1
    )


if __name__ == "__main__":
    main()
