"""Vehicles to be valued: named attributes, checked against a schema."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Annotated, Any

from valuation.errors import VehicleError, shown
from valuation.schema.attributes import Attribute, Role
from valuation.schema.frame import typed_column
from valuation.schema.schema import Schema
from valuation.schema.values import CellFault, Value, as_text, read_value
from valuation.text.files import read_text_file
from valuation.text.json import read_json
from valuation.text.plain import ReadOnlyMapping
from valuation.text.spelling import did_you_mean, header_key, level_key, nearest
from valuation.text.toml import read_toml
from valuation.view import View, Viewed

if TYPE_CHECKING:
    import pandas as pd

_MOST_SAID = 6
"""Values that a vehicle names in one line; its table has them all."""


@dataclass(frozen=True, repr=False)
class Vehicle(Viewed):
    """A vehicle (or whatever the schema describes) to be valued.

    Parameters
    ----------
    name : str
        What people call it; the row label of its frame.
    attributes : mapping of str to value
        Known attributes only, by the schema's names: a level's name, a number, ``True`` or ``False``, or a date.
        An attribute that is absent is unknown. Read-only.
    number : str
        What identifies it, such as its chassis number, as the table's column ``vehicle`` has it; empty when not given.
        No price rests on it: it tells the vehicle's own sales from others.
    """

    name: str
    attributes: Annotated[Mapping[str, Value], ReadOnlyMapping()]
    number: str = ""

    def _view(self) -> View:
        said = [as_text(value) for value in self.attributes.values()]
        more = len(said) - _MOST_SAID
        return View(
            title=self.name,
            facts=(", ".join(said[:_MOST_SAID]) + (f" and {more} more" if more > 0 else ""),),
            header=("attribute", "value"),
            rows=list(zip(self.attributes, said, strict=True)),
        )

    def __post_init__(self) -> None:
        object.__setattr__(self, "attributes", MappingProxyType(dict(self.attributes)))

    def __reduce__(self) -> tuple[type[Vehicle], tuple[str, dict[str, Value], str]]:
        return Vehicle, (
            self.name,
            dict(self.attributes),
            self.number,
        )  # a read-only mapping cannot be pickled as it is

    def spelled_as(self, known: Mapping[str, Collection[str]]) -> Vehicle:
        """The same vehicle with levels spelled as in ``known`` where they differ in case, spaces or hyphens only.

        Parameters
        ----------
        known : mapping of str to collection of str
            Levels by attribute, for example those that a table of comparables holds for an open scale.
        """
        respelled = dict(self.attributes)
        for name, levels in known.items():
            if isinstance(value := respelled.get(name), str) and value not in levels:
                respelled[name] = {level_key(level): level for level in levels}.get(level_key(value), value)
        return Vehicle(self.name, respelled, self.number)

    def as_dict(self) -> dict[str, Any]:
        """Plain data for JSON; :func:`parse_vehicle` reads it back as an equal vehicle."""
        plain = {name: v.isoformat() if isinstance(v, dt.date) else v for name, v in self.attributes.items()}
        return {"name": self.name, "attributes": plain, **({"number": self.number} if self.number else {})}

    def kept(self) -> dict[str, Any]:
        """What the ledger keeps of it beside its name; :func:`parse_vehicle` reads it back."""
        return {**self.as_dict()["attributes"], **({"vehicle": self.number} if self.number else {})}


def vehicles_frame(vehicles: Sequence[Vehicle], schema: Schema) -> pd.DataFrame:
    """One row for each vehicle, typed as ``Comparables.attributes``; index = names, columns = the schema's attributes.

    Parameters
    ----------
    vehicles : sequence of Vehicle
    schema : Schema
        Its attributes are the columns.

    Returns
    -------
    DataFrame, shape (n_vehicles, n_attributes)
        Unknown attributes are NaN (or NaT), unless the schema reads a missing cell as the lowest value.
    """
    import pandas as pd

    index = pd.Index([vehicle.name for vehicle in vehicles], name="vehicle", dtype=object)
    columns = {
        attribute.name: typed_column(attribute, [v.attributes.get(attribute.name) for v in vehicles], index)
        for attribute in schema.attributes
    }
    return pd.DataFrame(columns, index=index)


def read_vehicle(path: str | Path, schema: Schema) -> Vehicle:
    """Read a vehicle from a TOML or JSON file.

    The file holds a ``name`` and the attributes, either beside it or in a table ``attributes``.

    Parameters
    ----------
    path : str or Path
        Ends in ``.toml`` or ``.json``.
    schema : Schema
        What is accepted.

    Raises
    ------
    VehicleError
        If the file cannot be read, or for the reasons of :func:`parse_vehicle`.
    """
    file = Path(path)
    try:
        text = read_text_file(file)
    except ValueError as problem:
        raise VehicleError(
            f"Cannot read the vehicle file {file}: {problem}. Give a TOML or JSON file with a name and attributes."
        ) from problem
    try:
        data = read_json(text) if file.suffix.casefold() == ".json" else read_toml(text)
    except ValueError as problem:
        raise VehicleError(
            f"Cannot read the vehicle file {file}: it {problem}. Mend that line; a level stands in quotes, as in "
            'condition = "driver".'
        ) from problem
    return parse_vehicle(data, schema, file.stem)


def parse_vehicle(mapping: Mapping[str, Any], schema: Schema, name: str = "vehicle") -> Vehicle:
    """A vehicle from plain data such as a JSON object, checked against the schema.

    Parameters
    ----------
    mapping : mapping
        Either the attributes with an optional ``name`` beside them, or ``name`` and ``attributes``. Headers, levels
        and numbers may be spelled in every way that a table may spell them; ``None`` or blank is unknown. ``number``,
        or any header of the table's column ``vehicle``, gives what identifies it.
    schema : Schema
        What is accepted. A level that an open scale has never seen is accepted: the estimate says so and widens.
    name : str
        Used when ``mapping`` gives none.

    Raises
    ------
    VehicleError
        If an attribute is unknown or given twice, a level of a closed scale is unknown (the nearest is named), a
        number is impossible, or an attribute is missing that the schema requires.
    """
    if not isinstance(mapping, Mapping):
        raise VehicleError(f"Cannot value '{name}': found {mapping!r}; a table of attributes is needed.")
    title = _title(mapping, name)
    known = {header_key(word): a for a in reversed(schema.attributes) for word in (*a.aliases, a.name)}
    numbers = {header_key(word) for word in ("number", "vehicle", *schema.sale_aliases.get("vehicle", ()))} - set(known)
    given, number = _attribute_table(mapping, title, numbers)
    values: dict[str, Value] = {}
    for key, raw in given.items():
        attribute = known.get(header_key(str(key)))
        if attribute is None:
            raise VehicleError(
                f"Cannot value '{title}': it has an attribute '{key}' that the schema '{schema.name}' does not know. "
                f"The attributes are {', '.join(schema.names)}.{did_you_mean(str(key), schema.names)}",
                where=str(key),
            )
        if attribute.name in values:
            raise VehicleError(
                f"Cannot value '{title}': '{attribute.name}' is given twice. Keep one of the two.", where=str(key)
            )
        value = _value(attribute, raw, title, schema)
        if value is not None:
            values[attribute.name] = value
    for attribute in schema.attributes:
        if attribute.missing == "refuse" and attribute.name not in values:
            raise VehicleError(
                f"Cannot value '{title}': its {attribute.title} is missing, and the schema '{schema.name}' "
                f"requires it. Add '{attribute.name}'.",
                where=attribute.name,
            )
    return Vehicle(title, {a: values[a] for a in schema.names if a in values}, number)


def read_words(words: Sequence[str]) -> dict[str, str]:
    """What words such as ``condition=driver`` give, by the names before the equals signs.

    Raises
    ------
    VehicleError
        If a word has no equals sign or nothing before it, or two words give the same name.
    """
    given: dict[str, str] = {}
    for word in words:
        name, equals, value = word.partition("=")
        if not (equals and name.strip()):
            raise VehicleError(
                f"Cannot read {shown(word)}: it is not of the form attribute=value. Write it as in condition=driver; "
                'a value with spaces stands in quotes, as in family="Garrow Wren".'
            )
        if any(header_key(name) == header_key(other) for other in given):
            raise VehicleError(f"Cannot read {shown(word)}: '{name.strip()}' is given twice. Keep one of the two.")
        given[name.strip()] = value.strip()
    return given


def vehicle_from_words(
    words: Sequence[str],
    schema: Schema,
    seen: Mapping[str, Collection[str]] | None = None,
    *,
    base: Vehicle | None = None,
    as_written: bool = False,
) -> Vehicle:
    """The one way from words on a command line, such as ``family="Garrow Wren" condition=driver``, to a vehicle.

    Parameters
    ----------
    words : sequence of str
        Each ``attribute=value`` by the schema's names or aliases; ``name=...`` names the vehicle, which otherwise goes
        by its levels and year.
    schema : Schema
        What is accepted.
    seen : mapping of str to collection of str, optional
        Levels that the table holds of each open scale (``Tables.levels_seen``). One that differs in case, spaces or
        hyphens alone is spelled as there; one that is new and looks like one of them is asked about.
    base : Vehicle, optional
        One that the words change; it keeps its name unless they give another.
    as_written : bool
        Whether a level that was asked about is new indeed.

    Raises
    ------
    VehicleError
        For the reasons of :func:`read_words` and :func:`parse_vehicle`, and for a level that looks misspelt; the
        message names the nearest.
    """
    given: dict[str, Any] = {
        "name" if header_key(name) == "name" else name: value for name, value in read_words(words).items()
    }
    if base is not None:
        changed = {a.name for a in schema.attributes for word in given if _goes_by(a, word)}
        given = {"name": base.name, **{n: v for n, v in base.attributes.items() if n not in changed}, **given}
    vehicle = parse_vehicle(given, schema).spelled_as(seen or {})
    if base is not None and not vehicle.number:
        vehicle = Vehicle(vehicle.name, vehicle.attributes, base.number)
    if not given.get("name"):
        vehicle = Vehicle(_spoken_name(vehicle, schema), vehicle.attributes, vehicle.number)
    for name, levels in (seen or {}).items():
        value = vehicle.attributes.get(name)
        if as_written or not isinstance(value, str) or value in levels:
            continue
        if close := nearest(value, levels):
            raise VehicleError(
                f"Cannot value '{vehicle.name}': no sale in the table has {name} '{value}'. Did you mean "
                f"'{close[0]}'? Write that; if '{value}' is new indeed, add --as-written.",
                where=name,
            )
    return vehicle


def _goes_by(attribute: Attribute, word: str) -> bool:
    return header_key(word) in {header_key(name) for name in (attribute.name, *attribute.aliases)}


def _spoken_name(vehicle: Vehicle, schema: Schema) -> str:
    """Levels of the vehicle with its smooth numbers, such as a year, in the schema's order."""
    shown_roles = (Role.NOMINAL, Role.ORDINAL, Role.SMOOTH)
    spoken = [as_text(vehicle.attributes[one.name]) for one in schema.attributes
              if one.role in shown_roles and one.name in vehicle.attributes]  # fmt: skip
    return " ".join(spoken)[:120] or vehicle.name


