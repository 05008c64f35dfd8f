"""Sales: the columns that describe the sale (date, outcome, price and the rest), with their faults."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from valuation.comparables.cells import ObjectArray, by_row, distinct
from valuation.comparables.faults import FaultList
from valuation.comparables.headers import ColumnMap
from valuation.comparables.read_as import ReadAs
from valuation.comparables.texttable import TextTable
from valuation.notes import Note
from valuation.schema.schema import OUTCOMES, Schema
from valuation.schema.values import YES_WORDS, CellFault
from valuation.text.dates import Style, month_meant, read_date
from valuation.text.money import Money, read_money
from valuation.text.numbers import decimal_mark, is_missing, letters_as_digits
from valuation.text.reading import Reading
from valuation.text.spelling import counted, level_key, nearest, one_meant

_OPEN_SALE = frozenset({"yes", "y", "true", "t", "1", "arms length", "arm's length", "open", "open market", "market"})


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
    reading = replace(schema.reading(), mark=decimal_mark(texts))
    read: list[Money | None] = []
    for code, text in enumerate(texts):
        found = _price(text, reading)
        read.append(found if isinstance(found, Money) else None)
        if isinstance(found, CellFault):
            faults.add_problem(table.cells.index[codes == code], header, text, found)
    short = [
        ReadAs("prices_in_thousands", int(row), header, texts[code], f"{money.amount:,.0f}")
        for row, code in zip(table.cells.index, codes, strict=True)
        if (money := read[code]) is not None and money.thousands
    ]
    return by_row(read, codes), short


def _price(text: str, reading: Reading) -> Money | CellFault:
    if is_missing(text):
        return CellFault("missing_price", "The price is missing.", "Fill in what was paid, the highest bid or the ask.")
    try:
        money = read_money(text, reading)
    except ValueError as problem:
        infinite = "infinite" in str(problem)
        code = "price_infinite" if infinite else "price_not_a_number"
        mend = "Write the price in figures, such as 24500."
        return CellFault(code, f"The price '{text[:60]}' {problem}.", mend, _price_meant(text, reading))
    if money.percent:
        why = f"The price '{text}' is a percentage."
        return CellFault("price_not_a_number", why, "Write the price in money, such as 24500.")
    if money.amount == 0:
        return CellFault("price_zero", "The price is zero.", "Write what was paid, bid or asked, or leave the row out.")
    if money.amount < 0:
        why = f"The price '{text}' is below zero."
        mend = "Write the price without the minus sign if it is right."
        return CellFault("price_negative", why, mend, f"{money.currency} {-money.amount:.12g}".strip())
    return money


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
    if is_missing(text):
        return CellFault("missing_outcome", "The outcome is missing.", accepted)
    close = nearest(text, words)
    hint = f" The nearest is {words[close[0]]}." if close else ""
    return CellFault("unknown_outcome", f"'{text}' is not an outcome.", accepted + hint, one_meant(text, words))


def read_dates(
    table: TextTable, columns: ColumnMap, schema: Schema, faults: FaultList, today: dt.date
) -> tuple[ObjectArray, list[Note]]:
    """The date of each sale, ``None`` where it is missing or a fault, and notes on dates read by a rule.

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
        return by_row([None], np.zeros(len(table.cells), dtype=np.intp)), []
    header = columns.sale["date"]
    codes, texts = distinct(table.cells[header])
    read: list[dt.date | None] = []
    styles: list[Style | None] = []
    for code, text in enumerate(texts):
        found = _date(text, schema, today)
        read.append(None if isinstance(found, CellFault) else found[0])
        styles.append(None if isinstance(found, CellFault) else found[1])
        if isinstance(found, CellFault) and (found.code != "missing_date" or schema.date_required):
            faults.add_problem(table.cells.index[codes == code], header, text, found)
    notes = _order_of_parts(table.cells[header], texts, codes, styles, schema, faults, today)
    return by_row(read, codes), notes


def _date(text: str, schema: Schema, today: dt.date) -> tuple[dt.date, Style] | CellFault:
    if is_missing(text):
        return CellFault("missing_date", "The date is missing.", "Fill in the date of the sale, such as 2024-05-31.")
    try:
        date, style = read_date(text, day_first=schema.day_first, today=today)
    except ValueError as problem:
        mend = "Write it in full, such as 2024-05-31."
        return CellFault("impossible_date", f"The date '{text}' {problem}.", mend, month_meant(text))
    if date > today:
        why = f"The date '{text}' lies in the future: today is {today}."
        mend = "Correct the date, or leave the row out until the sale is made."
        return CellFault("future_date", why, mend, _turned(text, style, schema, today))
    if date < dt.date.fromisoformat(schema.earliest_sale):
        why = f"The date '{text}' lies before {schema.earliest_sale}, the schema's earliest."
        return CellFault("early_date", why, "Correct the date, or set earliest_sale in the schema.")
    return date, style


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
        word = level_key(text)
        if is_missing(text) or word in _OPEN_SALE:
            continue
        marked = (
            "" if word in ("no", "n", "false", "f", "0", "not arms length", "not arm's length") else f": {text.strip()}"
        )
        for row in table.cells.index[codes == code]:
            faults.add(
                row,
                header,
                text,
                "not_arms_length",
                f"The sale was not at arm's length{marked}.",
                "Nothing, if that is so: such a price says little about the market. If it was an open sale, write yes.",
            )


def confirmed_rows(table: TextTable, columns: ColumnMap) -> pd.Series[Any]:
    """Which rows the shop has confirmed as right although they look odd.

    Parameters
    ----------
    table : TextTable
    columns : ColumnMap
        Where each column stands.
    """
    return text_column(table, columns, "confirmed").str.casefold().isin(YES_WORDS)
