"""Writes the tables as people keep them, each with what must come out of it: ``python tests/tables/make_tables.py``.

Every table holds sales of the one list in ``shop_sales.py``; shop, makes, venues and people are invented. Beside each
file stands ``NAME.json``: the sales that must be read with their row numbers, the rows that must be set aside and
under which code, how many cells must be said to be read otherwise than written, and what the headers and words mean.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import by_hand as writing
from by_hand import Written, csv_bytes, of_month, of_season, price_by_hand, serial
from shop_sales import Sale, draw
from workbooks import ods_bytes, xlsx_bytes

HERE = Path(__file__).parent
FILES = HERE / "files"
SALES = draw()

OWN_WORDS = {"derelict": "basket case", "project": "to restore", "runner": "goes", "driver": "tidy", "show": "perfect"}
GERMAN = {"derelict": "Wrack", "project": "Projekt", "runner": "läuft", "driver": "fahrbereit", "show": "Schaustück"}
GERMAN_PAINT = {
    "bare": "blank",
    "worn": "abgenutzt",
    "presentable": "ordentlich",
    "fresh": "neu lackiert",
    "show-finish": "makellos",
}
ENDED = {"sold": "Sold", "bid_not_met": "No sale", "asking": "For sale"}


def meant(sale: Sale, *names: str, **otherwise: Any) -> dict[str, Any]:
    """What must be read of a sale: these of its facts, and some as the table says them."""
    facts = {name: getattr(sale, name) for name in ("price", "outcome", "family", "model_year", "condition", *names)}
    return {**facts, **otherwise}


def yard_notebook() -> tuple[Written, bytes]:
    """A hand-kept sheet: title lines, an empty first column, prices, dates and years by hand, a line of totals."""
    table = Written(
        headers={
            "Truck": "family",
            "Yr": "model_year",
            "Cond.": "condition",
            "Paid": "price",
            "When": "date",
            "How": "outcome",
        },
        words={"condition": OWN_WORDS},
    )
    table.outcomes = ENDED
    table.line()
    table.line("", "Ferrish & Daughter", "", "", "what trucks brought", "")
    table.line("", "kept by Ada", "", "", "", "printed 3 Nov 2026")
    table.line()
    table.line("", *table.headers)
    total = 0
    for at, sale in enumerate(SALES):
        price, kinds = price_by_hand(sale.price, at)
        year = (f"'{sale.model_year % 100}", str(sale.model_year), f"c. {sale.model_year}")[at % 3]
        season = of_season(sale.date) if at % 4 == 3 and sale.date.year < 2026 else None
        day, mean = season or (of_month(sale.date, at) if at % 2 else (f"{sale.date.day} {sale.date:%b %Y}", sale.date))
        table.told(*kinds, "years_of_two_digits" if at % 3 == 0 else "", "figures_about" if at % 3 == 2 else "")
        table.told("dates_with_a_width" if mean != sale.date or " " not in day or at % 2 else "")
        table.sale(
            ["", sale.family, year, OWN_WORDS[sale.condition], price, day, ENDED[sale.outcome]],
            **meant(sale, date=mean),
        )
        total += sale.price
    table.aside("totals_row", "", "Total", "", "", f"{total:,}", "", "")
    table.aside("totals_row", "", "Average", "", "", f"{total / len(SALES):,.2f}", "", "")
    table.line()
    table.aside("note_row", "", "firm = would not haggle")
    table.notes = ["title_passed_over"]
    return table, xlsx_bytes({"Trucks": table.rows})


def semicolons() -> tuple[Written, bytes]:
    """Semicolons, decimal commas, dates with points, umlauts in the old Western code page of Windows, German words."""
    table = Written(
        headers={
            "Modell": "family",
            "Jahrgang": "model_year",
            "Zustand": "condition",
            "Lack": "paint",
            "Kilometer": "mileage",
            "Preis €": "price",
            "Verkauft am": "date",
            "Wie": "outcome",
        },
        words={"condition": GERMAN, "paint": GERMAN_PAINT},
        settings={"currency": "EUR", "unit": "km"},
    )
    table.outcomes = {"sold": "verkauft", "bid_not_met": "Gebot zu niedrig", "asking": "angeboten"}
    table.line(*table.headers)
    for sale in SALES:
        price = f"{sale.price:,}".replace(",", ".") + ",00"
        far = f"{sale.mileage:,}".replace(",", ".") if sale.mileage else ""
        table.sale(
            [
                sale.family,
                sale.model_year,
                GERMAN[sale.condition],
                GERMAN_PAINT[sale.paint],
                far,
                price,
                f"{sale.date:%d.%m.%Y}",
                table.outcomes[sale.outcome],
            ],
            **meant(sale, "date", "paint", "mileage", currency="EUR"),
        )
    total = f"{sum(sale.price for sale in SALES):,}".replace(",", ".") + ",00"
    table.aside("totals_row", "Summe", "", "", "", "", total, "", "")
    table.notes = ["encoding_guessed"]
    return table, csv_bytes(table.rows, ";", "cp1252")


def plain_list(sales: list[Sale], table: Written, day: Callable[[Sale], Any] = lambda sale: sale.date) -> Written:
    """A tidy list under an owner's own headers."""
    table.headers = {
        "Ref": "sale",
        "Sold on": "date",
        "Vehicle": "family",
        "Model yr": "model_year",
        "Shape": "condition",
        "Paint job": "paint",
        "Hammer": "price",
        "Where": "venue",
        "Outcome": "outcome",
    }
    table.outcomes = ENDED
    table.line(*table.headers)
    for sale in sales:
        table.sale(
            [
                sale.name,
                day(sale),
                sale.family,
                sale.model_year,
                sale.condition,
                sale.paint,
                sale.price,
                sale.venue,
                ENDED[sale.outcome],
            ],
            **meant(sale, "name", "date", "paint", "venue"),
        )
    return table


