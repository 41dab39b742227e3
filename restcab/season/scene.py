"""A truck under a weather: everything the engine needs, built once from a spec.

The studies differ in the rests they run and in what they read from them; how a spec becomes
networks, suns, units and banks is the same for all of them and lives here.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Any

import numpy as np

from restcab.engine.assemble import build_network
from restcab.engine.cases import Cases, RunOptions, make_cases
from restcab.engine.forcing import Forcing
from restcab.engine.heat_loss import HeatLoss, heat_loss
from restcab.engine.heating import HeaterSetup
from restcab.engine.ideal import IdealSetup
from restcab.engine.lead_in import lead_in_h
from restcab.engine.network import Network
from restcab.engine.plant import UnitScale
from restcab.engine.record import RestRun
from restcab.engine.rests import BankSetup, UnitSetup, run_rests
from restcab.errors import InputError, Problem, WeatherError
from restcab.physics.air import H_FG
from restcab.physics.arrays import FloatArray, FloatLike, IntArray
from restcab.physics.battery.bank import bank_mass_kg
from restcab.physics.battery.bank_heat import film_w_per_m2k, lagged_c, time_constant_h
from restcab.physics.battery.cells import BankParams, bank_params
from restcab.physics.battery.chemistry import chemistry
from restcab.physics.films import wind_at_height
from restcab.physics.lot import Lot
from restcab.physics.refrigeration.unit_map import UnitMap
from restcab.said import clock
from restcab.season.declared_unit import declared_unit, unit_map
from restcab.season.lead_ins import LeadIns
from restcab.season.surroundings import (
    CAB_HEIGHT_M,
    TERRAIN,
    site_of,
    temp_seen_c,
)
from restcab.season.truck_sun import sun_on_truck
from restcab.spec.model import Spec
from restcab.spec.rest import MONTHS
from restcab.spec.surfaces import Cab
from restcab.weather.calendar import HOURS_PER_YEAR
from restcab.weather.hourly import HourlyTable, hourly_table
from restcab.weather.schema import Weather

PERSON_SENSIBLE_W = 48.0
PERSON_LATENT_W = 24.0
"""A sleeping person gives 72 W: 0.7 met over 1.8 m², ASHRAE Handbook—Fundamentals (2021) ch. 9
Table 4 (read); a third of it as vapour (from memory)."""
ENGINE_SOAK_K = 40.0
"""Excess of engine bay and tunnel over the outdoor air at shut-down [K] (design assumption)."""
_OF_CAB_AND_UNIT = ("lead_in_h", "lead_ins", "unit_map")
"""What of a scene neither its bank nor its choice of rests has a part in."""
_KEPT_CABS = 4
"""Cabs that are kept ready."""


@dataclass(frozen=True)
class Scene:
    """A truck, a weather, and the rests of the season.

    Parameters
    ----------
    spec, weather
        What was declared.
    network, forcing
        The engine's view of them.
    start_h
        Start of every rest of the season on the hour axis [h], shape (n_rest,).
    start_time
        The same as local standard time, `datetime64[s]`.
    """

    spec: Spec
    weather: Weather
    network: Network
    forcing: Forcing
    start_h: FloatArray
    start_time: "np.ndarray[tuple[int], np.dtype[np.datetime64]]"

    def cases(
        self, index: Sequence[int] | IntArray | slice = slice(None), **changes: FloatLike
    ) -> Cases:
        """Cases for some rests of the season, as the spec describes them."""
        rest = self.spec.rest
        return make_cases(
            self.start_h[index],
            rest.setpoint_c,
            people_sensible_w=rest.occupants_count * PERSON_SENSIBLE_W,
            people_moisture_kg_per_s=rest.occupants_count * PERSON_LATENT_W / H_FG,
            hotel_w=rest.hotel_load_w,
            soak_k=ENGINE_SOAK_K,
            **changes,
        )

    def options(self, **changes: float | str | bool) -> RunOptions:
        """Run options of the spec's rest."""
        rest = self.spec.rest
        heated = self.spec.heater.arrival == "heated"
        options = RunOptions(
            hours=rest.hours,
            arrival=rest.arrival,
            lead_in_h=self.lead_in_h,
            lead_in_lowest_c=self.spec.heater.setpoint_c if heated else None,
            bunk_fan_m_per_s=rest.bunk_fan_m_per_s,
            people_radiant_frac=rest.people_radiant_frac,
            hotel_radiant_frac=rest.hotel_radiant_frac,
        )
        return replace(options, **changes)  # type: ignore[arg-type]

    @cached_property
    def all_rests(self) -> "Scene":
        """The scene with the rests of every day of its weather, in season or not."""
        spec = self.spec.with_values("rest", season="all")
        starts = season_starts(spec, hourly_table(self.weather))
        return self.knowing(Scene(spec, self.weather, self.network, self.forcing, *starts))

    @cached_property
    def lead_in_h(self) -> float:
        """Time followed before each rest, from the cab's own slowest time constant [h]."""
        return _lead_in_h(self.network, self.spec.rest.arrival == "cooled")

    @cached_property
    def heat_loss(self) -> HeatLoss:
        """What a heater test at night would find."""
        return heat_loss(self.network)

    def rest_on(self, date: np.datetime64) -> int:
        """Index of the rest that begins on a day.

        Raises
        ------
        InputError
            If no rest of the season begins on that day of the year.
        """
        wanted = date.astype("datetime64[D]")
        days = self.start_time.astype("datetime64[D]")
        # A typical year has a nominal year: there month and day decide.
        same = days == wanted
        if not same.any() and self.forcing.cyclic:
            same = (_month(days) == _month(wanted)) & (_day(days) == _day(wanted))
        if not same.any():
            raise InputError(
                Problem(
                    "--date",
                    f"no rest of the season begins on {wanted}",
                    f"a day from {days[0]} to {days[-1]} in the season {self.spec.rest.season}",
                    "For other days: --set rest.season=all.",
                )
            )
        return int(np.flatnonzero(same)[0])

    def temp_out_at_c(self, time_h: FloatLike) -> FloatArray:
        """Outdoor air at times on the hour axis [°C], straight between the hours."""
        table, last = self.forcing.temp_out_c, self.forcing.n_hour - 1
        if self.forcing.cyclic:
            lower = np.floor(time_h).astype(np.int64)
            part, lower, upper = time_h - lower, lower % (last + 1), (lower + 1) % (last + 1)
        else:
            within = np.clip(time_h, 0.0, float(last))
            lower = np.floor(within).astype(np.int64)
            part, upper = within - lower, np.minimum(lower + 1, last)
        return np.asarray(table[lower] + part * (table[upper] - table[lower]))

    def season_warnings(self) -> list[str]:
        """Say that a season nobody chose leaves out the hottest month, as south of the equator."""
        rest = self.spec.rest
        if "rest.season" in self.spec.given or not self.forcing.cyclic:
            return []
        month = _month(self.weather.label_local)
        means = [self.forcing.temp_out_c[month == number].mean() for number in range(len(MONTHS))]
        hottest = int(np.argmax(means))
        if hottest + 1 in rest.months:
            return []
        return [
            f"the hottest month of this weather, {MONTHS[hottest]}, is not in the season "
            f"{rest.season} whose rests are judged (rest.season)"
        ]

    @cached_property
    def lead_ins(self) -> LeadIns:
        """Cabs at the start of their rests; the equipment has no part in it."""
        return LeadIns(self.network, self.forcing, self.options())

    def run(
        self,
        unit: UnitSetup | IdealSetup | None,
        rests: IntArray | slice = slice(None),
        bank: BankSetup | None = None,
        heater: HeaterSetup | None = None,
        **options: float | str | bool,
    ) -> RestRun:
        """Run rests of the season as the spec describes them.

        Parameters
        ----------
        unit, bank, heater
            Equipment for these rests, see :func:`restcab.engine.rests.run_rests`.
        rests
            Which of them, in any order and number; default all.
        options
            Changes to the run options that do not touch the lead-in.
        """
        cases = self.cases(rests)
        # The parts of a load are followed through the lead-in too.
        arrived = None if options.get("record") else self.lead_ins.of(cases)
        return run_rests(
            self.network, self.forcing, cases, self.options(**options), unit, bank, heater,
            arrived=arrived,
        )  # fmt: skip

    @property
    def ideal(self) -> IdealSetup:
        """Cooling without a machine, which defines the heat load."""
        return IdealSetup(self.spec.rest.load_humidity_frac, self.spec.cooling.air_speed_m_per_s)

    @cached_property
    def unit_map(self) -> UnitMap:
        """Performance of the declared unit at the site's air pressure."""
        return unit_map(self.spec, float(np.mean(self.forcing.pressure_pa)))

    def unit(self, scale: FloatLike, n_case: int) -> UnitSetup:
        """The declared unit, made larger or smaller by a factor, for some cases."""
        size = np.array(np.broadcast_to(np.asarray(scale, dtype=float), (n_case,)))
        return declared_unit(self.spec, self.unit_map, UnitScale(size, np.ones(n_case)))

    def bank(
        self, rated_ah: FloatLike, temp_c: FloatLike, age_frac: FloatLike | None = None
    ) -> BankParams:
        """The declared kind of bank at a size and a temperature, of its declared age or another.

        ``age_frac`` is the share of its life used, 0 to 1.
        """
        bank = self.spec.bank
        chem = chemistry(bank.chemistry)
        reserve = 1.0 - chem.usable_depth_frac if bank.reserve_frac is None else bank.reserve_frac
        rated = np.asarray(rated_ah, dtype=float)
        used = bank.age_frac if age_frac is None else age_frac
        # Charge kept for cranking comes on top of the share that must stay.
        reserve = np.minimum(reserve + bank.start_reserve_ah / np.maximum(rated, 1e-9), 0.99)
        return bank_params(
            chem, rated_ah=rated, rated_hours=bank.rated_hours,
            voltage_nominal_v=bank.system_voltage_v, temp_c=temp_c,
            age_frac=np.asarray(used) * end_age_frac(self.spec),
            reserve_frac=reserve, cutoff_v=bank.cutoff_v,
        )  # fmt: skip

    def with_bank_of_age(self, age_frac: float) -> "Scene":
        """Return the scene with a bank of another age: 0 new, 1 at the end of its life."""
        return self.knowing(replace(self, spec=self.spec.with_values("bank", age_frac=age_frac)))

    def knowing(self, other: "Scene") -> "Scene":
        """Give a scene of the same cab, weather and unit what this one knows or learns of them."""
        other.__dict__.update({name: getattr(self, name) for name in _OF_CAB_AND_UNIT})
        return other

    @property
    def sized_for(self) -> "Scene":
        """The scene with a bank of the age that ``bank.size_for`` asks a size for."""
        return self.with_bank_of_age(float(self.spec.bank.size_for != "new"))

    def bank_film_w_per_m2k(self, driving: bool = False) -> float:
        """Heat that the bank's surface passes to the air around it [W/(m²·K)]."""
        bank = self.spec.bank
        usual = film_w_per_m2k(bank.mounting, driving)
        if bank.film_w_per_m2k is None:
            return usual
        return bank.film_w_per_m2k * usual / film_w_per_m2k(bank.mounting, driving=False)

    def bank_mass_kg(self, rated_ah: FloatLike) -> FloatArray:
        """Mass of the declared kind of bank at a size [kg]."""
        return declared_bank_mass_kg(self.spec, rated_ah)

    def bank_temp_c(self, temp_out_c: FloatArray) -> FloatArray:
        """Bank temperature at the end of each rest [°C], shape (n_case,).

        Capacity falls with temperature, and whether a bank lasts is decided at the end.

        Parameters
        ----------
        temp_out_c
            Outdoor air through the rest [°C] in even steps, shape (n_step, n_case).

        Notes
        -----
        A bank outside follows the air over hours, from the air that the drive left it in; one in
        the cab is as warm as the bunk. The time constant is that of the declared bank: it hardly
        changes with size, with the cube root of the mass.
        """
        chem, film = chemistry(self.spec.bank.chemistry), self.bank_film_w_per_m2k()
        if self.spec.bank.mounting == "inside":
            return np.full(temp_out_c.shape[1], self.spec.rest.setpoint_c)
        mass_kg = self.bank_mass_kg(self.spec.bank.bank_ah)
        step_h = self.spec.rest.hours / temp_out_c.shape[0]
        lag_h = time_constant_h(mass_kg, chem, film)
        return np.asarray(lagged_c(temp_out_c, step_h, lag_h)[-1])


