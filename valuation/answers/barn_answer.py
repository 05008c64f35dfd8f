"""What the barn's tables say of a find: the most to pay, what it is worth, and what that rests on.

The desk's page carries the tables and the words to a telephone, where its script says the same from them; a test holds
the two together.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from valuation.answers.barn import BarnTables
from valuation.errors import VehicleError, shortlist, shown
from valuation.paths.barn_grid import CONDITION, ENGINE, LINE, YEAR, Field, between
from valuation.paths.field_table import NO_ENGINE
from valuation.schema.values import Value
from valuation.text.locale import LOCALES, Locale
from valuation.text.rounding import rounded

ANOTHER_LINE = "*"
"""What stands for a line that has no table of its own; no line is called so."""

WORDS = {
    "untold": "Still to tell: {names}.",
    "outside": "The tables of this line hold the years {first} to {last}.",
    "no_amount": "Write the price asked as 9500.",
    "will_do": "{asked} will do.",
    "will_do_built": "{asked} will do only with the build.",
    "too_much": "Not at this price.",
    "both": "Pay up to {as_found} as it stands; up to {built} with “{build}”.",
    "as_found": "Pay up to {as_found}, to sell it as it stands.",
    "built": "Pay up to {built} with “{build}”; nothing to sell it as it stands.",
    "nothing": "Leave it, even as a gift: no way to go with it meets your goal.",
    "worth": "Worth about {median} as it stands: eight in ten such sales end between {low} and {high}.",
    "rests": "The higher limit rests on your plan “{build}” ({goal}).",
    "no_more": "No plan of yours bears more than selling it as it stands ({goal}).",
    "no_plan": "No plan of yours is for such a find: only selling it as it stands was weighed ({goal}).",
    "engine_to_find": "“{build}” was written for one that has its engine: take off what an engine costs.",
    "engine_there": "“{build}” was written for one without its engine: this one may bear more.",
}
"""Everything that an answer says, once for the service and for the page's script; {names} are filled in."""


@dataclass(frozen=True, slots=True)
class BarnFind:
    """What was told of a find.

    Attributes
    ----------
    line : str
        Empty for a line without a table of its own.
    year : int
    levels : mapping of str to str
        By the names of the fields.
    asked : float or None
        What its owner asks, money.
    """

    line: str
    year: int
    levels: Mapping[str, str]
    asked: float | None = None

    @property
    def attributes(self) -> dict[str, Value]:
        """The same as a vehicle has it."""
        return {**({LINE: self.line} if self.line else {}), YEAR: float(self.year), **self.levels}


@dataclass(frozen=True, slots=True)
class BuildLimit:
    """The most to pay for a find that is built by a plan; money, at most 0: walk away."""

    name: str
    most: float


@dataclass(frozen=True, slots=True)
class BarnAnswer:
    """What is said of a find in the barn.

    Attributes
    ----------
    median, low, high : float
        What it is worth as it stands, and the range of such sales; money.
    as_found : float
        Most to pay to sell it so; at most 0: walk away.
    builds : tuple of BuildLimit
        The highest limit first.
    verdict : str
        On the price asked; empty where none was told.
    why : str
        The limits in a sentence.
    worth : str
    rests : tuple of str
        What the limits rest on, and what to mind.
    text : str
        The answer to read out.
    """

    median: float
    low: float
    high: float
    as_found: float
    builds: tuple[BuildLimit, ...]
    verdict: str
    why: str
    worth: str
    rests: tuple[str, ...]
    text: str = field(init=False, default="")

    def __post_init__(self) -> None:
        object.__setattr__(self, "text", " ".join(filter(None, (self.verdict, self.why))))


