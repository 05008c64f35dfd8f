"""The field card: one page for the pocket, most to pay by condition as found and model year."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from valuation.errors import SheetError
from valuation.schema.attributes import Role
from valuation.sheets.cautions import SHORT_CAUTION
from valuation.sheets.cleaning import LONGEST_TITLE, clean_tree, shorten
from valuation.sheets.deal_sheet import described
from valuation.sheets.plain import LATER
from valuation.sheets.seal import Seal
from valuation.sheets.typesetting import typeset
from valuation.text.locale import Locale
from valuation.text.rounding import told
from valuation.view import View, Viewed

if TYPE_CHECKING:
    from valuation.build.plan import BuildPlan
    from valuation.paths.field_table import FieldTable
    from valuation.regression.model import PriceModel

MOST_FAMILIES = 4
"""Kinds of vehicle on one card: the page has no room for more."""
MOST_ON_ONE_HALF = 2
"""Tables that leave the other half of the folded page for what to look at."""
MOST_LINES, MOST_WORDS = 16, 8
"""Attributes and words of each that have room on half a page; chosen by eye."""
MOST_YEARS = 7
"""Columns that can be read at arm's length."""
AROUND = 3
"""Model years on either side of the plan's vehicle, where none are named."""
MARKS = ("", "*", "†", "‡", "§", "¶", "‖", "#")
WALK_AWAY = "walk"


@dataclass(frozen=True, slots=True)
class CardTable:
    """One family's table.

    Parameters
    ----------
    family : str
    goal : str
        In words.
    years : tuple of float
    conditions : tuple of str
        In rising order, with ``meanings``.
    amounts : tuple of tuple of float or None
        Most to pay, a row for each condition; money, at most 0 where one should walk away, None where no plan is given.
    paths : tuple of tuple of str
        The path that each amount is for.
    without_engine : tuple of float or None
        For each condition the amount without an engine, at the year of its plan; empty where no row has one.
    assumed : tuple of str
        What each row takes the vehicle to be, as found and as built.
    """

    family: str
    goal: str
    years: tuple[float, ...]
    conditions: tuple[str, ...]
    meanings: tuple[str, ...]
    amounts: tuple[tuple[float | None, ...], ...]
    paths: tuple[tuple[str, ...], ...]
    without_engine: tuple[float | None, ...] = ()
    assumed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class LookAt:
    """One attribute to look at, with the words to tick; without words there is room to write."""

    title: str
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True, repr=False)
class FieldCard(Viewed):
    """Everything on a field card; money in ``currency``, ``look_at`` what the schema asks of a vehicle."""

    shop: str
    as_of: dt.date
    currency: str
    tables: tuple[CardTable, ...]
    look_at: tuple[LookAt, ...] = field(default=(), metadata=LATER)

    def _view(self) -> View:
        many = "1 table" if len(self.tables) == 1 else f"{len(self.tables)} tables"
        return View(
            title="Field card",
            facts=(
                f"{many}: {', '.join(one.family for one in self.tables)}",
                f"as of {self.as_of}",
                "valuation.draw(sheet) makes its PDF",
            ),
            header=("found as", "model years", "pay at most"),
            rows=[
                (
                    f"{one.family}, {condition}",
                    ", ".join(f"{year:g}" for year in one.years),
                    ", ".join("" if amount is None else told(amount, limit="down") for amount in amounts),
                )
                for one in self.tables
                for condition, amounts in zip(one.conditions, one.amounts, strict=True)
            ],
        )


def field_card(
    model: PriceModel,
    plans: Sequence[BuildPlan],
    as_of: dt.date,
    *,
    years: Sequence[float] | None = None,
    shop: str = "",
) -> FieldCard:
    """Work out a card for the vehicles of some plans; plans for one family and body make one table.

    Parameters
    ----------
    model : PriceModel
    plans : sequence of BuildPlan
    as_of : date
    years : sequence of float, optional
        Model years; those around each plan's vehicle unless given. Of more than seven, seven evenly spread are shown.
    shop : str

    Raises
    ------
    SheetError
        If there are no plans, or more families than fit.
    PlanError
        The plans contradict themselves, or the schema has no condition or model year.
    """
    from valuation.paths.field_table import field_table

    groups: dict[Any, list[BuildPlan]] = {}
    for plan in plans:
        kind = [str(plan.found.attributes.get(name)) for name in ("family", "body")]
        groups.setdefault(tuple(kind), []).append(plan)
    if not 1 <= len(groups) <= MOST_FAMILIES:
        raise SheetError(
            f"Cannot make one card of the plans for {len(groups)} kinds of vehicle: a page has room for 1 to "
            f"{MOST_FAMILIES}. Make several cards."
        )
    tables = []
    for group in groups.values():
        table = field_table(model, group, as_of, years=_evenly(years or _around(group[0])))
        tables.append(_card_table(table, group[0], model))
    return FieldCard(shop, as_of, model.currency, tuple(tables), _to_look_at(model))


def _to_look_at(model: PriceModel) -> tuple[LookAt, ...]:
    """The attributes that the table prices, in the schema's order; what tells the family stands over its table."""
    line = next((one.name for one in model.schema.attributes if one.role is Role.NOMINAL), "")
    return tuple(
        LookAt(one.title, one.level_names or (("yes", "no") if one.role is Role.FLAG else ()))
        for one in model.schema.attributes
        if one.name != line
    )


