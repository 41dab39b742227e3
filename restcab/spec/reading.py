"""Reading a spec: TOML file and overrides in, `Spec` or the list of all problems out."""

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from restcab.errors import InputError, Problem, nearest
from restcab.files import read_bytes
from restcab.said import Worded, said
from restcab.spec.declare import Declared, Table, declarations, fault_of
from restcab.spec.model import TABLES, Spec
from restcab.spec.places import Places

_OVERRIDE = "--set"
_SHOWN_LENGTH = 100
"""Letters of a value in a message."""
_OFFERS = ("offers", "units", "batteries")
"""Tables that only a file of offers has."""
_STARTER = "restcab new -o FILE"
"""What writes a file to start from."""


def default_spec(overrides: Sequence[str] = ()) -> Spec:
    """Return the built-in truck, all keys at their defaults; see `load_spec` for overrides."""
    return _build({}, Places("built-in truck", ""), overrides)


def load_spec(path: str | Path, overrides: Sequence[str] = ()) -> Spec:
    """Read a spec file.

    Parameters
    ----------
    path
        TOML file; keys that it leaves out keep their defaults.
    overrides
        Texts ``table.key=value`` that replace what the file says.

    Returns
    -------
    Spec
        The spec in SI.

    Raises
    ------
    InputError
        With every problem found in file and overrides.
    """
    data, text = read_toml(Path(path))
    if "fleet" in data or "lanes" in data:
        raise InputError(
            Problem(str(path), "is a fleet, not the spec of one truck", "a spec file",
                    f"A fleet is for: restcab regions {path}")
        )  # fmt: skip
    if any(name in data for name in _OFFERS):
        raise InputError(
            Problem(str(path), "is a file of offers, not the spec of one truck", "a spec file",
                    f"Offers are for: restcab choose SPEC {path}")
        )  # fmt: skip
    return _build(data, Places(str(path), text), overrides)


def is_offers(path: str | Path) -> bool:
    """Whether a TOML file is one of offers, not a spec."""
    data, _ = read_toml(Path(path))
    return any(name in data for name in _OFFERS)


def read_toml(path: Path, starter: str = _STARTER) -> tuple[dict[str, Any], str]:
    """Read a TOML file: its content, and its text; ``starter`` is the command that writes one.

    Raises
    ------
    InputError
        If it is not there, cannot be read, or is not TOML in UTF-8.
    """
    try:
        text = read_bytes(path).decode("utf-8-sig")
    except FileNotFoundError as error:
        hint = _new_hint(starter)
        raise InputError(Problem(str(path), "there is no such file", hint=hint)) from error
    except OSError as error:
        reason = error.strerror or "cannot be read"
        raise InputError(Problem(str(path), f"cannot be read: {reason}")) from error
    except UnicodeDecodeError as error:
        raise InputError(
            Problem(str(path), "is not a text file in UTF-8", "a TOML file")
        ) from error
    try:
        return _toml(text), text
    except ValueError as error:
        hint = _toml_hint(str(error), path, text)
        problem = Problem(str(path), f"is not valid TOML: {error}", "TOML", hint)
        raise InputError(problem) from error


def _toml(text: str) -> dict[str, Any]:
    """Read TOML; whatever is wrong with it is a ValueError."""
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise ValueError("brackets within brackets, too deep") from None
    except tomllib.TOMLDecodeError:
        raise
    except ValueError:  # Python turns no text of thousands of digits into a number
        raise ValueError("a number has too many digits") from None


def _new_hint(starter: str = _STARTER) -> str:
    return f"`{starter}` writes one to start from."


def _toml_hint(message: str, path: Path, text: str) -> str:
    """What may have been meant: the reader's own words name no key and no remedy."""
    if path.suffix.lower() == ".csv":
        return (
            f'A log of stops is named in a fleet file, file = "{path.name}" in [stops], as in '
            "examples/logged-fleet.toml; a log of a cab is for `restcab fit`."
        )
    if "Invalid value" in message:
        return 'Quantities stand in quotes: capacity = "10000 Btu/h".'
    if "Illegal character '\\n'" in message:
        return "A quote is missing at the end of that line."
    at = re.search(r"at line (\d+)", message)
    if "Cannot overwrite" in message and at is not None:
        key, equals, _ = text.splitlines()[int(at[1]) - 1].partition("=")
        return f"{key.strip()} stands twice in its table." if equals else ""
    return ""


