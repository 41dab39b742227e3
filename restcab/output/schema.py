"""JSON Schema (draft 2020-12) of the spec, the fleet file, the file of offers and every answer.

The files are described by the same declarations that read them; the answers by the shapes in
``data/answers.json``, whose names carry their units.
"""

import json
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from types import UnionType
from typing import Any, get_args, get_origin

from restcab.fleet.file_tables import (
    FleetTable,
    LaneTable,
    RegionTable,
    RestsTable,
    StopsTable,
    TruckTable,
)
from restcab.offers.file import TABLE_NAMES as OFFERS
from restcab.offers.tables import Price
from restcab.results.columns import unit_of
from restcab.spec import catalog
from restcab.spec.declare import (
    REQUIRED,
    Choice,
    Declared,
    Number,
    Quantity,
    Row,
    Table,
    Text,
    declarations,
)
from restcab.spec.model import TABLES

DRAFT = "https://json-schema.org/draft/2020-12/schema"
FILES = ("spec", "fleet", "offers")
_FLEET: dict[str, type[Table]] = {"fleet": FleetTable, "rests": RestsTable, "stops": StopsTable}
_FLEET_LISTS: dict[str, type[Table]] = {
    "trucks": TruckTable, "lanes": LaneTable, "regions": RegionTable,
}  # fmt: skip
_QUANTITY = r"^\s*[+-]?(\d|\.\d)"
"""A text that begins with a number; the unit behind it is checked when the file is read."""
_MONEY = r"^\s*((USD|US\$|\$)\s*)?[+-]?(\d|\.\d)"
"""The same, with the currency before it too, as people write prices."""
_TYPES = {"number": "number", "whole": "integer", "text": "string", "yes": "boolean",
          "null": "null"}  # fmt: skip

Schema = dict[str, Any]


def names() -> tuple[str, ...]:
    """What has a schema: the files a user writes, and the answer of each study."""
    return (*FILES, *_answers())


def schema(name: str) -> Schema:
    """Return the schema of one of `names`."""
    if name == "spec":
        return _file("spec", "A spec of restcab: truck, unit, bank, rest, prices", _tables(TABLES))
    if name == "fleet":
        title = "A fleet file of restcab: trucks, lanes, hours and prices"
        return _file("fleet", title, _tables(_FLEET) | _lists(_FLEET_LISTS))
    if name == "offers":
        return _offers()
    return _answer(name)


def _tables(models: Mapping[str, type[Table]]) -> Schema:
    return {key: _table(model) for key, model in models.items()}


def _lists(models: Mapping[str, type[Table]]) -> Schema:
    return {
        key: {"type": "array", "items": _table(model), "description": model.title}
        for key, model in models.items()
    }


def _offers() -> Schema:
    """Schema of a file of offers: at least one unit and one battery."""
    lists = {key: model for key, model in OFFERS.items() if key != "offers"}
    tables = _tables({"offers": OFFERS["offers"]}) | _lists(lists)
    found = _file("offers", "Offers for restcab choose: units, batteries, measures", tables)
    found["required"] = ["batteries", "units"]
    for key in found["required"]:
        tables[key]["minItems"] = 1
    return found


def _file(name: str, title: str, tables: Schema) -> Schema:
    return {
        "$schema": DRAFT,
        "$id": f"urn:restcab:{name}",
        "title": title,
        "type": "object",
        "properties": tables,
        "additionalProperties": False,
    }


def _table(model: type[Table]) -> Schema:
    """Schema of a table: its keys by their kinds, and the lists of tables in it."""
    declared = declarations(model)
    keys: Schema = {}
    required = []
    for attribute, info in model.model_fields.items():
        if attribute in declared:
            keys[declared[attribute].key] = _key(declared[attribute])
            if declared[attribute].default is REQUIRED:
                required.append(declared[attribute].key)
        else:
            inner = _inner_table(info.annotation)
            if inner is not None:
                keys[info.alias or attribute] = {"type": "array", "items": _table(inner)}
    found: Schema = {"type": "object", "properties": keys, "additionalProperties": False}
    if model.title:
        found["description"] = model.title
    if required:
        found["required"] = required
    return found


