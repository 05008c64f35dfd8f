"""A first look, cell by cell: from a frame written by hand to an estimate, its grid, a picture and a decision.

Open it in an editor that knows ``# %%`` cells, or run it: ``python docs/python.py``. All sales are invented.
"""

# %% The sales, one row for each
import datetime as dt

import pandas as pd

import valuation as v

YEAR_OF = [1950, 1952, 1954, 1951, 1953, 1955, 1950, 1954, 1952, 1951, 1955, 1953, 1952, 1954, 1950, 1951]
GRADES = ["project", "runner", "driver", "show"] * 4
PRICES = [9_000, 14_500, 22_000, 39_000, 9_800, 15_200, 21_000, 41_500, 8_700, 13_900, 23_800, 38_500, 9_400, 15_000,
          20_900, 37_800]  # fmt: skip
sales = pd.DataFrame(
    {
        "date": [dt.date(2025, 1 + k % 12, 5 + k) for k in range(16)],
        "price": PRICES,
        "outcome": "sold",
        "family": "Penhurrow Haywain",
        "model_year": YEAR_OF,
        "condition": GRADES,
    }
)

# %% Read it by the default schema and fit
schema = v.default_schema()
table = v.from_frame(sales, schema, name="our sales")
model = v.PriceModel.fit(table)
print(model)

# %% The estimate of a vehicle, as of today
car = v.parse_vehicle({"family": "Penhurrow Haywain", "model_year": 1952, "condition": "driver"}, schema, "our find")
found = v.estimate(model, car)
print(found)

# %% The nearest sales, adjusted line by line
grid = v.frame(found.grid)
print(grid[["sale", "price", "adjusted_price", "weight"]])

# %% A picture: a notebook shows it
picture = v.chart(found)
print(picture.alt)

# %% What to pay at most to sell it on as it stands
paths = v.compare_paths(model, [v.BuildPlan(name="our find", found=car)], price=15_000)
print(paths.why)
