"""Water on the inner faces: where the zone air meets a face below its dew point.

What condenses follows the convective film by the analogy of heat and mass transfer, gives its
latent heat to the face, and stays there as a film until warmer or drier air takes it up again.
Rate and saturation are linear in the end temperatures of the step, so the zone's humidity joins
its air and radiant node as a third unknown; only the cases with a wet face are worked that way.

Left out: water taken up by bedding and trim before anything condenses, films that run down, the
heat of freezing on faces below 0 °C, and the curtain, whose cloth is as warm as the air.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from restcab.engine.network import Network
from restcab.engine.state import State
from restcab.engine.zones import WaterBlocks
from restcab.physics.air import H_FG, saturation_humidity_ratio, saturation_humidity_ratio_slope
from restcab.physics.arrays import BoolArray, FloatArray, FloatLike, IntArray
from restcab.physics.compiled import compiled, plain
from restcab.physics.refrigeration.coil import moist_cp_j_per_kgk

LEWIS = 0.865
"""Thermal over vapour diffusivity in air at 20 °C [-]: 2.2e-5 over 2.54e-5 m²/s (from memory)."""
_LEWIS_POWER = LEWIS ** (2.0 / 3.0)


def vapour_kg_per_s(film_w_per_k: FloatLike, humidity_ratio: FloatLike) -> FloatArray:
    """Conductance for vapour [kg/s per kg/kg] beside one for heat [W/K].

    Chilton and Colburn: ``h / (cp Le^⅔)``, as in ASHRAE Handbook—Fundamentals ch. 6 (from memory).
    """
    found: FloatArray = film_w_per_k / (moist_cp_j_per_kgk(humidity_ratio) * _LEWIS_POWER)
    return found


class WetFaces(NamedTuple):
    """Linear exchange of water of the cases that have a wet face.

    Into a face go ``wet_kg_per_s (w - offset - slope_per_k T) + fixed_kg_per_s`` of water, with w
    the humidity ratio of its zone and T the face, both at the end of the step.
    """

    case: IntArray
    """Cases with a wet face, shape (n_wet,); the arrays have shape (n_surface, n_wet)."""
    wet_kg_per_s: FloatArray
    offset: FloatArray
    slope_per_k: FloatArray
    fixed_kg_per_s: FloatArray
    dries: "np.ndarray[tuple[int, int], np.dtype[np.bool_]]"
    """Faces whose last water goes in this step."""

    @property
    def heat_w(self) -> FloatArray:
        """Latent heat per humidity ratio of the zone [W per kg/kg]."""
        return H_FG * self.wet_kg_per_s

    def add_to_faces(self, diag: FloatArray, rhs: FloatArray) -> None:
        """Give the faces their latent heat, but for the part that the zone's humidity decides."""
        diag[:, self.case] += self.heat_w * self.slope_per_k
        rhs[:, self.case] += H_FG * self.fixed_kg_per_s - self.heat_w * self.offset

    def blocks(
        self, zones: FloatArray, diag: FloatArray, rhs: FloatArray, paths: Sequence[FloatArray],
        held: BoolArray | None = None,
    ) -> WaterBlocks:  # fmt: skip
        """What the wet faces add to the balance of the zones, once they are eliminated.

        Parameters
        ----------
        zones
            Incidence of surfaces on zones, shape (n_zone, n_surface).
        diag, rhs
            Balance of the inner faces, shape (n_surface, n_case).
        paths
            Their conductances to the air and to the radiant node of their zone [W/K].
        held
            Where the air is held at a temperature, whatever heat it gets, shape (n_zone, n_case);
            None: nowhere.
        """
        face = diag[:, self.case]
        warms = self.heat_w / face
        dries = self.wet_kg_per_s * self.slope_per_k
        picked = [path[:, self.case] for path in paths]
        to_heat = [-(zones @ (path * warms)) for path in picked]
        if held is not None:
            to_heat[0] = np.where(held[:, self.case], 0.0, to_heat[0])
        source = self.wet_kg_per_s * self.offset - self.fixed_kg_per_s
        return WaterBlocks(
            self.case,
            np.concatenate(to_heat),
            np.concatenate([-(zones @ (dries * path / face)) for path in picked]),
            zones @ (self.wet_kg_per_s - dries * warms),
            zones @ (source + dries * rhs[:, self.case] / face),
        )

    def heat_from_vapour_w(self, humidity_ratio: FloatArray) -> FloatArray:
        """Part of the faces' latent heat that the zone's humidity decides, (n_surface, n_wet).

        ``humidity_ratio`` is that before each face, shape (n_surface, n_case), here and below.
        """
        return self.heat_w * humidity_ratio[:, self.case]

    def rate_kg_per_s(self, state: State, humidity_ratio: FloatArray) -> FloatArray:
        """Water that each face takes up from its zone, from the solved state."""
        face_c = state.nodes_c[-1][:, self.case]
        driving = humidity_ratio[:, self.case] - self.offset - self.slope_per_k * face_c
        return np.asarray(self.wet_kg_per_s * driving + self.fixed_kg_per_s)

    def keep(self, state: State, humidity_ratio: FloatArray, step_s: float) -> FloatArray:
        """Move the water from air to faces or back; returns the rate of every case [kg/s]."""
        rate = self.rate_kg_per_s(state, humidity_ratio)
        left = state.water_kg[:, self.case] + step_s * rate
        state.water_kg[:, self.case] = np.where(self.dries, 0.0, left)
        whole = np.zeros_like(state.water_kg)
        whole[:, self.case] = rate
        return whole


