"""Workbooks: the table with its faults, a vehicle's grid and effects; in a file of their own the paths of a find."""

from __future__ import annotations

import datetime as dt
import io
import math
from typing import TYPE_CHECKING, Any

from valuation.errors import SheetError
from valuation.evidence.grid_rows import in_cents
from valuation.schema.attributes import Role
from valuation.sheets.cautions import cautions
from valuation.sheets.cells import FONT, Cells, printable

if TYPE_CHECKING:
    from valuation.answers.explain import Evidence
    from valuation.comparables.table import Comparables
    from valuation.evidence.grid_rows import GridRow
    from valuation.paths.compare import PathsReport
    from valuation.text.locale import Paper

MOST_ROWS = 1_048_575
"""Rows that a sheet can hold under its head, by the file format."""
COMPARABLES = "Comparables"
OWN_COLUMNS, BLOCK = 2, 3
"""Columns of the grid: those of the vehicle itself, then as many for each comparable."""
SUMMARY_WIDTHS = (28.0, 15.0, 66.0)
"""Characters in the columns of the first sheet, which is printed upright: labels, figures, what they mean."""
MOST_PATHS_ACROSS = 5
"""Columns of paths that a paragraph runs over, so that it stays on the first page."""
MOST_IN_NARROW = 17.0
"""Characters in the widest column where many stand side by side: three comparables of the grid on a page."""
_SALE = ("sale", "date", "price", "outcome", "currency", "venue", "premium", "fees", "source")
_CHECKED = "confirmed"
"""Column that is for the reader of the file alone: each row was checked, and none is set aside on the way back."""


def workbook(comparables: Comparables, evidence: Evidence | None = None, paper: Paper = "a4") -> bytes:
    """A workbook (XLSX) that is safe to open: no cell that came from a user can start a formula.

    Parameters
    ----------
    comparables : Comparables
        Read back by ``read_comparables`` with the same schema, the first sheet gives the same fingerprint.
    evidence : Evidence, optional
        Of one vehicle: adds its grid, whose adjusted prices are formulas, and its effects.
    paper : {"a4", "us-letter"}
        On which it is printed.

    Returns
    -------
    bytes
        Equal input gives equal bytes.

    Raises
    ------
    SheetError
        If the table has more rows than a sheet can hold.
    """
    if comparables.rows > MOST_ROWS:
        raise SheetError(
            f"Cannot write {comparables.rows:,} rows of {comparables.source_name} to a workbook: a sheet holds "
            f"{MOST_ROWS:,}. Keep the table as CSV or Parquet."
        )
    day = comparables.sales["date"].max()
    made = evidence.as_of if evidence else (dt.date(2000, 1, 1) if day != day else day.date())
    title = evidence.vehicle.name if evidence else "Comparable sales"
    out, book = _book(title, f"Table fingerprint {comparables.fingerprint}", made, paper)
    summary = Cells(book, "Summary")
    cut = _comparables(book, comparables)
    if len(comparables.set_aside):
        cut += _set_aside(book, comparables)
    if comparables.faults:
        cut += _faults(book, comparables)
    if evidence is not None:
        _grid(book, evidence, comparables)
        _effects(book, evidence)
    _summary(summary, comparables, evidence, cut)
    book.close()
    return out.getvalue()


def paths_workbook(report: PathsReport, paper: Paper = "a4") -> bytes:
    """The paths of a find as a workbook of its own, so that it never goes out with what may be shared.

    Parameters
    ----------
    report : PathsReport
    paper : {"a4", "us-letter"}
        On which it is printed.
    """
    out, book = _book("Paths (private)", "Private: not for the buyer", report.as_of, paper)
    _paths(book, report)
    book.close()
    return out.getvalue()


def _book(title: str, comments: str, made: dt.date, paper: Paper) -> tuple[io.BytesIO, Any]:
    """A new workbook in memory in which no text becomes a formula, a link or a number."""
    import xlsxwriter

    out = io.BytesIO()
    book = xlsxwriter.Workbook(
        out,
        {
            "in_memory": True,
            "strings_to_formulas": False,
            "strings_to_urls": False,
            "strings_to_numbers": False,
            "default_format_properties": dict(FONT),
        },
    )
    book.valuation_paper = paper
    created = dt.datetime(made.year, made.month, made.day)
    book.set_properties({"title": printable(title)[:200], "comments": comments, "created": created})
    return out, book


