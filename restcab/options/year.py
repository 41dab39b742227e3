"""A year of rests, warm and cold: what each takes to keep, and what the declared equipment does.

Three runs of the engine answer for every option at once: the cab left alone, the declared unit on
an endless supply with heat without end, and the warm rests again with whatever cooling it takes.
Rests in which the declared heater falls short are run once more with it. What an option burns is
then arithmetic over these arrays.
"""

from dataclasses import dataclass, replace

import numpy as np

from restcab.duty.bank_course import BankYear, bank_load, bank_years
from restcab.duty.bank_temperature import ageing_per_year
from restcab.engine.record import RestRun, pick_run
from restcab.errors import InputError, Problem, WeatherError
from restcab.physics.arrays import BoolArray, FloatArray, IntArray
from restcab.season.heating import heater_draw_w, heater_of, in_order, with_heater_draw
from restcab.season.held import ROUNDING_K, excess_k, judged_steps
from restcab.season.scene import Scene, make_scene
from restcab.spec.model import Spec
from restcab.weather.schema import Weather


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
    bank_load_w
        What the bank has to give for unit, hotel load and heater, less panel and shore [W], shape
        (n_step, n_rest); negative where it is offered charge.
    bank_temp_c
        Temperature of the bank at the end of each rest [°C].
    bank_ageing_per_year
        Share of its life that it would lose in a year of such days, by time and warmth [1/year].
    balance_residual_frac
        Largest share of heat that the engine's own balance of a rest misses.
    counted_frac
        Share of each rest that `total` counts [-]; None: all of it.
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
    bank_load_w: FloatArray
    bank_temp_c: FloatArray
    bank_ageing_per_year: FloatArray
    balance_residual_frac: float
    counted_frac: FloatArray | None = None

    def __len__(self) -> int:
        return int(self.start_time.shape[0])

    @property
    def weight(self) -> float:
        """Rests of a real year that one rest here stands for [-]."""
        return self.rests_per_year / len(self)

    def total(self, per_rest: np.typing.ArrayLike, part: BoolArray | None = None) -> float:
        """Sum over a year of ``rests_per_year`` rests, all like those of a part, (n_rest,)."""
        values = self.counted(per_rest)
        if part is None:
            return float(np.sum(values)) * self.weight
        return float(np.sum(values[part])) * (self.rests_per_year / int(part.sum()))

    def counted(self, per_rest: np.typing.ArrayLike) -> FloatArray:
        """Values of the rests as far as each is counted, shape (..., n_rest)."""
        values = np.asarray(per_rest, dtype=np.float64)
        return values if self.counted_frac is None else values * self.counted_frac


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
    return year_and_run(scene)[0]


def year_and_run(scene: Scene) -> tuple[YearOfRests, RestRun]:
    """Return the year of a scene, and its rests with the declared unit and heater.

    The run is that of :func:`restcab.season.heating.run_kept`, for whoever asks more of it.
    """
    spec, weather = scene.spec, scene.weather
    _check_setpoints(spec)
    if not scene.forcing.cyclic:
        raise WeatherError(
            Problem(weather.name, "is shorter than a year", "weather of a whole year")
        )
    alone = scene.run(None)
    driven = _run(scene, np.arange(len(scene.start_h)))
    ideal_load_w = _ideal_load(scene, driven)
    kept = _with_declared_heater(scene, driven)
    heater_w = kept.heat_w

    judged = judged_steps(spec, driven)
    lowest_c = spec.heater.setpoint_c - spec.rest.hold_tolerance_k - ROUNDING_K
    heater_min_c = kept.temp_bunk_c[judged].min(axis=0)
    alone_min_c = alone.temp_bunk_c[judged].min(axis=0)
    heat_wh = driven.heat_w.sum(axis=0) * driven.step_h
    draw_w = heater_draw_w(spec, heater_w, driven.step_h)
    load, load_without = (
        bank_load(scene, drain_w, driven.temp_out_c)
        for drain_w in (driven.drain_w + draw_w, driven.drain_w)
    )
    bank, bank_without = bank_years(scene, [load, load_without], [spec.bank.bank_ah] * 2)
    year = YearOfRests(
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
        heater_electric_wh=draw_w.sum(axis=0) * driven.step_h,
        heater_min_c=heater_min_c,
        heater_held=heater_min_c >= lowest_c,
        bank=bank,
        bank_without_heater=bank_without,
        bank_load_w=load.net_w,
        bank_temp_c=load.temp_c,
        bank_ageing_per_year=ageing_per_year(scene, spec.bank.bank_ah),
        balance_residual_frac=float(
            max(alone.balance_residual_frac.max(), driven.balance_residual_frac.max())
        ),
    )
    return year, with_heater_draw(spec, kept)


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
    return scene.run(unit, rests, heater=heater_of(scene.spec, len(rests), heater_w))


def _ideal_load(scene: Scene, driven: RestRun) -> FloatArray:
    """Heat to take out with the setpoint held [W]; only rests with a load are run again."""
    load_w = np.zeros_like(driven.load_w)
    warm = np.flatnonzero((driven.load_w > 0.0).any(axis=0) | (excess_k(scene.spec, driven) > 0.0))
    if warm.size:
        load_w[:, warm] = _run(scene, warm, ideal=True).load_w
    return np.maximum(load_w, 0.0)


def _with_declared_heater(scene: Scene, driven: RestRun) -> RestRun:
    """The same rests with the declared heater; only where it falls short are they run again."""
    output_w = scene.spec.heater.output_w
    is_short = np.asarray((driven.heat_w > output_w).any(axis=0))
    if not is_short.any():
        return driven
    short, enough = np.flatnonzero(is_short), np.flatnonzero(~is_short)
    weak = _run(scene, short, output_w)
    return in_order([(enough, pick_run(driven, ~is_short)), (short, weak)])