@lru_cache(maxsize=_KEPT_CABS)
def network_of(cab: Cab, lot: Lot) -> Network:
    """Network of a cab on a lot, the same for equal ones: a fleet's trucks rest in many climates.

    Parameters
    ----------
    cab
        Zones and surfaces.
    lot
        What stands around.
    """
    return build_network(cab, lot=lot)


@lru_cache(maxsize=_KEPT_CABS)
def _lead_in_h(network: Network, held: bool) -> float:
    """`restcab.engine.lead_in.lead_in_h` of a network, once."""
    return lead_in_h(network, held)


def make_scene(spec: Spec, weather: Weather) -> Scene:
    """Build network, sun and season of a truck.

    Parameters
    ----------
    spec
        A validated spec.
    weather
        Hourly weather, or a chamber.

    Raises
    ------
    WeatherError
        If the weather holds no whole rest of the season.
    """
    network = network_of(spec.cab, site_of(spec, weather).lot)
    table = hourly_table(weather)
    start_h, start_time = season_starts(spec, table)
    if start_h.size == 0:
        raise WeatherError(
            Problem(
                weather.name,
                f"holds no whole rest of {spec.rest.hours:g} h from "
                f"{clock(spec.rest.start_h)} in the season {spec.rest.season}",
                'weather that covers a rest of the season; or rest.season = "all"',
            )
        )
    return Scene(spec, weather, network, forcing_of(spec, weather, network), start_h, start_time)


