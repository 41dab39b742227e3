"""Sun absorbed by a parked truck and let into it, from a spec and its weather."""

from dataclasses import replace

import numpy as np

from restcab.engine.assemble import glazing_of
from restcab.engine.forcing import SolarTable
from restcab.engine.network import Network
from restcab.engine.solar import Incidence, solar_table, sunlit_surfaces
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
    weights = {}
    for name, window in windows.items():
        weights[f"{name} passed"] = _transmits(window)
        for pane in range(window.count):
            weights[f"{name} caught {pane}"] = _absorbs(window, pane)
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
        name = surface.name
        if name in windows:
            passed[index] = sun.beam_weighted_w_per_m2[f"{name} passed"][:, index]
            for pane in range(windows[name].count):
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


def _transmits(window: Glazing) -> BeamWeight:
    return lambda cos_incidence: window.beam(cos_incidence)[0]


def _absorbs(window: Glazing, pane: int) -> BeamWeight:
    return lambda cos_incidence: window.beam(cos_incidence)[1][pane]
