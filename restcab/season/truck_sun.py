"""Sun absorbed by a parked truck and let into it, from a spec and its weather."""

from dataclasses import replace
from functools import partial

import numpy as np

from restcab.engine.assemble import glazing_of
from restcab.engine.forcing import SolarTable
from restcab.engine.network import Network
from restcab.engine.solar import Incidence, solar_table, sunlit_surfaces
from restcab.physics.arrays import FloatArray
from restcab.physics.glazing import Glazing
from restcab.season.surroundings import site_of, sky_over, sun_around
from restcab.spec.model import Spec
from restcab.spec.surfaces import Cab
from restcab.weather.schema import Weather
from restcab.weather.sun import BeamWeight, incident_truck


def sun_on_truck(spec: Spec, weather: Weather, cab: Cab, network: Network) -> SolarTable:
    """Sun absorbed and let in by a truck parked as the spec says, hour by hour."""
    site, sky = site_of(spec, weather), sky_over(weather)
    surfaces = sunlit_surfaces(cab)
    windows = {s.name: found for s in surfaces if (found := glazing_of(s)) is not None}
    # Most windows are of the same glass, and so are the weights of the beam that meets them.
    glasses = {
        glass: f"glass {index}" for index, glass in enumerate(dict.fromkeys(windows.values()))
    }
    weights: dict[str, BeamWeight] = {}
    for glass, name in glasses.items():
        optics = _Optics(glass)
        weights[f"{name} passed"] = optics.passed
        for pane in range(glass.count):
            weights[f"{name} caught {pane}"] = partial(optics.caught, pane)
    sun = incident_truck(
        weather,
        np.array([s.tilt_deg for s in surfaces]),
        np.array([s.azimuth_deg for s in surfaces]),
        site.heading_deg,
        site.albedo,
        beam_weights=weights,
        sun=sky.sun,
        parts=sky.parts,
        lot=site.lot,
        ground_sun_w_per_m2=sun_around(weather, site),
    )
    lit = site.beam_frac
    n_pane = max((window.count for window in windows.values()), default=1)
    passed = np.zeros_like(sun.beam_w_per_m2.T)
    caught = np.zeros((n_pane, *passed.shape))
    for index, surface in enumerate(surfaces):
        if surface.name in windows:
            glass = windows[surface.name]
            name = glasses[glass]
            passed[index] = sun.beam_weighted_w_per_m2[f"{name} passed"][:, index]
            for pane in range(glass.count):
                weighted = sun.beam_weighted_w_per_m2[f"{name} caught {pane}"]
                caught[pane, index] = weighted[:, index]
    incidence = Incidence(
        beam=lit * sun.beam_w_per_m2.T,
        diffuse=(sun.diffuse_sky_w_per_m2 + sun.ground_w_per_m2).T,
        beam_passed=lit * passed,
        beam_caught=lit * caught,
    )
    table, factor = solar_table(cab, network, incidence), spec.fitted.solar_scale
    return replace(
        table, absorbed_w=factor * table.absorbed_w, beam_in_w=factor * table.beam_in_w,
        diffuse_in_w=factor * table.diffuse_in_w,
    )  # fmt: skip


class _Optics:
    """What one kind of glass does to a beam, worked out once for the same angles."""

    def __init__(self, glass: Glazing) -> None:
        self._glass = glass
        self._asked: FloatArray | None = None
        self._found: tuple[FloatArray, FloatArray]

    def passed(self, cos_incidence: FloatArray) -> FloatArray:
        """Share of the beam that goes through all panes [-]."""
        return self._beam(cos_incidence)[0]

    def caught(self, pane: int, cos_incidence: FloatArray) -> FloatArray:
        """Share that a pane takes up [-]."""
        return np.asarray(self._beam(cos_incidence)[1][pane])

    def _beam(self, cos_incidence: FloatArray) -> tuple[FloatArray, FloatArray]:
        if self._asked is not cos_incidence:
            self._asked, self._found = cos_incidence, self._glass.beam(cos_incidence)
        return self._found
