"""One night of a log as the engine sees it: the cab, the weather, what ran, what was read."""

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from restcab.engine.forcing import Forcing, Moment, Sampler
from restcab.engine.network import Network
from restcab.engine.order import deepest_first
from restcab.physics.arrays import BoolArray, FloatArray
from restcab.physics.refrigeration.unit_map import UnitMap
from restcab.season.declared_unit import unit_map
from restcab.spec.model import Spec


@dataclass(frozen=True, eq=False)
class Night:
    """One night in even steps; arrays of shape (n_step,), values at the ends of the steps.

    Parameters
    ----------
    name
        What a person calls it, such as the name of its file.
    spec
        The truck as it stood.
    network, forcing
        The engine's view of cab and weather.
    begin_h
        Begin of the first step on the hour axis of the forcing [h].
    step_s
        Length of a step [s].
    temp_out_c
        Outdoor air [°C]: the log's own, finer than the hours of the forcing.
    start_c
        Bunk air when the night begins [°C].
    heater_w
        Heat of a fan heater, mean of the step [W].
    unit_on
        Whether the cooling unit is switched on.
    bunk_c, power_w
        Readings of the bunk air [°C] and of the power drawn from the bank [W]; NaN where there is
        none, or none to be trusted.
    occupants, hotel_w
        People in the bunk, and what the bank feeds besides the unit [W].
    noon_h
        Noon on the hour axis of the forcing [h], of any day.
    sun_shape
        Sun of a step over that between the hours of the forcing [-]: what passes faster than an
        hour; None for 1.
    spreads
        Spread of a parameter of this night in place of its usual one, by name.
    """

    name: str
    spec: Spec
    network: Network
    forcing: Forcing
    begin_h: float
    step_s: float
    temp_out_c: FloatArray
    start_c: float
    heater_w: FloatArray
    unit_on: BoolArray
    bunk_c: FloatArray
    power_w: FloatArray
    occupants: float = 0.0
    hotel_w: float = 0.0
    noon_h: float = 12.0
    sun_shape: FloatArray | None = None
    spreads: dict[str, float] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.temp_out_c)

    @property
    def time_h(self) -> FloatArray:
        """Ends of the steps, hours since the night began."""
        return np.arange(1.0, len(self) + 1.0) * self.step_s / 3600.0

    @cached_property
    def sorted(self) -> tuple[Network, Forcing]:
        """Network and forcing with the surfaces in the order of a run."""
        return deepest_first(self.network, self.forcing)

    @cached_property
    def moments(self) -> Moment:
        """Weather and sun at the ends of the steps, trailing axis (n_step,)."""
        sampled = Sampler(self.sorted[1]).at(self.begin_h + self.time_h)
        shape = 1.0 if self.sun_shape is None else self.sun_shape
        return sampled._replace(
            temp_out_c=self.temp_out_c, absorbed_w=sampled.absorbed_w * shape,
            beam_in_w=sampled.beam_in_w * shape, diffuse_in_w=sampled.diffuse_in_w * shape,
        )  # fmt: skip

    @cached_property
    def unit_map(self) -> UnitMap:
        """Performance of the declared unit at the place's air pressure."""
        return unit_map(self.spec, float(np.mean(self.forcing.pressure_pa)))

    @cached_property
    def after_noon(self) -> FloatArray:
        """Ends of the steps, from -1 (six hours before noon) to 1, shape (n_step,)."""
        hour = (self.begin_h + self.time_h - self.noon_h + 12.0) % 24.0 - 12.0
        return np.clip(hour / 6.0, -1.0, 1.0)

    @property
    def has_sun(self) -> bool:
        """Whether any sun shines on the cab."""
        return bool(self.moments.absorbed_w.sum() + self.moments.diffuse_in_w.sum() > 1.0)

    @property
    def has_unit(self) -> bool:
        """Whether the cooling unit runs at any time."""
        return bool(self.unit_on.any())

    def spread_of(self, name: str, usual: float) -> float:
        """Spread of a parameter in this night."""
        return self.spreads.get(name, usual)