def _comparables(book: Any, table: Comparables) -> int:
    """Usable rows under the schema's own headers, so that the reader takes each for what it is."""
    sheet = Cells(book, COMPARABLES)
    names = [str(name) for name in table.attributes.columns]
    sheet.head([*_SALE, *names, _CHECKED], table.n_usable)
    for at, (label, sale) in enumerate(table.sales.iterrows(), start=1):
        rate = _rate(table, str(sale["currency"]))
        sheet.text(at, 0, "" if sale["sale"] == f"row {label}" else str(sale["sale"]))
        sheet.day(at, 1, None if sale["date"] != sale["date"] else sale["date"].date())
        sheet.number(at, 2, float(sale["price"]), "money")
        sheet.text(at, 3, str(sale["outcome"]))
        sheet.text(at, 4, str(sale["currency"]))
        sheet.text(at, 5, str(sale["venue"]))
        sheet.number(at, 6, _own_money(float(sale["premium"]), rate), "money")
        sheet.number(at, 7, _own_money(float(sale["fees"]), rate), "money")
        sheet.text(at, 8, str(sale["source"]))
        sheet.text(at, len(_SALE) + len(names), "yes")
    for column, name in enumerate(names, start=len(_SALE)):
        role = table.schema.attribute(name).role
        for at, value in enumerate(table.attributes[name], start=1):
            _value(sheet, at, column, value, role)
    named = not table.sales["sale"].str.startswith("row ").any()
    sheet.sheet.print_area(0, 0, table.n_usable, len(_SALE) + len(names) - 1)
    sheet.lay_out(1 if named else 3)  # each page says which sale: its name, or else its day and price
    return sheet.cut


def _value(sheet: Cells, row: int, column: int, value: Any, role: Role) -> None:
    if value is None or value != value:
        return
    if role is Role.DATE:
        sheet.day(row, column, value.date())
    elif role is Role.FLAG:
        sheet.text(row, column, "yes" if value else "no")
    elif isinstance(value, str):
        sheet.text(row, column, value)
    else:
        sheet.number(row, column, float(value))


def _rate(table: Comparables, currency: str) -> float:
    """Units of the table's currency for one of the row's, as the reader takes it."""
    from valuation.text.money import same_currency

    if not currency or same_currency(currency, table.currency):
        return 1.0
    return table.schema.rates.get(currency, 1.0)


def _own_money(amount: float, rate: float) -> float:
    """The amount in the row's own currency that times the rate is exactly ``amount`` again."""
    own = amount / rate
    for near in (own, math.nextafter(own, math.inf), math.nextafter(own, -math.inf)):
        if near * rate == amount:
            return near
    return own


def _set_aside(book: Any, table: Comparables) -> int:
    sheet = Cells(book, "Set aside", MOST_IN_NARROW)
    columns = [str(name) for name in table.set_aside.columns]
    # The words differ from the schema's on purpose, so that this sheet is never taken for the table.
    sheet.head(["row in the file", *(f"as entered: {printable(name)}" for name in columns)], len(table.set_aside))
    for at, (label, cells) in enumerate(table.set_aside.iterrows(), start=1):
        sheet.text(at, 0, str(label))
        for column, text in enumerate(cells, start=1):
            sheet.text(at, column, printable(str(text)))
    sheet.lay_out()
    return sheet.cut


def _faults(book: Any, table: Comparables) -> int:
    sheet = Cells(book, "Faults")
    sheet.head(["row in the file", "in column", "found", "why", "mend", "set aside"], len(table.faults))
    for at, fault in enumerate(table.faults, start=1):
        sheet.text(at, 0, str(fault.row))
        for column, text in enumerate((fault.column, fault.value, fault.why, fault.mend), start=1):
            sheet.text(at, column, printable(str(text)))
        sheet.text(at, 5, "yes" if fault.sets_aside else "no")
    sheet.lay_out()
    return sheet.cut


