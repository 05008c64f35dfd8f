"""A column that is missing is looked for by abbreviations and by what cells hold, and nonsense is never suggested."""

import pytest

from tests.unit.comparables.test_faults import GOOD, table
from valuation.errors import TableError


def mend(header, cells, **others):
    """What is said of a table without ``condition`` but with a column of the shop's own; a cell for each row."""
    columns = tuple(header if name == "condition" else name for name in GOOD)
    rows = [{header: cell, **{name: texts[i] for name, texts in others.items()}} for i, cell in enumerate(cells)]
    found = table(*rows, columns=(*columns, *others))
    [fault] = [fault for fault in found.faults if fault.code == "missing_column"]
    return fault.mend


def test_an_abbreviation_is_preferred_to_a_header_that_only_looks_alike():
    said = mend("Cond.", ["driver", "show", "project"], **{"Swap?": ["no", "yes", "no"]})
    assert said.endswith("rename the one that holds it to 'condition'. Is it 'Cond.'?")


def test_a_column_of_bodies_called_shape_is_never_the_condition():
    columns = (*("Cond." if name == "condition" else name for name in GOOD), "Shape")
    found = table({"Cond.": "driver", "Shape": "pickup"}, {"Cond.": "show", "Shape": "sedan"}, columns=columns)
    assert not [fault for fault in found.faults if fault.code == "unknown_level"]
    [fault] = [fault for fault in found.faults if fault.code == "missing_column"]
    assert fault.mend.endswith("Is it 'Cond.'?")


@pytest.mark.parametrize("header", ["Cond.", "Cndtn", "Its condition", "condishun", "Cond (ours)"])
def test_a_name_cut_short_or_longer_is_found_whatever_its_words(header):
    assert mend(header, ["good", "fair", "mint"]).endswith(f"Is it '{header}'?")


def test_a_column_is_known_by_its_words_under_any_name():
    assert mend("How it is", ["driver", "show", "our own word"]).endswith("Is it 'How it is'?")


def test_a_header_that_only_looks_alike_is_no_suggestion():
    assert "Is it" not in mend("Swap?", ["no", "yes", "no"])


def test_figures_alone_do_not_make_a_column_a_year():
    columns = tuple("Lot" if name == "model_year" else name for name in GOOD)
    found = table({"Lot": "1951"}, {"Lot": "1950"}, columns=columns)
    [fault] = [fault for fault in found.faults if fault.code == "missing_column"]
    assert "Is it" not in fault.mend
    columns = tuple("Yr" if name == "model_year" else name for name in GOOD)
    found = table({"Yr": "1951"}, {"Yr": "1950"}, columns=columns)
    [fault] = [fault for fault in found.faults if fault.code == "missing_column"]
    assert fault.mend.endswith("Is it 'Yr'?")


@pytest.mark.parametrize(
    ("headers", "cells", "said"),
    [
        (("Piece", "Price all told"), ("bumper", "24,500"), "Rename 'Price all told' to 'price'"),
        (("Prices", "Piece"), ("on request", "12"), "Rename 'Piece' to 'price'"),
        (("Prc", "Place"), ("24500", "Ohio"), "Rename 'Prc' to 'price'"),
        (("Piece", "Lot"), ("bumper", "12"), "Name the column of prices 'price'"),
    ],
)
def test_the_column_of_prices_is_one_that_holds_figures(headers, cells, said):
    columns = (*headers, *(name for name in GOOD if name != "price"))
    with pytest.raises(TableError, match=said):
        table(dict(zip(headers, cells, strict=True)), columns=columns)