def find_told(tables: BarnTables, told: Mapping[str, str], asked: float | None = None) -> BarnFind | tuple[str, ...]:
    """A find as a form tells it, or the titles of what is still to tell.

    Parameters
    ----------
    tables : BarnTables
    told : mapping of str to str
        By the attributes' names; ``ANOTHER_LINE`` for a line without a table of its own.
    asked : float or None
        Money.

    Raises
    ------
    VehicleError
        A level is not one of the tables', or the year lies outside them; ``where`` names the field.
    """
    lines = {one.name or ANOTHER_LINE: one for one in tables.grid.lines}
    name = told.get(LINE, "") or (next(iter(lines)) if len(lines) == 1 else "")
    missing = [] if name else ["the line"]
    if name and name not in lines:
        raise VehicleError(
            f"Cannot look up the line {shown(name)}: the tables do not hold it. Take one of: {shortlist([*lines])}.",
            where=LINE,
        )
    year = told.get(YEAR, "").strip()
    missing += [] if year else ["the year"]
    levels = {}
    for one in tables.fields:
        level = told.get(one.name, "")
        if not level:
            missing.append(one.title.lower())
        elif level not in (known := [choice.name for choice in one.choices]):
            raise VehicleError(
                f"Cannot look up the {one.title.lower()} {shown(level)}. Take one of: {', '.join(known)}.",
                where=one.name,
            )
        levels[one.name] = level
    if missing:
        return tuple(missing)
    first, last = lines[name].years[0], lines[name].years[-1]
    if not (year.isascii() and year.isdigit() and first <= int(year) <= last):
        raise VehicleError(
            f"Cannot look up the year {shown(year)}: the tables of this line hold {first} to {last}. Outside them, ask "
            "for an estimate on the desk.",
            where=YEAR,
        )
    return BarnFind("" if name == ANOTHER_LINE else name, int(year), levels, asked)


def answer_in_barn(tables: BarnTables, find: BarnFind, locale: Locale = LOCALES["international"]) -> BarnAnswer:
    """What the tables say of a find.

    Parameters
    ----------
    tables : BarnTables
    find : BarnFind
        As ``find_told`` gives it.
    locale : Locale
        How money is written.
    """
    line, fields = tables.line(find.line), tables.grid.fields
    first = _place(fields, find.levels) * len(line.years)
    median, low, high = (between(table, line.years, first, find.year) for table in (line.median, line.low, line.high))
    as_found = between(line.most, line.years, first, find.year, line.outlay)
    others = [one for one in fields if one.name != CONDITION]
    span = line.years[-1] - line.years[0] + 1
    place = _place(others, find.levels) * span + find.year - line.years[0]
    own = [
        (build, build.most[place])
        for build in tables.grid.builds
        if build.line == find.line and build.condition in ("", find.levels.get(CONDITION, ""))
    ]
    limits = [BuildLimit(build.name, most) for build, most in own if most is not None]
    builds = tuple(sorted(limits, key=lambda one: -one.most))
    best = builds[0] if builds and builds[0].most > max(as_found, 0.0) else None
    behind = next((build for build, _ in own if best and build.name == best.name), None)
    filled = {
        "asked": locale.money(find.asked) if find.asked is not None else "",
        "as_found": locale.at_most(as_found),
        "built": locale.at_most(best.most) if best else "",
        "build": best.name if best else "",
        "goal": behind.goal if behind else line.goal,
        "median": locale.money(rounded(median, width=high - low)),
        "low": locale.money(rounded(low)),
        "high": locale.money(rounded(high)),
    }
    key = ("both" if as_found > 0 else "built") if best else "as_found" if as_found > 0 else "nothing"
    rests = ["rests"] if best else ["no_more"] if builds else ["no_plan"]
    if behind and ENGINE in behind.found and ENGINE in find.levels:
        has, reckoned = (one[ENGINE] != NO_ENGINE[1] for one in (find.levels, behind.found))
        rests += ["engine_there"] if has and not reckoned else ["engine_to_find"] if reckoned and not has else []
    verdict = _verdict(find.asked, as_found, best)
    return BarnAnswer(
        median,
        low,
        high,
        as_found,
        builds,
        WORDS[verdict].format(**filled) if verdict else "",
        WORDS[key].format(**filled),
        WORDS["worth"].format(**filled),
        tuple(WORDS[one].format(**filled) for one in rests),
    )


def _verdict(asked: float | None, as_found: float, best: BuildLimit | None) -> str:
    """The word for the price asked, by the limits as they are said; empty without one."""
    if asked is None:
        return ""
    if asked <= rounded(max(as_found, 0.0), limit="down"):
        return "will_do"
    return "will_do_built" if best and asked <= rounded(best.most, limit="down") else "too_much"


def _place(fields: Sequence[Field], levels: Mapping[str, str]) -> int:
    """Where the combination of levels stands among all: the last field runs fastest."""
    place = 0
    for one in fields:
        place = place * len(one.levels) + one.levels.index(levels[one.name])
    return place


def still_to_tell(names: Sequence[str]) -> str:
    """The sentence that stands in place of an answer while something is not told yet."""
    return WORDS["untold"].format(names=", ".join(names))