def wet_faces(
    network: Network, state: State, film_w_per_k: FloatArray, pressure_pa: FloatArray,
    step_s: float,
) -> WetFaces | None:  # fmt: skip
    """Find the cases in which a face is wet or about to be.

    Parameters
    ----------
    network, state
        The cab, and its state before the step.
    film_w_per_k
        Convective conductance of the inner faces [W/K], shape (n_surface, n_case).
    pressure_pa
        Air pressure [Pa], shape (n_case,).
    step_s
        Time step [s].

    Notes
    -----
    A face with less water than the step would take up gives all it has at an even rate. Where a
    step takes more than there was, as when the sun strikes a pane, the face owes the difference,
    and the next step gives it back: water and heat balance exactly in either.
    """
    face_c, zone = state.nodes_c[-1], network.zone
    coldest_c = np.stack([face_c[zone == own].min(axis=0, initial=np.inf)
                          for own in range(network.n_zone)])  # fmt: skip
    coldest_c = np.minimum(coldest_c, state.air_c)
    dewy = (state.humidity_ratio > saturation_humidity_ratio(coldest_c, pressure_pa)).any(axis=0)
    case = np.flatnonzero(dewy | state.water_kg.any(axis=0))
    if case.size == 0:
        return None
    shape = (zone.size, case.size)
    found = WetFaces(
        case, np.empty(shape), np.empty(shape), np.empty(shape), np.empty(shape),
        np.empty(shape, dtype=np.bool_),
    )  # fmt: skip
    compiled(exchange_water)(
        case, plain(zone, np.int64), plain(face_c), plain(state.water_kg),
        plain(state.humidity_ratio), plain(film_w_per_k), plain(pressure_pa), float(step_s), found,
    )  # fmt: skip
    return found


def exchange_water(
    case: IntArray, zone: IntArray, face_c: FloatArray, water_kg: FloatArray,
    humidity_ratio: FloatArray, film_w_per_k: FloatArray, pressure_pa: FloatArray, step_s: float,
    into: WetFaces,
) -> None:  # fmt: skip
    """Fill in what :func:`wet_faces` found, face by face and case by case."""
    for s in range(zone.size):
        for place in range(case.size):
            at = case[place]
            face, water, vapour = face_c[s, at], water_kg[s, at], humidity_ratio[zone[s], at]
            saturated, slope = saturation_humidity_ratio_slope(face, pressure_pa[at])
            transfer = vapour_kg_per_s(film_w_per_k[s, at], vapour)
            gain_kg = step_s * transfer * (vapour - saturated)
            dries = water != 0.0 and water + gain_kg <= 0.0
            wet = not dries and (gain_kg > 0.0 or water > 0.0)
            into.wet_kg_per_s[s, place] = transfer if wet else 0.0
            into.offset[s, place] = saturated - slope * face
            into.slope_per_k[s, place] = slope
            into.fixed_kg_per_s[s, place] = -water / step_s if dries else 0.0
            into.dries[s, place] = dries
