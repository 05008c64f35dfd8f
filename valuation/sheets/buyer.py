"""The buyer sheet: what a buyer may see, and nothing else.

Built from the valuation and its evidence alone. It knows no cost, no plan and no offer, since it never imports the
rooms that do.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import pandas as pd

from valuation.comparables.for_buyers import is_cleared, own_affairs, printed_source, rows_of_vehicle
from valuation.evidence.company import interaction_title
from valuation.evidence.deflation import INDEX_FACTOR
from valuation.evidence.grid import adjustment_grid
from valuation.evidence.grid_rows import in_cents
from valuation.evidence.subject import Subject
from valuation.schema.attributes import Role
from valuation.sheets.buyer_summary import (
    Adjustment,
    BuyerSheet,
    Cell,
    Change,
    Comparable,
    Fact,
    Ground,
    Meaning,
    Seller,
    Share,
    Trial,
)
from valuation.sheets.buyer_words import assumed, few_of_family, notes_for_the_buyer, warnings_of
from valuation.sheets.place import place_among
from valuation.year import DAYS_PER_YEAR

if TYPE_CHECKING:
    from valuation.answers.estimate import Estimate
    from valuation.answers.explain import Evidence
    from valuation.comparables.table import Comparables
    from valuation.evidence.grid_rows import GridRow
    from valuation.evidence.reasons import Effect
    from valuation.evidence.unseen import BackTest
    from valuation.regression.model import PriceModel
    from valuation.schema.attributes import Attribute
    from valuation.schema.vehicle import Vehicle

DAYS_PER_MONTH = DAYS_PER_YEAR / 12
"""Mean length of a month."""


def buyer_sheet(
    model: PriceModel,
    evidence: Evidence,
    *,
    comparables: Comparables | None = None,
    tried: BackTest | None = None,
    shop: str = "",
    remark: str = "",
    assumptions: Sequence[str] = (),
    seller: Seller | None = None,
) -> BuyerSheet:
    """Gather a buyer sheet from a valuation and its evidence.

    Parameters
    ----------
    model : PriceModel
        The fit that made the evidence.
    evidence : Evidence
        Of the vehicle.
    comparables : Comparables, optional
        The table, for a model that was loaded without its sales.
    tried : BackTest, optional
        How the method fared on sales of the table that it had not seen.
    shop, remark : str
        Who hands it out, and the shop's own words about the vehicle.
    assumptions : sequence of str
        The shop's own, shown first.
    seller : Seller, optional
        What the seller adds about the vehicle and himself.
    """
    table = comparables or model.comparables
    left_out = not_for_buyers(table, evidence.vehicle) if table is not None else frozenset()
    grid = adjustment_grid(model, evidence.vehicle, evidence.as_of, comparables=comparables, leave_out=left_out)
    known = model.attribute_by_name
    seller = seller or Seller()
    company = interaction_title(Subject.of(model, evidence.vehicle, evidence.as_of))
    columns = () if table is None else _columns(grid.rows, table, known, company)
    warnings = warnings_of(model, evidence.notes)
    return BuyerSheet(
        vehicle=evidence.vehicle.name,
        shop=shop,
        remark=remark,
        as_of=evidence.as_of,
        currency=evidence.currency,
        facts=_facts(model, evidence.vehicle, seller),
        meanings=_meanings(model, evidence.vehicle, columns),
        seller=seller,
        estimate=evidence.median,
        low=evidence.interval.low,
        high=evidence.interval.high,
        coverage=evidence.interval.coverage,
        place=None if table is None else place_among(table, evidence, model, grid.rows, left_out),
        grid=columns,
        reconciled=grid.reconciled,
        base=evidence.base,
        shares=tuple(
            Share(
                f.attribute,
                known[f.attribute].title if f.attribute in known else company,
                _cell(f.level, known.get(f.attribute)),
                f.factor,
                f.low,
                f.high,
            )
            for f in evidence.factors
        ),
        changes=tuple(
            Change(
                e.attribute,
                e.title,
                _cell(e.from_level, known.get(e.attribute)),
                _cell(e.to_level, known.get(e.attribute)),
                e.kind,
                e.percent,
                e.low_percent,
                e.high_percent,
                e.money,
                e.from_table,
            )
            for e in nearest_changes(evidence.effects, known)
        ),
        ground=_ground(model, table, evidence, None if tried is None else _trial(tried), len(left_out)),
        warnings=(*few_of_family(table, evidence), *(note.text for note in warnings)),
        assumptions=(*assumptions, *assumed(model, evidence)),
        notes=tuple(note.text for note in notes_for_the_buyer(evidence.notes, grid.notes) if note not in warnings),
    )


def not_for_buyers(table: Comparables, vehicle: Vehicle) -> frozenset[int]:
    """Numbers of the rows that no sheet for a buyer of a vehicle shows: its own sales, and the shop's affairs.

    Parameters
    ----------
    table : Comparables
    vehicle : Vehicle
    """
    return rows_of_vehicle(table, vehicle.number) | own_affairs(table)


def nearest_changes(effects: Sequence[Effect], known: Mapping[str, Attribute]) -> list[Effect]:
    """For each attribute the changes that say most in little room: the neighbouring levels, one step of a number.

    Of an ordered scale the level below and the one above the vehicle's; of other attributes at most two, the largest
    first; of the date the drift over the whole table. The first unordered attribute (the family) is left out: another
    family is another vehicle.

    Parameters
    ----------
    effects : sequence of Effect
    known : mapping of str to Attribute
        Attributes by name, in the schema's order.
    """
    chosen: list[Effect] = []
    line = next((name for name, attribute in known.items() if attribute.role is Role.NOMINAL), "")
    for name in dict.fromkeys(effect.attribute for effect in effects if effect.attribute != line):
        own = [effect for effect in effects if effect.attribute == name]
        attribute = known.get(name)
        others = [effect for effect in own if effect.kind == "against_subject"]
        if attribute is not None and attribute.role is Role.ORDINAL:
            chosen += _neighbours(others, attribute.level_names)
        elif others:
            chosen += sorted(others, key=lambda effect: -abs(effect.percent))[:2]
        else:
            chosen += [effect for effect in own if effect.kind in ("change", "yes_no")][:2]
            chosen += [effect for effect in own if effect.kind == "per_year"][:1]
    return chosen


def _neighbours(others: Sequence[Effect], levels: Sequence[str]) -> list[Effect]:
    if not others or others[0].from_level not in levels:
        return list(others)[:2]
    at = levels.index(others[0].from_level)
    by_position = {levels.index(effect.to_level): effect for effect in others if effect.to_level in levels}
    below = max((position for position in by_position if position < at), default=None)
    above = min((position for position in by_position if position > at), default=None)
    return [by_position[position] for position in (below, above) if position is not None]


def cell_of(value: object, attribute: Attribute) -> Cell:
    """A raw value of a vehicle as a cell.

    Parameters
    ----------
    value : object
    attribute : Attribute
    """
    from valuation.regression.factors import level_text

    return _cell(value.isoformat() if isinstance(value, dt.date) else level_text(value, attribute), attribute)


def _cell(text: str, attribute: Attribute | None) -> Cell:
    if attribute is None or text in ("unknown", ""):
        return Cell(text)
    if attribute.role is Role.DATE:
        return Cell(text, "date")
    if attribute.role is Role.SMOOTH and not attribute.unit:
        return Cell(text, "year")  # a figure such as a model year, which is never written with a thousands separator
    if attribute.role in (Role.NUMBER, Role.SMOOTH, Role.COUNT):
        return Cell(text, "number", attribute.unit)
    return Cell(text)


def _facts(model: PriceModel, vehicle: Vehicle, seller: Seller) -> tuple[Fact, ...]:
    numbers = {"Number of the vehicle": vehicle.number, "Engine number": seller.engine_number}
    return (
        *(
            Fact(attribute.title, cell_of(vehicle.attributes[attribute.name], attribute))
            for attribute in model.schema.attributes
            if attribute.name in vehicle.attributes
        ),
        *(Fact(title, Cell(number)) for title, number in numbers.items() if number),
    )


def _meanings(model: PriceModel, vehicle: Vehicle, columns: Sequence[Comparable]) -> tuple[Meaning, ...]:
    """Of the vehicle's levels, and on ordered scales of the grid's too: whoever doubts a grade reads both."""
    found = []
    for attribute in model.schema.attributes:
        named = {vehicle.attributes.get(attribute.name)}
        if attribute.role is Role.ORDINAL:
            named |= {line.from_cell.text for one in columns for line in one.lines if line.attribute == attribute.name}
        found += [
            Meaning(attribute.title, level.name, level.meaning)
            for level in attribute.levels
            if level.name in named and level.meaning
        ]
    return tuple(found)


def _columns(
    grid: Sequence[GridRow], table: Comparables, known: Mapping[str, Attribute], company: str
) -> tuple[Comparable, ...]:
    sales = table.sales.loc[[row.row for row in grid]]
    moved = sales.get(INDEX_FACTOR, pd.Series(1.0, index=sales.index))  # the price of the grid is as paid
    return tuple(
        Comparable(
            row=row.row,
            source=printed_source(str(source), str(venue), table.schema),
            date=row.date,
            outcome=row.outcome,
            price_cents=in_cents(row.price),
            premium_cents=in_cents(premium),
            fees_cents=in_cents(fees),
            lines=tuple(
                Adjustment(
                    line.attribute,
                    line.title if line.attribute in known else company,
                    _cell(line.from_level, known.get(line.attribute)),
                    _cell(line.to_level, known.get(line.attribute)),
                    line.factor,
                    in_cents(line.amount),
                )
                for line in row.lines
            ),
            adjusted_cents=in_cents(row.adjusted_price),
            weight=row.weight,
            named=is_cleared(str(source), table.schema),
        )
        for row, source, venue, premium, fees in zip(
            grid, sales["source"], sales["venue"], sales["premium"] / moved, sales["fees"] / moved, strict=True
        )
    )


def _ground(
    model: PriceModel, table: Comparables | None, estimate: Estimate, trial: Trial | None, not_shown: int
) -> Ground:
    age = None
    if table is not None:
        dates = table.sales["date"].dropna()
        if len(dates):
            days = [(estimate.as_of - day.date()).days for day in dates]
            age = sorted(days)[len(days) // 2] / DAYS_PER_MONTH
    used = estimate.sales_used
    return Ground(
        sold=used["sold"],
        bid_not_met=used["bid_not_met"],
        asking=used["asking"],
        set_aside=used["set_aside"],
        not_shown=not_shown,
        first_sale=model.first_sale,
        last_sale=model.last_sale,
        median_age_months=age,
        trial=trial,
        table=model.table_name,
        table_fingerprint=model.table_fingerprint,
    )


def _trial(tried: BackTest) -> Trial:
    errors = sorted(abs(sale.estimate / sale.price - 1) for sale in tried.sales)
    return Trial(
        how="left out" if tried.method == "leave_one_out" else "back-test",
        sales=len(tried.sales),
        inside=sum(sale.inside for sale in tried.sales),
        coverage=tried.coverage,
        median_error_percent=100 * errors[len(errors) // 2],
    )
