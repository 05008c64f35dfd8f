"""The shop's settings: what holds for every plan, the book of steps, the name on paper; and what changed in them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from valuation.answers.plans import shop_settings
from valuation.build.shop_check import check_shop
from valuation.build.shop_file import SHOP_FILE, read_shop, shop_from_text
from valuation.errors import LedgerError, PlanError, shortlist
from valuation.schema import Schema
from valuation.text.files import read_text_file
from valuation.text.toml import read_toml, toml_text

if TYPE_CHECKING:
    from valuation.ledger import Ledger, ShopRecord

Source = Literal["ledger", "file", "nothing"]
"""Where the settings come from: kept in the ledger, read from the file beside it, or not told yet."""
CALLED = "the shop's settings"
"""What they are called in messages."""


@dataclass(frozen=True)
class ShopChange:
    """One setting that was changed.

    Attributes
    ----------
    path : str
        Table and key, such as ``shop.labour_rate``, or a step of the book, such as ``steps.brakes``.
    was, now : str
        Empty where it was not told, or no longer is.
    words : str
        The same as it is said.
    """

    path: str
    was: str
    now: str
    words: str = field(init=False, default="")

    def __post_init__(self) -> None:
        object.__setattr__(self, "words", f"{self.path}: was {self.was or 'not told'}, is {self.now or 'not told'}")


@dataclass(frozen=True)
class ShopVersion:
    """What was changed at one time.

    Attributes
    ----------
    written_at : datetime
    changes : tuple of ShopChange
    """

    written_at: dt.datetime
    changes: tuple[ShopChange, ...]


@dataclass(frozen=True)
class ShopNow:
    """The shop's settings as they count.

    Attributes
    ----------
    source : {"ledger", "file", "nothing"}
    record : int
        Number of the record in the ledger; 0 without one.
    text : str
        The TOML text.
    file_beside : bool
        Whether ``shop.toml`` lies beside the ledger, which the terminal goes by.
    versions : tuple of ShopVersion
        What was changed, newest first.
    """

    source: Source
    record: int
    text: str
    file_beside: bool
    versions: tuple[ShopVersion, ...]


def shop_now(ledger: Ledger, folder: Path) -> ShopNow:
    """The shop's settings with what was changed in them.

    Parameters
    ----------
    ledger : Ledger
    folder : Path
        Where the shop's own files lie.

    Raises
    ------
    PlanError
        The file beside the ledger cannot be used.
    """
    kept, file = ledger.shop(), folder / SHOP_FILE
    beside = file.is_file()
    if kept is None:
        if not beside:
            return ShopNow("nothing", 0, "", False, ())
        read_shop(file)
        return ShopNow("file", 0, read_text_file(file), True, ())
    chain = [*kept.history, kept]
    versions = [
        ShopVersion(one.written_at, changes_between(read_toml(before.text) if before else {}, read_toml(one.text)))
        for before, one in zip([None, *chain], chain, strict=False)
    ]
    return ShopNow("ledger", kept.id, kept.text, beside, tuple(reversed(versions)))


def keep_settings(
    ledger: Ledger, folder: Path, text: str, schema: Schema, began: int = 0
) -> tuple[ShopRecord, tuple[ShopChange, ...]]:
    """Write the shop's settings, merged with what another hand changed since.

    Parameters
    ----------
    ledger : Ledger
    folder : Path
        Where the shop's own files lie: settings that come from there are taken over.
    text : str
        TOML.
    schema : Schema
        By which the steps of the book are checked.
    began : int
        Record that the change began with; 0: none.

    Returns
    -------
    ShopRecord
    tuple of ShopChange
        What it changed.

    Raises
    ------
    PlanError
        A setting is none, or a plan takes a step from the book that is no longer there.
    LedgerError
        Another hand changed the same setting to something else meanwhile.
    """
    mine = shop_from_text(text, CALLED)
    check_shop(mine, schema, CALLED)
    newest = ledger.shop()
    now = dict(shop_settings(ledger, folder))
    if newest is not None and newest.id != began:
        base = next((read_toml(one.text) for one in newest.history if one.id == began), {})
        mine = _merged(base, now, mine)
        check_shop(mine, schema, CALLED)
    _refuse_missing_steps(ledger, mine)
    kept = text if newest is None or newest.id == began else toml_text(mine)
    return ledger.keep_shop(kept), changes_between(now, mine)


def changes_between(before: Mapping[str, Any], after: Mapping[str, Any]) -> tuple[ShopChange, ...]:
    """What differs between two versions of the settings.

    Parameters
    ----------
    before, after : mapping
        As their files hold them.
    """
    old, new = _flat(before), _flat(after)
    return tuple(
        ShopChange(path, _said(old.get(path)), _said(new.get(path)))
        for path in dict.fromkeys([*old, *new])
        if old.get(path) != new.get(path)
    )


def _flat(data: Mapping[str, Any]) -> dict[str, Any]:
    """Settings by table and key, steps of the book whole by their ids."""
    flat = {f"steps.{row.get('id')}": row for row in data.get("steps", []) if isinstance(row, Mapping)}
    for table, values in data.items():
        if isinstance(values, Mapping):
            flat |= {f"{table}.{key}": value for key, value in values.items()}
    return flat


def _said(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, Mapping):
        parts = "; ".join(f"{key} {_said(part)}" for key, part in value.items() if key not in ("id", "what"))
        name = value.get("what") or value.get("id")
        return f"{name} ({parts})" if name and parts else str(name or parts)
    if isinstance(value, list):
        return ", ".join(map(_said, value))
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value)


def _merged(base: Mapping[str, Any], theirs: Mapping[str, Any], mine: Mapping[str, Any]) -> dict[str, Any]:
    """My settings with what the other hand changed; refused where both changed one to something else."""
    old, their, own = _flat(base), _flat(theirs), _flat(mine)
    both = [
        path
        for path in dict.fromkeys([*their, *own, *old])
        if own.get(path) != old.get(path) and their.get(path) not in (old.get(path), own.get(path))
    ]
    if both:
        told = [f"{path} (is {_said(their.get(path)) or 'not told'} by now)" for path in both]
        raise LedgerError(
            f"Cannot keep {CALLED}: another hand changed {shortlist(told)} meanwhile. Nothing of yours was written. "
            "Look at the settings in another window, then type yours again.",
            where=both[0],
        )
    whole = {path: own.get(path) if own.get(path) != old.get(path) else their.get(path) for path in {**own, **their}}
    merged: dict[str, Any] = {}
    for path, value in whole.items():
        table, _, key = path.partition(".")
        if value is None:
            continue
        if table == "steps":
            merged.setdefault("steps", []).append(value)
        else:
            merged.setdefault(table, {})[key] = value
    return merged


def _refuse_missing_steps(ledger: Ledger, shop: Mapping[str, Any]) -> None:
    """Refuse a book without a step that a plan takes from it."""
    book = {row.get("id") for row in shop.get("steps", [])}
    for plan in ledger.plans():
        try:
            rows = read_toml(plan.text).get("steps", [])
        except ValueError:
            continue
        for name in (row.get("use") for row in rows if isinstance(row, Mapping)):
            if name is not None and name not in book:
                raise PlanError(
                    f"Cannot take the step '{name}' out of the book: the plan '{plan.name}' of {plan.subject} takes it "
                    "from there. Change that plan first.",
                    where="steps",
                )