def _grid(book: Any, evidence: Evidence, table: Comparables) -> None:
    """One block of three columns for each comparable: its level, the factor, and the amount as a formula."""
    from xlsxwriter.utility import xl_rowcol_to_cell as cell

    rows = evidence.grid
    sheet = Cells(book, "Grid", MOST_IN_NARROW)
    titles = list(dict.fromkeys((line.attribute, line.title, line.to_level) for row in rows for line in row.lines))
    labels = ["Sale", "Date", "Source", "How it came about", "Price", *(title for _, title, _ in titles)]
    for at, label in enumerate(labels):
        sheet.text(at, 0, printable(label), "head" if at == 0 else "text")
    first, adjusted = 5, 5 + len(titles)
    for at, label in enumerate(("Adjusted price", "Weight"), start=adjusted):
        sheet.text(at, 0, label)
    sheet.text(0, 1, "This vehicle", "head")
    for at, (_, _, own) in enumerate(titles, start=first):
        sheet.text(at, 1, printable(own))
    amounts = [OWN_COLUMNS + BLOCK * number + BLOCK - 1 for number in range(len(rows))]
    for row, amount in zip(rows, amounts, strict=True):
        level, factor = amount - 2, amount - 1
        sheet.text(0, level, printable(row.sale), "head")
        sheet.text(0, factor, "factor", "head")
        sheet.text(0, amount, "amount", "head")
        sheet.day(1, level, row.date)
        sheet.text(2, level, printable(row.source))
        sheet.text(3, level, row.outcome)
        sheet.near(4, amount, _exact_price(row, table), "money")
        price = cell(4, amount, row_abs=True)
        by_name = {line.attribute: line for line in row.lines}
        for at, (name, _, _) in enumerate(titles, start=first):
            line = by_name[name]
            sheet.text(at, level, printable(line.from_level))
            sheet.near(at, factor, line.factor, "factor")
            upper = cell(first, factor, row_abs=True)
            now = f"ROUND({price}*PRODUCT({upper}:{cell(at, factor)}),2)"
            before = f"ROUND({price},2)" if at == first else f"ROUND({price}*PRODUCT({upper}:{cell(at - 1, factor)}),2)"
            sheet.formula(at, amount, f"=ROUND({now}-{before},2)", line.amount)
        lines = f"{cell(first, amount)}:{cell(adjusted - 1, amount)}"
        sheet.formula(adjusted, amount, f"=ROUND({price},2)+SUM({lines})", row.adjusted_price, "total")
        sheet.near(adjusted + 1, amount, row.weight, "factor")
    sheet.text(adjusted + 4, 0, "Estimate, from all sales")
    sheet.near(adjusted + 4, 1, evidence.median, "total")
    if evidence.reconciled is not None:
        weighed = "+".join(f"{cell(adjusted + 1, c)}*LN({cell(adjusted, c)})" for c in amounts)
        whole = "+".join(cell(adjusted + 1, c) for c in amounts)
        sheet.text(adjusted + 3, 0, "These sales come to")
        sheet.formula(adjusted + 3, 1, f"=EXP(({weighed})/({whole}))", evidence.reconciled, "total")
    sheet.sheet.freeze_panes(1, 1)
    sheet.sheet.repeat_rows(0)
    sheet.sheet.hide_gridlines(0)
    sheet.lay_out(OWN_COLUMNS, BLOCK)


def _exact_price(row: GridRow, table: Comparables) -> float:
    """The price that the grid started from, before it was rounded to the cent."""
    named = table.sales.loc[table.sales["sale"] == row.sale]
    for _, sale in named.iterrows():
        price = float(sale["high"] if sale["outcome"] == "asking" else sale["low"])
        if round(100 * price) == in_cents(row.price):
            return price
    return row.price


def _effects(book: Any, evidence: Evidence) -> None:
    sheet = Cells(book, "Effects")
    currency = printable(evidence.currency)
    money = f"money ({currency})" if currency else "money"
    heads = ["attribute", "from", "to", "percent", "percent, low", "percent, high", money]
    sheet.head([*heads, "low", "high", "from the table, percent"], len(evidence.effects))
    for at, effect in enumerate(evidence.effects, start=1):
        for column, text in enumerate((effect.title, effect.from_level, effect.to_level)):
            sheet.text(at, column, printable(text))
        for column, value in enumerate((effect.percent, effect.low_percent, effect.high_percent), start=3):
            sheet.near(at, column, value, "percent")
        for column, value in enumerate((effect.money, effect.low_money, effect.high_money), start=6):
            sheet.near(at, column, value, "money")
        sheet.near(at, 9, 100 * effect.from_table, "percent")
    sheet.lay_out()


