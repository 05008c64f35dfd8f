"""Saved models: plain JSON, versioned, sealed, and the same estimate to the bit when loaded.

The file holds what an estimate needs (schema, frozen design, coefficients, covariance, shape of the error) and where it
came from (fingerprint of the table, counts, library versions), but none of the sales. A model card in Markdown is
written beside it. Every format version that was ever released stays readable.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import math
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import numpy as np

from valuation.errors import ModelFileError, shown
from valuation.files import write_file
from valuation.notes import Note
from valuation.regression.frozen import core_from_state, core_state
from valuation.regression.model import SALE_DATE_ATTRIBUTE, PriceModel
from valuation.schema.attributes import Role
from valuation.schema.reader import schema_from_dict
from valuation.schema.values import Value
from valuation.schema.vehicle import Vehicle
from valuation.text.files import read_text_file
from valuation.text.json import read_json

FORMAT = "valuation price model"
FORMAT_VERSION = 3
"""Versions 1 and 2 were never released; their parts are others, and they are refused."""

_LIBRARIES = ("numpy", "scipy", "pandas", "valuation")


def save_model(model: PriceModel, path: str | Path, *, overwrite: bool = True) -> Path:
    """Write a model and its card.

    Parameters
    ----------
    model : PriceModel
        The model.
    path : str or Path
        Where to; the card gets the same name with ``.md``.
    overwrite : bool
        Whether an existing file may be replaced.

    Returns
    -------
    Path
        The model file.

    Raises
    ------
    ModelFileError
        If the file exists and may not be replaced, or cannot be written.
    """
    from valuation.regression.card import model_card

    target = Path(path)
    try:
        write_file(target, model_text(model), new=not overwrite)
        write_file(target.with_suffix(".md"), model_card(model, target.name))
    except FileExistsError:
        raise ModelFileError(f"Cannot save to {target.name}: the file exists already. Choose another name.") from None
    except OSError as error:
        raise ModelFileError(f"Cannot save the model to {target}: {error.strerror}. Choose another folder.") from error
    return target


def load_model(path: str | Path) -> PriceModel:
    """Read a saved model.

    Raises
    ------
    ModelFileError
        If the file cannot be read, is not a model of this project, is damaged, or was written by a newer program.
    """
    source = Path(path)
    try:
        text = read_text_file(source)
    except ValueError as error:
        raise ModelFileError(
            f"Cannot read the model {source.name}: {error}. Give a file saved by this program."
        ) from error
    return model_from_text(text, source.name)


def model_text(model: PriceModel) -> str:
    """The model as the text of its file."""
    body = _body(model)
    return json.dumps({**body, "seal": _seal(body)}, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def same_estimates(text: str, model: PriceModel) -> bool:
    """Whether the model whose text ``model_text`` wrote gives the same estimates as another, to the bit.

    Parameters
    ----------
    text : str
        As ``model_text`` wrote it.
    model : PriceModel
    """
    kept, other = json.loads(text), json.loads(json.dumps(_body(model)))
    return all(kept.get(part) == other[part] for part in ("schema", "attributes", "currency", "core"))


def model_from_text(text: str, name: str) -> PriceModel:
    """The model whose text ``model_text`` wrote; errors as for ``load_model``, with ``name`` in their words.

    Parameters
    ----------
    text : str
        As ``model_text`` wrote it.
    name : str
        For messages.
    """
    try:
        document = read_json(text)
    except ValueError as error:
        raise ModelFileError(
            f"Cannot use the model {name}: it is damaged, since it {error}. Save it again from its table."
        ) from error
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        found = document.get("format") if isinstance(document, dict) else type(document).__name__
        raise ModelFileError(
            f"Cannot use {name} as a model: found format {shown(found)}, accepted is {FORMAT!r}. "
            "Give a file saved by 'valuation fit'."
        )
    number = document.get("format_version")
    if not isinstance(number, int) or isinstance(number, bool) or number < 1:
        raise ModelFileError(
            f"Cannot use the model {name}: format version {shown(number)} does not exist. Save it again from its table."
        )
    if number < FORMAT_VERSION:
        raise ModelFileError(
            f"Cannot use the model {name}: it was written in format version {number}, before the first release; this "
            f"program reads version {FORMAT_VERSION}. Save the model again from its table with 'valuation fit'."
        )
    if number > FORMAT_VERSION:
        raise ModelFileError(
            f"Cannot use the model {name}: it was written in format version {shown(number)}, this program reads up to "
            f"{FORMAT_VERSION}. Update the program, or save the model again from its table."
        )
    seal = document.pop("seal", None)
    if seal != _seal(document):
        raise ModelFileError(
            f"Cannot use the model {name}: its content does not match its seal, so it was damaged or changed by hand. "
            "Save it again from its table."
        )
    try:
        return _proved(_model(document))
    except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError) as error:
        # The seal is right, so another hand sealed it: whatever is wrong inside is wrong with the file.
        raise ModelFileError(
            f"Cannot use the model {name}: {shown(error)} is missing or wrong. Save it again from its table."
        ) from error


def _proved(model: PriceModel) -> PriceModel:
    """The model, once it has answered: a file of well-formed parts can still fit no vehicle.

    Raises
    ------
    ValueError
        If an estimate of a vehicle of which nothing is known, or of one with any level of the schema, is not a price.
    """
    most = max((len(attribute.levels) for attribute in model.attributes), default=0)
    vehicles = [Vehicle("", {}), *(Vehicle("", _cells(model, place)) for place in range(max(most, 1)))]
    with np.errstate(all="ignore"):
        prices = model.distribution(vehicles, model.last_sale)
        valuation = model.value(vehicles[-1], model.last_sale)
        figures = (*prices.median(), *prices.mean(), *(factor.factor for factor in valuation.factors), valuation.base)
    if not all(math.isfinite(figure) and figure > 0 for figure in figures):
        raise ValueError("an estimate from it is not a price: a part")
    return model


def _cells(model: PriceModel, place: int) -> dict[str, Value]:
    """A level, number or flag for each attribute that the schema has of a vehicle."""
    cells: dict[str, Value] = {}
    for attribute in model.attributes:
        if attribute.levels:
            cells[attribute.name] = attribute.levels[place % len(attribute.levels)].name
        elif attribute.role is Role.FLAG:
            cells[attribute.name] = place % 2 == 0
        elif attribute.role is not Role.NOMINAL and attribute is not SALE_DATE_ATTRIBUTE:
            cells[attribute.name] = max(attribute.minimum, 1.0) if attribute.minimum is not None else 1.0
    return cells


def _seal(body: dict[str, Any]) -> str:
    """SHA-256 of the canonical JSON of everything but the seal."""
    text = json.dumps(body, sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def _body(model: PriceModel) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "versions": {name: _version(name) for name in _LIBRARIES},
        "schema": model.schema.as_dict(),
        "attributes": [attribute.name for attribute in model.attributes],
        "currency": model.currency,
        "table": {
            "name": model.table_name,
            "fingerprint": model.table_fingerprint,
            "sales_used": dict(model.sales_used),
            "first_sale": _iso(model.first_sale),
            "last_sale": _iso(model.last_sale),
            "notes": [[note.code, note.text] for note in model.table_notes],
        },
        "notes": [[note.code, note.text] for note in model.notes],
        "core": core_state(model.core),
    }


def _model(document: dict[str, Any]) -> PriceModel:
    schema = schema_from_dict(document["schema"])
    core = core_from_state(document["core"])
    known = {attribute.name: attribute for attribute in (*schema.attributes, SALE_DATE_ATTRIBUTE)}
    table = document["table"]
    return PriceModel(
        schema=schema,
        core=core,
        attributes=tuple(known[name] for name in document["attributes"]),
        currency=document["currency"],
        sales_used=table["sales_used"],
        first_sale=_date(table["first_sale"]),
        last_sale=_date(table["last_sale"]),
        table_fingerprint=table["fingerprint"],
        table_name=table["name"],
        notes=tuple(Note(code, text) for code, text in document["notes"]),
        table_notes=tuple(Note(code, text) for code, text in table.get("notes", [])),  # older files have none
    )


def _iso(day: dt.date | None) -> str | None:
    return day.isoformat() if day is not None else None


def _date(text: str | None) -> dt.date | None:
    return dt.date.fromisoformat(text) if text is not None else None


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "unknown"
