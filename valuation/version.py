"""Which release of the program this is."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version


def own_version() -> str:
    """Version of the program; "0" where it is not installed."""
    try:
        return version("valuation")
    except PackageNotFoundError:
        return "0"
