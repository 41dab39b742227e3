"""Look-up in the catalogue tables: paints, insulations, glazings, window covers."""

from collections.abc import Mapping

from restcab.provenance import data_rows
from restcab.units import R_IP_PER_R_SI

TABLES = {
    "paints": "solar absorptance and infrared emittance of outer surfaces",
    "insulations": "R-values of sleeper insulation, between ribs and with them",
    "glazings": "solar properties of window glass at normal incidence",
    "covers": "window covers: share of the solar gain left, added R-value",
    "grounds": "ground a truck stands on: what it reflects, stores and radiates",
    "factors": "fuel, efficiency, emission and price factors of the comparison, with their spans",
    "options": "prices, upkeep and masses of the ways to rest, with their spans",
}
"""Table name -> what it holds."""


def names(table: str) -> tuple[str, ...]:
    """Return the row names of a table, in its order."""
    return tuple(row["name"] for row in data_rows(table))


def row(table: str, name: str) -> Mapping[str, str]:
    """Return the row of a name; KeyError if there is none."""
    for candidate in data_rows(table):
        if candidate["name"] == name:
            return candidate
    raise KeyError(name)


def number(table: str, name: str, column: str) -> float:
    """Return one number of a row."""
    return float(row(table, name)[column])


def source(table: str, name: str) -> str:
    """Return the source of a row with the way its figure is known."""
    found = row(table, name)
    return f"{found['source']} ({found['how']})"


def chemistry_number(chemistry: str, quantity: str) -> tuple[float, str]:
    """Return one number of a battery chemistry, and its source with the way it is known."""
    for found in data_rows("chemistries"):
        if found["chemistry"] == chemistry and found["quantity"] == quantity:
            return float(found["value"]), f"{found['source']} ({found['how']})"
    raise KeyError(f"{chemistry} {quantity}")


def typed_rows(table: str) -> list[dict[str, str | float | bool]]:
    """Return the rows of a table with numbers as numbers and yes/no as booleans."""
    return [
        {column: _typed(column, cell) for column, cell in found.items()}
        for found in data_rows(table)
    ]


_TEXT_COLUMNS = ("name", "unit", "source", "how", "note")


def _typed(column: str, cell: str) -> str | float | bool:
    if column in _TEXT_COLUMNS:
        return cell
    return cell == "yes" if cell in ("yes", "no") else float(cell)


def shown(table: str, units: str) -> tuple[list[str], list[list[str]]]:
    """Return heads and cells of a table as people read them.

    Parameters
    ----------
    table
        Name of the table.
    units
        ``us`` or ``si``.

    Returns
    -------
    tuple
        Heads, and the rows as text.
    """
    columns = [column for column in data_rows(table)[0] if column not in ("how", "note")]
    heads = [_HEADS.get(column, {}).get(units, column.replace("_", " ")) for column in columns]
    rows = [[_cell(column, found, units) for column in columns] for found in data_rows(table)]
    return heads, rows


_HEADS = {
    "r_value_m2k_per_w": {"us": "R-value ft²·°F·h/Btu", "si": "R-value m²·K/W"},
    "r_value_whole_wall_m2k_per_w": {
        "us": "whole wall ft²·°F·h/Btu",
        "si": "whole wall m²·K/W",
    },
    "solar_frac": {"us": "solar gain left", "si": "solar gain left"},
}


def _cell(column: str, found: Mapping[str, str], units: str) -> str:
    if column.startswith("r_value") and units == "us":
        return f"{float(found[column]) * R_IP_PER_R_SI:.1f}"
    if column == "source":
        note = f". {found['note']}" if found["note"] else ""
        return f"{found['source']} ({found['how']}){note}"
    return found[column]