def _build(data: dict[str, Any], places: Places, overrides: Sequence[str]) -> Spec:
    problems = _apply_overrides(data, places, overrides)
    tables: dict[str, Table] = {}
    for name in data:
        if name not in TABLES:
            problems.append(_unknown_table(name, places))
    for name, model in TABLES.items():
        content = data.get(name, {})
        if not isinstance(content, dict):
            problems.append(Problem(places.at(name), f"{name} is not a table", f"[{name}]"))
            continue
        try:
            tables[name] = model.model_validate(content)
        except ValidationError as error:
            problems += [_problem(name, model, entry, places) for entry in error.errors()]
        else:
            problems += _misfits(name, tables[name], places)
        problems += _rival_problems(name, model, content, places)
    if problems:
        raise InputError(problems)
    given = {
        f"{name}.{key}": places.place(f"{name}.{key}")
        for name in TABLES
        for key in data.get(name, {})
    }
    return Spec(
        **tables,  # type: ignore[arg-type]
        given=given,
        name=places.file,
        warnings=tuple(unusual(tables, places)),
    )


def _apply_overrides(
    data: dict[str, Any], places: Places, overrides: Sequence[str]
) -> list[Problem]:
    """Put the overrides into the data, in order; return those that have no form."""
    problems = []
    for text in overrides:
        path, equals, value = text.partition("=")
        table, dot, key = path.strip().partition(".")
        if not (equals and dot and table and key):
            homes = [name for name, model in TABLES.items() if path.strip() in _keys(model)]
            hint = f"Did you mean {homes[0]}.{text.strip()}?" if homes and value else ""
            problems.append(
                Problem(f"{_OVERRIDE} {text}", "not of the form wanted", "table.key=value", hint)
            )
            continue
        content = data.setdefault(table, {})
        if not isinstance(content, dict):
            continue  # reported as a table that is none
        for rival in rivals_of(table, key):
            content.pop(rival, None)
        content[key] = toml_value(value.strip())
        places.override(f"{table}.{key}", f"{_OVERRIDE} {text}")
    return problems


def toml_value(text: str) -> Any:
    """Read a TOML value; a text that is none stands for itself, so that quotes may be left out."""
    try:
        value = _toml(f"value = {text}")["value"]
    except ValueError:
        return text
    # A bare clock time or date is a value of its own in TOML, but the keys take them as text.
    return value if isinstance(value, bool | int | float | str | list | dict) else text


def rivals_of(table: str, key: str) -> list[str]:
    """Return the keys that an override of this key displaces."""
    if table not in TABLES:
        return []
    rivals = []
    for declared in declarations(TABLES[table]).values():
        if declared.key == key and declared.instead_of:
            rivals.append(declared.instead_of)
        if declared.instead_of == key:
            rivals.append(declared.key)
    return rivals


def _unknown_table(name: str, places: Places) -> Problem:
    for table, model in TABLES.items():
        if name in _keys(model):
            return Problem(
                places.at(name), f"{name} stands outside of any table", f"{name} in [{table}]"
            )
    allowed = ", ".join(f"[{table}]" for table in TABLES)
    return Problem(
        places.at(name), f"[{name}] is an unknown table", allowed, nearest(name, tuple(TABLES))
    )


def _keys(model: type[Table]) -> list[str]:
    return [field.alias or name for name, field in model.model_fields.items()]


def _problem(table: str, model: type[Table], entry: Any, places: Places) -> Problem:
    path = [str(part) for part in (table, *entry["loc"])]
    key = path[-1]
    where = places.at(".".join(path))
    if entry["type"] == "extra_forbidden":
        return _unknown_key(key, where, _model_at(model, entry["loc"]))
    if entry["type"] == "missing":
        return Problem(where, f"{key} is missing")
    found = f"{key} = {toml_text(entry['input'])}"
    fault = fault_of(entry)
    return Problem(where, f"{found}: {fault.what}", fault.allowed, fault.hint)


