"""Sales: the columns that describe the sale (date, outcome, price and the rest), with their faults."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from valuation.comparables.cells import ObjectArray, by_row, distinct
from valuation.comparables.faults import FaultList
from valuation.comparables.headers import ColumnMap
from valuation.comparables.read_as import ReadAs, Told, each_row
from valuation.comparables.texttable import TextTable
from valuation.comparables.written import price_range, stored_days, understood_date, understood_price
from valuation.notes import Note
from valuation.schema.schema import OUTCOMES, Schema
from valuation.schema.values import NO_WORDS, YES_WORDS, CellFault, spreadsheet_error
from valuation.text.dates import NO_DATE, Style, month_meant, read_date
from valuation.text.money import Money, exact_money, read_money
from valuation.text.numbers import decimal_mark, is_error, is_missing, letters_as_digits
from valuation.text.reading import Reading
from valuation.text.spelling import counted, level_key, nearest, one_meant

_OPEN_SALE = YES_WORDS | {"arms length", "arm's length", "open", "open market", "market"}
_IN_THOUSANDS = re.compile(r"\dk\b|\d k\b", re.IGNORECASE)
_CLOSED_SALE = NO_WORDS | {"not arms length", "not arm's length"}


def text_column(table: TextTable, columns: ColumnMap, name: str) -> pd.Series[Any]:
    """A sale column's text, stripped; blank throughout when the table does not have it.

    Parameters
    ----------
    table : TextTable
    columns : ColumnMap
        Where each column stands.
    name : str
        One of ``SALE_COLUMNS``.
    """
    if name not in columns.sale:
        return pd.Series("", index=table.cells.index, dtype=object)
    codes, texts = distinct(table.cells[columns.sale[name]])
    stripped = ["" if is_missing(text) else " ".join(text.split()) for text in texts]
    return pd.Series(by_row(stripped, codes), index=table.cells.index, dtype=object)


def read_prices(
    table: TextTable, columns: ColumnMap, schema: Schema, faults: FaultList
) -> tuple[ObjectArray, list[ReadAs]]:
    """The price of each row as :class:`Money`, ``None`` where it is a fault, and those read otherwise than written.

    Parameters
    ----------
    table : TextTable
    columns : ColumnMap
        Where each column stands.
    schema : Schema
        What the columns mean.
    faults : FaultList
        Takes the faults found.
    """
    header = columns.sale["price"]
    codes, texts = distinct(table.cells[header])
    # 5.75k says how decimals are written, and nothing of 19.000 beside it: money never has three of them
    thousands = {text for text in texts if _IN_THOUSANDS.search(text)}
    reading = replace(schema.reading(), mark=decimal_mark(text for text in texts if text not in thousands))
    short = replace(reading, mark=decimal_mark(texts)) if thousands else reading
    read: list[Money | None] = []
    told: Told = {}
    for code, text in enumerate(texts):
        found = _price(text, short if text in thousands else reading)
        if isinstance(found, CellFault):
            read.append(None)
            faults.add_problem(table.cells.index[codes == code], header, text, found)
            continue
        money, kinds = found
        read.append(money)
        if kinds:
            told[code] = kinds, exact_money(money.amount), 0
    _fault_merged(table, header, faults)
    return by_row(read, codes), each_row(table.cells[header], codes, texts, told)


def _fault_merged(table: TextTable, header: str, faults: FaultList) -> None:
    """Set aside the sales that share one merged price, since it may have been paid for all of them together."""
    filled = {one.row for one in table.read_as if one.column == header}
    rows = table.cells.index.tolist() if filled else []
    for row, following in zip(rows, [*rows[1:], 0], strict=False):
        if row in filled or following in filled:
            why = "The price is merged with that of the next row: it may be one price for several vehicles."
            mend = "Write the price of each vehicle into a cell of its own."
            faults.add(row, header, str(table.cells.at[row, header]), "merged_price", why, mend)


def _price(text: str, reading: Reading) -> tuple[Money, tuple[str, ...]] | CellFault:
    if is_missing(text):
        return CellFault("missing_price", "The price is missing.", "Fill in what was paid, the highest bid or the ask.")
    if is_error(text):
        return spreadsheet_error(text.strip())
    try:
        money = read_money(text, reading)
        kinds: tuple[str, ...] = ("prices_in_thousands",) if money.thousands else ()
    except ValueError:
        found = understood_price(text, reading)
        if isinstance(found, str):
            return _no_price(text, found, reading)
        money, kinds = found
    if money.percent:
        why = f"The price '{text}' is a percentage."
        return CellFault("price_not_a_number", why, "Write the price in money, such as 24500.")
    if money.amount == 0:
        return CellFault("price_zero", "The price is zero.", "Write what was paid, bid or asked, or leave the row out.")
    if money.amount < 0:
        why = f"The price '{text}' is below zero."
        mend = "Write the price without the minus sign if it is right."
        return CellFault("price_negative", why, mend, f"{money.currency} {-money.amount:.12g}".strip())
    return money, kinds


def _no_price(text: str, problem: str, reading: Reading) -> CellFault:
    if ends := price_range(text, reading):
        low, high = map(exact_money, ends)
        mend = "Write the one that was paid or bid; of an asking price, the one that is asked."
        return CellFault("price_range", f"'{text.strip()[:60]}' names two prices, {low} and {high}.", mend)
    code = "price_infinite" if "infinite" in problem else "price_not_a_number"
    mend = "Write the price in figures, such as 24500."
    return CellFault(code, f"The price '{text[:60]}' {problem}.", mend, _price_meant(text, reading))


def _price_meant(text: str, reading: Reading) -> str:
    meant = letters_as_digits(text)
    try:
        return meant if meant and read_money(meant, reading).amount > 0 else ""
    except ValueError:
        return ""


def read_outcomes(table: TextTable, columns: ColumnMap, schema: Schema, faults: FaultList) -> ObjectArray:
    """The outcome of each row (``sold``, ``bid_not_met``, ``asking``), ``None`` where it is a fault.

    Parameters
    ----------
    table : TextTable
    columns : ColumnMap
        Where each column stands.
    schema : Schema
        What the columns mean.
    faults : FaultList
        Takes the faults found.
    """
    if "outcome" not in columns.sale:
        if not schema.default_outcome:
            faults.add(
                0,
                "outcome",
                "",
                "missing_column",
                "The table has no column 'outcome', so sales cannot be told from bids and asking prices.",
                "Add a column 'outcome' with sold, bid_not_met or asking; if every row is a sale, set "
                'default_outcome = "sold" in the schema.',
            )
        return by_row([schema.default_outcome or None], np.zeros(len(table.cells), dtype=np.intp))
    header = columns.sale["outcome"]
    words = {level_key(word): name for name in OUTCOMES for word in (name, *schema.outcome_aliases.get(name, ()))}
    codes, texts = distinct(table.cells[header])
    read = [words.get(level_key(text)) for text in texts]
    for code, text in enumerate(texts):
        if read[code] is None:
            faults.add_problem(table.cells.index[codes == code], header, text, _outcome_problem(text, words))
    return by_row(read, codes)


def _outcome_problem(text: str, words: dict[str, str]) -> CellFault:
    accepted = "Write sold, bid_not_met (highest bid, reserve not reached) or asking (offered, unsold)."
    if is_error(text):
        return spreadsheet_error(text.strip())
    if is_missing(text):
        return CellFault("missing_outcome", "The outcome is missing.", accepted)
    close = nearest(text, words)
    hint = f" The nearest is {words[close[0]]}." if close else ""
    return CellFault("unknown_outcome", f"'{text}' is not an outcome.", accepted + hint, one_meant(text, words))


def read_dates(
    table: TextTable, columns: ColumnMap, schema: Schema, faults: FaultList, today: dt.date
) -> tuple[ObjectArray, list[ReadAs], list[Note]]:
    """The date of each sale, ``None`` where it is missing or a fault, those read otherwise than written, and notes.

    Parameters
    ----------
    table : TextTable
    columns : ColumnMap
        Where each column stands.
    schema : Schema
        What the columns mean.
    faults : FaultList
        Takes the faults found.
    today : date
        Later days lie in the future.
    """
    if "date" not in columns.sale:
        if schema.date_required:
            why = "The table has no column 'date', and the schema needs the date of every sale."
            mend = "Add a column 'date' such as 2024-05-31, or set date_required = false in the schema."
            faults.add(0, "date", "", "missing_column", why, mend)
        return by_row([None], np.zeros(len(table.cells), dtype=np.intp)), [], []
    header = columns.sale["date"]
    codes, texts = distinct(table.cells[header])
    stored = stored_days(texts, dt.date.fromisoformat(schema.earliest_sale), today)
    read: list[dt.date | None] = []
    styles: list[Style | None] = []
    told: Told = {}
    for code, text in enumerate(texts):
        if text in stored:
            read.append(stored[text])
            styles.append("clear")
            told[code] = ("dates_stored_as_numbers",), str(stored[text]), 0
            continue
        found = _date(text, schema, today)
        if isinstance(found, CellFault):
            read.append(None)
            styles.append(None)
            if found.code != "missing_date" or schema.date_required:
                faults.add_problem(table.cells.index[codes == code], header, text, found)
            continue
        date, style, kinds, days = found
        read.append(date)
        styles.append(style)
        if kinds:
            told[code] = kinds, str(date), days
    notes = _order_of_parts(table.cells[header], texts, codes, styles, schema, faults, today)
    return by_row(read, codes), each_row(table.cells[header], codes, texts, told), notes


def _date(text: str, schema: Schema, today: dt.date) -> tuple[dt.date, Style, tuple[str, ...], int] | CellFault:
    """The day, how sure the order of its parts is, the kinds of what was read otherwise, and the days it may be off."""
    if is_missing(text):
        return CellFault("missing_date", "The date is missing.", "Fill in the date of the sale, such as 2024-05-31.")
    if is_error(text):
        return spreadsheet_error(text.strip())
    kinds: tuple[str, ...] = ()
    days = 0
    try:
        date, style = read_date(text, day_first=schema.day_first, today=today)
    except ValueError as problem:
        wide = understood_date(text, today) if str(problem) == NO_DATE else str(problem)
        if isinstance(wide, str):
            mend = "Write it in full, such as 2024-05-31."
            return CellFault("impossible_date", f"The date '{text}' {wide}.", mend, month_meant(text))
        date, kinds, days = wide
        style = "clear"
    if date > today:
        why = f"The date '{text}' lies in the future: today is {today}."
        mend = "Correct the date, or leave the row out until the sale is made."
        return CellFault("future_date", why, mend, _turned(text, style, schema, today))
    if date < dt.date.fromisoformat(schema.earliest_sale):
        why = f"The date '{text}' lies before {schema.earliest_sale}, the schema's earliest."
        return CellFault("early_date", why, "Correct the date, or set earliest_sale in the schema.")
    return date, style, kinds, days


def _turned(text: str, style: Style, schema: Schema, today: dt.date) -> str:
    """The date with day and month in the other order, where that is possible and has passed."""
    if style != "either":
        return ""
    other, _ = read_date(text, day_first=not schema.day_first, today=today)
    return other.isoformat() if dt.date.fromisoformat(schema.earliest_sale) <= other <= today else ""


def _order_of_parts(
    column: pd.Series[Any],
    texts: list[str],
    codes: npt.NDArray[np.intp],
    styles: list[Style | None],
    schema: Schema,
    faults: FaultList,
    today: dt.date,
) -> list[Note]:
    counts = np.bincount(codes, minlength=len(texts))
    total = {
        kind: int(sum(counts[i] for i, s in enumerate(styles) if s == kind))
        for kind in ("either", "day_first", "month_first")
    }
    if not total["either"]:
        return []
    example = min(text for text, style in zip(texts, styles, strict=True) if style == "either")
    order, setting = ("day", "true") if schema.day_first else ("month", "false")
    note = Note(
        "dates_by_rule",
        f"{counted(total['either'], 'date')} (such as '{example}') can be read two ways; they were read {order} "
        f"first, as day_first = {setting} in the schema says.",
    )
    ours, other = ("day_first", "month_first") if schema.day_first else ("month_first", "day_first")
    if total[other] and not total[ours]:
        turned = "month" if schema.day_first else "day"
        proof = f"{counted(total[other], 'date')} can only be {turned} first, none can only be {order} first"
        mend = f"Set day_first = {'false' if schema.day_first else 'true'} in the schema, or write dates as 2024-05-31."
        for row, code in zip(column.index, codes, strict=True):
            if styles[code] == "either":
                faults.add(
                    row,
                    str(column.name),
                    texts[code],
                    "ambiguous_dates",
                    f"{proof}; '{texts[code]}' could be either and was read {order} first.",
                    mend,
                    sets_aside=False,
                    suggestion=_turned(texts[code], "either", schema, today),
                )
    return [note]


def set_aside_related(table: TextTable, columns: ColumnMap, faults: FaultList) -> None:
    """Set aside each sale that the shop marked as not at arm's length, with the shop's own word as the reason.

    Parameters
    ----------
    table : TextTable
    columns : ColumnMap
        Where each column stands.
    faults : FaultList
        Takes the faults found.
    """
    if "arms_length" not in columns.sale:
        return
    header = columns.sale["arms_length"]
    codes, texts = distinct(table.cells[header])
    for code, text in enumerate(texts):
        if not sets_aside(text):
            continue
        marked = "" if level_key(text) in _CLOSED_SALE else f": {text.strip()}"
        for row in table.cells.index[codes == code]:
            faults.add(
                row,
                header,
                text,
                "not_arms_length",
                f"The sale was not at arm's length{marked}.",
                "Nothing, if that is so: such a price says little about the market. If it was an open sale, write yes.",
            )


def sets_aside(text: str) -> bool:
    """Whether a word about how open a sale was sets it aside."""
    return not is_missing(text) and level_key(text) not in _OPEN_SALE


def confirmed_rows(table: TextTable, columns: ColumnMap) -> pd.Series[Any]:
    """Which rows the shop has confirmed as right although they look odd.

    Parameters
    ----------
    table : TextTable
    columns : ColumnMap
        Where each column stands.
    """
    return text_column(table, columns, "confirmed").str.casefold().isin(YES_WORDS)
