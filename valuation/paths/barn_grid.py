"""Tables to carry into a barn: worth as found and the most to pay, over what can be told of a find at a glance.

They are worked out beforehand so that a telephone without the desk can answer. What a find is worth as it stands, and
the most to pay to sell it so, are kept for some model years; between two of them the answer is a straight line between
logs: of the worths, and of limit and outlay together, since that sum goes with the price while the limit alone may fall
below 0. Limits of builds are kept for every year: the outlay of a build is so large that they change fast.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import product

from valuation.build.plan import BuildPlan
from valuation.build.states import finished
from valuation.errors import PlanError
from valuation.notes import Note, each_once
from valuation.paths.deal_path import as_found, check_plan, prepare
from valuation.paths.field_table import FIELD_SIMULATION, NO_ENGINE
from valuation.paths.most_to_pay import most_to_pay, most_to_pay_each
from valuation.paths.pricer import Pricer
from valuation.schema.values import Value
from valuation.schema.vehicle import Vehicle

LINE, YEAR, CONDITION = "family", "model_year", "condition"
"""Attributes by which a find is told, in the default schema; a plan is for one line, found in one condition."""
ENGINE = NO_ENGINE[0]
FIELDS = (CONDITION, ENGINE, "paint")
"""What else can be told at a glance, in the order in which tables run."""
COVERAGE = 0.8
"""Of the range of the worth: the one that every estimate shows."""
YEARS_APART = 4
"""Model years between two figures of what is interpolated: at most so many (1.3 % off at worst on the demo's table)."""
FIGURES = 5
"""Leading figures that a table keeps: two more than anybody is told."""
LEAST_SUM = 1e-3
"""Share of its outlay that limit and outlay together keep at least: far under any price, where logs still hold."""


@dataclass(frozen=True, slots=True)
class Field:
    """One thing that is told of a find, and its levels in their order."""

    name: str
    levels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LineAsked:
    """A make and model line and its first and last model year; a name of "" stands for every line without a table."""

    name: str
    first: int
    last: int

    @property
    def years(self) -> tuple[int, ...]:
        """The model years for which worths are kept."""
        parts = max(math.ceil((self.last - self.first) / YEARS_APART), 1)
        return tuple(sorted({self.first + round(i * (self.last - self.first) / parts) for i in range(parts + 1)}))


@dataclass(frozen=True, slots=True)
class LineTable:
    """Worth and most to pay of one line, as found; money.

    Attributes
    ----------
    name : str
        Empty for every line that has no table of its own.
    years : tuple of int
        Model years, rising.
    median, low, high : tuple of float
        What it is worth as found and the range of such sales: for each combination of the fields' levels (the last
        field runs fastest) one figure for each year.
    most : tuple of float
        Most to pay to sell it as found, in the same order.
    outlay : float
        What ``most`` is interpolated with.
    goal : str
        That ``most`` meets, in words.
    """

    name: str
    years: tuple[int, ...]
    median: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    most: tuple[float, ...]
    outlay: float
    goal: str


@dataclass(frozen=True, slots=True)
class BuildTable:
    """Most to pay for finds of one line and condition that are built by one plan; money.

    Attributes
    ----------
    name, line, condition : str
        Of the plan, and which finds it is for.
    found : mapping of str to str
        What the plan was written for, of the other fields.
    most : tuple of float or None
        As in ``LineTable``, without the condition and for every model year from the line's first to its last; None
        where the plan does not fit, since it makes do with the engine that is there.
    goal : str
        That ``most`` meets, in words.
    """

    name: str
    line: str
    condition: str
    found: Mapping[str, str]
    most: tuple[float | None, ...]
    goal: str


@dataclass(frozen=True, slots=True)
class BarnGrid:
    """Every table that is carried into the barn.

    Attributes
    ----------
    fields : tuple of Field
    lines : tuple of LineTable
    builds : tuple of BuildTable
    notes : tuple of Note
        Plans that were left out and why, and what plans leave to the program.
    """

    fields: tuple[Field, ...]
    lines: tuple[LineTable, ...]
    builds: tuple[BuildTable, ...]
    notes: tuple[Note, ...]


def barn_grid(
    pricer: Pricer,
    plans: Sequence[BuildPlan],
    usual: BuildPlan,
    as_of: date,
    lines: Sequence[LineAsked],
    fields: Sequence[Field],
    tell: Callable[[int, int], None] | None = None,
) -> BarnGrid:
    """Work out the tables of a barn: each find is what its fields tell and nothing more.

    Parameters
    ----------
    pricer : Pricer
    plans : sequence of BuildPlan
        The shop's usual builds; each serves finds of its own line and condition.
    usual : BuildPlan
        Whose terms hold for selling a line as found of which there is no plan.
    as_of : date
        Day of the purchase.
    lines : sequence of LineAsked
    fields : sequence of Field
    tell : callable, optional
        Told how many tables are done, and of how many.
    """
    notes: list[Note] = []
    sound = [plan for plan in map(_unbegun, plans) if _holds(plan, pricer, as_of, notes)]
    building = [
        plan for plan in sound if plan.steps and any(one.name == plan.found.attributes.get(LINE) for one in lines)
    ]
    tables, builds, parts = [], [], len(lines) + len(building)
    for line in lines:
        own = [plan for plan in sound if plan.found.attributes.get(LINE) == line.name]
        tables.append(_line_table(pricer, [*own, usual][0], as_of, line, fields))
        for plan in own:
            if plan.steps:
                builds.append(_build_table(pricer, plan, as_of, line, fields))
                notes += (Note("default_setting", text) for text in plan.defaults)
            if tell is not None:
                tell(len(tables) + len(builds), parts)
    return BarnGrid(tuple(fields), tuple(tables), tuple(builds), each_once(notes))


def _unbegun(plan: BuildPlan) -> BuildPlan:
    """A plan as it would be for the next such find: none of it done, begun when that is bought."""
    return replace(plan, progress=None, start=None, purchase=replace(plan.purchase, stands_at=None))


def _holds(plan: BuildPlan, pricer: Pricer, as_of: date, notes: list[Note]) -> bool:
    """Whether a plan can be weighed on that day; a note says why not."""
    try:
        check_plan(plan, pricer, as_of)
    except PlanError as error:
        notes.append(left_out_note(str(error)))
        return False
    return True


def left_out_note(why: str) -> Note:
    """What is said of a plan that cannot be used in the barn."""
    return Note("plan_left_out", f"A plan is left out in the barn. {why}")


def _told(line: LineAsked, fields: Sequence[Field], levels: Sequence[str], year: int) -> dict[str, Value]:
    told: dict[str, Value] = {one.name: level for one, level in zip(fields, levels, strict=True)}
    return {**told, YEAR: float(year), **({LINE: line.name} if line.name else {})}


def _line_table(pricer: Pricer, terms: BuildPlan, as_of: date, line: LineAsked, fields: Sequence[Field]) -> LineTable:
    cells = [
        Vehicle("find", _told(line, fields, levels, year))
        for levels in product(*(one.levels for one in fields))
        for year in line.years
    ]
    now = pricer.distribution(cells, as_of)
    low, high = now.interval(COVERAGE)
    plan = replace(as_found(terms), found=cells[0])
    path = prepare(pricer, plan, as_of, FIELD_SIMULATION)
    deal = replace(path.deal, prices=pricer.distribution(cells, path.sale_date))
    outlay = _kept(max(float(deal.spent.mean()) + plan.goal.profit, 0.0))
    return LineTable(
        name=line.name,
        years=line.years,
        median=tuple(map(_kept, now.median().tolist())),
        low=tuple(map(_kept, low.tolist())),
        high=tuple(map(_kept, high.tolist())),
        most=tuple(_limit(one, outlay) for one in most_to_pay_each(deal, plan.goal)),
        outlay=outlay,
        goal=plan.goal.words,
    )


def _build_table(pricer: Pricer, plan: BuildPlan, as_of: date, line: LineAsked, fields: Sequence[Field]) -> BuildTable:
    """One build for finds of its line and condition, whatever the other fields say.

    Finds that the build makes into the same vehicle share their limits, so each such vehicle is weighed once.
    """
    others = [one for one in fields if one.name != CONDITION]
    condition = str(plan.found.attributes.get(CONDITION, ""))
    known: dict[str, Value] = {CONDITION: condition} if len(others) < len(fields) else {}
    years = range(line.first, line.last + 1)
    made: dict[frozenset[tuple[str, Value]], list[float]] = {}
    most: list[float | None] = []
    for levels in product(*(one.levels for one in others)):
        told = {**_told(line, others, levels, line.first), **known}
        if not _fits(plan, told):
            most += [None] * len(years)
            continue
        find = replace(plan, found=Vehicle("find", told))
        key = frozenset(finished(find).attributes.items())
        if key not in made:
            made[key] = _limits_by_year(pricer, find, as_of, years)
        most += made[key]
    found = {one.name: str(plan.found.attributes[one.name]) for one in others if one.name in plan.found.attributes}
    return BuildTable(plan.name, line.name, condition, found, tuple(most), plan.goal.words)


def _limits_by_year(pricer: Pricer, plan: BuildPlan, as_of: date, years: Sequence[int]) -> list[float]:
    """Most to pay for the find of a plan, were it of one of these model years."""
    path = prepare(pricer, plan, as_of, FIELD_SIMULATION)
    states = path.states.vehicles
    vehicles = [Vehicle("find", {**one.attributes, YEAR: float(year)}) for year in years for one in states]
    prices, each = pricer.distribution(vehicles, path.sale_date), len(states)
    deals = (replace(path.deal, prices=prices[i : i + each]) for i in range(0, len(vehicles), each))
    return [_kept(most_to_pay(deal, plan.goal).price, down=True) for deal in deals]


def _fits(plan: BuildPlan, told: Mapping[str, Value]) -> bool:
    """Whether a plan serves such a find: one without its engine needs a plan that brings one or was written for it."""
    missing = NO_ENGINE[1]
    brings = any(ENGINE in step.sets for step in plan.steps)
    return told.get(ENGINE) != missing or plan.found.attributes.get(ENGINE) == missing or brings


def _limit(price: float, outlay: float) -> float:
    """A limit as a table keeps it; one so low that its sum with the outlay has no log is as good as the lowest."""
    return _kept(max(price, (LEAST_SUM - 1) * outlay), down=True)


def _kept(amount: float, *, down: bool = False) -> float:
    """An amount to as many leading figures as a table keeps."""
    if amount == 0:
        return 0
    power = math.floor(math.log10(abs(amount))) - FIGURES + 1
    step: int = 10 ** abs(power)
    steps = amount * step if power < 0 else amount / step
    whole = math.floor(steps) if down else round(steps)
    return whole / step if power < 0 else whole * step


def between(table: Sequence[float], years: Sequence[int], first: int, year: int, outlay: float = 0.0) -> float:
    """A figure of a table for any model year from its first to its last.

    Parameters
    ----------
    table : sequence of float
        Money.
    years : sequence of int
        Model years of the table, rising.
    first : int
        Place in the table of the figure for the first year.
    year : int
    outlay : float
        Of a limit, which is interpolated together with it.
    """
    after = next((i for i, one in enumerate(years) if one >= year), len(years) - 1)
    if years[after] == year or after == 0:
        return table[first + after]
    share = (year - years[after - 1]) / (years[after] - years[after - 1])
    low, high = (math.log(table[first + i] + outlay) for i in (after - 1, after))
    return math.exp(low + share * (high - low)) - outlay
