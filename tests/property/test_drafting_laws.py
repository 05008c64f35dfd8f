"""Laws of drafting: headers and words that are known in any way are understood in any order and mixture."""

import datetime as dt
import random

from hypothesis import given, settings
from hypothesis import strategies as st

from valuation.comparables.texttable import table_from_rows
from valuation.drafting.reader import understand
from valuation.drafting.trade_words import HEADERS, LEVELS
from valuation.schema import Role, default_schema

TODAY = dt.date(2026, 11, 26)
BASE = default_schema()
OPEN = {
    "family": ["Penhurrow Haywain", "Tarrowby Linnet", "Corran Drover"],
    "body": ["pickup", "sedan", "panel", "wagon"],
    "colour": ["red", "dark green", "cream"],
    "region": ["Northdale", "Westmere", "Southby"],
}
SALE = ("date", "price", "outcome", "venue")
ATTRIBUTES = (
    "family", "model_year", "body", "condition", "drivetrain", "paint", "awards", "interior", "mileage", "colour"
)  # fmt: skip


def headers_of(name: str) -> list[str]:
    """Headers that mean this column alone."""
    own = BASE.sale_aliases[name] if name in SALE else BASE.attribute(name).aliases
    every = [(target, word) for target, words in HEADERS.items() for word in words]
    every += [(one.name, word) for one in BASE.attributes for word in (one.name, *one.aliases)]
    every += [(column, word) for column, words in BASE.sale_aliases.items() for word in (column, *words)]
    shared = {word for target, word in every if target != name}
    return sorted({name, *own, *HEADERS.get(name, ())} - shared)


def cells_of(name: str, chance: random.Random, rows: int) -> list[str]:
    def some(words: list[str]) -> list[str]:
        return [chance.choice(words) for _ in range(rows)]

    if name == "date":
        return [(TODAY - dt.timedelta(days=chance.randint(1, 2000))).isoformat() for _ in range(rows)]
    if name == "price":
        return [f"${chance.randint(2_000, 90_000):,}" for _ in range(rows)]
    if name == "outcome":
        words = BASE.outcome_aliases
        return some(["sold", "bid_not_met", "asking", *words["sold"], *words["bid_not_met"], *words["asking"]])
    if name == "venue":
        return some(["Saltmarsh Yard", "Quarrygate Hall", "private"])
    if name == "model_year":
        return [str(chance.randint(1925, 1972)) for _ in range(rows)]
    if name == "mileage":
        return [f"{chance.randint(900, 190_000):,}" for _ in range(rows)]
    if name in OPEN:
        return some(OPEN[name])
    levels = BASE.attribute(name).levels
    words = [word for level in levels for word in (level.name, *level.aliases, *LEVELS[name].get(level.name, ()))]
    return some([word for word in words if len(word) > 1])


@st.composite
def tables(draw: st.DrawFn) -> tuple[list[list[str]], dict[str, str]]:
    """The rows of a table under headers that are known, in any order, and what each header means."""
    names = [*SALE, *draw(st.lists(st.sampled_from(ATTRIBUTES), unique=True, min_size=3))]
    names = draw(st.permutations(names))
    rows = draw(st.integers(16, 30))
    chance = random.Random(draw(st.integers(0, 10**6)))  # one draw for all cells: a failing case is found small at once
    spelled = draw(st.lists(st.sampled_from([str.upper, str.title, str.capitalize, str]), min_size=1, max_size=3))
    headers = {
        spelled[at % len(spelled)](draw(st.sampled_from(headers_of(name))).replace("_", " ")): name
        for at, name in enumerate(names)
    }
    columns = [cells_of(name, chance, rows) for name in headers.values()]
    return [list(headers), *map(list, zip(*columns, strict=True))], headers


@settings(max_examples=40, deadline=None)
@given(tables())
def test_known_headers_and_words_are_understood_in_any_order(case: tuple[list[list[str]], dict[str, str]]) -> None:
    rows, meant = case
    found = understand(table_from_rows(rows, "sales.csv"), BASE, TODAY)
    assert {column.header: column.name for column in found.columns} == meant
    for column in found.columns:
        if column.attribute is not None and column.attribute.role is Role.ORDINAL:
            assert all(word.level for word in column.words)