def several_sheets() -> tuple[Written, bytes]:
    """A workbook of a shop: a cover, the sales, what was spent, whom to ring."""
    table = plain_list(SALES, Written(sheet="Sales so far", notes=["sheet_chosen"]))
    costs = [["Day", "What", "Spent"], *([f"{day} Mar 2026", "primer", 40 + day] for day in range(2, 9))]
    people = [["Name", "Telephone", "Deals in"], ["Ada", "555 0101", "trim"], ["Ruth", "555 0102", "gearboxes"]]
    cover = [["Ferrish & Daughter"], ["Our trucks, and what others brought"]]
    return table, xlsx_bytes({"Cover": cover, "Costs 2026": costs, "Sales so far": table.rows, "People": people})


def months_across(sales: list[Sale]) -> list[list[Any]]:
    """Sums by line and month, as a pivot table gives them."""
    columns = sorted({(sale.date.year, sale.date.month) for sale in sales})
    rows: list[list[Any]] = [
        ["Sum of Hammer", "Column Labels"],
        ["Row Labels", *(f"{writing.MONTHS[month - 1]} {year}" for year, month in columns), "Grand Total"],
    ]
    for family in sorted({sale.family for sale in sales}):
        sums: list[Any] = []
        for column in columns:
            found = [s.price for s in sales if s.family == family and (s.date.year, s.date.month) == column]
            sums.append(sum(found) if found else "")
        rows.append([family, *sums, sum(s.price for s in sales if s.family == family)])
    totals = [sum(s.price for s in sales if (s.date.year, s.date.month) == column) for column in columns]
    return [*rows, ["Grand Total", *totals, sum(s.price for s in sales)]]


def pivot() -> tuple[Written, bytes]:
    """A pivot table alone: months across, sums in the cells; single sales cannot be had back."""
    rows = months_across([sale for sale in SALES if sale.date.year == 2025])
    return Written(refused="pivot table"), xlsx_bytes({"By month": rows})


def pivot_beside_the_list() -> tuple[Written, bytes]:
    """The same pivot table before the sheet that it was made from."""
    table = plain_list(SALES, Written(sheet="List", notes=["sheet_chosen"]))
    return table, xlsx_bytes({"By month": months_across(SALES), "List": table.rows})


