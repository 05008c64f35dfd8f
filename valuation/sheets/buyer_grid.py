"""The adjustment grid on the buyer sheet: rounded as the range deserves, and its proof to the cent."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

from valuation.sheets.buyer_summary import BuyerSheet, Cell, Comparable
from valuation.sheets.cleaning import shorten
from valuation.sheets.place import outcome_words
from valuation.text.language import Said, retold, say, say_count
from valuation.text.locale import HARD, Locale

MOST_ROWS_WHOLE = 20
"""A grid of so many rows at most is kept whole on one page."""
_UNNAMED = ("sale_date", "interaction")
"""Lines whose levels are not written into the cells: the date stands above, and two attributes have no one level."""


def grid_on_page(sheet: BuyerSheet, locale: Locale) -> dict[str, Any]:
    """The nearest sales, each adjusted line by line, and what they come to.

    Parameters
    ----------
    sheet : BuyerSheet
    locale : Locale
    """
    if not sheet.grid:
        words = [say("The table of sales was not available for this sheet.")]
        return {"head": [], "rows": [], "strong": [], "long": False, "words": words}
    columns, unit = sheet.grid, rounding_unit(sheet.estimate)
    where = [say("Where"), *(shorten(c.source) or say("not said") for c in columns)]
    rows = [
        [say("Date"), *(locale.date(c.date).replace(HARD, " ") for c in columns)],  # six columns are narrow on a screen
        *([where] if any(c.source for c in columns) else []),
        *_price_rows(sheet, locale),
    ]
    strong = [len(rows) - 1]
    steps = [_rounded_steps(column, unit) for column in columns]
    for name, title in _lines(sheet):
        lines = [next((line for line in column.lines if line.attribute == name), None) for column in columns]
        cells = []
        for line, step in zip(lines, steps, strict=True):
            if line is None or (line.cents == 0 and line.from_cell.text == line.to_cell.text):
                cells.append(say("same"))
                continue
            amount = _money(step[name], unit, locale, sign=True)
            level = cell_text(line.from_cell, locale) if name not in _UNNAMED else ""
            cells.append(f"{level}\n{amount}" if level else amount)
        own = next((cell_text(line.to_cell, locale) for line in lines if line is not None and line.to_cell.text), "")
        here = "\n" + say("here: {level}", level=Said(own)) if own and name != "sale_date" else ""
        rows.append([shorten(_title(name, title)) + here, *cells])
    adjusted = [_to_unit(column.adjusted_cents, unit) for column in columns]
    rows.append([say("Adjusted to this vehicle"), *(_money(amount, unit, locale) for amount in adjusted)])
    rows.append([say("Weight"), *(_weight(column, locale) for column in columns)])
    return {
        "head": ["", *_names(sheet)],
        "rows": rows,
        "strong": [*strong, len(rows) - 2],
        "long": len(rows) > MOST_ROWS_WHOLE,
        "words": [
            say(
                "Each line says what the difference is worth by all sales of the table, rounded to {unit}; a sale that "
                "is better than this vehicle is adjusted down. Lines in which no sale differs are left out.",
                unit=locale.money(unit, cents=unit < 1),
            ),
            *filter(None, [" ".join(sources_words(sheet))]),
            *_reconciled_words(sheet, locale),
        ],
    }


def proof_on_page(sheet: BuyerSheet, locale: Locale) -> dict[str, Any]:
    """The same lines to the cent, so that each column can be added up.

    Parameters
    ----------
    sheet : BuyerSheet
    locale : Locale
    """
    columns = sheet.grid
    rows = [[_paid(sheet), *(locale.money(c.price_cents / 100, cents=True) for c in columns)]]
    for name, title in _lines(sheet):
        amounts = [sum(line.cents for line in column.lines if line.attribute == name) for column in columns]
        rows.append(
            [shorten(_title(name, title)), *(locale.money(cents / 100, cents=True, sign=True) for cents in amounts)]
        )
    rows.append([say("Adjusted"), *(locale.money(c.adjusted_cents / 100, cents=True) for c in columns)])
    return {"head": ["", *_names(sheet)], "rows": rows if columns else [], "strong": [0, len(rows) - 1]}


def rounding_unit(estimate: float) -> float:
    """What adjustments are rounded to: a tenth of the last of the three figures in which the estimate is said.

    Examples
    --------
    >>> rounding_unit(47903), rounding_unit(870)
    (10.0, 0.1)
    """
    return float(10.0 ** (math.floor(math.log10(estimate)) - 3))


def cell_text(cell: Cell, locale: Locale) -> str:
    """A cell as people read it.

    Parameters
    ----------
    cell : Cell
    locale : Locale
    """
    if cell.text == "unknown":
        return say("not known")
    if cell.kind == "date":
        return locale.date(dt.date.fromisoformat(cell.text[:10]))
    if cell.kind == "number":
        return locale.quantity(float(cell.text), retold(cell.unit))
    return shorten(retold(cell.text) if cell.kind == "text" else cell.text)


def _title(name: str, title: str) -> str:
    """The attribute's own title, which is the shop's; of the day of sale the house's."""
    return say("Date of sale") if name == "sale_date" and title == "Date of sale" else retold(title)


def _names(sheet: BuyerSheet) -> list[str]:
    return [say("Sale {number}", number=number) for number in range(1, len(sheet.grid) + 1)]


