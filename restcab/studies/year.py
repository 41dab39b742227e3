"""A year of rests, warm and cold: what each takes to keep, and what the declared equipment does.

Three runs of the engine answer for every option at once: the cab left alone, the declared unit on
an endless supply with heat without end, and the warm rests again with whatever cooling it takes.
Rests in which the declared heater falls short are run once more with it. What an option burns is
then arithmetic over these arrays.
"""

from dataclasses import dataclass, replace

import numpy as np

from restcab.engine.heating import HeaterSetup
from restcab.engine.record import RestRun
from restcab.errors import InputError, Problem, WeatherError
from restcab.physics.arrays import BoolArray, FloatArray, IntArray
from restcab.physics.bank import calendar_life_of_year, carry, wear_frac
from restcab.physics.charging import charge_for
from restcab.physics.chemistry import chemistry
from restcab.spec.model import Spec
from restcab.studies.held import ROUNDING_K, excess_k, judged_steps
from restcab.studies.refill import TEMP_BANK_DRIVE_C, charge_current_a
from restcab.studies.scene import Scene, make_scene
from restcab.weather.schema import Weather

_CHARGED_FRAC = 1e-6
"""A bank that took in less than this share of its charge has no efficiency to speak of."""


@dataclass(frozen=True)
class BankYear:
    """The declared bank through a year of rests, full at every start; arrays of shape (n_rest,).

    Parameters
    ----------
    out_wh
        Energy it delivered in each rest [Wh].
    in_wh
        Energy into its terminals that brings the charge back [Wh].
    carried
        Whether it lasted to the end of the rest, and the drive brings back any charge at all.
    depth_frac
        Charge taken out over its full charge [-].
    refilled_frac
        State of charge after one drive [-].
    """

    out_wh: FloatArray
    in_wh: FloatArray
    carried: BoolArray
    depth_frac: FloatArray
    refilled_frac: FloatArray


@dataclass(frozen=True)
class YearOfRests:
    """Every rest of a year; arrays of shape (n_rest,).

    Parameters
    ----------
    start_time
        Local standard time at which each rest begins, `datetime64[s]`.
    rests_per_year
        Rests taken in a year; each one here stands for ``rests_per_year / n_rest`` of them.
    hours
        Length of a rest [h].
    alone_max_c, alone_min_c
        Warmest and coldest bunk air after the pull-down if the cab is left alone [°C].
    cooled, heated
        Rests that grow too warm, or too cold, if the cab is left alone.
    cooling_wh, cooling_peak_w
        Heat to be taken out, sensible and latent [Wh], and its highest rate after the pull-down
        [W], with the setpoint held throughout.
    heating_wh, heating_peak_w
        The same for the heat to be put in at the heater's setpoint.
    hotel_wh
        Electric hotel load [Wh].
    unit_wh
        Electric energy of the declared unit on an endless supply [Wh].
    drain_w
        Electric draw of that unit and the hotel load [W], shape (n_step, n_rest).
    unit_held
        Whether that unit keeps the bunk cool enough.
    heater_wh, heater_electric_wh
        Heat given by the declared heater, and its own draw [Wh].
    heater_min_c, heater_held
        Coldest bunk air after the pull-down with that heater [°C], and whether that is warm enough.
    bank, bank_without_heater
        The declared bank feeding unit, hotel load and heater, and without the heater.
    bank_temp_c
        Temperature of the bank [°C].
    balance_residual_frac
        Largest share of heat that the engine's own balance of a rest misses.
    """

    start_time: "np.ndarray[tuple[int], np.dtype[np.datetime64]]"
    rests_per_year: float
    hours: float
    alone_max_c: FloatArray
    alone_min_c: FloatArray
    cooled: BoolArray
    heated: BoolArray
    cooling_wh: FloatArray
    cooling_peak_w: FloatArray
    heating_wh: FloatArray
    heating_peak_w: FloatArray
    hotel_wh: FloatArray
    unit_wh: FloatArray
    drain_w: FloatArray
    unit_held: BoolArray
    heater_wh: FloatArray
    heater_electric_wh: FloatArray
    heater_min_c: FloatArray
    heater_held: BoolArray
    bank: BankYear
    bank_without_heater: BankYear
    bank_temp_c: FloatArray
    balance_residual_frac: float

    def __len__(self) -> int:
        return int(self.start_time.shape[0])

    @property
    def weight(self) -> float:
        """Rests of a real year that one rest here stands for [-]."""
        return self.rests_per_year / len(self)

    def total(self, per_rest: np.typing.ArrayLike) -> float:
        """Sum over a year of ``rests_per_year`` rests."""
        return float(np.sum(np.asarray(per_rest, dtype=np.float64))) * self.weight


