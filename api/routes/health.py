"""Whether the service is up and its ledger answers."""

from __future__ import annotations

from typing import Literal

from fastapi import APIRouter, Request
from pydantic import BaseModel, Field

from api.deps import TheDesk
from api.problems import answers
from valuation.version import own_version

router = APIRouter(tags=["service"])


class Health(BaseModel):
    """The service is up and its ledger answers."""

    status: Literal["ok"] = "ok"
    version: str | None = Field(default=None, description="Of the program; like the rest only for those signed in.")
    ledger: str | None = Field(default=None, description="Version of the ledger's format.")
    tables: int | None = Field(default=None, description="Versions of tables in the ledger.")


@router.get("/healthz", response_model_exclude_none=True, responses=answers(409), summary="Is the service up?")
def healthz(request: Request, desk: TheDesk) -> Health:
    """Answers once the ledger can be read; where a token is set, strangers are told no more than that."""
    tables = len(desk.ledger.tables())
    if not request.state.signed_in:
        return Health()
    return Health(version=own_version(), ledger=desk.ledger.version, tables=tables)