def merged_cells() -> tuple[Written, bytes]:
    """Sales by vehicle line, its name merged over the rows below it, and a title merged over all columns."""
    table = Written(
        headers={
            "Make & line": "family",
            "Year": "model_year",
            "Grade": "condition",
            "Price": "price",
            "Date": "date",
            "Result": "outcome",
        },
        words={"condition": OWN_WORDS},
    )
    table.outcomes = ENDED
    merges = ["A1:F1"]
    table.line("Sales of the last years", "", "", "", "", "")
    table.line(*table.headers)
    for family in sorted({sale.family for sale in SALES}):
        first = len(table.rows) + 1
        for sale in (sale for sale in SALES if sale.family == family):
            at = len(table.rows) + 1
            table.told("merged_cells" if at > first else "")
            table.sale(
                [
                    family if at == first else "",
                    sale.model_year,
                    OWN_WORDS[sale.condition],
                    sale.price,
                    sale.date,
                    ENDED[sale.outcome],
                ],
                **meant(sale, "date"),
            )
        merges.append(f"A{first}:A{len(table.rows)}")
    table.notes = ["title_passed_over"]
    return table, xlsx_bytes({"Sheet1": table.rows}, merges=merges)


def hidden_rows() -> tuple[Written, bytes]:
    """A filter is set and a column hidden: what cannot be seen is in the file all the same."""
    table = plain_list(SALES, Written(notes=["hidden_cells"]))
    hidden = [at for at, sale in enumerate(SALES, start=2) if sale.outcome != "sold"]
    return table, xlsx_bytes({"Sheet1": table.rows}, hidden_rows=hidden, hidden_columns=["H"], filtered="A1:I37")


def two_header_rows() -> tuple[Written, bytes]:
    """Two rows of headers, the upper ones merged over several columns, and a row of units below them."""
    table = Written(
        headers={
            "Line": "family",
            "Year": "model_year",
            "State body": "condition",
            "State paint": "paint",
            "Price hammer (USD)": "price",
            "Price premium (%)": "premium",
            "Sold on": "date",
            "Sold how": "outcome",
            "Sold where": "venue",
        }
    )
    table.outcomes = ENDED
    table.line("Vehicle", "", "State", "", "Price", "", "Sold", "", "")
    table.line("Line", "Year", "body", "paint", "hammer", "premium", "on", "how", "where")
    table.line("", "", "", "", "(USD)", "(%)", "", "", "")
    table.headers = {
        ("Vehicle Line" if key == "Line" else "Vehicle Year" if key == "Year" else key): value
        for key, value in table.headers.items()
    }
    for sale in SALES:
        table.sale(
            [
                sale.family,
                sale.model_year,
                sale.condition,
                sale.paint,
                sale.price,
                sale.premium or "",
                sale.date,
                ENDED[sale.outcome],
                sale.venue,
            ],
            **meant(sale, "date", "paint", "venue", premium=sale.price * sale.premium / 100),
        )
    table.notes = ["headers_joined"]
    merges = ["A1:B1", "C1:D1", "E1:F1", "G1:I1"]
    return table, xlsx_bytes({"Sheet1": table.rows}, merges=merges)


def checkboxes() -> tuple[Written, bytes]:
    """An online spreadsheet's export: commas, checkboxes as TRUE and FALSE, dates and dollars as it shows them."""
    table = Written(
        headers={
            "Make/Model": "family",
            "Year": "model_year",
            "Condition": "condition",
            "First paint?": "original_finish",
            "Between strangers": "arms_length",
            "Price": "price",
            "Date sold": "date",
            "Result": "outcome",
        }
    )
    table.outcomes = ENDED
    table.line(*table.headers)
    for at, sale in enumerate(SALES):
        cells = [
            sale.family,
            sale.model_year,
            sale.condition,
            "☑" if sale.original_finish else "☐",
            "FALSE" if at == 6 else "TRUE",
            f"${sale.price:,}.00",
            f"{sale.date.month}/{sale.date.day}/{sale.date.year}",
            ENDED[sale.outcome],
        ]
        if at == 6:
            table.aside("not_arms_length", *cells)
        else:
            table.sale(cells, **meant(sale, "date", "original_finish"))
    table.notes = ["dates_by_rule"]
    return table, csv_bytes(table.rows, ",", "utf-8")


