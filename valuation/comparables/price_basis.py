"""Price basis: every price as what the buyer pays in all before tax, in one currency, as a low/high pair."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from valuation.comparables.cells import ObjectArray, by_row, column_mark, distinct
from valuation.comparables.faults import FaultList
from valuation.comparables.headers import ColumnMap, in_brackets
from valuation.comparables.sales import text_column
from valuation.comparables.texttable import TextTable
from valuation.errors import shortlist
from valuation.notes import Note
from valuation.schema.schema import Schema
from valuation.text.money import Money, currency_name, exact_money, is_currency, read_money, same_currency
from valuation.text.numbers import is_missing
from valuation.text.reading import Reading
from valuation.text.spelling import counted, header_key, level_key

if TYPE_CHECKING:
    from valuation.comparables.table import Comparables

Floats = npt.NDArray[np.float64]


def row_currencies(
    table: TextTable, columns: ColumnMap, schema: Schema, prices: ObjectArray, faults: FaultList
) -> tuple[ObjectArray, str, list[Note]]:
    """The currency of each row, the table's currency, and notes.

    The row's own currency column comes first, then a currency beside the price, then the header, then the schema.

    Parameters
    ----------
    table : TextTable
    columns : ColumnMap
        Where each column stands.
    schema : Schema
        What the columns mean.
    prices : ndarray of object
        Shape (n_rows,): :class:`Money`, or ``None`` where it is a fault.
    faults : FaultList
        Takes the faults found.
    """
    header = columns.sale.get("currency", columns.sale["price"])
    written = text_column(table, columns, "currency")
    reading = schema.reading()
    names = {text: currency_name(text, reading) if text else "" for text in set(written)}
    by_header = currency_name(in_brackets(columns.sale["price"]), reading)
    if not is_currency(by_header, reading):  # brackets may hold anything
        by_header = ""
    found: list[str] = []
    for row, text, price in zip(table.cells.index, written, prices, strict=True):
        column, sign = names[text], price.currency if price is not None else ""
        if column and sign and not same_currency(column, sign):
            why = f"The row's currency is {column}, but the price is written in {sign}."
            faults.add(row, header, text, "currency_conflict", why, "Correct one of the two.")
        found.append(column or sign or by_header)
    counts = Counter(name for name in found if name)
    common = min(counts, key=lambda name: (-counts[name], name)) if counts else ""
    notes: list[Note] = []
    blank = sum(not name for name in found)
    if not schema.currency and blank and counts:
        if len(counts) == 1:
            prices_without = counted(blank, "price")
            text = f"{prices_without} without a currency: {common} is assumed, the only one that the table names."
            notes.append(Note("currency_assumed", text))
        else:
            _fault_blank(table, found, header, counts, faults)
    default = schema.currency or (common if len(counts) == 1 else "")
    return by_row([name or default for name in found], np.arange(len(found))), schema.currency or common, notes


def _fault_blank(table: TextTable, found: list[str], header: str, counts: Counter[str], faults: FaultList) -> None:
    why = f"The price names no currency, and the table holds several ({shortlist(sorted(counts))})."
    for row, name in zip(table.cells.index, found, strict=True):
        if not name:
            faults.add(row, header, "", "ambiguous_currency", why, "Write the currency, or set it in the schema.")


def row_rates(
    table: TextTable, columns: ColumnMap, schema: Schema, currencies: ObjectArray, currency: str, faults: FaultList
) -> Floats:
    """Units of the table's currency for one unit of each row's; NaN and a fault where no rate is given.

    Parameters
    ----------
    table : TextTable
    columns : ColumnMap
        Where each column stands.
    schema : Schema
        What the columns mean.
    currencies : ndarray of object
        Shape (n_rows,): each row's, as :func:`row_currencies` gives it.
    currency : str
        The table's.
    faults : FaultList
        Takes the faults found.
    """
    header = columns.sale.get("currency", columns.sale["price"])
    codes, names = distinct(pd.Series(currencies, dtype=object))
    rates: list[float] = []
    for code, name in enumerate(names):
        known = not name or same_currency(name, currency)
        rate = 1.0 if known else schema.rates.get(name, float("nan"))
        rates.append(rate)
        if rate != rate:
            why = f"The price is in {name}, the table is in {currency}, and no rate is given."
            mend = (
                f'Convert the price, or set currency = "{currency}" and a rate for {name} under [rates] in the schema.'
            )
            for row in table.cells.index[codes == code]:
                faults.add(row, header, name, "currency_without_rate", why, mend)
    return np.asarray(rates)[codes]


def added_cost(
    name: str,
    table: TextTable,
    columns: ColumnMap,
    schema: Schema,
    prices: ObjectArray,
    currencies: ObjectArray,
    faults: FaultList,
) -> Floats:
    """The premium or the fees of each row in the row's own currency; NaN where the row gives none.

    A cell with a percent sign, or a header that says percent, is percent of the price; else it is money.

    Parameters
    ----------
    name : str
        ``premium`` or ``fees``.
    table : TextTable
    columns : ColumnMap
        Where each column stands.
    schema : Schema
        What the columns mean.
    prices : ndarray of object
        Shape (n_rows,): :class:`Money`, or ``None`` where it is a fault.
    currencies : ndarray of object
        Shape (n_rows,): each row's currency.
    faults : FaultList
        Takes the faults found.
    """
    if name not in columns.sale:
        return np.full(len(table.cells), np.nan)
    header = columns.sale[name]
    in_percent = any(word in header_key(header) for word in ("percent", "pct", "rate"))
    codes, texts = distinct(table.cells[header])
    reading = schema.reading(column_mark(texts, table, schema.decimal_mark))
    read = [_read_cost(text, reading, in_percent) for text in texts]
    answer = np.full(len(table.cells), np.nan)
    for position, (row, code) in enumerate(zip(table.cells.index, codes, strict=True)):
        cost, price = read[code], prices[position]
        if cost is None or price is None:
            continue
        doubt = (cost, "") if isinstance(cost, str) else _doubt(name, cost, price, str(currencies[position]))
        why, looks_like = doubt
        if why:
            faults.add(
                row,
                header,
                texts[code],
                "doubtful_premium",
                f"The {name} '{texts[code]}' {why}.",
                f"Write a percentage with its sign, such as 10 %, or the {name} in money; 0 if there is none.",
                suggestion=looks_like,
            )
            continue
        assert isinstance(cost, Money)
        answer[position] = price.amount * cost.amount / 100 if cost.percent else cost.amount
    return answer


def _read_cost(text: str, reading: Reading, in_percent: bool) -> Money | str | None:
    if is_missing(text):
        return None
    try:
        money = read_money(text, reading)
    except ValueError as problem:
        return str(problem)
    return Money(money.amount, money.currency, money.percent or (in_percent and not money.currency))


def _doubt(name: str, cost: Money, price: Money, currency: str) -> tuple[str, str]:
    """Why an amount cannot be a premium or fee as it is written, and what it looks like; both empty when it can.

    The bounds (half of the price, 1 %, and 40 as a bare number) are chosen, with no source: they lie well outside what
    sellers ask, so that only a slip is questioned.
    """
    if cost.currency and not same_currency(cost.currency, currency or "$"):  # a bare $ goes with a bare number
        return f"is in {cost.currency}, but the price is in {currency or 'no named currency'}", ""
    share = cost.amount if cost.percent else 100 * cost.amount / price.amount
    if share < 0:
        return "is below zero", ""
    if share >= 50:
        return f"would be {share:.0f} % of the price", ""
    if cost.percent and 0 < share < 1:
        whole = f"{100 * share:.12g} %" if share < 0.5 else ""
        return f"would be {share:g} %, which looks like a share written as a percentage", whole
    if name == "premium" and not cost.percent and 0 < cost.amount <= 40 and share < 1:
        why = f"would be money, {share:.2g} % of the price, and looks like a percentage without its sign"
        return why, "" if cost.currency else f"{cost.amount:.12g} %"
    return "", ""


def venue_notes(venues: pd.Series[Any], from_venue: npt.NDArray[np.bool_], schema: Schema) -> list[Note]:
    """What the reader must know about premiums that were taken from the venue, and venues without one.

    Parameters
    ----------
    venues : Series
        Shape (n_rows,); blank where unknown.
    from_venue : ndarray of bool
        Shape (n_rows,): whether premium or fees come from the schema.
    schema : Schema
    """
    if not schema.venue_premiums and not schema.venue_fees:
        return []
    notes: list[Note] = []
    if count := int(from_venue.sum()):
        text = f"The venue's premium or fees, as the schema gives them, were added to {counted(count, 'price')}."
        notes.append(Note("premium_by_venue", text))
    known = {level_key(venue) for venue in (*schema.venue_premiums, *schema.venue_fees)}
    strange = sorted({venue for venue in set(venues) if venue and level_key(venue) not in known})
    if strange:
        text = (
            f"The schema gives no premium for {shortlist(strange, 5)}: prices there are taken as entered, unless the "
            "row names a premium itself."
        )
        notes.append(Note("venue_without_premium", text))
    return notes


def as_written(table: Comparables, row: int, moved: float = 1.0) -> str:
    """A sale's price as the owner wrote it, what was added to it, and what that comes to.

    Such as ``6,250 and 10 % premium: 6,875``, or ``8,000 CAD, at 0.73: 5,840 USD``; the price alone where nothing was
    added. A figure that was written otherwise stands beside it as it is in the cell: ``5,750 ('5.75k')``.

    Parameters
    ----------
    table : Comparables
    row : int
        Number of a usable row.
    moved : float
        What an index has multiplied the row's money by.
    """
    sale: Any = table.sales.loc[row]
    price, premium, fees = (round(float(sale[name]) / moved, 4) for name in ("price", "premium", "fees"))
    rate, written = float(sale.get("rate", 1.0)), " ".join(str(sale.get("written", "")).split())
    abroad, home = (sale["currency"], table.currency) if rate != 1.0 else ("", "")
    first = exact_money(price, abroad)
    if written and not "".join(filter(str.isdigit, written)).startswith(str(int(price))):
        first += f" ('{written[:40]}')"
    added = []
    if own := premium / rate:
        percent = round(100 * own / price, 1)
        in_percent = abs(percent * price / 100 - own) < 0.005  # to the cent
        added.append(f"{percent:g} % premium" if in_percent else f"{exact_money(own, abroad)} premium")
    if fees:
        added.append(f"{exact_money(fees, home)} fees")
    said = ", ".join([first, *added[:-1]]) + (f" and {added[-1]}" if added else "")
    if not added and not abroad:
        return said
    converted = f", at {rate:.12g}" if abroad else ""
    return f"{said}{converted}: {exact_money(price * rate + premium + fees, home)}"


def low_high(outcomes: ObjectArray, paid: Floats) -> tuple[Floats, Floats]:
    """Low/high pairs of the buyer-pays price: equal when sold, open above for a bid, open below for an asking price.

    Parameters
    ----------
    outcomes : ndarray of object
        Shape (n_rows,).
    paid : ndarray of float
        Shape (n_rows,): buyer-pays price, money.
    """
    low = np.where(outcomes == "asking", 0.0, paid)
    high = np.where(outcomes == "bid_not_met", np.inf, paid)
    return low, high
