"""Cautions: what every sheet says about itself, in general words; local law and codes govern."""

from __future__ import annotations

from valuation.text.language import say


def cautions() -> tuple[str, ...]:
    """Of every sheet and page, in the language that is spoken."""
    return (
        say(
            "This is an estimate from the table of sales it was given. It is not a licensed appraisal. For "
            "insurance, tax, estate, donation, divorce, lending or court matters go to a licensed appraiser."
        ),
        say("The prediction interval describes sales like those in the table. It is not a promise of a price."),
        say(
            "Title, liens, identification numbers and plates, odometer statements, emissions, roadworthiness "
            "and dealer licensing follow local law. Check them with the authority before money changes hands."
        ),
        say(
            "Structural, brake, steering, fuel, lifting and paint work is for qualified people under local "
            "codes. Old vehicles can hold lead paint, asbestos and acid."
        ),
        say("Taxes on the sale depend on place and person. They are not in any figure here."),
    )


SHORT_CAUTION = (
    "An estimate from the shop's own table of sales; not a licensed appraisal. Title, identification number, odometer "
    "and roadworthiness follow local law: check before money changes hands."
)
"""For a page that has room for two lines only."""