def _lines(sheet: BuyerSheet) -> list[tuple[str, str]]:
    """Attribute and title of each line in which a sale differs, in the fixed order."""
    titles = dict.fromkeys((line.attribute, line.title) for column in sheet.grid for line in column.lines)
    moved = {line.attribute for column in sheet.grid for line in column.lines if line.cents}
    return [(name, title) for name, title in titles if name in moved]


def _price_rows(sheet: BuyerSheet, locale: Locale) -> list[list[str]]:
    """Hammer price, premium and fees with their sum, or the price alone where no sale has any."""

    def row(label: str, cents: list[int]) -> list[str]:
        return [label, *(locale.money(one / 100, cents=True) if one else say("none") for one in cents)]

    columns = sheet.grid
    parts = [
        (say("Buyer's premium"), [column.premium_cents for column in columns]),
        (say("Fees"), [column.fees_cents for column in columns]),
    ]
    rows = [row(label, cents) for label, cents in parts if any(cents)]
    if rows:
        bare = [column.price_cents - column.premium_cents - column.fees_cents for column in columns]
        rows.insert(0, row(say("Hammer or private price"), bare))
    return [*rows, [_paid(sheet), *(_column_price(column, locale) for column in columns)]]


def _paid(sheet: BuyerSheet) -> str:
    return say("What the buyer pays") + (f" ({shorten(sheet.currency, 12)})" if sheet.currency else "")


def _column_price(column: Comparable, locale: Locale) -> str:
    amount = locale.money(column.price_cents / 100, cents=True)
    return amount if column.outcome == "sold" else f"{amount}\n{outcome_words(column.outcome)}"


def sources_words(sheet: BuyerSheet) -> list[str]:
    """Whose sales those of the grid are, and how a buyer may check them; empty where the sheet has none."""
    sales, named = len(sheet.grid), sum(column.named is True for column in sheet.grid)
    if not sales:
        return []
    said = say_count(
        "This sale is from the seller's own table. That it is the nearest was worked out, not picked by hand.",
        "All {n} are from the seller's own table. Which of its sales are nearest was worked out, not picked by hand.",
        sales,
    )
    if any(column.named is None for column in sheet.grid):
        return [said]
    if named == sales:
        return [said, say("Each names its source, where it can be looked up.")]
    ask = say("To check a sale whose source is not named, ask to see the shop's papers, such as a bill or a catalogue.")
    if not named:
        return [said, say("The source of none of them is named here."), ask]
    return [said, say_count("{n} of them names its source.", "{n} of them name their source.", named), ask]


def _to_unit(cents: int, unit: float) -> float:
    return round(cents / 100 / unit) * unit


def _rounded_steps(column: Comparable, unit: float) -> dict[str, float]:
    """Each line as a step of the rounded running price, so that rounded lines add up too."""
    steps, running = {}, column.price_cents
    for line in column.lines:
        steps[line.attribute] = _to_unit(running + line.cents, unit) - _to_unit(running, unit)
        running += line.cents
    return steps


def _money(amount: float, unit: float, locale: Locale, *, sign: bool = False) -> str:
    if unit >= 1:
        return locale.number(amount) if not sign or amount <= 0 else f"+{locale.number(amount)}"
    return locale.money(amount, cents=True, sign=sign)


def _weight(column: Comparable, locale: Locale) -> str:
    return f"{locale.number(100 * column.weight, 1)}{HARD}%" if column.weight else say("none")


def _reconciled_words(sheet: BuyerSheet, locale: Locale) -> list[str]:
    if sheet.reconciled is None:
        return []
    figures = {
        "estimate": locale.about(sheet.estimate, sheet.currency),
        "share": locale.percent(abs(sheet.estimate / sheet.reconciled - 1)),
        "sold": locale.number(sheet.ground.sold),
    }
    used = sum(column.weight > 0 for column in sheet.grid)
    said = [
        say(
            "Nearest are the sales whose differences are worth little by the table, with the worth well known, and "
            "that are not long ago; the nearer, the more weight. The weighted geometric mean of the adjusted prices "
            "(each to the power of its weight, all multiplied) is {nearest}.",
            nearest=locale.about(sheet.reconciled, sheet.currency),
        )
    ]
    apart = sheet.estimate / sheet.reconciled - 1
    if abs(apart) < LEAST_DIFFERENCE:
        return [*said, say("The estimate, {estimate}, agrees with it.", estimate=figures["estimate"])]
    if apart > 0:
        why = say_count(
            "The estimate, {estimate}, lies {share} above it, in the seller's favour: this sale brought less than the "
            "{sold} sales of the table together lead one to expect, and the estimate takes that for the luck of single "
            "sales. Whoever trusts the nearest sales more comes out between the two.",
            "The estimate, {estimate}, lies {share} above it, in the seller's favour: these {n} sales brought less "
            "than the {sold} sales of the table together lead one to expect, and the estimate takes that for the luck "
            "of single sales. Whoever trusts the nearest sales more comes out between the two.",
            used,
            **figures,
        )
    else:
        why = say_count(
            "The estimate, {estimate}, lies {share} below it, in the buyer's favour: this sale brought more than the "
            "{sold} sales of the table together lead one to expect, and the estimate takes that for the luck of single "
            "sales. Whoever trusts the nearest sales more comes out between the two.",
            "The estimate, {estimate}, lies {share} below it, in the buyer's favour: these {n} sales brought more "
            "than the {sold} sales of the table together lead one to expect, and the estimate takes that for the luck "
            "of single sales. Whoever trusts the nearest sales more comes out between the two.",
            used,
            **figures,
        )
    return [*said, why]


LEAST_DIFFERENCE = 0.005
"""Share under which two figures are the same to the whole percent that is printed."""
