"""Pictures of the desk on the demo, and of the terminal: ``python -m docs.pictures [FOLDER]``.

Without a folder the pictures that README.md shows are made again (``docs/pictures``). With one, every page in every
state that ``docs/pages.py`` lists goes there, to be looked through before a release: wide and narrow, by day and by
night, at 200 %, without scripts and on paper, and a few to a sheet for a quick look. Needs Chromium and poppler.
"""

from __future__ import annotations

import os
import shlex
import shutil
import subprocess
import sys
import tempfile
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

from playwright.sync_api import sync_playwright

from docs.pages import (
    CLASH,
    EMPTY,
    NOT_THERE,
    NOTEBOOK,
    OWN,
    PAGES,
    ROOT,
    SENT,
    WORKING,
    Form,
    arrive,
    desk,
    fill,
    fill_own,
    fill_words,
)

if TYPE_CHECKING:
    from PIL.Image import Image
    from playwright.sync_api import Browser, Page

DESK, PHONE, ZOOMED = (1280, 900), (390, 844), (640, 450)
"""Windows; the last is the first at 200 %."""
LOOKS = {
    "wide": (DESK, "light"), "wide-dark": (DESK, "dark"), "narrow": (PHONE, "light"), "narrow-dark": (PHONE, "dark"),
    "zoomed": (ZOOMED, "light"),
}  # fmt: skip
"""How each page is looked at, beside paper and a window without scripts."""
IN_ITS_PLACE = ".foot, .bar { position: static !important; }"
"""What follows the window while a page is scrolled stands in a picture of the whole page where it belongs."""
ACROSS = {"wide": 3, "wide-dark": 3, "zoomed": 3, "paper": 4, "narrow": 5, "narrow-dark": 5, "no-scripts": 5}
"""How many pictures of a kind stand beside each other on a sheet."""
SHEET = (1950, 1900)
"""Width and height of such a sheet in pixels: a telephone's page is neither shrunken, nor cut unless it is longer."""
SHOWN = {
    "desk-shop": ("/", (900, 800), ".stage-list"),
    "desk-vehicle": ("/vehicles/{priced}/worth", (900, 900), ".answer"),
    "desk-build": ("/vehicles/{found}/pay", (900, 1100), ".most"),
    "desk-price-phone": ("/vehicles/{priced}/price", (390, 1250), ".facts.asked"),
}
"""README's pictures of the desk: the page, the window, and what must be in sight."""
TEN_MINUTES = {
    "terminal-start": "valuation start mine --from sales.xlsx",
    "terminal-check": "valuation check mine/comparables.xlsx",
    "terminal-estimate": "valuation estimate family='Garrow Wren' year=1951 condition=tidy "
    "--comparables mine/comparables.xlsx",
}
"""README's pictures of the terminal: an owner's own table, command by command, as far as the first estimate."""
TERMINAL = """<!doctype html><meta charset="utf-8"><style>
body { margin: 0; background: #fbf7ee; } pre { margin: 0; padding: 18px 22px; color: #2b2620; display: inline-block;
font: 15px/1.4 "DejaVu Sans Mono", monospace; } b { color: #8a3b12; }</style><pre><b>$ %s</b>

%s</pre>"""


def main() -> None:
    """Make them all, and say where they lie."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else None
    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=["--headless", "--no-sandbox"])
        if folder:
            every_page(browser, Path(scratch), folder)
        else:
            for_the_readme(browser, Path(scratch), ROOT / "docs" / "pictures")
        browser.close()
    print(f"The pictures are in {folder or 'docs/pictures'}.")


def opened(browser: Browser, address: str, view: tuple[int, int], **settings: str | bool) -> Page:
    """A window of that size; the style of a picture is put in past the page's own policy."""
    width, height = view
    context = browser.new_context(
        viewport={"width": width, "height": height}, base_url=address, bypass_csp=True, **settings
    )  # type: ignore[arg-type]
    context.add_cookies([{"name": "cautions", "value": "seen", "url": address}])  # as after the first visit
    return context.new_page()


def every_page(browser: Browser, scratch: Path, folder: Path) -> None:
    """Each page in each of its states, in full length and in each of the looks; then the sheets for a quick look."""
    for part in (*(folder / kind for kind in ("sheets", *ACROSS)), scratch / "demo", scratch / "own"):
        part.mkdir(parents=True, exist_ok=True)
    with desk(scratch / "demo") as address:
        fill(address)
        words = fill_words(address)
        for name, path in {**PAGES, "nothing-there": NOT_THERE}.items():
            look(browser, address, folder, name, path.format_map(words))
        for name, (path, action, typed) in SENT.items():
            look(browser, address, folder, name, path.format_map(words), (action.format_map(words), typed))
    with desk(scratch / "own") as address:
        for name, path in EMPTY.items():
            look(browser, address, folder, name, path)
        fill_own(address)
        for name, path in OWN.items():
            look(browser, address, folder, name, path)
        for name, (path, action, typed) in {"clash": CLASH, "working": WORKING}.items():
            look(browser, address, folder, name, path, (action, typed))
    for kind, across in ACROSS.items():
        side_by_side(folder, kind, across)