def _model_at(model: type[Table], location: Sequence[Any]) -> type[Table]:
    """Return the model in whose table the last key of a location stands."""
    from restcab.spec.cooling_points import CoolingPoint
    from restcab.spec.surface_table import LayerTable, SurfaceTable, ZoneTable

    names = [part for part in location[:-1] if isinstance(part, str)]
    nested: dict[str, type[Table]] = {
        "surfaces": SurfaceTable,
        "zones": ZoneTable,
        "layers": LayerTable,
        "points": CoolingPoint,
    }
    return nested[names[-1]] if names and names[-1] in nested else model


def _unknown_key(key: str, where: str, model: type[Table]) -> Problem:
    homes = [other for other, other_model in TABLES.items() if key in _keys(other_model)]
    hint = f"It belongs in [{homes[0]}]." if homes else nearest(key, _keys(model))
    return Problem(where, f"{key} is an unknown key", ", ".join(_keys(model)), hint)


def toml_text(value: Any) -> str:
    """Write a value as in the file, a long one cut short."""
    if isinstance(value, bool):
        return str(value).lower()
    try:
        text = f'"{value}"' if isinstance(value, str) else str(value)
    except ValueError:  # Python writes no number of thousands of digits
        return "a number of thousands of digits"
    return text if len(text) <= _SHOWN_LENGTH else f"{text[:_SHOWN_LENGTH]}..."


def _rival_problems(
    name: str, model: type[Table], content: Mapping[str, Any], places: Places
) -> list[Problem]:
    """Find keys given beside the key that they replace."""
    return [
        Problem(
            places.at(f"{name}.{declared.key}"),
            f"{declared.key} and {declared.instead_of} are both given",
            "one of the two",
        )
        for declared in declarations(model).values()
        if declared.instead_of and declared.key in content and declared.instead_of in content
    ]


def _misfits(name: str, table: Table, places: Places) -> list[Problem]:
    """Find values that do not fit together; a key that ends in a number is a row of a list."""
    return [
        Problem(places.at(f"{name}.{key}"), what)
        if _last(key).isdigit()
        else Problem(places.at(f"{name}.{key}"), f"{_last(key)} = {_shown(table, key)} {what}")
        for key, what in table.faults()
    ]


def _last(path: str) -> str:
    return path.rpartition(".")[2]


def _shown(table: Table, key: str) -> str:
    """Return the value of a key, which may stand in a row of a list."""
    head, dot, rest = key.partition(".")
    if dot:
        number, _, inner = rest.partition(".")
        return _shown(getattr(table, head)[int(number)], inner)
    for attribute, declared in declarations(type(table)).items():
        if declared.key == key:
            value = getattr(table, attribute)
            return declared.unset if value is None else declared.kind.show(value)[0]
    value = getattr(table, key, None)
    return str(value).lower() if isinstance(value, bool) else "the list"


def unusual(tables: Mapping[str, Table], places: Places) -> list[str]:
    """Return one sentence for each value outside of its usual span, or without effect.

    Parameters
    ----------
    tables
        Table by its path in the file.
    places
        Where the keys stand.
    """
    found = []
    for name, table in tables.items():
        for path, row in _with_rows(name, table):
            for attribute, declared in declarations(type(row)).items():
                value = getattr(row, attribute)
                why = "" if value is None else declared.kind.unusual(value)
                if why:
                    found.append(_warning(f"{path}.{declared.key}", declared, value, why, places))
        for key, why in table.notes():
            found.append(f"{places.at(f'{name}.{key}')}: {key} = {_shown(table, key)} {why}")
    return found


def _with_rows(path: str, table: Table) -> Iterator[tuple[str, Table]]:
    """Walk through a table and the rows of its lists, all the way down, with their paths."""
    yield path, table
    for attribute in type(table).model_fields:
        value = getattr(table, attribute)
        if isinstance(value, tuple):
            rows = (row for row in value if isinstance(row, Table))
            for index, row in enumerate(rows):
                yield from _with_rows(f"{path}.{attribute}.{index}", row)


def _warning(path: str, declared: Declared, value: Any, why: str, places: Places) -> str:
    shown = Worded(*declared.kind.show(value))
    return said(f"{places.at(path)}: {declared.key} = ", shown, " is unusual; ", why)
