"""Keys that a spec gives and the model would not use: found here, refused by `Truck.faults`.

A value that is silently ignored is worse than a missing one: whoever wrote it believes in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from restcab.spec.declare import Table, declarations

if TYPE_CHECKING:
    from restcab.spec.surface_table import SurfaceTable
    from restcab.spec.truck import Truck

Fault = tuple[str, str]
"""Key and what is wrong with it."""

_OF_PRESETS = ("skin", "insulation", "insulation_r_value_m2k_per_w", "thermal_bridge_frac",
               "roof_fairing", "mattress_mass_kg", "trim_mass_kg")  # fmt: skip
_OF_GLASS = ("glass", "glass_transmittance", "glass_absorptance", "glass_panes_count",
             "glass_gap_m", "glass_u_value_w_per_m2k")  # fmt: skip
_OF_WINDOWS = (*_OF_GLASS, "cover", "cover_outside")
_OF_SEVERAL_PANES = ("glass_gap_m", "glass_u_value_w_per_m2k")
_OF_OUTER_FACES = ("solar_absorptance", "emittance", "roughness", "h_out_w_per_m2k", "fairing",
                   "engine_side")  # fmt: skip
_OF_INNER_FILMS = ("h_in_convective_w_per_m2k", "h_in_radiative_w_per_m2k",
                   "solar_absorptance_inside")  # fmt: skip
_OF_THE_COMPUTED_OUTER_FILM = ("emittance", "roughness")
_IN_SLEEPERS = ("roof_fairing", "curtain", "mattress_mass_kg", "trim_mass_kg")


def of_glass(table: Truck | SurfaceTable) -> list[Fault]:
    """Find glass that cannot be, in the truck's keys or in a row."""
    found = []
    tau, alpha = table.glass_transmittance, table.glass_absorptance
    if tau is not None and alpha is not None and tau + alpha >= 1.0:
        found.append(
            ("glass_absorptance", f"leaves nothing to reflect beside glass_transmittance = {tau:g}")
        )
    if table.glass_panes_count == 1:
        found += _given(table, _OF_SEVERAL_PANES, "has no effect on a single pane (glass_panes)")
    return found


def beside_a_list(truck: Truck) -> list[Fault]:
    """Find keys of the truck that only a preset uses."""
    found = _given(
        truck, _OF_PRESETS, "has no effect on listed surfaces: write it into their layers and keys"
    )
    if len(truck.zones) == 1:
        found += _given(truck, ("curtain",), "has no effect on a cab of one zone")
    if all(table.part != "glass" for table in truck.surfaces):
        found += _given(
            truck, (*_OF_GLASS, "window_covers"), "has no effect: no listed surface is glass"
        )
    return found


def in_a_day_cab(truck: Truck) -> list[Fault]:
    """Find keys of the truck that only a sleeper uses."""
    return _given(truck, _IN_SLEEPERS, "has no effect on a day cab, which has no sleeper")


def in_a_surface(table: SurfaceTable) -> list[Fault]:
    """Find keys of one listed surface that have no effect, or rival each other."""
    found = _rivals(table)
    if table.part != "glass":
        found += _given(table, _OF_WINDOWS, f"has no effect on part {table.part}, only on glass")
    else:
        found += _given(table, ("solar_absorptance",), "has no effect on glass: glass_absorptance")
        found += _given(table, ("fairing",), "has no effect on glass: use a cover")
        found += of_glass(table)
        if table.cover_outside and table.cover == "none":
            found.append(("cover_outside", "has no effect without a cover"))
    if table.facing not in ("outdoor", "ground"):
        why = f"has no effect on a surface facing {table.facing}"
        found += _given(table, _OF_OUTER_FACES, why)
        if table.part == "glass":
            found.append(("part", f"cannot be glass on a surface facing {table.facing}"))
    if table.facing in ("bunk", "seats"):
        found += _given(table, _OF_INNER_FILMS, "has no effect on a sheet between two zones")
    if table.facing == "ground":
        if table.tilt_deg < 90.0:
            found.append(("tilt", "looks up, but the surface is said to face the ground"))
        found += _given(table, ("fairing",), "has no effect on a surface facing ground")
    if table.h_out_w_per_m2k is not None:
        found += _given(table, _OF_THE_COMPUTED_OUTER_FILM, "has no effect beside h_out")
    return found


def _given(table: Table, attributes: tuple[str, ...], why: str) -> list[Fault]:
    """Pick those that are given, by their keys in the file."""
    declared = declarations(type(table))
    return [
        (declared[name].key if name in declared else name, why)
        for name in attributes
        if name in table.model_fields_set
    ]


def _rivals(table: SurfaceTable) -> list[Fault]:
    given = {declarations(type(table))[name].key for name in table.model_fields_set
             if name in declarations(type(table))}  # fmt: skip
    return [
        (declared.key, f"stands beside {declared.instead_of}: one of the two")
        for declared in declarations(type(table)).values()
        if declared.instead_of and declared.key in given and declared.instead_of in given
    ]
