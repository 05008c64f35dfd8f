"""Help: the words, the refusals, the cautions; documentation of the JSON service."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from api.pages.render import Page, page

router = APIRouter(include_in_schema=False)

WORDS = (
    ("estimate", "The middle of what one such vehicle would fetch on that day: half of such sales would end above it."),
    ("prediction interval", "The range that holds the price of one such sale with the stated coverage. At 80 % it "
     "leaves out one sale in five, by intention."),
    ("buyer-pays price", "What the buyer pays in all before tax: hammer price and premium, or the private price."),
    ("outcome", "How a price came about: sold; a bid that did not meet the reserve (worth at least that); asked and "
     "unsold so far (worth at most that)."),
    ("effect", "What one attribute multiplies the price by."),
    ("adjustment grid", "The nearest sales, each difference from your vehicle priced line by line."),
    ("path", "One way to go from as found to sold: as found, or a build plan."),
    ("most to pay", "The largest purchase price at which your goal is still met."),
    ("floor", "The price under which waiting is worth more. What you spent does not move it."),
    ("target, ask", "The price expected after talks; the price to open with."),
    ("track record", "Estimates made before a sale against the price then realised."),
)  # fmt: skip
REFUSALS = (
    ("schema.invalid", "A schema file contradicts itself or cannot be read.", "Mend the line that it names."),
    ("comparables.unreadable", "The table cannot be read at all.", "Save it as CSV or XLSX with one header row."),
    ("comparables.too_few", "Too few usable sales for the question.", "Add sales, mend rows, or ask for less."),
    ("vehicle.invalid", "A word or figure of the vehicle is not in the schema.", "Use one of the words listed."),
    ("regression.invalid", "Data or settings that the regression cannot use.", "Change the setting that it names."),
    ("evidence.invalid", "Figures that a piece of evidence cannot use.", "Mend the figures that it names."),
    ("model.refused", "A saved model is damaged, foreign or newer.", "Fit it again, or update the program."),
    ("plan.invalid", "A build plan, goal or sale setting contradicts itself.", "Mend the entry that it names."),
    ("offer.invalid", "An offer cannot be used.", "Mend the entry that it names."),
    ("sheet.invalid", "A sheet cannot be made from what was given.", "Replace what it names."),
    ("ledger.invalid", "The ledger cannot be opened, written or trusted.", "Follow the message, or restore a backup."),
    ("service.clash", "Somebody else changed the same thing meanwhile.", "Look at both and choose."),
    (
        "ledger.unlikely",
        "A figure or a date is far from what is known of the vehicle.",
        "Look again; say that it is right, or correct it.",
    ),
    ("service.request", "The request is not what the address accepts.", "See the documentation of the service."),
    ("service.not_found", "There is nothing at that address or of that number.", "Look it up in its list."),
    ("service.no_table", "No table was brought yet.", "Bring one, or try the demo."),
    ("service.method", "The address does not take that kind of request.", "See the documentation of the service."),
    ("service.host", "The request names a host that is not this service's.", "Use the printed address."),
    ("service.origin", "The request comes from a page of another site.", "Use this service's own pages."),
    ("service.sign_in", "The token is missing or wrong.", "Sign in."),
    ("service.slow_down", "Too many wrong tokens were given just before.", "Wait as long as it says; try again."),
    ("service.busy", "As much work is under way or waiting as the service takes.", "Try again in a few seconds."),
    ("service.fitting", "The table is still being fitted.", "Try again in a few seconds."),
    ("service.worker_lost", "The process that did the work ended without an answer.", "Try again."),
    ("service.too_large", "The request is larger than the service takes.", "Send a smaller table."),
    ("service.timeout", "The work took longer than it may.", "Use a smaller table, or raise the limit."),
    ("service.stopped", "The work was stopped.", "Start it again when you want it."),
    ("service.closing", "The service is closing.", "Start it again and repeat the work."),
    ("service.unexpected", "An unexpected error.", "Try again; the log has the details."),
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class HelpPage(Page):
    """Words, refusals, cautions.

    Attributes
    ----------
    words : tuple of (str, str)
        Each word and its meaning.
    refusals : tuple of (str, str, str)
        Code, meaning, what to do.
    """

    template = "help.html"
    words: tuple[tuple[str, str], ...] = WORDS
    refusals: tuple[tuple[str, str, str], ...] = REFUSALS


@dataclass(frozen=True, kw_only=True)
class DocsPage(Page):
    """Documentation of the JSON service.

    Attributes
    ----------
    topics : dict of str to list of dict
        By the first word of the address: ``method``, ``path``, ``summary``, ``more``.
    """

    template = "docs.html"
    topics: dict[str, list[dict[str, Any]]]


@router.get("/help")
def help_page(request: Request) -> HTMLResponse:
    """Words, refusals, cautions."""
    return page(request, HelpPage(title="Words and refusals", here="/help"))


@router.get("/api/docs")
def docs(request: Request) -> HTMLResponse:
    """The JSON service, read out of its OpenAPI document."""
    topics: dict[str, list[dict[str, Any]]] = {}
    for path, methods in request.app.openapi()["paths"].items():
        for method, one in methods.items():
            more = one.get("description", "").replace("``", "")
            route = {"method": method.upper(), "path": path, "summary": one.get("summary", ""), "more": more}
            topics.setdefault(path.removeprefix("/api/v1").split("/")[1], []).append(route)
    return page(request, DocsPage(title="The JSON service", here="", twin="/api/v1/openapi.json", topics=topics))
