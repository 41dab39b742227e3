"""A cab in the dark under weather that does not change, one long step after the other."""

import numpy as np

from restcab.engine.cases import Cases
from restcab.engine.forcing import Forcing, Sampler, SolarTable
from restcab.engine.heating import HeaterSetup
from restcab.engine.march import Leg, march, nothing_acts, nothing_fed, room_of
from restcab.engine.network import Network
from restcab.engine.origins import origins_of
from restcab.engine.record import series_of
from restcab.engine.state import Flows, Gains, State
from restcab.engine.step import Stepper
from restcab.physics.air import PRESSURE_SEA_LEVEL_PA
from restcab.physics.arrays import FloatArray, FloatLike
from restcab.physics.compiled import compiled
from restcab.physics.room import in_room, zero_room


class StillCab:
    """Cabs without sun, people or a unit, at sea level in dry air.

    Sky, ground and all around are as warm as the air.

    Parameters
    ----------
    network
        The cab, deepest chains first.
    cases
        How each case differs from it.
    step_s
        Length of a step [s].
    temp_out_c, wind_m_per_s
        Outdoor air [°C], and wind at cab height [m/s].
    start_c
        Temperature of all that is in the cabs at first [°C], shape (n_case,).
    held_c
        Air temperature that both zones are held at [°C], shape (n_case,); None: free.
    heater
        What keeps the bunk warm, if anything.
    """

    def __init__(
        self, network: Network, cases: Cases, step_s: float, temp_out_c: float,
        wind_m_per_s: float, start_c: FloatArray, held_c: FloatArray | None = None,
        heater: HeaterSetup | None = None,
    ) -> None:  # fmt: skip
        n_case = len(cases)
        hour, nothing, sun = np.ones(1), np.zeros(n_case), no_sun(network.n_zone)
        pressure = PRESSURE_SEA_LEVEL_PA * hour
        sampler = Sampler(
            Forcing(
                temp_out_c * hour, 0.0 * hour, pressure, wind_m_per_s * hour, temp_out_c * hour,
                sun, cyclic=False,
            )
        )  # fmt: skip
        self._stepper = Stepper(
            network, cases, sun, np.full(n_case, PRESSURE_SEA_LEVEL_PA), step_s, held_c
        )
        self.state = uniform(network, start_c)
        self._room = room_of(n_case)
        dark = np.zeros((network.n_zone, n_case))
        self._cab = (
            self._stepper.cab, sampler.weather(nothing, np.ones(n_case), nothing),
            sampler.room(n_case), self.state, Gains(dark, dark, dark), nothing,
            nothing_acts(n_case).heated_by(heater), nothing_fed(n_case, n_row=1),
            origins_of(network, self.state, nothing, None), series_of(1, n_case, False, False),
            Leg(np.zeros(1), np.zeros(1), np.zeros(1, dtype=np.int64), 1.0, True, False, 0.0),
            self._room,
        )  # fmt: skip

    def step(self) -> Flows:
        """Take a step; returns what flows across the cabs' boundary at its end."""
        compiled(march)(*self._cab)
        return self._room.flows

    def stored_j(self) -> FloatArray:
        """Heat stored in the cabs relative to 0 °C [J], shape (n_case,)."""
        return self._stepper.stored_j(self.state)


def no_sun(n_zone: int) -> SolarTable:
    """Sun that shines nowhere."""
    nowhere = np.zeros(0, dtype=np.int64)
    dark = np.zeros((n_zone, 1))
    return SolarTable(np.zeros((0, 1)), nowhere, nowhere, np.zeros(0, dtype=np.bool_), dark, dark)


def uniform(network: Network, temp_c: FloatArray, humidity_ratio: FloatLike = 0.0) -> State:
    """Every node of a cab at one temperature [°C] and humidity, shape (n_case,)."""
    n_node, n_surface, _ = network.capacity_j_per_k.shape
    zones = (network.n_zone, temp_c.size)
    return State(
        nodes_c=in_room(np.broadcast_to(temp_c, (n_node, n_surface, temp_c.size))),
        air_c=in_room(np.broadcast_to(temp_c, zones)),
        radiant_c=in_room(np.broadcast_to(temp_c, zones)),
        sheets_c=in_room(np.broadcast_to(temp_c, (len(network.partitions), temp_c.size))),
        humidity_ratio=in_room(np.full(zones, humidity_ratio)),
        water_kg=zero_room((n_surface, temp_c.size)),
    )
