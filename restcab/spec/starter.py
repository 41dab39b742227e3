"""A commented spec file with every key at its default, made from the declarations."""

from textwrap import wrap
from typing import Any

from restcab.spec.declare import Declared, Table, declarations
from restcab.spec.model import TABLES

COMMON = {
    "truck": ("preset", "paint", "insulation", "heat_loss", "roof_fairing", "curtain",
              "window_covers", "heading"),
    "cooling": ("capacity", "power", "airflow", "refrigerant", "speed", "duct_loss"),
    "bank": ("chemistry", "batteries", "rated", "voltage", "age"),
    "charging": ("alternator", "truck_loads", "drive_hours"),
    "rest": ("start", "hours", "setpoint", "occupants", "hotel_load", "arrival", "hold_share",
             "season"),
    "money": ("diesel",),
}  # fmt: skip
"""Keys that most trucks need; the others are written only in full."""

SCHEMA_FILE = "restcab-spec.schema.json"
"""Where editors look for the form of the file: ``restcab schema spec -o`` writes it."""
_HEAD = (
    f"#:schema ./{SCHEMA_FILE}\n"
    "# A spec for restcab. A key that is left out keeps the value shown by `restcab explain`.\n"
    "# Quantities are texts with a unit; shares and counts are bare numbers.\n"
)
_WIDTH = 98
HOW_TO_MEASURE = {
    "truck.heat_loss": (
        "To measure it: park at night out of the wind, windows bare, curtain open, engine cold.",
        "Run an electric heater of known watts inside until no temperature moves for two hours.",
        'Watts over the difference inside to outside, such as "25 W/degF"; a fan evens the air.',
    ),
}
"""Key -> steps, for keys whose value only a test of the truck gives."""
WITHOUT_EFFECT = {"truck.glass_gap"}
"""Keys that the built-in truck has no use for: written as comments, for a spec is refused where a
key does nothing."""


def starter_text(*, full: bool = False) -> str:
    """Write the file.

    Parameters
    ----------
    full
        True for all keys, False for those that most trucks need.

    Returns
    -------
    str
        TOML, each key with a comment on its meaning, what is allowed, and its source.
    """
    parts = [_HEAD]
    for name, model in TABLES.items():
        chosen = [
            declared
            for declared in declarations(model).values()
            if full or declared.key in COMMON.get(name, ())
        ]
        if chosen:
            parts.append(_table_text(name, model, chosen, full))
    return "\n".join(parts)


def _table_text(name: str, model: type[Table], chosen: list[Declared], full: bool) -> str:
    lines = [f"[{name}]", f"# {model.title}"]
    for declared in chosen:
        lines += _key_lines(name, declared, full)
    return "\n".join(lines) + "\n"


def _key_lines(table: str, declared: Declared, full: bool) -> list[str]:
    key = f"{table}.{declared.key}"
    comment = f"{declared.meaning} Allowed: {declared.kind.allowed()}."
    if full:
        comment += f" Source: {declared.source}."
    lines = [
        "",
        *(
            f"# {line}"
            for line in wrap(comment, _WIDTH, break_long_words=False, break_on_hyphens=False)
        ),
        *(f"# {step}" for step in HOW_TO_MEASURE.get(key, ())),
    ]
    if declared.default is None:
        return [*lines, f"# {declared.key} =    # left out: {declared.unset}"]
    mark = "# " if key in WITHOUT_EFFECT else ""
    return [*lines, f"{mark}{declared.key} = {_toml(declared.default)}"]


def _toml(value: Any) -> str:
    return f'"{value}"' if isinstance(value, str) else str(value)