def _paths(book: Any, report: PathsReport) -> None:
    sheet = Cells(book, "Paths (private)")
    paths = report.paths
    for column, path in enumerate(paths, start=1):
        sheet.text(3, column, printable(path.name), "head")
    rows: list[tuple[str, str, Any]] = [
        ("Most to pay", "money", lambda path: path.most_to_pay),
        ("Outlay, mean", "money", lambda path: path.outlay.mean),
        ("Outlay, one in ten is below", "money", lambda path: path.outlay.low),
        ("Outlay, one in ten is above", "money", lambda path: path.outlay.high),
        ("Sale price, mean", "money", lambda path: path.sale_price.mean),
        ("Sale price, one in ten is below", "money", lambda path: path.sale_price.low),
        ("Sale price, one in ten is above", "money", lambda path: path.sale_price.high),
        ("Expected profit", "money", lambda path: path.expected_profit),
        ("One in ten ends below", "money", lambda path: path.bad_tenth),
        ("Odds of a loss, percent", "percent", lambda path: 100 * path.odds_of_loss),
        ("Return on outlay, percent", "percent", lambda path: path.return_percent),
        ("Multiple of outlay", "factor", lambda path: path.multiple_of_outlay),
        ("Weeks until paid, mean", "percent", lambda path: path.weeks.mean),
    ]
    for at, (label, style, figure) in enumerate(rows, start=4):
        sheet.text(at, 0, label)
        for column, path in enumerate(paths, start=1):
            if label == "Most to pay" and path.most_to_pay <= 0:
                sheet.text(at, column, "walk away")
            else:
                sheet.near(at, column, figure(path), style)
    sheet.lay_out()
    last = min(len(paths), MOST_PATHS_ACROSS)
    sheet.across(0, last, "Private: not for the buyer", "title")
    sheet.across(1, last, printable(report.why))
    for at, note in enumerate(report.all_notes, start=len(rows) + 5):
        sheet.across(at, last, printable(note.text))


def _summary(sheet: Cells, table: Comparables, evidence: Evidence | None, cut: int) -> None:
    """The answer, on one page, and what the other sheets are."""
    sheet.set_widths(*SUMMARY_WIDTHS)
    sheet.sheet.set_portrait()
    currency = printable(evidence.currency if evidence else table.currency)
    lines: list[tuple[str, float | None, str]] = []
    if evidence is not None:
        share = f"{100 * evidence.interval.coverage:g} % of such sales"
        lines = [
            ("Estimate", evidence.median, "half of such sales would end above it"),
            ("Range, low end", evidence.interval.low, f"{share} are expected between the two"),
            ("Range, high end", evidence.interval.high, ""),
            ("The nearest sales come to", evidence.reconciled, "weighted; see Grid"),
        ]
        sheet.across(0, 2, printable(evidence.vehicle.name)[:1000], "title")
        sheet.across(1, 2, f"As of {evidence.as_of.isoformat()}; money in {currency or 'the unit entered'}")
    else:
        sheet.across(0, 2, "Comparable sales", "title")
        sheet.across(1, 2, f"Money in {currency or 'the unit entered'}")
    for at, (label, value, what) in enumerate(lines, start=3):
        sheet.text(at, 0, label)
        sheet.near(at, 1, value, "total" if at == 3 else "money")
        sheet.text(at, 2, what)
    said = [
        "This workbook holds the whole table with its sources: it is the shop's own. For a buyer make the buyer sheet.",
        f"Table: {printable(table.source_name)}, fingerprint {table.fingerprint}",
        f"{table.n_usable:,} usable rows of {table.rows:,}. Rows set aside: {_see('Set aside', len(table.set_aside))}. "
        f"Faults found: {_see('Faults', len(table.faults))}.",
        f"Read '{COMPARABLES}' back with the same schema and the fingerprint is the same. Prices are as entered; "
        "premium and fees in money of the row's currency.",
    ]
    if evidence is not None:
        said.append(
            "Grid: amounts are formulas. Each is the running price, rounded to the cent, less the one before; change a "
            "factor or a price and the adjusted prices follow."
        )
    if cut:
        said.append(f"{cut} texts were longer than a cell can hold and were cut; the fingerprint then differs.")
    notes = [printable(note.text) for note in (table.notes if evidence is None else evidence.notes)]
    for at, text in enumerate(
        [*said, *(["Good to know:", *notes] if notes else []), *cautions()], start=len(lines) + 4
    ):
        sheet.across(at, 2, text)


def _see(name: str, count: int) -> str:
    """How many there are, and on which sheet; an empty one is not written, as it would be printed as a blank page."""
    return f"{count:,}, see '{name}'" if count else "none"
