"""A small invented table, its model and evidence, a small market for deals, and sheets made of them."""

import base64
import dataclasses
import datetime as dt
import io
import re
import zlib

import numpy as np
import pandas as pd
import pytest
from PIL import Image
from pypdf import PdfReader

from benchmarks.stated_prices import StatedPrices
from valuation.answers.explain import explain
from valuation.build.plan import BuildPlan, ShopSettings, Step
from valuation.build.terms import Event, Goal, Purchase, SaleTerms
from valuation.build.three_point import ThreePoint
from valuation.comparables import from_frame
from valuation.evidence import left_out_check
from valuation.regression import PriceModel
from valuation.schema import Vehicle, default_schema, parse_vehicle
from valuation.sell.offer_log import OfferLog
from valuation.sell.offers import Offer
from valuation.sheets.buyer import buyer_sheet
from valuation.sheets.deal_sheet import Spent, deal_sheet

DAY = dt.date(2026, 11, 25)
CONDITIONS = ("derelict", "project", "runner", "driver", "show")


def shop_frame(rows=44):
    rng = np.random.default_rng(5)
    year = rng.integers(1945, 1960, rows)
    grade = rng.integers(0, 5, rows)
    days = np.sort(rng.integers(0, 4 * 365, rows))
    log_price = 9.4 + 0.02 * (year - 1950) + 0.35 * grade + rng.normal(0, 0.12, rows)
    return pd.DataFrame(
        {
            "sale": [f"S{i:02}" for i in range(rows)],
            "date": [(dt.date(2022, 3, 1) + dt.timedelta(days=int(day))).isoformat() for day in days],
            "price": np.round(np.exp(log_price)),
            "outcome": ["bid_not_met" if i % 15 == 7 else "asking" if i % 15 == 9 else "sold" for i in range(rows)],
            "currency": "USD",
            "premium": ["5 %" if i % 4 == 0 else "" for i in range(rows)],
            "source": [f"invented catalogue, lot {i}" for i in range(rows)],
            "family": ["Penhurrow Haywain" if i % 3 else "Tarrowby Linnet" for i in range(rows)],
            "model_year": year,
            "condition": [CONDITIONS[g] for g in grade],
            "mileage": rng.integers(1, 12, rows) * 10_000,
        }
    )


@pytest.fixture(scope="session")
def table():
    return from_frame(shop_frame(), default_schema(), name="invented.csv", today=DAY)


@pytest.fixture(scope="session")
def model(table):
    return PriceModel.fit(table, lattice_points=4, tails=False)


@pytest.fixture(scope="session")
def vehicle():
    cells = {"family": "Penhurrow Haywain", "model_year": 1952, "condition": "driver", "mileage": 71_000}
    return parse_vehicle(cells, default_schema(), "Haywain of 1952")


@pytest.fixture(scope="session")
def found(model, vehicle):
    return explain(model, vehicle, DAY)


@pytest.fixture(scope="session")
def buyer(model, found):
    return buyer_sheet(
        model,
        found,
        tried=left_out_check(model),
        shop="Cobbler's Green Motor Works",
        remark="Finished last winter.",
        assumptions=["Seen on a lift."],
    )


@pytest.fixture(scope="session")
def plans():
    found = Vehicle("barn find", {"family": "Penhurrow Haywain", "model_year": 1954.0, "condition": "project"})
    steps = (
        Step("engine", "Engine rebuilt", ThreePoint(3000, 4000, 7000), ThreePoint(60, 80, 140)),
        Step("body", "Floor and panels", ThreePoint(1400, 2000, 4200), ThreePoint(90, 140, 260),
             sets={"condition": "runner"}),
        Step("finish", "Seats and glass", ThreePoint(1500, 2200, 3600), ThreePoint(70, 100, 170), after=("body",),
             sets={"condition": "driver"}),
    )  # fmt: skip
    shared = {
        "found": found,
        "shop": ShopSettings(labour_rate=25, crew=2, holding_per_week=30),
        "purchase": Purchase(asked=7321.0, transport=350),
        "sale": SaleTerms(fees=180, offers_per_month=2),
        "goal": Goal(15, 0, 70),
    }
    event = Event("Harvest meet", dt.date(2027, 9, 18), 320)
    return [
        BuildPlan("quiet plan Zephyrine", steps=steps, event=event, **shared),
        BuildPlan("short plan Quillon", steps=steps[1:2], **shared),
    ]


@pytest.fixture(scope="session")
def market():
    levels = {"derelict": 0.3, "project": 0.5, "runner": 0.75, "driver": 1.25, "show": 1.8}
    return StatedPrices(default_schema(), 40_000, {"condition": levels}, {"model_year": (-0.5, 1954)}, scatter=0.2)


@pytest.fixture(scope="session")
def deal(market, plans):
    market = dataclasses.replace(market, currency="USD") if dataclasses.is_dataclass(market) else market
    talks = (Offer(33_456, dt.date(2027, 6, 1), "Mr Invented"), Offer(38_765, dt.date(2027, 6, 9)))
    log = OfferLog("Haywain", offers=talks)
    return deal_sheet(
        market,
        plans,
        DAY,
        price=7321,
        spent=[Spent("Purchase", 7321.0), Spent("Tow truck", 287.5)],
        log=log,
        shop="The shop",
    )


@pytest.fixture(scope="session")
def read_pdf():
    def read(content):
        reader = PdfReader(io.BytesIO(content))
        return reader, "\n".join(page.extract_text() for page in reader.pages)

    return read


@pytest.fixture(scope="session")
def picture():
    """Bytes of a picture: left half red, right half blue."""

    def make(width=400, height=300, kind="JPEG", **options):
        image = Image.new("RGB", (width, height), "red")
        image.paste("blue", (width // 2, 0, width, height))
        out = io.BytesIO()
        image.save(out, kind, **options)
        return out.getvalue()

    return make


def everything_in_pdf(content):
    """All that a PDF holds, as one text: words, every stream decoded, every string object, the raw file."""
    reader = PdfReader(io.BytesIO(content))
    held = [page.extract_text() for page in reader.pages]
    held += [str(reader.metadata), str(reader.outline), str(dict(reader.attachments))]
    for number in range(1, len(reader.xref[0]) if 0 in reader.xref else 0):
        held.append(str(reader.get_object(number)))
    for start in re.finditer(rb"stream\r?\n", content):
        end = content.find(b"endstream", start.end())
        try:
            held.append(zlib.decompressobj().decompress(content[start.end() : end]).decode("latin-1"))
        except zlib.error:
            held.append(content[start.end() : end].decode("latin-1"))
    return "\n".join([*held, content.decode("latin-1")])


def everything_in_html(content):
    held = re.findall(r"base64,([A-Za-z0-9+/=]+)", content)
    words = re.sub(r"(?s)<style>.*?</style>", "", content)  # the style sheet is the program's own and speaks of margins
    return "\n".join([words, *(base64.b64decode(one).decode("latin-1") for one in held)])


@pytest.fixture(scope="session")
def everything():
    """All that a finished sheet holds, by its face."""
    return {"pdf": everything_in_pdf, "html": everything_in_html}


@pytest.fixture(scope="session")
def shop_rows():
    return shop_frame()
