"""The arguments of every command. Imports nothing but argparse, so that help answers at once."""

from __future__ import annotations

import argparse

from valuation.cli.arguments import all_of_it as _all
from valuation.cli.arguments import amount as _amount
from valuation.cli.arguments import as_json as _json
from valuation.cli.arguments import as_written as _as_written
from valuation.cli.arguments import command as _command
from valuation.cli.arguments import coverage as _coverage
from valuation.cli.arguments import day as _day
from valuation.cli.arguments import schema as _schema
from valuation.cli.arguments import vehicle as _vehicle
from valuation.cli.arguments import when as _when
from valuation.cli.ledger_parser import ledger_commands

COMMANDS: dict[str, tuple[str, str]] = {
    "demo": ("demo", "demo"),
    "start": ("start", "start"),
    "check": ("check", "check"),
    "mend": ("mend", "mend"),
    "fit": ("fit", "fit"),
    "estimate": ("estimate", "estimate"),
    "explain": ("explain", "explain"),
    "backtest": ("backtest", "backtest"),
    "batch": ("batch", "batch"),
    "paths": ("deal", "paths"),
    "steps": ("deal", "steps"),
    "field": ("deal", "field"),
    "bands": ("sell", "bands"),
    "offer": ("sell", "offer"),
    "keep": ("keep", "keep"),
    "add": ("add", "add"),
    "vehicles": ("books", "vehicles"),
    "record": ("books", "record"),
    "serve": ("serve", "serve"),
    "ledger": ("ledger", "ledger"),
    "sheet": ("sheet", "sheet"),
    "completion": ("completion", "completion"),
    "manual": ("manual", "manual"),
}
"""Module of this room and function for each command."""

_EPILOG = """\
exit codes: 0 answered; 1 'check' found rows to mend; 2 invalid arguments; 3 input refused, the message says why;
130 stopped.
An estimate from the table it was given; not a licensed appraisal."""


