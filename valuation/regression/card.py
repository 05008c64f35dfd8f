"""The model card: what a saved model is, what it rests on and how far to trust it, on one page of Markdown."""

from __future__ import annotations

import numpy as np

from valuation.regression.model import PriceModel
from valuation.text.spelling import counted


def model_card(model: PriceModel, file_name: str) -> str:
    """Card of a model.

    Parameters
    ----------
    model : PriceModel
        The model; one that still has its sales also tells how the sales look when each is left out.
    file_name : str
        Name of the model's file.
    """
    used = model.sales_used
    span = f"{model.first_sale} to {model.last_sale}" if model.last_sale is not None else "no dates"
    lines = [
        f"# Model card: {file_name}",
        "",
        "A price model fitted to a table of comparable sales. It gives the buyer-pays price of one such vehicle with a",
        "prediction interval. It is an estimate from that table, not a licensed appraisal.",
        "",
        "## What it rests on",
        "",
        f"- Table: {model.table_name or 'unnamed'}, fingerprint `{model.table_fingerprint}`",
        f"- Schema: {model.schema.title or model.schema.name}",
        f"- Rows: {used['sold']} sold, "
        f"{counted(used['bid_not_met'], 'bid that was not met', 'bids that were not met')}, "
        f"{counted(used['asking'], 'asking price')}; {used['set_aside']} set aside for their faults",
        f"- Sale dates: {span}",
        f"- Currency: {model.currency or 'none named'}",
        f"- Attributes: {', '.join(attribute.title for attribute in model.attributes)}",
        "",
        "## How far to trust it",
        "",
        *_trust(model),
        "",
        "## What must be known",
        "",
        *([f"- {note.text}" for note in (*model.notes, *model.table_notes)] or ["- Nothing beyond the above."]),
        "",
        "## What it is not for",
        "",
        "Insurance, tax, estate, loan or court matters go to a licensed appraiser. Title, identification numbers,",
        "odometer, emissions, roadworthiness and dealer licensing follow local law.",
        "",
    ]
    return "\n".join(lines)


def _trust(model: PriceModel) -> list[str]:
    scatter = 100 * float(np.expm1(np.sqrt(model.core.noise)))
    lines = [f"- One sale scatters around its median by about {scatter:.0f} % (one standard deviation)."]
    fit = model.fit_result
    if fit is None:
        return lines
    sold = fit.exact
    error = fit.response[sold] - fit.left_out.mean[sold]
    low, high = fit.left_out_prices(sold).interval(0.8)
    price = np.exp(fit.response[sold])
    inside = int(((low <= price) & (price <= high)).sum())
    typical = 100 * float(np.median(np.abs(np.expm1(-error))))
    lines.append(
        f"- Of {int(sold.sum())} sales, each priced as if it had not been in the table, {inside} fell inside their 80 %"
        f" interval; half were missed by less than {typical:.0f} %."
    )
    return lines