def number_dates() -> tuple[Written, bytes]:
    """Days that a spreadsheet stored as numbers, in an export that kept the numbers."""
    table = plain_list(SALES, Written(), lambda sale: serial(sale.date))
    table.told(*["dates_stored_as_numbers"] * len(SALES))
    return table, csv_bytes(table.rows, ",", "utf-8-sig")


def office_ods() -> tuple[Written, bytes]:
    """A free office program's own file: money, percent, days and yes or no as typed cells, and a merged venue."""
    table = Written(
        headers={
            "Line": "family",
            "Built": "model_year",
            "Condition": "condition",
            "Old paint": "original_finish",
            "Hammer price": "price",
            "Premium": "premium",
            "Day": "date",
            "Result": "outcome",
        }
    )
    table.outcomes = ENDED
    table.line(*table.headers)
    for sale in SALES:
        euro = sale.venue == "Harbour Lane"
        table.sale(
            [
                sale.family,
                sale.model_year,
                sale.condition,
                sale.original_finish,
                ("EUR" if euro else "USD", sale.price),
                ("%", sale.premium / 100),
                sale.date,
                ENDED[sale.outcome],
            ],
            **meant(
                sale,
                "date",
                "original_finish",
                currency="EUR" if euro else "USD",
                premium=sale.price * sale.premium / 100 * (1.1 if euro else 1),
            ),
        )
    table.settings = {"currency": "USD", "rates": {"EUR": 1.1}}
    return table, ods_bytes("Sales", table.rows)


def tabs_utf16() -> tuple[Written, bytes]:
    """What a spreadsheet calls Unicode text: tabs, UTF-16 with its mark, cells with commas in quotation marks."""
    table = Written(
        headers={
            "Vehicle": "family",
            "Yr.": "model_year",
            "How good": "condition",
            "Miles": "mileage",
            "Got": "price",
            "Sold": "date",
            "Outcome": "outcome",
        },
        words={"condition": OWN_WORDS},
    )
    table.outcomes = ENDED
    table.line(*table.headers)
    for at, sale in enumerate(SALES):
        far, kind = "", ""
        if sale.mileage:
            far, kind = (
                (f"{sale.mileage / 1000:g}k miles", "numbers_in_thousands"),
                (f"{sale.mileage:,}", ""),
                (f"{sale.mileage:,} (not proved)", "remarks_beside_figures"),
            )[at % 3]
        table.told(kind)
        table.sale(
            [
                sale.family,
                sale.model_year,
                OWN_WORDS[sale.condition],
                far,
                f"{sale.price:,}",
                f"{sale.date.day}-{sale.date:%b-%y}",
                ENDED[sale.outcome],
            ],
            **meant(sale, "date", "mileage"),
        )
    return table, csv_bytes(table.rows, "\t", "utf-16")


def years_as_headings() -> tuple[Written, bytes]:
    """A long list with a heading for each year, headers repeated below it, sums between, own words throughout."""
    table = Written(
        headers={
            "Truck": "family",
            "Model": "model_year",
            "Grade": "condition",
            "Brought": "price",
            "Day": "date",
            "How it ended": "outcome",
        },
        words={"condition": OWN_WORDS},
    )
    table.outcomes = {"sold": "went", "bid_not_met": "stayed, bid too low", "asking": "still in the yard"}
    table.line("sep=;")
    table.rows.pop()  # the hint is no row
    table.line(*table.headers)
    years = sorted({sale.date.year for sale in SALES})
    for year in years:
        table.aside("section_row", str(year), "", "", "", "", "")
        if year != years[0]:
            table.aside("repeated_header", *table.headers)
        found = [sale for sale in SALES if sale.date.year == year]
        for sale in found:
            table.sale(
                [
                    sale.family,
                    sale.model_year,
                    OWN_WORDS[sale.condition],
                    sale.price,
                    f"{sale.date:%d/%m/%Y}",
                    table.outcomes[sale.outcome],
                ],
                **meant(sale, "date"),
            )
        table.aside("totals_row", "", "", "Subtotal", sum(sale.price for sale in found), "", "")
    table.aside("totals_row", "", "", "", sum(sale.price for sale in SALES), "", "")
    table.settings = {"day_first": True}
    table.notes = ["dates_by_rule"]
    return table, b"sep=;\r\n" + csv_bytes(table.rows, ";", "utf-8")


