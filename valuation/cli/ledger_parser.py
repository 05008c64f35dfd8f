"""Arguments of the commands that write to the ledger and read from it. Imports nothing but argparse."""

from __future__ import annotations

import argparse

from valuation.cli.arguments import all_of_it, amount, as_json, command, coverage, day, schema, vehicle, when

ANSWERS = ("accept", "counter", "hold", "decline")
KINDS = ("private", "auction", "dealer", "other")


def ledger_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """``keep``, ``add``, ``vehicles`` and ``record``."""
    _keep(commands)
    add = command(commands, "add", "add one sale to a table, told in words or taken from the ledger")
    add.add_argument(
        "words",
        nargs="*",
        metavar="TABLE|NAME=VALUE",
        help="the table (CSV), unless it is found here or in the ledger; then the sale, such as price=24500 "
        'date=2026-05-03 family="Garrow Wren" condition=driver',
    )
    add.add_argument("--sale", type=int, metavar="NUMBER", help="or a realised sale of the ledger, by its number")
    add.add_argument("--venue", default="", metavar="NAME", help="where that sale was made")
    add.add_argument("--dry-run", action="store_true", help="show the row, and write nothing")
    schema(add)
    _ledger(add)
    as_json(add)

    vehicles = command(commands, "vehicles", "list the vehicles of the ledger, or all that is kept of one")
    vehicles.add_argument("name", nargs="?", metavar="NAME", help="the vehicle")
    record = command(commands, "record", "the track record: estimates against the prices realised after them")
    for one in (vehicles, record):
        _ledger(one)
        all_of_it(one)
        as_json(one)


def _keep(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    keep = command(commands, "keep", "keep an estimate, an offer, a sale, a table or a mend in the shop's ledger")
    kinds = keep.add_subparsers(dest="what", required=True, metavar="WHAT")

    estimate = command(kinds, "estimate", "value a vehicle and keep the estimate")
    vehicle(estimate)
    estimate.add_argument("--comparables", metavar="TABLE", help="table to estimate from, kept with it")
    schema(estimate)
    when(estimate)
    coverage(estimate)

    offer = command(kinds, "offer", "keep an offer for a vehicle of the ledger")
    _about(offer, "amount", "the offer")
    offer.add_argument("--buyer", metavar="NAME", help="a word for who offers")
    offer.add_argument("--on", type=day, metavar="DATE", help="day of the offer (default: today)")
    offer.add_argument("--currency", help="currency of the offer; the estimate's unless given")

    answer = command(kinds, "answer", "keep what was answered to an offer")
    answer.add_argument("number", type=int, metavar="OFFER", help="number of the offer ('valuation vehicles NAME')")
    answer.add_argument("answer", choices=ANSWERS)
    answer.add_argument("counter", nargs="?", type=amount, help="the price named in return, with 'counter'")

    sale = command(kinds, "sale", "keep the realised sale of a vehicle, and take it into the comparables on a yes")
    _about(sale, "price", "all that the buyer paid before tax")
    sale.add_argument("--on", type=day, metavar="DATE", help="day of the sale (default: today)")
    sale.add_argument("--kind", choices=KINDS, help="how it was sold (default: private)")
    sale.add_argument("--related", action="store_true", help="to family, in distress and the like: no open sale")
    sale.add_argument("--venue", default="", metavar="NAME", help="where it was sold, for the table")
    sale.add_argument(
        "--into-table",
        nargs="?",
        const="",
        metavar="TABLE",
        help="take it into the comparables without asking: of this CSV file, else those found here or in the ledger",
    )

    for one in (offer, sale):
        one.add_argument("--remark", metavar="TEXT", help="anything else")
        one.add_argument("--corrects", type=int, metavar="NUMBER", help="the mistaken record that this puts right")
        one.add_argument("--reason", default="corrected", metavar="TEXT", help="why, with --corrects")

    gone = command(kinds, "withdrawal", "keep that an offer or a sale never was; its record stays")
    gone.add_argument("kind", choices=("offer", "sale"))
    gone.add_argument("number", type=int, help="its number ('valuation vehicles NAME')")
    gone.add_argument("--reason", required=True, metavar="TEXT", help="why, in a few words")

    table = command(kinds, "table", "keep a table of comparables, as the next version where it is known")
    table.add_argument("table", help="comparable sales (CSV, XLSX, ODS, Parquet)")
    table.add_argument("--name", default="", help="the shop's name for it; as it is known, else the file's")
    table.add_argument("--schema", metavar="FILE", help="what the columns mean (TOML); default: schema.toml beside it")

    mend = command(kinds, "mend", "keep a mend of one row of a table in the ledger, as its next version")
    mend.add_argument("row", type=int, help="row number, as 'valuation check' and a spreadsheet show it")
    mend.add_argument("words", nargs="*", metavar="COLUMN=VALUE", help="what its cells should say")
    mend.add_argument("--leave-out", action="store_true", help="leave the row out from now on")
    mend.add_argument("--right", action="store_true", help="the row looks odd and is right")
    mend.add_argument("--table", metavar="NAME", help="of this table; the newest of the ledger unless given")

    for one in (offer, answer, sale):
        one.add_argument("--confirm", action="store_true", help="what looks unlikely is right")
    for one in (estimate, offer, answer, sale, gone, table, mend):
        _ledger(one)
        as_json(one)


def _about(parser: argparse.ArgumentParser, name: str, what: str) -> None:
    parser.add_argument("vehicle", metavar="NAME", help="the vehicle, as 'valuation vehicles' names it")
    parser.add_argument(name, type=amount, help=f"{what}, in the estimate's currency")


def _ledger(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--ledger",
        metavar="FILE|URL",
        help="the shop's ledger, the desk's too (default: valuation.sqlite in this folder)",
    )
