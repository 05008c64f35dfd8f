"""The shop's settings."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter
from pydantic import Field

from api.deps import TheDesk
from api.models.shared import Asked, RecordNumber
from api.problems import answers
from valuation.answers.shop import ShopNow, keep_settings, shop_now
from valuation.schema.reader import default_schema

router = APIRouter(prefix="/api/v1/shop", tags=["plans"])


class ShopAsked(Asked):
    """The settings as they are to be."""

    text: Annotated[str, Field(max_length=100_000, description="TOML, as shop.toml holds them, and [paper].")]
    record: RecordNumber | None = Field(None, description="Record that it began with; what others changed stays.")


@router.get("", response_model=ShopNow, responses=answers(409, 422), summary="The shop's settings")
def settings(desk: TheDesk) -> Any:
    """As they count, where they come from, and what was changed in them."""
    return shop_now(desk.ledger, desk.folder)


@router.put("", response_model=ShopNow, responses=answers(409, 422), summary="Keep the shop's settings")
def keep(desk: TheDesk, asked: ShopAsked) -> Any:
    """Refused where another hand changed the same setting to something else meanwhile."""
    table = desk.newest_table()
    schema = default_schema() if table is None else desk.schema(table)
    keep_settings(desk.ledger, desk.folder, asked.text, schema, asked.record or 0)
    return shop_now(desk.ledger, desk.folder)