def end_age_frac(spec: Spec) -> float:
    """Age at which the declared bank is taken out of service [-]: the tables count 1 at 80 %."""
    fade = chemistry(spec.bank.chemistry).capacity_fade_frac
    return (1.0 - spec.bank.end_capacity_frac) / fade


def declared_bank_mass_kg(spec: Spec, rated_ah: FloatLike) -> FloatArray:
    """Mass of the declared kind of bank at a rated charge [kg]."""
    bank = spec.bank
    if bank.mass_kg is not None:
        strings = np.asarray(rated_ah, dtype=float) / bank.rated_ah
        return np.asarray(bank.mass_kg * bank.series_count * strings)
    return bank_mass_kg(rated_ah, chemistry(bank.chemistry), bank.system_voltage_v)


def strings_for(spec: Spec, rated_ah: float) -> int:
    """Strings of the declared battery that reach a rated charge [Ah], at least one."""
    return max(1, math.ceil(rated_ah / spec.bank.rated_ah - 1e-6))


def season_starts(
    spec: Spec, table: HourlyTable
) -> tuple[FloatArray, "np.ndarray[tuple[int], np.dtype[np.datetime64]]"]:
    """Starts of all rests in the season: on the hour axis [h], and as local standard time."""
    labels = table.time_local.astype("datetime64[s]")
    days = np.unique(labels.astype("datetime64[D]"))
    offset = np.timedelta64(round(spec.rest.start_h * 3600.0), "s")
    start = days.astype("datetime64[s]") + offset
    on_axis = (start - labels[0]) / np.timedelta64(3600, "s")
    keep = np.isin(_month(start) + 1, spec.rest.months) & (on_axis >= 0.0)
    if not _is_cyclic(table):
        keep &= on_axis + spec.rest.hours <= len(labels) - 1
    else:
        keep &= on_axis < len(labels)
    return on_axis[keep], start[keep]


def _month(time: Any) -> Any:
    """Month counted from 0."""
    return time.astype("datetime64[M]").astype(int) % 12


def _day(time: Any) -> Any:
    """Days since the first of the month."""
    return (time.astype("datetime64[D]") - time.astype("datetime64[M]")).astype(int)


def _is_cyclic(table: HourlyTable) -> bool:
    """Whether the weather is a whole year, whose end meets its beginning."""
    return len(table) >= HOURS_PER_YEAR


def forcing_of(spec: Spec, weather: Weather, network: Network) -> Forcing:
    """What a weather does to the network of a truck, hour by hour."""
    table = hourly_table(weather)
    cyclic = _is_cyclic(table)
    return Forcing(
        temp_out_c=table.temp_air_c,
        humidity_ratio_out=table.humidity_ratio,
        pressure_pa=table.pressure_pa,
        wind_m_per_s=wind_at_height(table.wind_m_per_s, CAB_HEIGHT_M, TERRAIN),
        temp_sky_c=table.temp_sky_c,
        solar=sun_on_truck(spec, weather, spec.cab, network),
        cyclic=cyclic,
        temp_seen_c=temp_seen_c(weather, site_of(spec, weather), cyclic),
    )