def year_of_rests(spec: Spec, weather: Weather, every: int = 1) -> YearOfRests:
    """Run the rest of every day of a year, cooled and heated.

    Parameters
    ----------
    spec
        The truck; ``rest.season`` is ignored, ``money.rests_per_year`` sets the weight of a rest.
    weather
        Hourly weather of a whole year.
    every
        Run only every n-th day, 1 or more: seven give a year's energies within a few per cent.

    Returns
    -------
    YearOfRests
        Per rest: heat, electricity, what is held.

    Raises
    ------
    WeatherError
        If the weather is shorter than a year.
    InputError
        If the heater is set above the cooling unit.
    """
    _check_setpoints(spec)
    scene = make_scene(spec.with_values("rest", season="all"), weather)
    some = replace(scene, start_h=scene.start_h[::every], start_time=scene.start_time[::every])
    return year_of_scene(some)


def year_of_scene(scene: Scene) -> YearOfRests:
    """Run all rests of a scene whose season is the whole year; see :func:`year_of_rests`."""
    spec, weather = scene.spec, scene.weather
    _check_setpoints(spec)
    if not scene.forcing.cyclic:
        raise WeatherError(
            Problem(weather.name, "is shorter than a year", "weather of a whole year")
        )
    alone = scene.run(None)
    driven = _run(scene, np.arange(len(scene.start_h)))
    ideal_load_w = _ideal_load(scene, driven)
    heater_w, heater_min_c = _declared_heater(scene, driven)

    judged = judged_steps(spec, driven)
    lowest_c = spec.heater.setpoint_c - spec.rest.hold_tolerance_k - ROUNDING_K
    alone_min_c = alone.temp_bunk_c[judged].min(axis=0)
    heat_wh = driven.heat_w.sum(axis=0) * driven.step_h
    heater_draw_w = _heater_draw_w(spec, heater_w, driven.step_h)
    return YearOfRests(
        start_time=scene.start_time,
        rests_per_year=spec.money.rests_per_year_count,
        hours=spec.rest.hours,
        alone_max_c=alone.temp_bunk_c[judged].max(axis=0),
        alone_min_c=alone_min_c,
        cooled=excess_k(spec, alone) > ROUNDING_K,
        heated=alone_min_c < lowest_c,
        cooling_wh=ideal_load_w.sum(axis=0) * driven.step_h,
        cooling_peak_w=ideal_load_w[judged].max(axis=0),
        heating_wh=heat_wh,
        heating_peak_w=driven.heat_w[judged].max(axis=0),
        hotel_wh=np.full(len(scene.start_h), spec.rest.hotel_load_w * spec.rest.hours),
        unit_wh=driven.power_w.sum(axis=0) * driven.step_h,
        drain_w=driven.drain_w,
        unit_held=excess_k(spec, driven) <= ROUNDING_K,
        heater_wh=heater_w.sum(axis=0) * driven.step_h,
        heater_electric_wh=heater_draw_w.sum(axis=0) * driven.step_h,
        heater_min_c=heater_min_c,
        heater_held=heater_min_c >= lowest_c,
        bank=_bank_year(scene, driven, heater_draw_w),
        bank_without_heater=_bank_year(scene, driven, np.zeros_like(driven.drain_w)),
        bank_temp_c=scene.bank_temp_c(driven.temp_out_c),
        balance_residual_frac=float(
            max(alone.balance_residual_frac.max(), driven.balance_residual_frac.max())
        ),
    )


def bank_life_years(year: YearOfRests, bank: BankYear, spec: Spec) -> float:
    """Years until the bank is at the end of its life at this duty.

    Wear adds up over rests of different depths (Palmgren and Miner, from memory); time and warmth
    set a limit of their own.

    Parameters
    ----------
    year, bank
        The rests and what the bank did in them.
    spec
        The truck: chemistry of the bank.
    """
    chem = chemistry(spec.bank.chemistry)
    worn_per_year = year.total(wear_frac(bank.depth_frac, chem))
    calendar = calendar_life_of_year(year.bank_temp_c, chem)
    return min(1.0 / worn_per_year if worn_per_year > 0.0 else np.inf, calendar)


