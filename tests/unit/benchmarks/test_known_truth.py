"""Results of simulated tables: one part written anew leaves the others; columns of chance cost what they cost."""

import pandas as pd

from benchmarks.known_truth import chance
from benchmarks.known_truth.run import kept

OLD = "# Known truth\n\n## Corners\n\nTwo tables.\n\n## Leaning\n\nThree tables.\n"


def test_a_part_takes_its_old_place():
    assert kept(OLD, "## Corners\n\nNine tables.") == OLD.replace("Two", "Nine")


def test_a_new_part_goes_to_the_end():
    assert kept(OLD, "## Chance\n\nNine tables.") == OLD + "\n## Chance\n\nNine tables.\n"


def test_costs_are_ratios_to_the_same_tables_without_the_columns():
    rows = [(25, table, many, error, 2 * error, 0.8) for table in (0, 1) for many, error in ((0, 10 + table), (3, 11))]
    found = pd.DataFrame(rows, columns=["n", "table", "columns", "error", "interval score", "coverage"])
    table = chance.summary(found)
    assert table.loc[(25, 0), "error"] == "1.000 ± 0.000"
    assert (
        table.loc[(25, 3), "error"] == "1.049 ± 0.048"
    )  # the root of 1.1 x 1.0, and half the difference of their logs
    assert table.loc[(25, 3), "interval score"] == table.loc[(25, 3), "error"]
