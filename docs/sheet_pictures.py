"""Every sheet as people hold it: ``python -m docs.sheet_pictures FOLDER [CASE ...]``.

Made of invented tables with what breaks a layout, on both papers and at both widths of a screen, to be looked through
before a release. Needs Chromium, poppler and LibreOffice.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import io
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path

from PIL import Image, ImageDraw
from playwright.sync_api import sync_playwright

from docs.chart_pictures import DAY, Case, frame_of
from valuation.answers.explain import Evidence, explain
from valuation.build.plan import BuildPlan, ShopSettings, Step
from valuation.build.terms import Event, Purchase, SaleTerms
from valuation.build.three_point import ThreePoint
from valuation.comparables import from_frame
from valuation.evidence import left_out_check
from valuation.regression import PriceModel
from valuation.schema import Vehicle, default_schema, parse_vehicle
from valuation.sell.offer_log import OfferLog
from valuation.sell.offers import Offer
from valuation.sheets.buyer import buyer_sheet
from valuation.sheets.buyer_summary import Seller
from valuation.sheets.deal_sheet import Spent, deal_sheet
from valuation.sheets.field_card import field_card
from valuation.sheets.one_page import Message, OnePage
from valuation.sheets.photos import Photo, prepare_photo
from valuation.sheets.records import FACES, AnySheet, draw
from valuation.sheets.workbook import workbook
from valuation.text.locale import LOCALES

PAPERS = ("international", "en-US")
WIDTHS = (390, 1100)
DOTS = 60
"""To the inch: every word of 8 points can just be read, and a sheet of four pages fits a screen."""


USUAL_TABLE = Case()
USUAL_SELLER = Seller(
    graded_by="Ada Quill",
    graded_on=dt.date(2026, 10, 2),
    contact="yard@example.invalid",
    not_inspected=("inside of the gearbox", "frame under the bed"),
)
SHOP = "Cobbler's Green Motor Works"
CAPTIONS = ("The yard side", "", "As it came, with the boards off")


@dataclasses.dataclass(frozen=True)
class SheetCase:
    """A buyer sheet that is hard to lay out: its table, its vehicle, and what the seller adds."""

    table: Case = USUAL_TABLE
    currency: str = "USD"
    year: int = 1952
    family: str = ""
    photos: tuple[str, ...] = ()
    remark: str = "Finished last winter; the engine was rebuilt by its second owner and has run four summers since."
    seller: Seller = USUAL_SELLER


CASES: Mapping[str, SheetCase] = {
    "no-photo": SheetCase(),
    "one-photo": SheetCase(photos=("wide",)),
    "six-photos": SheetCase(photos=("wide", "tall", "wide", "square", "wide", "tall")),
    "tall-photo": SheetCase(photos=("tall",)),
    "twelve-rows": SheetCase(Case(rows=12), photos=("wide", "tall")),
    "twenty-five-in-euro": SheetCase(Case(rows=25, level=3_100), currency="EUR", photos=("wide", "wide")),
    "far-vehicle": SheetCase(year=1908, seller=Seller(asking_price=51_500)),
    "sparse-family": SheetCase(family="Ostrel Dray, the first series", photos=("tall", "tall", "tall")),
    "long-remark": SheetCase(remark="Bought from the first owner's niece, who kept every bill. " * 35),
    "unbroken-remark": SheetCase(remark="x" * 5000, photos=("wide",)),
    "bare": SheetCase(remark="", seller=Seller()),
}


def evidence_of(case: SheetCase) -> tuple[PriceModel, Evidence]:
    """The fit of a case's table, and the evidence for its vehicle."""
    frame = frame_of(case.table).assign(currency=case.currency)
    if case.family:
        frame.loc[frame.index[-1], "family"] = case.family
    model = PriceModel.fit(from_frame(frame, default_schema(), name="invented.csv", today=DAY))
    family = case.family or case.table.families[0]
    cells = {"family": family, "model_year": case.year, "condition": "driver"}
    return model, explain(model, parse_vehicle(cells, default_schema(), f"Haywain pickup of {case.year}"), DAY)


def photograph(shape: str, number: int) -> Photo:
    """An invented photograph: sky, yard and a truck, so that one sees what was cut or squeezed."""
    width, height = {"wide": (1400, 930), "tall": (800, 1400), "square": (1000, 1000)}[shape]
    image = Image.new("RGB", (width, height), (176, 196, 205))
    pen = ImageDraw.Draw(image)
    ground, unit = int(0.72 * height), width / 12
    pen.rectangle((0, ground, width, height), fill=(134, 126, 104))
    paint = ((120, 52, 40), (52, 82, 92), (92, 96, 60))[number % 3]
    pen.rectangle((2 * unit, ground - 2 * unit, 10 * unit, ground - 0.4 * unit), fill=paint)
    pen.polygon([(4 * unit, ground - 2 * unit), (4.6 * unit, ground - 4 * unit), (7 * unit, ground - 4 * unit),
                 (7.4 * unit, ground - 2 * unit)], fill=paint)  # fmt: skip
    for wheel in (3.6, 8.4):
        pen.ellipse(
            ((wheel - 0.9) * unit, ground - 1.2 * unit, (wheel + 0.9) * unit, ground + 0.6 * unit), fill="black"
        )
    pen.rectangle((0, 0, width - 1, height - 1), outline="white", width=12)
    out = io.BytesIO()
    image.save(out, "JPEG")
    return prepare_photo(out.getvalue(), "invented.jpg", CAPTIONS[number % 3])