def _check_setpoints(spec: Spec) -> None:
    """Refuse a heater that would work against the cooling unit."""
    if spec.heater.setpoint_c > spec.rest.setpoint_c:
        raise InputError(
            Problem(
                f"{spec.name}: heater.setpoint",
                f"{spec.heater.setpoint_c:.1f} degC is above rest.setpoint, "
                f"{spec.rest.setpoint_c:.1f} degC",
                "a temperature at or below rest.setpoint",
            )
        )


def _run(scene: Scene, rests: IntArray, heater_w: float = np.inf, ideal: bool = False) -> RestRun:
    """Some rests with the declared unit on an endless supply and a heater of some output [W]."""
    unit = scene.ideal if ideal else scene.unit(1.0, len(rests))
    return scene.run(unit, rests, heater=_heater(scene, len(rests), heater_w))


def _heater(scene: Scene, n_rest: int, output_w: float) -> HeaterSetup:
    setpoint = np.full(n_rest, scene.spec.heater.setpoint_c)
    return HeaterSetup(np.full(n_rest, output_w), setpoint)


def _ideal_load(scene: Scene, driven: RestRun) -> FloatArray:
    """Heat to take out with the setpoint held [W]; only rests with a load are run again."""
    load_w = np.zeros_like(driven.load_w)
    warm = np.flatnonzero((driven.load_w > 0.0).any(axis=0) | (excess_k(scene.spec, driven) > 0.0))
    if warm.size:
        load_w[:, warm] = _run(scene, warm, ideal=True).load_w
    return np.maximum(load_w, 0.0)


def _declared_heater(scene: Scene, driven: RestRun) -> tuple[FloatArray, FloatArray]:
    """Heat of the declared heater [W], (n_step, n_rest), and the coldest bunk with it [°C]."""
    output_w = scene.spec.heater.output_w
    judged = judged_steps(scene.spec, driven)
    heat_w = np.array(driven.heat_w)
    lowest_c = driven.temp_bunk_c[judged].min(axis=0)
    short = np.flatnonzero((heat_w > output_w).any(axis=0))
    if short.size:
        weak = _run(scene, short, output_w)
        heat_w[:, short] = weak.heat_w
        lowest_c[short] = weak.temp_bunk_c[judged].min(axis=0)
    return heat_w, lowest_c


def _heater_draw_w(spec: Spec, heat_w: FloatArray, step_h: float) -> FloatArray:
    """Electric draw of the declared heater, its start included [W], shape (n_step, n_rest)."""
    heater = spec.heater
    if heater.output_w <= 0.0:
        return np.zeros_like(heat_w)
    burning = heat_w > 0.0
    # The heater modulates, so it starts once in a rest: the plug's energy goes to that step.
    first = burning & (np.cumsum(burning, axis=0) == 1)
    start_w = heater.start_draw_w * heater.start_time_s / 3600.0 / step_h
    return np.asarray(heater.draw_w * heat_w / heater.output_w + start_w * first)


def _bank_year(scene: Scene, driven: RestRun, heater_draw_w: FloatArray) -> BankYear:
    """Feed the year's loads from the declared bank and bring the charge back on the road."""
    spec = scene.spec
    temp_c = scene.bank_temp_c(driven.temp_out_c)
    rated_ah = np.full(len(temp_c), spec.bank.bank_ah)
    params = scene.bank(rated_ah, temp_c)
    drain_w = (driven.drain_w + heater_draw_w).T
    done = carry(drain_w, driven.step_h * 3600.0, params)
    taken_ah = done.state.charge_out_ah
    charging = scene.bank(rated_ah, TEMP_BANK_DRIVE_C)
    charge = charge_for(done.state, spec.charging.drive_hours, charge_current_a(spec), charging)
    stored_ah = taken_ah - charge.state.charge_out_ah
    # What one drive does not bring back, a later one brings back at the same price.
    share = np.maximum(stored_ah / np.maximum(taken_ah, 1e-9), _CHARGED_FRAC)
    return BankYear(
        out_wh=done.energy_out_wh,
        in_wh=np.where(taken_ah > 0.0, charge.energy_in_wh / share, 0.0),
        carried=done.held & ((stored_ah > 0.0) | (taken_ah <= 0.0)),
        depth_frac=np.asarray(taken_ah / params.full_ah),
        refilled_frac=np.asarray(1.0 - charge.state.charge_out_ah / params.full_ah),
    )