def _title(mapping: Mapping[str, Any], name: str) -> str:
    title = mapping.get("name", name)
    if not isinstance(title, str):
        raise VehicleError(f"Cannot value a vehicle whose name is {title!r}: write it in quotes.")
    return title.strip() or name


def _attribute_table(mapping: Mapping[str, Any], title: str, numbers: Collection[str]) -> tuple[Mapping[str, Any], str]:
    """The attributes as they were given, and what identifies the vehicle, which may stand among them or beside."""
    beside = {key: value for key, value in mapping.items() if key not in ("name", "attributes")}
    table = mapping.get("attributes", {})
    if not isinstance(table, Mapping):
        raise VehicleError(f"Cannot value '{title}': 'attributes' is {table!r}; a table of names and values is needed.")
    # Beside a table of attributes 'number' can be no attribute, whatever the schema names so.
    own = {*numbers, "number"} if "attributes" in mapping else numbers
    identifying = {key: value for key, value in beside.items() if header_key(str(key)) in own}
    others = {key: value for key, value in beside.items() if key not in identifying}
    identifying |= {key: value for key, value in table.items() if header_key(str(key)) in numbers}
    if "attributes" in mapping and others:
        raise VehicleError(
            f"Cannot value '{title}': found {', '.join(map(repr, others))} beside the table 'attributes'. Move it into "
            "that table if it is an attribute, or remove it."
        )
    attributes = {key: value for key, value in table.items() if header_key(str(key)) not in numbers}
    return {**others, **attributes}, _number(identifying, title)


