"""The headings and fixed words of a sheet for a buyer, in the language of the sheet."""

from __future__ import annotations

from valuation.text.language import say


def labels() -> dict[str, str]:
    """By the names under which the templates know them."""
    return {
        "adjustments": say("The adjustments to the cent"),
        "asking": say("Asking price"),
        "assumed": say("What was assumed"),
        "cautions": say("Cautions"),
        "changes": say("What another level would change"),
        "chart_table": say("The chart as a table"),
        "estimate": say("Estimate"),
        "grades": say("What the grades mean"),
        "grid": say("The nearest sales, each adjusted to this vehicle"),
        "ground": say("What the estimate rests on"),
        "in_html": say("To the cent the lines stand in the HTML form of this sheet."),
        "at_the_end": say("To the cent the lines stand at the end of this sheet."),
        "name_alone": say("Nothing but its name is known."),
        "notes": say("Good to know"),
        "no_limit": say("no limit"),  # as the locale writes an end that is open, and a date that is not known
        "undated": say("undated"),
        "photographs": say("Photographs"),
        "place": say("Where it stands among the comparable sales"),
        "prices": say("Prices of the comparable sales"),
        "remark": say("In the shop's words"),
        "seller": say("Who says so"),
        "vehicle": say("The vehicle"),
        "worth": say("What each attribute is worth"),
    }
