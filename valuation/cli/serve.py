"""``valuation serve``: the desk, on this computer."""

from __future__ import annotations

import argparse
import os
from importlib import import_module

from valuation.cli.exits import DONE


def serve(arguments: argparse.Namespace) -> int:
    """Start the service; what is not given comes from the environment (``VALUATION_...``) or has a default."""
    for name in ("ledger", "host", "port"):
        value = getattr(arguments, name)
        if value is not None:
            os.environ[f"VALUATION_{name.upper()}"] = str(value)
    # By name, since nothing in the library may depend on the service that stands on top of it.
    import_module("api.serve").main(browser=not arguments.no_browser, phone=arguments.phone)
    return DONE