def _number(identifying: Mapping[str, Any], title: str) -> str:
    written = {key: " ".join(str(value).split()) for key, value in identifying.items() if value not in (None, "")}
    if len(set(written.values())) > 1:
        raise VehicleError(
            f"Cannot value '{title}': {' and '.join(map(repr, written))} give different numbers of the vehicle. Keep "
            "the one that the table has in its column 'vehicle'.",
            where=next(iter(written)),
        )
    return next(iter(written.values()), "")


def _value(attribute: Attribute, raw: Any, title: str, schema: Schema) -> Value | None:
    if raw is not None and not isinstance(raw, str | int | float | dt.date):
        raise VehicleError(
            f"Cannot value '{title}': {attribute.name} is {raw!r}; one text, number, date, true or false is needed.",
            where=attribute.name,
        )
    if isinstance(raw, float) and raw != raw:
        raise VehicleError(
            f"Cannot value '{title}': {attribute.name} is NaN, which is not a number. Write the number, or leave "
            f"'{attribute.name}' out if it is not known."
        )
    value = read_value(attribute, as_text(raw), schema.reading())
    if isinstance(value, CellFault):
        raise VehicleError(
            f"Cannot value '{title}': in {attribute.name}, {value.why} {value.mend}", where=attribute.name
        )
    if attribute.role is Role.NOMINAL and not attribute.levels and isinstance(value, str) and len(value) > 200:
        raise VehicleError(
            f"Cannot value '{title}': {attribute.name} is a text of {len(value)} characters. Write the level in "
            "a few words.",
            where=attribute.name,
        )
    return value
