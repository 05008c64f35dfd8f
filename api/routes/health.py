"""Whether the service is up and its ledger answers."""

from __future__ import annotations

from typing import Literal

from fastapi import APIRouter
from pydantic import BaseModel

from api.deps import TheDesk
from api.problems import answers

router = APIRouter(tags=["service"])


class Health(BaseModel):
    """The service is up and its ledger answers."""

    status: Literal["ok"] = "ok"
    ledger: str
    tables: int


@router.get("/healthz", responses=answers(409), summary="Is the service up?")
def healthz(desk: TheDesk) -> Health:
    """Answers once the ledger can be read."""
    return Health(ledger=desk.ledger.version, tables=len(desk.ledger.tables()))
