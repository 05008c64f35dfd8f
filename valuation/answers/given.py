"""What a question is given, as any face hands it over: schema and table, money, plans, what is for sale, years."""

from __future__ import annotations

import shlex
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, overload

from valuation.build.plan import BuildPlan
from valuation.build.plan_file import parse_plan, plan_from_dict, read_plan
from valuation.build.progress import TABLES
from valuation.errors import PlanError, TableError, VehicleError, shortlist, shown
from valuation.schema.reader import default_schema, read_schema
from valuation.schema.schema import Schema
from valuation.schema.vehicle import Vehicle, read_vehicle, read_words, vehicle_from_words
from valuation.text.dates import EARLIEST, LATEST
from valuation.text.files import read_text_file
from valuation.text.money import Money, same_currency
from valuation.text.numbers import read_number
from valuation.text.toml import read_toml

if TYPE_CHECKING:
    from valuation.regression.model import PriceModel

TABLE_NAMES = ("comparables.csv", "comparables.xlsx", "comparables.ods", "comparables.parquet")
SCHEMA_NAME = "schema.toml"
PlanData = str | Mapping[str, Any]
"""A build plan as the text of its TOML file, or as data laid out as that file is."""
MOST_YEARS = 60
"""Model years in one field table: each is worked out anew, so this bounds the wait."""
_PLAN_TABLES = {"vehicle", "steps", "shop", "purchase", "sale", "goal", "event", "bought", *TABLES}


def schema_for(table: Path, named: str | Path | None = None) -> Schema:
    """The schema named, else ``schema.toml`` beside the table, else the vintage-vehicle default.

    Parameters
    ----------
    table : Path
    named : str, Path or None
    """
    beside = table.parent / SCHEMA_NAME
    return read_schema(named or beside) if named or beside.exists() else default_schema()


def table_near(file: str | Path | None = None) -> Path:
    """A table of a usual name here, beside a file (a plan, a vehicle) or one folder above it.

    Raises
    ------
    TableError
        There is none.
    """
    folders = [Path()] if file is None else [Path(), Path(file).parent, Path(file).parent.parent]
    for folder in folders:
        for name in TABLE_NAMES:
            if (folder / name).exists():
                return folder / name
    raise TableError(
        "Cannot estimate without sales: no table was named, and no comparables.csv lies here or beside the file. "
        "Name one with --comparables TABLE, or a saved model with --model FILE."
    )


@overload
def amount_in(money: Money, currency: str, what: str) -> float: ...
@overload
def amount_in(money: None, currency: str, what: str) -> None: ...
def amount_in(money: Money | None, currency: str, what: str) -> float | None:
    """The amount of money that was told, which may name no other currency than the table's.

    Parameters
    ----------
    money : Money or None
    currency : str
        Of the table; empty when it names none.
    what : str
        What the money is, for the refusal.

    Raises
    ------
    PlanError
        It is in another currency.
    """
    if money is None:
        return None
    if currency and money.currency and not same_currency(currency, money.currency):
        raise PlanError(
            f"Cannot use {what}: it is in {money.currency}, and the table's prices are in {currency}. Write it in "
            f"{currency}."
        )
    return money.amount


def read_plans(plans: Sequence[PlanData], schema: Schema, *, steps_needed: bool = True) -> list[BuildPlan]:
    """Plans that came as text or data.

    Parameters
    ----------
    plans : sequence of str or mapping
        Each as the text of its TOML file, or as data laid out as that file is.
    schema : Schema
        Of the table that will price them.
    steps_needed : bool
        Without it also vehicles that are sold as they stand.

    Raises
    ------
    PlanError
        A plan contradicts itself or the schema; it is named by its place, from 1.
    """
    return [
        parse_plan(plan, schema, f"number {i}", steps_needed=steps_needed)
        if isinstance(plan, str)
        else plan_from_dict(plan, schema, f"number {i}", steps_needed=steps_needed)
        for i, plan in enumerate(plans, 1)
    ]


