"""The spec file of a truck with a pair that was chosen, its comments kept."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from restcab.errors import InputError, Problem, nearest
from restcab.offers.model import MeasureOffer, Offers
from restcab.offers.pairs import Pair
from restcab.offers.tables import KEPT
from restcab.spec.cooling import Cooling
from restcab.spec.declare import Declared, Quantity, declarations
from restcab.spec.model import TABLES, Spec
from restcab.spec.reading import read_toml, toml_value
from restcab.spec.rewrite import drop, put

_OF_A_BATTERY = ("chemistry", "rated", "rated_hours", "voltage", "reserve", "cutoff", "mass")
"""Keys of [bank] that are the battery's own."""


def pair_named(name: str, pairs: Sequence[Pair]) -> Pair:
    """Return the pair of a name.

    Raises
    ------
    InputError
        If no pair is called so.
    """
    wanted = " ".join(name.split()).casefold()
    for pair in pairs:
        if pair.name.casefold() == wanted:
            return pair
    names = [pair.name for pair in pairs]
    raise InputError(
        Problem("--write", f"{name!r} is no pair", "a name of the table, or best",
                nearest(name, names))
    )  # fmt: skip


def spec_text(path: Path, overrides: Sequence[str], spec: Spec, offers: Offers, pair: Pair) -> str:
    """Return the text of a spec file with the keys of a pair set.

    Parameters
    ----------
    path
        The spec file that was read.
    overrides
        Texts ``table.key=value`` that were put over it; they are written, too.
    spec
        What was read.
    offers
        The file that the pair is from, named in a comment.
    pair
        The pair.

    Returns
    -------
    str
        TOML; comments and order of the file stay, keys that the pair does not name fall back to
        their defaults if they are the unit's or the battery's own.
    """
    import tomlkit

    document = tomlkit.parse(read_toml(path)[1])
    for text in overrides:
        table, _, rest = text.partition(".")
        key, _, value = rest.partition("=")
        put(document, table.strip(), key.strip(), toml_value(value.strip()))
    for measure in pair.measures:
        for table, key, value in _measure_keys(measure, spec):
            put(document, table, key, value)
        spec = measure.done_to(spec)
    _put_unit(document, pair)
    _put_bank(document, pair)
    money = {"unit_price": pair.unit.table.price_usd, "battery_price": pair.battery.table.price_usd}
    for key, usd in money.items():
        put(document, "money", key, f"{usd:.15g} USD")
    put(document, "options", "unit_mass", f"{pair.unit.table.mass_kg:.15g} kg")
    said = f"# Unit, bank and prices: {pair.name}, of {offers.name}.\n"
    return said + tomlkit.dumps(document)


def _put_unit(document: Any, pair: Pair) -> None:
    """Set [cooling] as the data sheet has it."""
    written = pair.unit.written
    for declared in declarations(Cooling).values():
        if declared.key in written:
            put(document, "cooling", declared.key, written[declared.key])
        elif declared.key not in KEPT:
            drop(document, "cooling", declared.key)
    drop(document, "cooling", "points")
    if "points" in written:
        import tomlkit

        rows = tomlkit.aot()
        for point in written["points"]:
            row = tomlkit.table()
            row.update(point)
            rows.append(row)
        document["cooling"]["points"] = rows


def _put_bank(document: Any, pair: Pair) -> None:
    """Set [bank]: the battery's own keys, how many, and that they are new."""
    for key in _OF_A_BATTERY:
        if key in pair.battery.written:
            put(document, "bank", key, pair.battery.written[key])
        else:
            drop(document, "bank", key)
    put(document, "bank", "batteries", pair.count)
    put(document, "bank", "system_voltage", f"{pair.unit.table.voltage_v:.15g} V")
    drop(document, "bank", "age")


def _measure_keys(measure: MeasureOffer, spec: Spec) -> list[tuple[str, str, Any]]:
    """Table, key and value of what a measure sets; a value of None takes the key out."""
    if measure.table.keys is not None:
        return [(*_split(path), value) for path, value in measure.table.keys.items()]
    found = []
    for table, values in measure.values(spec).items():
        known = declarations(TABLES[table])
        found += [
            (table, known[attribute].key, _toml_of(known[attribute], value))
            for attribute, value in values.items()
        ]
    return found


def _split(path: str) -> tuple[str, str]:
    table, _, key = path.partition(".")
    return table, key


def _toml_of(declared: Declared, value: Any) -> Any:
    """Write an SI value as a file would."""
    if value is None or not isinstance(declared.kind, Quantity):
        return value
    return f"{value:.15g} {declared.kind.unit_si}"
