"""[fitted]: what logged nights found of this truck; written by ``restcab fit``, not by hand."""

import re
from dataclasses import replace
from typing import Any, ClassVar

from restcab.spec.declare import Number, Table, Text, declare
from restcab.spec.surfaces import Cab

_FIT = "restcab fit"
_SPREAD = Number((0.0, 2.0))
_SCALE = Number((0.05, 20.0), (0.3, 3.0))
SPREADS = {
    "ua_spread_frac": "shell_spread_frac",
    "leakage_spread_frac": "leakage_spread_frac",
    "paint_ageing_frac": "solar_spread_frac",
    "capacity_spread_frac": "capacity_spread_frac",
    "power_spread_frac": "power_spread_frac",
    "part_load_spread_frac": "part_load_spread_frac",
    "controls_spread_frac": "controls_spread_frac",
    "bank_capacity_spread_frac": "bank_spread_frac",
}
"""Attribute of [claim] -> attribute of [fitted] that takes its place."""
Z90 = 1.6449
"""Half width of a 90 % interval in standard deviations."""


def _words(value: Any) -> str:
    if not isinstance(value, str) or not any(letter.isalnum() for letter in value):
        raise ValueError("no name")
    return value.strip()


def _hashes(value: Any) -> str:
    parts = str(value).split(",")
    if not all(re.fullmatch(r"[0-9a-f]{64}", part.strip()) for part in parts):
        raise ValueError("not a hash")
    return ", ".join(part.strip() for part in parts)


def _spread(key: str, what: str) -> Any:
    return declare(
        key, _SPREAD, None, f"What the logs leave unsure of {what}: standard deviation of its "
        "logarithm.", _FIT, unset="not found by a log",
    )  # fmt: skip


def _scale(key: str, what: str) -> Any:
    return declare(key, _SCALE, 1.0, f"{what}, as a factor on what the rest of the spec gives.",
                   "no log")  # fmt: skip


class Fitted(Table):
    """What logs found."""

    title: ClassVar[str] = "What logged nights found of this truck; written by `restcab fit`."

    log: str | None = declare(
        "log", Text("the names of the logs", _words), None, "Logs that were fitted.", _FIT,
        unset="no log",
    )  # fmt: skip
    log_sha256: str | None = declare(
        "log_sha256", Text("hashes of 64 hexadecimal digits", _hashes), None,
        "SHA-256 of their texts, in the same order.", _FIT, unset="no log",
    )  # fmt: skip
    shell_spread_frac: float | None = _spread("shell_spread", "the heat through the shell")
    leakage_spread_frac: float | None = _spread("leakage_spread", "truck.air_changes")
    solar_scale: float = _scale("solar_scale", "Sun caught by faces and windows")
    solar_spread_frac: float | None = _spread("solar_spread", "solar_scale")
    contents_scale: float = _scale("contents_scale", "Heat capacity of what stands in the cab")
    contents_spread_frac: float | None = _spread("contents_spread", "contents_scale")
    capacity_spread_frac: float | None = _spread("capacity_spread", "cooling.capacity")
    power_spread_frac: float | None = _spread("power_spread", "cooling.power")
    points_capacity_scale: float = _scale(
        "points_capacity_scale", "Capacity at the further points of the data sheet"
    )
    points_power_scale: float = _scale(
        "points_power_scale", "Electric input at the further points of the data sheet"
    )
    part_load_scale: float = _scale("part_load_scale", "Electric input at the lowest part load")
    part_load_spread_frac: float | None = _spread("part_load_spread", "part_load_scale")
    controls_spread_frac: float | None = _spread("controls_spread", "cooling.controls_power")
    bank_spread_frac: float | None = _spread("bank_spread", "bank.rated")
    bank_age_frac: float | None = declare(
        "bank_age", Number((0.0, 1.0)), None,
        "bank.age at which the bank's charge was measured: what it held then is known, and only "
        "what it aged since is not.",
        _FIT, unset="not found by a log",
    )  # fmt: skip

    @property
    def hashes(self) -> tuple[str, ...]:
        """Hashes of the logs fitted before."""
        return tuple(part.strip() for part in (self.log_sha256 or "").split(",") if part.strip())

    def notes(self) -> list[tuple[str, str]]:
        """Say on every page that what is unsure was narrowed, and by what."""
        if self.log is None:
            return []
        named = {
            "shell_spread_frac": "heat through the shell", "leakage_spread_frac": "leakage",
            "solar_spread_frac": "solar gain", "contents_spread_frac": "contents",
            "capacity_spread_frac": "cooling capacity", "power_spread_frac": "electric input",
            "part_load_spread_frac": "input at part load", "controls_spread_frac": "controls",
            "bank_spread_frac": "charge of the bank",
        }  # fmt: skip
        said = [
            f"{words} to {Z90 * spread:.0%}"
            for attribute, words in named.items()
            if (spread := getattr(self, attribute)) is not None
        ]
        if not said:
            return []
        return [("log", f"is what this truck was fitted to: 90 % sure {', '.join(said)}")]


def with_contents(cab: Cab, factor: float) -> Cab:
    """Scale the heat capacity of what stands and lies in a cab, and of its zones.

    Parameters
    ----------
    cab
        Any cab.
    factor
        Against as declared [-], above 0.
    """
    if factor == 1.0:
        return cab
    surfaces = tuple(
        replace(
            surface,
            layers=tuple(
                replace(
                    layer,
                    density_kg_per_m3=layer.density_kg_per_m3 * factor,
                    heat_capacity_j_per_m2k=layer.heat_capacity_j_per_m2k * factor,
                )
                for layer in surface.layers
            ),
        )
        if surface.part == "mass"
        else surface
        for surface in cab.surfaces
    )
    zones = tuple(
        replace(zone, heat_capacity_j_per_k=zone.heat_capacity_j_per_k * factor)
        for zone in cab.zones
    )
    return replace(cab, surfaces=surfaces, zones=zones)