def build_parser() -> argparse.ArgumentParser:
    """The parser of all commands."""
    parser = argparse.ArgumentParser(
        prog="valuation",
        description="What a found truck or car is worth, what to pay, what to build and what to ask, "
        "from your own table of sales.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action=_Version, nargs=0, help="say which release this is, and stop")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    _evidence_commands(commands)
    _deal_commands(commands)
    _sheet_commands(commands)
    ledger_commands(commands)
    _desk_commands(commands)
    _shell_commands(commands)
    return parser


class _Version(argparse.Action):
    """Looks the release up only when it is asked for."""

    def __call__(self, parser: argparse.ArgumentParser, *_given: object) -> None:
        from valuation.version import own_version

        print(f"{parser.prog} {own_version()}")
        parser.exit()


def _shell_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    completion = _command(commands, "completion", "print what a shell needs to complete commands with the Tab key")
    completion.add_argument("shell", choices=("bash", "zsh", "fish"), help="your shell")
    _command(commands, "manual", "print the manual page, for 'man -l -'")


def _evidence_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    demo = _command(commands, "demo", "go through an invented shop's table, from the faults to the decision")
    demo.add_argument("--quick", action="store_true", help="leave out the back-test and the build plans")
    _all(demo)

    start = _command(commands, "start", "write what to begin with: empty, or drafted from your own table of sales")
    start.add_argument("folder", help="folder to write to; nothing in it is overwritten")
    start.add_argument("--from", dest="table", metavar="TABLE", help="your own table of sales: its schema is drafted")
    start.add_argument("--sheet", metavar="NAME", help="sheet of a workbook; else the one understood best")
    start.add_argument("--yes", action="store_true", help="take what is suggested without asking")

    check = _command(commands, "check", "what of a table can be used, its faults by cause, and what to do next")
    check.add_argument("table", help="comparable sales (CSV, XLSX, ODS, Parquet)")
    _schema(check)
    _all(check)
    _json(check)

    mend = _command(commands, "mend", "write a mended copy of a table, with a list of what was changed in it")
    mend.add_argument("table", help="comparable sales (CSV, XLSX, ODS, Parquet); it is not changed")
    mend.add_argument("--out", required=True, metavar="FILE", help="new file to write (.csv or .xlsx)")
    mend.add_argument("--yes", action="store_true", help="make every mend that has one answer, and ask nothing")
    _schema(mend)
    _json(mend)

    fit = _command(commands, "fit", "fit a table and save the model with its card")
    fit.add_argument("table", help="comparable sales (CSV, XLSX, ODS, Parquet)")
    fit.add_argument(
        "--out", required=True, metavar="FILE", help="model file to write (.json); the card goes beside it"
    )
    _schema(fit)
    _lean_on(fit)
    _all(fit)

    estimate = _command(commands, "estimate", "price a vehicle: estimate, interval, factors, nearest sales")
    _vehicle(estimate)
    _source(estimate)
    _lean_on(estimate)
    _when(estimate)
    _coverage(estimate)
    _all(estimate)
    _json(estimate)

    explain = _command(commands, "explain", "why the estimate is what it is: effects, single sales, what would help")
    _vehicle(explain)
    _source(explain)
    _when(explain)
    _coverage(explain)
    _all(explain)
    _json(explain)

    backtest = _command(commands, "backtest", "price past sales as if unseen, and count how many fell inside")
    backtest.add_argument("table", help="comparable sales (CSV, XLSX, ODS, Parquet)")
    backtest.add_argument("--pictures", metavar="FOLDER", help="also write charts (SVG) into this folder")
    _schema(backtest)
    _coverage(backtest)
    _all(backtest)
    _json(backtest)

    batch = _command(commands, "batch", "price many vehicles from a saved model, in chunks of bounded memory")
    batch.add_argument("vehicles", help="table of vehicles (CSV or Parquet), one row each, or a folder of such tables")
    batch.add_argument("--model", required=True, help="model saved by 'valuation fit'")
    batch.add_argument("--out", required=True, metavar="FILE", help="table (.csv or .parquet) or folder to write")
    batch.add_argument("--chunk", type=int, default=50_000, metavar="ROWS", help="rows at a time (default 50,000)")
    batch.add_argument(
        "--cluster",
        default="",
        metavar="ADDRESS",
        help="Dask scheduler whose workers do it, such as tcp://192.168.1.5:8786, or 'local' for this computer's cores",
    )
    _when(batch)
    _coverage(batch)
    _all(batch)
    _json(batch)


def _deal_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    paths = _command(commands, "paths", "compare ways to go with a find, with the most to pay for each")
    paths.add_argument(
        "plans",
        nargs="+",
        metavar="PLAN|VEHICLE",
        help="build plans for one find, or the vehicle to sell as found (TOML, or words such as condition=driver)",
    )
    _as_written(paths)
    paths.add_argument("--price", type=_amount, help="purchase price at which to weigh the paths")
    _progress(paths)
    _source(paths)
    _when(paths)
    _all(paths)
    _json(paths)

    steps = _command(commands, "steps", "what each result of a plan adds and costs, and which steps to leave out")
    steps.add_argument("plan", metavar="PLAN", help="build plan file (TOML)")
    steps.add_argument("--price", type=_amount, help="purchase price, where it is known")
    steps.add_argument("--budget", type=_amount, help="most money for the steps, their parts and labour")
    steps.add_argument("--finish-by", type=_day, metavar="DATE", help="day by which the build must be done")
    _progress(steps)
    _source(steps)
    _when(steps)
    _all(steps)
    _json(steps)

    field = _command(commands, "field", "most to pay by condition and model year, for a print to take along")
    field.add_argument(
        "plans",
        nargs="+",
        metavar="PLAN|VEHICLE",
        help="plans for one kind of find, each for the condition in which its vehicle was found (TOML)",
    )
    field.add_argument("--years", required=True, metavar="FROM-TO", help="model years, for example 1948-1956")
    _source(field)
    _when(field)
    _all(field)
    _json(field)

    bands = _command(
        commands, "bands", "floor, target and ask for a plan's finished vehicle, or a vehicle as it stands"
    )
    bands.add_argument(
        "subject",
        nargs="+",
        metavar="PLAN|VEHICLE",
        help="build plan or vehicle file (TOML), or words such as family='Garrow Wren' year=1951 condition=driver",
    )
    _as_written(bands)
    bands.add_argument("--price", type=_amount, help="what was paid for it, for the break-even")
    _progress(bands)
    _own_talks(bands)
    _source(bands)
    _when(bands)
    _all(bands)
    _json(bands)

    offer = _command(commands, "offer", "what to answer to an offer; adds it to the log of the talks")
    offer.add_argument("log", metavar="LOG", help="offer log (JSON); begun if it is not there")
    offer.add_argument("amount", type=_amount, help="the offer, in the table's currency")
    offer.add_argument("--plan", metavar="PLAN|VEHICLE", help="what is sold, when the log does not name it yet")
    offer.add_argument("--asked", type=_amount, help="the price asked, when the log does not name it yet")
    offer.add_argument("--buyer", default="", help="a word for who offers")
    offer.add_argument("--currency", default="", help="currency of the offer; the table's unless given")
    offer.add_argument("--price", type=_amount, help="what was paid for the vehicle, for the profit")
    _own_talks(offer)
    offer.add_argument("--dry-run", action="store_true", help="answer without adding the offer to the log")
    _progress(offer)
    _source(offer)
    _when(offer)
    _all(offer)
    _json(offer)


def _own_talks(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--ledger",
        metavar="FILE|URL",
        help="the shop's ledger, to learn from its finished talks how buyers take an ask",
    )


def _desk_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    serve = _command(commands, "serve", "open the desk: the pages and the JSON service on this computer")
    serve.add_argument(
        "--ledger", metavar="FILE|URL", help="the shop's ledger (default: valuation.sqlite in this folder)"
    )
    serve.add_argument("--host", help="address to listen on (default: this computer alone)")
    serve.add_argument("--port", type=int, help="port to listen on (default 8321)")
    serve.add_argument(
        "--phone", action="store_true", help="let telephones on this network in, and show a QR code that signs in"
    )
    serve.add_argument("--no-browser", action="store_true", help="do not open the browser")

    ledger = _command(commands, "ledger", "back up, restore or check the shop's ledger")
    kinds = ledger.add_subparsers(dest="what", required=True, metavar="WHAT")
    backup = kinds.add_parser("backup", help="copy the ledger while others use it")
    backup.add_argument("ledger", help="ledger file")
    backup.add_argument("copy", help="new file to write")
    restore = kinds.add_parser("restore", help="make a ledger from a backup that passes the check")
    restore.add_argument("copy", help="backup file")
    restore.add_argument("ledger", help="new ledger file")
    restore.add_argument(
        "--accept-loss", action="store_true", help="take the backup also when the check finds problems"
    )
    restore.add_argument("--replace", action="store_true", help="replace a ledger of that name; the old one is kept")
    check = kinds.add_parser("check", help="verify every seal, and that each stored estimate repeats to the bit")
    check.add_argument("ledger", help="ledger file or URL")


def _sheet_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    sheets = _command(commands, "sheet", "paper: for the buyer, for yourself, for the pocket, or a workbook")
    kinds = sheets.add_subparsers(dest="kind", required=True, metavar="KIND")

    for_buyers = (
        _command(kinds, "buyer", "the price and its evidence, with nothing private (PDF or HTML)"),
        _command(kinds, "page", "the same on one page, for a buyer who does not read three (PDF or HTML)"),
        _command(kinds, "message", "the same in a few lines, with a picture beside them, to send (TXT)"),
    )
    for buyer in for_buyers:
        _for_a_buyer(buyer)

    deal = _command(kinds, "deal", "everything about a deal, marked private (PDF or HTML)")
    deal.add_argument("plans", nargs="+", metavar="PLAN", help="build plan files (TOML) for one find")
    deal.add_argument("--price", type=_amount, help="purchase price, paid or asked")
    deal.add_argument("--spent", action="append", default=[], metavar="WHAT=AMOUNT", help="what went in already")
    deal.add_argument("--offers", metavar="LOG", help="offer log (JSON)")
    _progress(deal)

    card = _command(kinds, "card", "most to pay by condition and model year, one page for the pocket (PDF)")
    card.add_argument("plans", nargs="+", metavar="PLAN", help="build plan files (TOML), of up to four finds")
    card.add_argument("--years", metavar="FROM-TO", help="model years; those around each plan's vehicle unless given")

    book = _command(kinds, "workbook", "the table, its faults, and a vehicle's grid with live formulas (XLSX)")
    book.add_argument("--vehicle", metavar="FILE", help="vehicle file for the grid and the effects")
    book.add_argument(
        "--plan",
        action="append",
        default=[],
        metavar="PLAN",
        help="build plan; its paths go into a private workbook beside, NAME-private.xlsx",
    )
    book.add_argument("--price", type=_amount, help="purchase price for the paths")

    for kind in (*for_buyers, deal, card, book):
        kind.add_argument("--out", required=True, metavar="FILE", help="file to write")
        kind.add_argument("--paper", choices=("a4", "us-letter"), help="the locale's own, or A4, unless given")
        _source(kind)
        _when(kind)
    for kind in (*for_buyers, deal, card):
        kind.add_argument("--shop", default="", metavar="NAME", help="who hands it out")
        kind.add_argument(
            "--locale", default="international", metavar="NAME", help="how figures are written: en-US, de-DE, ..."
        )
        if kind in for_buyers:
            kind.add_argument("--language", metavar="CODE", help="of the words, such as de; English unless given")
        kind.add_argument("--record", metavar="FILE", help="also write what makes the sheet again (JSON)")
        kind.add_argument("--ledger", metavar="FILE", help="also record the sheet in this ledger")

    again = _command(kinds, "again", "a sheet made before, again and identically")
    again.add_argument("record", help="file that '--record' wrote")
    again.add_argument("--out", required=True, metavar="FILE", help="file to write")

    verify = _command(kinds, "verify", "hold a sheet against the ledger that kept it")
    verify.add_argument("sheet", help="PDF or HTML file; or the fingerprint printed on it, in quotes")
    verify.add_argument("--ledger", required=True, metavar="FILE", help="ledger that the sheet was recorded in")


def _for_a_buyer(buyer: argparse.ArgumentParser) -> None:
    """Of the sheet, the page and the message alike."""
    _vehicle(buyer)
    buyer.add_argument("--photo", action="append", default=[], metavar="FILE", help="photograph, up to six")
    buyer.add_argument("--caption", action="append", default=[], metavar="TEXT", help="words under each photograph")
    buyer.add_argument("--remark", default="", metavar="TEXT", help="your own words about the vehicle")
    buyer.add_argument("--assumption", action="append", default=[], metavar="TEXT", help="what you assumed")
    buyer.add_argument("--asking-price", type=_amount, metavar="AMOUNT", help="your price, if it is to stand on it")
    buyer.add_argument("--engine-number", default="", metavar="TEXT", help="the chassis number stands in the vehicle")
    buyer.add_argument("--graded-by", default="", metavar="NAME", help="whose opinion the grades are")
    buyer.add_argument("--graded-on", type=_day, metavar="DATE", help="when it was graded")
    buyer.add_argument("--not-inspected", action="append", default=[], metavar="TEXT", help="what nobody looked at")
    buyer.add_argument("--contact", default="", metavar="TEXT", help="where you can be reached")
    _coverage(buyer)


def _source(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--comparables", metavar="TABLE", help="table of comparable sales to estimate from")
    parser.add_argument("--model", metavar="FILE", help="or a model saved by 'valuation fit'")
    parser.add_argument(
        "--index",
        metavar="FILE",
        help="price index (CSV of month and value) that moves old sales to the as-of date, "
        "in place of the drift in the table",
    )
    _schema(parser)


def _lean_on(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--lean-on", metavar="MODEL", help="saved model of another table, whose effects are expected in this one"
    )


def _progress(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--bought", metavar="PRICE@DATE", help="what was paid for the vehicle and when, once it is yours"
    )
    parser.add_argument(
        "--done",
        action="append",
        default=[],
        metavar="STEP=DATE:COST:HOURS",
        help="a step that is done, with what it came to (or write [bought] and [[done]] in the plan)",
    )