def _inner_table(annotation: Any) -> type[Table] | None:
    """The table that a field is a list of."""
    if isinstance(annotation, type) and get_origin(annotation) is None:
        return annotation if issubclass(annotation, Table) else None
    inner = (_inner_table(arg) for arg in get_args(annotation) if arg is not UnionType)
    return next((table for table in inner if table is not None), None)


def _key(declared: Declared) -> Schema:
    """Schema of one key, with what it means, what is allowed, and where its default is from."""
    found = _kind(declared.kind)
    told = [declared.meaning, f"Allowed: {declared.kind.allowed()}."]
    if declared.unset:
        told.append(f"Left out: {declared.unset}.")
    if declared.source:
        told.append(f"Source: {declared.source}.")
    found["description"] = " ".join(told)
    if declared.default is not None and declared.default is not REQUIRED:
        found["default"] = declared.default
    return found


def _kind(kind: Any) -> Schema:
    if isinstance(kind, Quantity):
        low, high = kind.usual or kind.hard
        examples = [f"{low:g} {kind.unit}", f"{high:g} {kind.unit}"]
        begins = _MONEY if isinstance(kind, Price) else _QUANTITY
        return {"type": "string", "pattern": begins, "examples": examples}
    if isinstance(kind, Number):
        low, high = kind.hard
        what = "integer" if kind.whole else "number"
        return {"type": what, "minimum": low, "maximum": high}
    if isinstance(kind, Choice):
        return _words(kind.words)
    if isinstance(kind, Row):
        return _words(catalog.names(kind.table))
    # a text with a form of its own, or a list: the description says which
    return {"examples": list(kind.examples)} if isinstance(kind, Text) and kind.examples else {}


def _words(words: tuple[str, ...]) -> Schema:
    """The words to choose from; case does not matter to the reader."""
    either = "|".join("".join(_any_case(letter) for letter in word) for word in words)
    loosely = {"type": "string", "pattern": f"^\\s*({either})\\s*$"}
    return {"anyOf": [{"enum": list(words)}, loosely]}


def _any_case(letter: str) -> str:
    if letter.isalpha() and letter.lower() != letter.upper():
        return f"[{letter.upper()}{letter.lower()}]"
    return letter if letter.isalnum() or letter in "-_ " else f"\\{letter}"


@cache
def _answers() -> dict[str, Any]:
    text = files("restcab").joinpath("data", "answers.json").read_text(encoding="utf-8")
    found: dict[str, Any] = json.loads(text)
    return found


def _answer(command: str) -> Schema:
    """Schema of the object that a command prints with ``--json``."""
    parts: Schema = {
        "schema": {"const": f"restcab/{command}/1"},
        "result": _shape(_answers()[command]),
        "warnings": {"type": "array", "items": {"type": "string"}},
        "sources": {"type": "array", "items": {"type": "string"}},
        "provenance": _shape(
            {"version": "text", "inputs_hash": "text", "weather_hash": "text|null"}
        ),
    }
    found = _file(command, f"The answer of restcab {command}, in SI", parts)
    found["required"] = sorted(parts)
    if command == "report":
        studies = {name: _shape(_answers()[name]) for name in _answers() if name != "report"}
        parts["result"]["properties"]["parts"] = {
            "type": "object", "properties": studies, "additionalProperties": False,
        }  # fmt: skip
    return found


def _shape(shape: Any) -> Schema:
    """Schema of a shape: a type, a list of one shape, or keys.

    The key ``*`` stands for any key, ``?`` for a shape or null; a key that ends in ``?`` may be
    missing.
    """
    if isinstance(shape, str):
        if shape == "anything":
            return {}
        types = [_TYPES[word] for word in shape.split("|")]
        return {"type": types[0] if len(types) == 1 else types}
    if isinstance(shape, list):
        return {"type": "array", "items": _shape(shape[0])}
    if "*" in shape:
        return {"type": "object", "additionalProperties": _shape(shape["*"])}
    if "?" in shape:
        return {"anyOf": [{"type": "null"}, _shape(shape["?"])]}
    return {
        "type": "object",
        "properties": {
            key.rstrip("?"): _named(key.rstrip("?"), value) for key, value in shape.items()
        },
        "required": sorted(key for key in shape if not key.endswith("?")),
        "additionalProperties": False,
    }


def _named(key: str, value: Any) -> Schema:
    found, unit = _shape(value), unit_of(key)
    return found | {"description": f"unit: {unit}"} if unit and isinstance(value, str) else found
