"""One estimate on a fitted model: with its interval, and with all the evidence."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from benchmarks.measure import cpu_seconds, cpu_seconds_each
from benchmarks.speed.figures import Figure
from valuation.schema import read_schema, read_vehicle

DATA = Path(__file__).parents[2] / "data"


def measure() -> list[Figure]:
    """Milliseconds on the demo's table, against scikit-learn's predict of one row."""
    from valuation.comparables import read_comparables
    from valuation.regression import PriceModel

    schema = read_schema(DATA / "schema.toml")
    model = PriceModel.fit(read_comparables(DATA / "comparables.csv", schema))
    vehicle = read_vehicle(DATA / "vehicles" / "haywain-pickup.toml", schema)
    plain = 1000 * cpu_seconds_each(lambda: model.distribution([vehicle]).interval(), 50)
    whole = 1000 * cpu_seconds_each(lambda: model.value(vehicle, model.last_sale), 50)
    peer = 1000 * peer_seconds(model)
    figures = [
        Figure("estimate with its interval (demo's table)", plain, "ms", "at most 2"),
        Figure("estimate with both intervals, factors and notes", whole, "ms"),
        Figure("scikit-learn: predict of one row, no interval (columns coded, ridge)", peer, "ms"),
        Figure("estimate with its interval over that predict", plain / peer, "times"),
    ]
    from valuation.answers.estimate import estimate

    first = 1000 * cpu_seconds(lambda: estimate(replace(model), vehicle, model.last_sale, 0.8), 5)
    evidence = 1000 * cpu_seconds_each(lambda: estimate(model, vehicle, model.last_sale, 0.8), 10)
    return [
        *figures,
        Figure("the first estimate of a fit with all evidence", first, "ms", "at most 30"),
        Figure("each further one, with what the fit remembers", evidence, "ms", "at most 30"),
    ]


def peer_seconds(model: object) -> float:
    """Seconds of a pipeline's predict of one row of the same table."""
    import numpy as np

    from benchmarks.speed.batch import ridge

    table = model.comparables  # type: ignore[attr-defined]
    sold = table.sales["outcome"] == "sold"
    names = [name for name in table.attributes if table.attributes[name].notna().all()]
    frame = table.attributes.loc[sold, names]
    fitted = ridge(frame).fit(frame, np.log(table.sales.loc[sold, "low"]))
    return cpu_seconds_each(lambda: fitted.predict(frame.head(1)), 20)