def private_sheets(model: PriceModel) -> dict[str, AnySheet]:
    """A deal sheet of two plans with talks, and the card of the same plans."""
    found = Vehicle(
        "Haywain from the mill", {"family": "Penhurrow Haywain", "model_year": 1952.0, "condition": "project"}
    )
    steps = (
        Step("engine", "Rebuild the engine", ThreePoint(2000, 2600, 4200), ThreePoint(50, 70, 120),
             sets={"condition": "runner"}),
        Step("body", "Floor, panels and doors", ThreePoint(1400, 2000, 4200), ThreePoint(90, 140, 260),
             after=("engine",), sets={"condition": "driver"}),
        Step("paint", "Strip and paint", ThreePoint(3100, 4200, 6500), ThreePoint(80, 120, 200), after=("body",),
             sets={"condition": "show"}),
    )  # fmt: skip
    told = {"shop": ShopSettings(labour_rate=25, crew=2, holding_per_week=30),
            "purchase": Purchase(asked=6200.0, transport=350),
            "sale": SaleTerms(fees=180, offers_per_month=2)}  # fmt: skip
    show = Event("Harvest meet", dt.date(2027, 9, 18), 320)
    plans = [BuildPlan("show build", found, steps=steps, event=show, **told),
             BuildPlan("make it drive", found, steps=steps[:2], **told)]  # fmt: skip
    linnet = BuildPlan("run it", Vehicle("Linnet", {**found.attributes, "family": "Tarrowby Linnet"}), steps=steps[:1],
                       **told)  # fmt: skip
    talks = (Offer(21_000, dt.date(2026, 10, 1), "Ruth Amsel"), Offer(23_500, dt.date(2026, 10, 9), "Ruth Amsel"),
             Offer(22_000, dt.date(2026, 11, 2), "a dealer from the coast"))  # fmt: skip
    spent = [Spent("Purchase", 6200.0), Spent("Tow truck", 287.5)]
    log = OfferLog("Haywain", offers=talks)
    return {
        "deal": deal_sheet(model, plans, DAY, spent=spent, log=log, shop=SHOP),
        "card": field_card(model, plans, DAY, shop=SHOP),
        "card-of-two": field_card(model, [*plans, linnet], DAY, shop=SHOP),
    }


def sheets_of(name: str) -> Iterator[tuple[str, str, bytes]]:
    """Name, kind of file and content of each sheet of a case."""
    case = CASES[name]
    model, found = evidence_of(case)
    photos = tuple(photograph(shape, number) for number, shape in enumerate(case.photos))
    tried = left_out_check(model)
    buyer = buyer_sheet(model, found, tried=tried, shop=SHOP, remark=case.remark, seller=case.seller)
    for paper in PAPERS:
        yield f"{name}-buyer-{paper}", "pdf", draw(buyer, LOCALES[paper], photos)
        yield f"{name}-page-{paper}", "pdf", draw(OnePage(buyer), LOCALES[paper], photos)
    yield f"{name}-buyer", "html", draw(buyer, LOCALES[PAPERS[0]], photos, "html")
    yield f"{name}-page", "html", draw(OnePage(buyer), LOCALES[PAPERS[0]], photos, "html")
    for face in FACES["message"]:
        yield f"{name}-message", face, draw(Message(buyer), LOCALES[PAPERS[0]], photos, face)
    if name == "no-photo":
        for kind, sheet in private_sheets(model).items():
            for paper in PAPERS:
                yield f"{kind}-{paper}", "pdf", draw(sheet, LOCALES[paper])
            if kind == "deal":
                yield kind, "html", draw(sheet, LOCALES[PAPERS[0]], (), "html")
        if model.comparables is not None:
            yield "workbook", "xlsx", workbook(model.comparables, found)


def pages_side_by_side(pdf: Path, out: Path) -> None:
    """The pages of a PDF in one picture, at most four in a row."""
    with tempfile.TemporaryDirectory() as scratch:
        subprocess.run(["pdftoppm", "-png", "-r", str(DOTS), str(pdf), f"{scratch}/page"], check=True)
        pages = [Image.open(file).convert("RGB") for file in sorted(Path(scratch).glob("*.png"))]
    wide, tall = max(page.width for page in pages) + 8, max(page.height for page in pages) + 8
    across = min(4, len(pages))
    whole = Image.new("RGB", (wide * across, tall * -(-len(pages) // across)), "grey")
    for number, page in enumerate(pages):
        whole.paste(page, (number % across * wide + 4, number // across * tall + 4))
    whole.save(out)


def main() -> None:
    """Make them all, and say where they lie."""
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=["--headless", "--no-sandbox"])
        for case in sys.argv[2:] or CASES:
            for name, kind, content in sheets_of(case):
                file = folder / f"{name}.{kind}"
                file.write_bytes(content)
                if kind == "html":
                    for width in WIDTHS:
                        window = browser.new_page(viewport={"width": width, "height": 900})
                        window.goto(file.resolve().as_uri())
                        window.screenshot(path=folder / f"{name}-{width}.png", full_page=True)
                        window.close()
                if kind in ("html", *FACES["message"]):
                    continue
                if kind == "xlsx":
                    command = ["soffice", "--headless", "--convert-to", "pdf", "--outdir", str(folder), str(file)]
                    subprocess.run(command, check=True, capture_output=True)
                pages_side_by_side(file.with_suffix(".pdf"), folder / f"{name}.png")
        browser.close()
    print(f"The pictures are in {folder}.")


if __name__ == "__main__":
    main()