def _around(plan: BuildPlan) -> list[float]:
    year = plan.found.attributes.get("model_year")
    if not isinstance(year, int | float):
        raise SheetError(
            f"Cannot choose the model years of the card: the plan '{plan.name}' gives its vehicle none. Name the first "
            "and the last year."
        )
    return [float(year + step) for step in range(-AROUND, AROUND + 1)]


def _evenly(years: Sequence[float]) -> list[float]:
    """At most seven of the years, the first and the last among them."""
    if len(years) <= MOST_YEARS:
        return list(years)
    return [years[round(i * (len(years) - 1) / (MOST_YEARS - 1))] for i in range(MOST_YEARS)]


def _card_table(table: FieldTable, plan: BuildPlan, model: PriceModel) -> CardTable:
    meanings = {level.name: level.meaning for level in model.schema.attribute("condition").levels}
    cells = [[table.cell(condition, year) for year in table.years] for condition in table.conditions]
    family = plan.found.attributes.get("family")
    bare = {one.condition: one.most_to_pay for one in table.without_engine}
    return CardTable(
        family=str(family) if family else described(plan, model),
        goal=table.goal.words,
        years=table.years,
        conditions=table.conditions,
        meanings=tuple(meanings.get(condition, "") for condition in table.conditions),
        amounts=tuple(tuple(cell.most_to_pay for cell in row) for row in cells),
        paths=tuple(tuple(cell.path for cell in row) for row in cells),
        without_engine=tuple(bare.get(condition) for condition in table.conditions) if bare else (),
        assumed=tuple(
            f"{one.condition}: "
            + ". ".join(filter(None, [one.as_found, f"Built as {one.as_built}" if one.as_built else ""]))
            for one in table.assumed
        ),
    )


def card_page(card: FieldCard, locale: Locale, seal: Seal | None = None) -> dict[str, Any]:
    """Every word of the card; plain data with cleaned text.

    Parameters
    ----------
    card : FieldCard
    locale : Locale
    seal : Seal, optional
        That of a card which no ledger keeps unless given.
    """
    unit = shorten(card.currency, 12) or "the table's unit"
    tables = [_laid_out(table, locale) for table in card.tables]
    meanings = [
        {"label": shorten(condition, 30), "value": shorten(meaning, 150)}
        for condition, meaning in zip(card.tables[0].conditions, card.tables[0].meanings, strict=True)
        if meaning
    ]
    page = {
        "paper": locale.paper,
        "author": shorten(card.shop, LONGEST_TITLE),
        "keywords": ["private", (seal or Seal.of(card, locale)).keyword],
        "title": "Most to pay, as found",
        "marked": "Private",
        "date": locale.date(card.as_of),
        "unit": unit,
        # A page folded across its middle: the tables, and what to look at; of more tables half on each side.
        "halves": [tables, []] if len(tables) <= MOST_ON_ONE_HALF else [tables[:2], tables[2:]],
        "meanings": meanings if len(tables) <= MOST_ON_ONE_HALF else [],
        "look": {
            "title": "Look at this before you pay",
            "notes": "Notes",
            "rows": [
                {"title": shorten(one.title, 30), "words": [shorten(word, 24) for word in one.words[:MOST_WORDS]]}
                for one in card.look_at[:MOST_LINES]
            ],
        },
        "words": f"Rounded down. '{WALK_AWAY}': at no price; blank: no plan for one found so. Years between two "
        "columns: take the lower figure.",
        "caution": SHORT_CAUTION,
    }
    cleaned: dict[str, Any] = clean_tree(page)[0]
    return cleaned


def _limit(amount: float | None, locale: Locale) -> str:
    if amount is None:
        return ""
    return WALK_AWAY if amount <= 0 else locale.at_most(amount)


def _laid_out(table: CardTable, locale: Locale) -> dict[str, Any]:
    counted = [path for row in table.paths for path in row if path]
    names = sorted(dict.fromkeys(counted), key=lambda name: -counted.count(name))
    marks = {name: MARKS[min(position, len(MARKS) - 1)] for position, name in enumerate(names)}
    rows = [
        [shorten(condition, 24)]
        + [_limit(amount, locale) + marks.get(path, "") for amount, path in zip(amounts, paths, strict=True)]
        + ([_limit(table.without_engine[place], locale)] if table.without_engine else [])
        for place, (condition, amounts, paths) in enumerate(
            zip(table.conditions, table.amounts, table.paths, strict=True)
        )
    ]
    return {
        "family": shorten(table.family, 60) or "Without a name",
        "goal": table.goal,
        "head": ["", *(f"{year:g}" for year in table.years), *(["no engine"] if table.without_engine else [])],
        "rows": rows,
        "key": f"Path: {'; '.join(f'{marks[name]} {shorten(name, 50)}'.strip() for name in names)}.",
        "assumed": [f"{shorten(text, 240)}." for text in table.assumed],
    }


def card_pdf(card: FieldCard, locale: Locale, seal: Seal | None = None) -> bytes:
    """The card as a PDF of one page; equal input gives equal bytes.

    Parameters
    ----------
    card : FieldCard
    locale : Locale
    seal : Seal, optional
        That of a card which no ledger keeps unless given.

    Raises
    ------
    SheetError
        If it cannot be set.
    """
    return typeset("card.typ", card_page(card, locale, seal), {}, card.as_of)
