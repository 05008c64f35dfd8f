"""A bare FastAPI route that takes the same question and returns an answer of the same size."""

import json
import os
from pathlib import Path

from fastapi import FastAPI

from api.models.estimates import EstimateAsked


def create_bare() -> FastAPI:
    """The app; the answer is read from the file that ``BARE_ANSWER`` names."""
    answer = json.loads(Path(os.environ["BARE_ANSWER"]).read_text(encoding="utf-8"))
    app = FastAPI()

    @app.get("/healthz")
    def healthz() -> dict[str, str]:
        return {"status": "ok"}

    @app.post("/api/v1/estimates", status_code=201)
    def estimate(asked: EstimateAsked) -> dict[str, object]:
        return {**answer, "vehicle": asked.vehicle.model_dump()}

    return app
