"""A commented file of offers to start from: invented offers, the keys as they are declared."""

from collections.abc import Mapping
from textwrap import wrap
from typing import Any

from restcab.offers.file import TABLE_NAMES
from restcab.spec.declare import Table, declarations

_WIDTH = 98
_HEAD = (
    "# Offers for `restcab choose SPEC FILE`: put in what your data sheets and quotations say.\n"
    "# Any key of [cooling] may stand in [[units]]; what is left out is taken as usual.\n"
)
_OFFERS: Mapping[str, tuple[Mapping[str, Any], ...]] = {
    "offers": ({"batteries_max": 8, "by": "cost"},),
    "units": (
        {"name": "small unit", "capacity": "7500 Btu/h", "power": "760 W", "airflow": "250 cfm",
         "speed": "variable", "price": "4300 USD", "mass": "80 lb", "voltage": "12 V"},
        {"name": "large unit", "capacity": "10000 Btu/h", "power": "1080 W",
         "airflow": "350 cfm", "speed": "variable", "price": "5400 USD", "mass": "105 lb",
         "voltage": "12 V"},
    ),
    "batteries": (
        {"name": "glass mat", "chemistry": "AGM", "rated": "105 Ah", "voltage": "12 V",
         "price": "310 USD", "mass": "67 lb", "warranty": 2},
        {"name": "iron phosphate", "chemistry": "LFP", "rated": "100 Ah", "voltage": "12.8 V",
         "price": "620 USD", "mass": "27 lb", "warranty": 5, "current_limit": "100 A"},
    ),
}  # fmt: skip
"""Table -> its rows, of invented offers."""


def offers_text() -> str:
    """Write the file: TOML, each key with a comment on what is allowed where it first stands."""
    parts = [_HEAD]
    for name, rows in _OFFERS.items():
        header = f"[{name}]" if name == "offers" else f"[[{name}]]"
        for at, row in enumerate(rows):
            lines = [header]
            for key, value in row.items():
                if at == 0:
                    lines += _comment(TABLE_NAMES[name], key)
                lines.append(f"{key} = {_toml(value)}")
            parts.append("\n".join(lines) + "\n")
    return "\n".join(parts)


def _comment(model: type[Table], key: str) -> list[str]:
    """What a key means and accepts."""
    declared = next(entry for entry in declarations(model).values() if entry.key == key)
    text = f"{declared.meaning} Allowed: {declared.kind.allowed()}."
    return [f"# {line}" for line in wrap(text, _WIDTH, break_long_words=False)]


def _toml(value: Any) -> str:
    return f'"{value}"' if isinstance(value, str) else str(value)