@dataclass(frozen=True, slots=True)
class Told:
    """A vehicle as a face was told it: a file, words such as ``condition=driver``, or a file that words change.

    Attributes
    ----------
    file : str or None
        Of the vehicle.
    words : tuple of str
        Each ``attribute=value``.
    as_written : bool
        Whether a level that looks misspelt is new indeed.
    """

    file: str | None
    words: tuple[str, ...]
    as_written: bool = False

    @property
    def spoken(self) -> str:
        """The same as it is typed, to be told to the next command."""
        return " ".join(shlex.quote(part) for part in (*filter(None, [self.file]), *self.words))

    @property
    def changed(self) -> str:
        """The names that the words change in the file; empty where there are not both."""
        return ", ".join(read_words(self.words)) if self.file and self.words else ""

    def vehicle(self, model: PriceModel) -> Vehicle:
        """The vehicle in the words of the model's schema.

        Raises
        ------
        VehicleError
            The file or a word cannot be read; the message names the nearest that could.
        """
        base = read_vehicle(self.file, model.schema) if self.file else None
        if base is not None and not self.words:
            return base
        closed = {one.name for one in model.schema.attributes if one.levels}
        seen = {name: levels for name, levels in model.levels_seen().items() if name not in closed}
        return vehicle_from_words(self.words, model.schema, seen, base=base, as_written=self.as_written)

    def plan(self, model: PriceModel) -> BuildPlan:
        """The build plan in the file, or the vehicle as it stands as a plan without steps.

        Raises
        ------
        PlanError, VehicleError
            The file or a word cannot be read.
        """
        if self.file and not self.words:
            return plan_of_file(self.file, model)
        return _as_it_stands(self.vehicle(model), model, self.file or "")


def told_vehicle(told: Sequence[str], *, as_written: bool = False) -> Told:
    """A vehicle told as one file, as words, or as a file and the words that change it.

    Parameters
    ----------
    told : sequence of str
        A name of a file, or ``attribute=value``.
    as_written : bool
        Whether a level that looks misspelt is new indeed.

    Raises
    ------
    VehicleError
        There are several files, or the file is not there.
    """
    words = tuple(one for one in told if "=" in one and not Path(one).is_file())
    files = [one for one in told if one not in words]
    if len(files) > 1:
        raise VehicleError(
            f"Cannot value one vehicle from {shortlist(list(map(shown, files)))}: a vehicle is one file, or words such "
            "as condition=driver, with quotes where a value has spaces, as in family='Garrow Wren'."
        )
    for file in files:
        if not Path(file).exists():
            raise VehicleError(
                f"Cannot read the vehicle {shown(file)}: there is no such file. Tell the vehicle in words instead, "
                "such as year=1951 condition=driver, or write a file: 'valuation start FOLDER' makes one to fill in."
            )
    return Told(files[0] if files else None, words, as_written)


def told_plans(told: Sequence[str], *, as_written: bool = False) -> list[Told]:
    """Files of plans or of vehicles, or one vehicle told in words.

    Parameters
    ----------
    told : sequence of str
        Names of files, or ``attribute=value`` for one vehicle, or its file and the words that change it.
    as_written : bool
        Whether a level that looks misspelt is new indeed.

    Raises
    ------
    PlanError, VehicleError
        A file is not there, or words stand beside several files.
    """
    if any("=" in one and not Path(one).is_file() for one in told):
        return [told_vehicle(told, as_written=as_written)]
    for file in told:
        if not Path(file).exists():
            raise PlanError(
                f"Cannot read the plan {shown(file)}: there is no such file. 'valuation start FOLDER' writes a plan to "
                "fill in; a vehicle that is sold as it stands can be told in words, such as year=1951 condition=driver."
            )
    return [Told(file, ()) for file in told]


def plan_of_file(file: str | Path, model: PriceModel) -> BuildPlan:
    """A build plan, or a vehicle as it stands as a plan without steps, told apart by what the file holds.

    Parameters
    ----------
    file : str or Path
        Of a plan or a vehicle.
    model : PriceModel
        That will price it: its schema reads the file, and its currency is the vehicle's.

    Raises
    ------
    PlanError, VehicleError
        The file cannot be read or contradicts itself.
    """
    path = Path(file)
    try:
        told = read_toml(read_text_file(path)) if path.suffix.casefold() == ".toml" else {}
    except ValueError:
        told = {}  # the reader below says what is wrong, by name
    if _PLAN_TABLES & set(told):
        return read_plan(path, model.schema)
    return _as_it_stands(read_vehicle(path, model.schema), model, path.name)


def _as_it_stands(vehicle: Vehicle, model: PriceModel, source: str) -> BuildPlan:
    return BuildPlan(name=vehicle.name, found=vehicle, currency=model.currency, source_name=source)


def model_years(text: str) -> list[float]:
    """Model years from ``FROM-TO``, or one year; ``PlanError`` for anything else."""
    first, _, last = text.partition("-")
    try:
        low, high = (read_number(year) for year in (first, last or first))
    except ValueError:
        low, high = 0.0, 0.0
    whole = low.is_integer() and high.is_integer()
    if not (whole and EARLIEST.year <= low <= high <= LATEST.year) or high - low >= MOST_YEARS:
        raise PlanError(
            f"Cannot read the model years {shown(text)}. Write the first and the last, such as 1948-1956: at most "
            f"{MOST_YEARS}, from {EARLIEST.year} to {LATEST.year}."
        )
    return [low + step for step in range(int(high - low) + 1)]