def two_currencies() -> tuple[Written, bytes]:
    """Sales here and across the border, each price with its sign, and a rate in the schema."""
    table = Written(
        headers={
            "Line": "family",
            "Year": "model_year",
            "Condition": "condition",
            "Price": "price",
            "Date": "date",
            "Status": "outcome",
        },
        settings={"currency": "USD", "rates": {"CAD": 0.73}},
    )
    table.outcomes = ENDED
    table.line(*table.headers)
    for at, sale in enumerate(SALES):
        north = at % 4 == 1
        price, kind = (
            (f"C${sale.price:,}", "")
            if north
            else ((f"${sale.price / 1000:g}k", "prices_in_thousands") if at % 5 == 2 else (f"US$ {sale.price:,}", ""))
        )
        table.told(kind)
        table.sale(
            [sale.family, sale.model_year, sale.condition, price, sale.date.isoformat(), ENDED[sale.outcome]],
            **meant(sale, "date", currency="CAD" if north else "USD"),
        )
    return table, csv_bytes(table.rows, ",", "utf-8")


def formulas_uncomputed() -> tuple[Written, bytes]:
    """Prices by formula in a workbook saved by a program that computes nothing: the file holds no results."""
    table = plain_list(SALES, Written())
    for at, (row, sale) in enumerate(zip(table.rows[1:], SALES, strict=True), start=2):
        row[6] = f"=J{at}*100"
        row.append(sale.price / 100)
    table.rows[0].append("Hundreds")
    return Written(refused="formula"), xlsx_bytes({"Sheet1": table.rows})


def error_cells() -> tuple[Written, bytes]:
    """A list some of whose cells a spreadsheet could not work out."""
    table = plain_list([], Written())
    for at, sale in enumerate(SALES):
        cells = [
            sale.name,
            sale.date,
            sale.family,
            sale.model_year,
            sale.condition,
            sale.paint,
            sale.price,
            sale.venue,
            ENDED[sale.outcome],
        ]
        if at in (3, 17):
            cells[6] = ("#REF!", "#VALUE!")[at > 3]
            table.aside("spreadsheet_error", *cells)
        elif at == 9:
            cells[5] = "#N/A"  # nothing is known of the paint
            table.sale(cells, **meant(sale, "date", "name", "venue", paint=None))
        else:
            table.sale(cells, **meant(sale, "date", "name", "venue", "paint"))
    return table, xlsx_bytes({"Sheet1": table.rows})


TABLES: dict[str, Callable[[], tuple[Written, bytes]]] = {
    "yard-notebook.xlsx": yard_notebook,
    "semicolons-cp1252.csv": semicolons,
    "several-sheets.xlsx": several_sheets,
    "pivot.xlsx": pivot,
    "pivot-beside-the-list.xlsx": pivot_beside_the_list,
    "merged-cells.xlsx": merged_cells,
    "hidden-rows.xlsx": hidden_rows,
    "two-header-rows.xlsx": two_header_rows,
    "checkboxes.csv": checkboxes,
    "number-dates.csv": number_dates,
    "office.ods": office_ods,
    "tabs-utf16.txt": tabs_utf16,
    "years-as-headings.csv": years_as_headings,
    "two-currencies.csv": two_currencies,
    "formulas-uncomputed.xlsx": formulas_uncomputed,
    "error-cells.xlsx": error_cells,
}
"""Each file, and what writes it."""


def expectation(table: Written) -> dict[str, Any]:
    """What must come out, as JSON holds it."""
    facts = {name: value for name, value in vars(table).items() if name != "rows" and value}
    return json.loads(json.dumps(facts, default=str))


def main() -> None:
    """Write every table and what must come out of it."""
    FILES.mkdir(exist_ok=True)
    for name, make in TABLES.items():
        table, data = make()
        (FILES / name).write_bytes(data)
        text = json.dumps(expectation(table), indent=1, ensure_ascii=False)
        (FILES / f"{Path(name).stem}.json").write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
