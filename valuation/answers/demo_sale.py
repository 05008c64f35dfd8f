"""The demo's sold vehicle: its life, written on the days on which it went on, so that the track record counts it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from valuation.answers.kept_estimates import write_estimate
from valuation.answers.so_far import as_it_stands, outlay_so_far
from valuation.answers.vehicle_file import vehicle_kept
from valuation.day import day_of
from valuation.schema import parse_vehicle
from valuation.text.files import read_text_file
from valuation.text.toml import read_toml, toml_text

if TYPE_CHECKING:
    from valuation.answers.tables import Tables
    from valuation.ledger import EstimateRecord, Ledger
    from valuation.regression import PriceModel

FILE = "sold/haywain-panel.toml"
"""In the demo's folder: what happened to the vehicle, and when."""
COVERAGE = 0.8
"""Of its estimates, as everywhere unless told."""
LEFT = "the demo was put away"
"""Why its sale does not count any longer."""

SetPrice = Callable[["Ledger", "EstimateRecord", dt.date, float | None], None]
"""Writes floor, target and ask by an estimate to a ledger: on which day, and after which outlay."""


@dataclass
class _Then:
    """A clock that stands at noon of the day that is told."""

    day: dt.date

    def __call__(self) -> dt.datetime:
        return dt.datetime.combine(self.day, dt.time(12)).astimezone()


def sell_one(tables: Tables, folder: Path, model: PriceModel, model_id: int, set_price: SetPrice) -> None:
    """Write the life of the vehicle that the demo's shop has sold; what is there already is not written again.

    Parameters
    ----------
    tables : Tables
    folder : Path
        Of the demo.
    model : PriceModel
        The fit of its table.
    model_id : int
        Number of the same model in the ledger.
    set_price : callable
        See ``SetPrice``.
    """
    life, then = _life(folder), _Then(day_of())
    with tables.ledger_at(then) as ledger:
        if not ledger.offers(life["name"]):
            _until_offers(tables, ledger, then, life, model, model_id, set_price)
    record_sale(tables, folder)


def record_sale(tables: Tables, folder: Path) -> None:
    """Write the sale where the life up to it is written, and it is not there or was withdrawn.

    Parameters
    ----------
    tables : Tables
    folder : Path
        Of the demo.
    """
    life, ledger = _life(folder), tables.ledger
    if ledger.offers(life["name"]) and not ledger.sales(life["name"]):
        newest, sale = ledger.estimates(life["name"])[-1], life["sale"]
        ledger.add_sale(estimate_id=newest.id, price=sale["price"], sold_on=sale["on"], kind="private")


def withdraw_sale(tables: Tables, folder: Path) -> None:
    """Take the demo's sale out of the track record, which is the shop's own once the demo is put away.

    Parameters
    ----------
    tables : Tables
    folder : Path
        Of the demo.
    """
    for sale in tables.ledger.sales(_life(folder)["name"]):
        tables.ledger.withdraw(sale, LEFT)


def _until_offers(
    tables: Tables,
    ledger: Ledger,
    then: _Then,
    life: Mapping[str, Any],
    model: PriceModel,
    model_id: int,
    set_price: SetPrice,
) -> None:
    """Found and valued, bought, built, valued as it is now, priced, and offered for."""
    subject, plan = life["name"], life["plan"]
    then.day = life["found_on"]
    told = {name: life[name] for name in ("number", "asked", "found_on", "remark")}
    vehicle_kept(ledger, subject, found=plan["vehicle"], currency=plan["currency"], **told)
    found = parse_vehicle({"name": subject, "number": life["number"], "attributes": plan["vehicle"]}, model.schema)
    write_estimate(ledger, model, model_id, found, then.day, COVERAGE)
    planned = {name: table for name, table in plan.items() if name != "done"}
    ledger.add_plan(subject=subject, name=plan["name"], text=toml_text(planned))
    then.day = life["bought_on"]
    ledger.change_vehicle(subject, "bought", {"bought_for": life["bought_for"], "bought_on": then.day})
    then.day = plan["done"][-1]["on"]
    ledger.add_plan(subject=subject, name=plan["name"], text=toml_text(plan))
    then.day = life["for_sale_on"]
    ledger.change_vehicle(subject, "for sale", {"for_sale_on": then.day})
    finished = as_it_stands(tables, subject)
    estimate, _ = write_estimate(ledger, model, model_id, finished, then.day, COVERAGE)
    set_price(ledger, estimate, then.day, outlay_so_far(tables, subject, then.day))
    for offer in life["offers"]:
        then.day = offer["on"]
        bid = {"amount": offer["amount"], "offered_on": then.day, "who": offer["who"], "answer": offer["answer"]}
        ledger.add_offer(subject=subject, currency=plan["currency"], estimate_id=estimate.id, **bid)


def _life(folder: Path) -> dict[str, Any]:
    """The file with its days moved, so that the one on which it was told is today."""
    told = read_toml(read_text_file(folder / FILE))
    moved: dict[str, Any] = _moved(told, day_of() - told["told_on"])
    return moved


def _moved(value: Any, by: dt.timedelta) -> Any:
    if isinstance(value, dict):
        return {name: _moved(one, by) for name, one in value.items()}
    if isinstance(value, list):
        return [_moved(one, by) for one in value]
    return value + by if isinstance(value, dt.date) else value