def look(browser: Browser, address: str, folder: Path, name: str, path: str, form: Form | None = None) -> None:
    """Take the pictures of one page, or of what the desk says to a form that stands on it."""
    window = opened(browser, address, DESK)
    arrive(window, path, form)
    for kind, ((width, height), scheme) in LOOKS.items():
        window.set_viewport_size({"width": width, "height": height})
        window.emulate_media(color_scheme=scheme)
        settle(window)
        window.screenshot(path=folder / kind / f"{name}.png", full_page=True, style=IN_ITS_PLACE)
        if kind == "narrow":
            print(f"{name}: {window.evaluate('document.documentElement.scrollHeight'):,} px on a telephone")
    window.set_viewport_size({"width": DESK[0], "height": DESK[1]})
    settle(window)
    printed = folder / "paper" / f"{name}.pdf"
    window.pdf(path=printed, format="A4", margin=dict.fromkeys(("top", "bottom", "left", "right"), "15mm"))
    window.context.close()
    subprocess.run(["pdftoppm", "-png", "-r", "72", str(printed), str(printed.with_suffix(""))], check=True)
    if form is None:
        window = opened(browser, address, PHONE, java_script_enabled=False)
        window.goto(path)
        window.screenshot(path=folder / "no-scripts" / f"{name}.png", full_page=True)
        window.context.close()


def settle(window: Page) -> None:
    """Wait until the page has the pictures for its window's width."""
    window.wait_for_timeout(100)
    window.evaluate(
        """() => Promise.all([...document.images].filter((one) => one.loading !== "lazy")
            .map((one) => one.decode().catch(() => undefined)))"""
    )


def side_by_side(folder: Path, kind: str, across: int) -> None:
    """Sheets that show all pictures of a kind, each cut where the sheet ends."""
    from PIL import Image

    width, height = SHEET
    step, left, top, tallest, number = width // across, 0, 0, 0, 0
    sheet = Image.new("RGB", SHEET, "white")
    for file in sorted((folder / kind).glob("*.png")):
        shown = _labelled(file, step - 10, height)
        if left + step > width:
            left, top, tallest = 0, top + tallest, 0
        if top and top + shown.height > height:
            sheet.save(folder / "sheets" / f"{kind}-{number:02}.png")
            sheet, number, left, top, tallest = Image.new("RGB", SHEET, "white"), number + 1, 0, 0, 0
        sheet.paste(shown, (left, top))
        left, tallest = left + step, max(tallest, shown.height)
    sheet.save(folder / "sheets" / f"{kind}-{number:02}.png")


def _labelled(file: Path, width: int, height: int) -> Image:
    """A picture at that width under its name, no higher than asked."""
    from PIL import Image, ImageDraw

    with Image.open(file) as whole:
        fitted = whole.convert("RGB").resize((width, round(whole.height * width / whole.width)))
    shown = Image.new("RGB", (width, min(height, fitted.height + 18)), "white")
    shown.paste(fitted, (0, 18))
    ImageDraw.Draw(shown).text((2, 3), file.stem, fill="black")
    return shown


def for_the_readme(browser: Browser, scratch: Path, folder: Path) -> None:
    """The pictures that README.md shows."""
    with desk(scratch) as address:
        fill(address)
        of_the_desk(browser, address, fill_words(address), folder)
    of_the_terminal(browser, scratch, folder)
    sheet = scratch / "buyer.pdf"
    valuation = [sys.executable, "-m", "valuation", "sheet", "buyer", "data/vehicles/haywain-pickup.toml"]
    subprocess.run([*valuation, "--comparables", "data/comparables.csv", "--out", str(sheet)], cwd=ROOT, check=True)
    subprocess.run(["pdftoppm", "-png", "-r", "90", "-singlefile", str(sheet), str(folder / "buyer-sheet")], check=True)


def of_the_desk(browser: Browser, address: str, words: dict[str, str], folder: Path) -> None:
    """The pages that README.md shows, and the screen for the barn."""
    for name, (path, view, sight) in SHOWN.items():
        window = opened(browser, address, view)
        window.goto(path.format_map(words))
        window.locator(sight).first.wait_for()
        window.screenshot(path=folder / f"{name}.png")
    in_the_barn(browser, address, folder)


def in_the_barn(browser: Browser, address: str, folder: Path) -> None:
    """The screen for the telephone with its fields tapped."""
    window = opened(browser, address, PHONE)
    window.goto("/barn")
    window.locator("#answer").wait_for()
    window.locator("select").first.select_option(label="Penhurrow Haywain")
    window.locator("input[name*=year]").first.fill("1955")
    for level in ("project", "original", "worn"):
        window.locator("label", has_text=level).first.click()
    window.locator("input[name=asked]").fill("9500")
    window.locator("#answer", has_text="Worth about").wait_for()
    window.screenshot(path=folder / "desk-barn-phone.png")


def of_the_terminal(browser: Browser, scratch: Path, folder: Path) -> None:
    """What the commands from an owner's own table to the first estimate print, run one after another."""
    shutil.copy(NOTEBOOK, scratch / f"sales{NOTEBOOK.suffix}")
    settings = {**os.environ, "COLUMNS": "92", "PYTHONPATH": str(ROOT)}
    window = opened(browser, "http://127.0.0.1", (900, 300))
    for name, command in TEN_MINUTES.items():
        words = [sys.executable, "-m", *shlex.split(command)]
        said = subprocess.run(words, cwd=scratch, env=settings, capture_output=True, text=True, check=False)
        window.set_content(TERMINAL % (escape(command), escape(said.stdout.strip("\n"))))
        window.locator("pre").screenshot(path=folder / f"{name}.png")


if __name__ == "__main__":
    main()
