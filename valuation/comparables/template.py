"""Template: an empty table to start from, and the data dictionary that says what belongs in each column."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import pandas as pd

from valuation.errors import TableError
from valuation.files import write_file
from valuation.schema.attributes import Attribute, Role
from valuation.schema.checks import NUMERIC
from valuation.schema.schema import Schema
from valuation.schema.values import possible_span

_SALE_MEANINGS = {
    "sale": ("Your own name or number for the sale.", "any text"),
    "date": ("When it was sold, bid on, or offered at that price.", "a date such as 2024-05-31, not in the future"),
    "price": ("What was paid, the highest bid, or the asking price, before premium and fees.", "an amount above 0"),
    "outcome": (
        "How the price came about: sold; highest bid with the reserve not reached; offered and not sold.",
        "sold, bid_not_met, asking",
    ),
    "currency": ("Currency of the price, premium and fees.", "a code such as USD"),
    "venue": ("Where it was sold; decides the premium where the row gives none.", "any text"),
    "premium": ("Buyer's premium on top of the price.", "money, or percent with its sign such as 10 %"),
    "fees": ("Other fixed fees that the buyer paid before tax.", "money"),
    "source": ("Where you found it, so that it can be looked up again: a link or a lot number.", "any text"),
    "arms_length": (
        "Whether strangers dealt in an open market; any word but yes sets the row aside, with that word as the reason.",
        "yes, no, or a word such as family, charity, distress",
    ),
    "vehicle": ("What identifies this vehicle, such as its chassis number.", "any text"),
    "confirmed": ("Yes where a row looks odd but is right.", "yes or blank"),
}


def data_dictionary(schema: Schema) -> pd.DataFrame:
    """What belongs in each column of a table.

    Parameters
    ----------
    schema : Schema
        Whose columns to describe.

    Returns
    -------
    DataFrame, shape (n_columns, 6)
        ``column``, ``describes`` (sale or vehicle), ``needed`` (yes, or what happens without), ``accepted``,
        ``meaning`` (with the meaning of each level), ``other_headers``; the sale's columns first.
    """
    rows = [_sale_row(column, schema) for column in _SALE_MEANINGS]
    rows += [_attribute_row(attribute) for attribute in schema.attributes]
    names = ["column", "describes", "needed", "accepted", "meaning", "other_headers"]
    return pd.DataFrame(rows, columns=names)


def _sale_row(column: str, schema: Schema) -> list[str]:
    meaning, accepted = _SALE_MEANINGS[column]
    needed = {
        "price": "yes",
        "outcome": f"no; without the column every row is {schema.default_outcome}" if schema.default_outcome else "yes",
        "date": "yes" if schema.date_required else "no",
    }.get(column, "no")
    return [column, "sale", needed, accepted, meaning, ", ".join(schema.sale_aliases.get(column, ()))]


def _attribute_row(attribute: Attribute) -> list[str]:
    blank = {
        "average": "a blank cell is unknown",
        "lowest": "a blank cell is the lowest",
        "refuse": "a blank cell sets the row aside",
    }[attribute.missing]
    needed = "yes" if attribute.required or attribute.missing == "refuse" else "no"
    meanings = [f"{level.name}: {level.meaning}" for level in attribute.levels if level.meaning]
    meaning = " ".join(filter(None, [attribute.meaning, *meanings]))
    return [
        attribute.name,
        "vehicle",
        f"{needed}; {blank}",
        _accepted(attribute),
        meaning,
        ", ".join(attribute.aliases),
    ]


def _accepted(attribute: Attribute) -> str:
    if attribute.role is Role.ORDINAL:
        return " < ".join(attribute.level_names)
    if attribute.role is Role.NOMINAL:
        return ", ".join(attribute.level_names) or "any word"
    if attribute.role in NUMERIC:
        return f"whole {possible_span(attribute)}" if attribute.role is Role.COUNT else possible_span(attribute)
    return "yes or no" if attribute.role is Role.FLAG else "a date such as 2024-05-31"


def write_template(path: str | Path, schema: Schema) -> Path:
    """Write an empty table to start from: headers only; a workbook gets the data dictionary as its second sheet.

    Parameters
    ----------
    path : str or Path
        Ends in ``.csv`` or ``.xlsx``. An existing file is not overwritten.
    schema : Schema
        Whose columns to write.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    TableError
        If the name ends in something else, the file exists already, or it cannot be written.
    """
    file = Path(path)
    if file.suffix.casefold() not in (".csv", ".xlsx"):
        raise TableError(f"Cannot write a template as '{file.name}': found '{file.suffix}'. Use .csv or .xlsx.")
    dictionary = data_dictionary(schema)
    try:
        csv = file.suffix.casefold() == ".csv"
        write_file(file, _csv_line(list(dictionary["column"])) if csv else _workbook(dictionary), new=True)
    except FileExistsError:
        raise TableError(f"Cannot write a template to {file}: the file exists already. Choose another name.") from None
    except OSError as problem:
        raise TableError(f"Cannot write a template to {file}: {problem.strerror or problem}.") from problem
    return file


def _csv_line(headers: list[str]) -> bytes:
    return pd.DataFrame(columns=headers).to_csv(index=False, lineterminator="\r\n").encode("utf-8-sig")


def _workbook(dictionary: pd.DataFrame) -> bytes:
    import xlsxwriter

    whole = BytesIO()
    with xlsxwriter.Workbook(whole, {"strings_to_formulas": False, "strings_to_urls": False}) as book:
        bold, wrap = book.add_format({"bold": True}), book.add_format({"text_wrap": True, "valign": "top"})
        table, columns = book.add_worksheet("comparables"), book.add_worksheet("data dictionary")
        table.write_row(0, 0, list(dictionary["column"]), bold)
        table.freeze_panes(1, 0)
        columns.write_row(0, 0, [name.replace("_", " ") for name in dictionary.columns], bold)
        for number, row in enumerate(dictionary.itertuples(index=False), start=1):
            columns.write_row(number, 0, list(row), wrap)
        for position, width in enumerate((18, 10, 34, 40, 80, 40)):
            columns.set_column(position, position, width)
    return whole.getvalue()
