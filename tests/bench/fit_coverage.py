"""How often the intervals of a fit hold the truth: a script, for it takes minutes.

    PYTHONPATH=.:tests python tests/bench/fit_coverage.py KIND SEEDS

Each seed is another truck (all parameters of truck and unit drawn from what is unsure about them),
another place, night and sensor offset, logged by a cheap logger: noise of 0.3 K, a row every five
minutes. Kinds: ``heated`` (a heater test, wind and cloud of the station logged), ``bare`` (the same
without), ``windy`` (without, in the windiest tenth of the nights), ``sunny`` (a heater test and
the next day, one of the calm and sunny ones that ``fit --plan`` asks for, sun logged, wind read at
the truck), ``twice`` (two of them at two places), ``anyday`` (any cool day, sun logged, wind of the
station), ``both`` (a heater test and a hot night with the unit), ``planned`` (a heater test, and
the unit against a fan heater on a hot afternoon, as ``fit --plan`` asks for, sun logged).
"""

import signal
import sys
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from fitting import HEATED, SPEC, header, night_from, scene_at, station_columns

from restcab.fits.estimate import estimate
from restcab.fits.found import LOSS_OF, Found
from restcab.fits.loss import loss_w_per_k
from restcab.fits.parameters import BY_NAME, NIGHT, PARAMETERS, SENSOR_SD_K, as_declared
from restcab.fits.simulate import Logger, Schedule, log_text, read_by, simulated_night, true_course
from restcab.physics.films import wind_at_height
from restcab.season.surroundings import TERRAIN

COOL = ("denver-co", "duluth-mn", "greensboro-nc", "salem-or")
HOT = ("phoenix-az", "miami-fl", "houston-tx")
SUNNY = Schedule(40.0, 1000.0, ((2.0, 9.0),))
COOLED = Schedule(14.0, cooled_h=((1.0, 13.5),))
AGAINST_HEATER = Schedule(8.0, 1500.0, ((1.0, 8.0),), ((1.0, 8.0),))
NIGHT_SD = {
    "wind": 0.15, "sky": 3.0, "surroundings": 1.0, "aspect": 0.15, "sunshine": 0.03, "shunt": 0.015,
}  # fmt: skip
"""What the truck's own place adds to the weather of the station, and what sensors add (design
assumption)."""
WIND_AT_TRUCK_SD, WIND_SENSOR_M = 0.08, 3.0
SUN_KINDS = ("sunny", "twice", "anyday", "planned")
CALM, SUNNIEST = 0.2, 20
"""Share of the days that is calm, and how many of the sunniest of those are taken."""


def truths(rng, kind):
    """A truck and a unit as they could be."""
    found = {}
    for parameter in PARAMETERS:
        if parameter.of == NIGHT:
            spread = night_sd(parameter.name, kind)
            if spread == 0.0:
                continue
        else:
            spread = parameter.spread(SPEC)
        drawn = spread * np.clip(rng.standard_normal(), -2.5, 2.5)
        found[parameter.name] = float(parameter.value(np.array(drawn)))
    return found


def night_sd(name, kind):
    """Spread of what a night adds; what a kind's logs do not have in them is left alone."""
    if name in ("aspect", "sunshine") and kind not in SUN_KINDS:
        return 0.0
    if kind in ("bare", "windy") and name != "surroundings":
        return 0.0
    if name == "wind" and kind in ("sunny", "twice"):
        return WIND_AT_TRUCK_SD
    return NIGHT_SD.get(name, 0.0)


def another_night(rng, truth, kind):
    """The same truck on a night of its own."""
    own = truths(rng, kind)
    return {name: (truth if BY_NAME[name].of != NIGHT else own)[name] for name in truth}


def cool_day(rng, scene, kind):
    """A night below 15 °C on the mean; of the windy ones, if asked."""
    hours = scene.start_h[:, None] + np.arange(14.0)
    wind = scene.forcing.wind_m_per_s[np.floor(hours).astype(int) % scene.forcing.n_hour]
    mean = wind.mean(axis=1)
    good = scene.temp_out_at_c(hours).mean(axis=1) < 15.0
    if kind == "windy":
        good &= mean > np.quantile(mean[good], 0.9)
    good[-3:] = False
    if kind in ("sunny", "twice"):
        day = scene.start_h[:, None] + np.arange(SUNNY.hours)
        index = np.floor(day).astype(int) % scene.forcing.n_hour
        wind = scene.forcing.wind_m_per_s[index].mean(axis=1)
        sun = scene.weather.values("ghi_w_per_m2")[index].mean(axis=1)
        good &= wind <= np.quantile(wind[good], CALM)
        return int(rng.choice(np.argsort(np.where(good, -sun, 0.0))[:SUNNIEST]))
    return int(rng.choice(np.flatnonzero(good)))


def hot_day(rng, scene):
    """One of the thirty hottest nights."""
    hours = scene.start_h[:, None] + np.arange(14.0)
    return int(rng.choice(np.argsort(scene.temp_out_at_c(hours).mean(axis=1))[-30:]))


def log_of(rng, scene, day, schedule, truth, kind, folder, seed):
    start_h = float(scene.start_h[day])
    night = simulated_night(scene, start_h, schedule)
    course = true_course(night, as_declared(1, **truth | {"shunt": 1.0}))
    logger = replace(
        Logger(), offset_k=float(SENSOR_SD_K * rng.standard_normal()),
        gain_w_frac=truth.get("shunt", 1.0) - 1.0,
    )  # fmt: skip
    readings = read_by(logger, night, course, seed)
    columns, head = station_columns(scene, start_h, readings), header(scene)
    if kind in ("bare", "windy"):
        columns = {}
    elif kind not in SUN_KINDS:
        columns.pop("sun (W/m2)")
    if kind in ("sunny", "twice"):
        columns["wind (m/s)"] = wind_at_height(columns["wind (m/s)"], WIND_SENSOR_M, TERRAIN)
        head["wind_height_m"] = WIND_SENSOR_M
    text = log_text(night, readings, scene.start_time[day], head, columns=columns)
    return night_from(folder / f"{seed}.csv", text)


def one(seed, kind, folder):
    """Rows (name, truth, value, low, high, found) of a seed."""
    rng = np.random.default_rng(seed)
    truth = truths(rng, kind)
    where = str(rng.choice(COOL))
    scene = scene_at(where)
    day = cool_day(rng, scene, kind)
    schedule = SUNNY if kind in SUN_KINDS and kind != "planned" else HEATED
    nights = [log_of(rng, scene, day, schedule, truth, kind, folder, seed)]
    if kind in ("both", "planned"):
        hot = scene_at(str(rng.choice(HOT)), "16:00" if kind == "both" else "12:00")
        with_unit = COOLED if kind == "both" else AGAINST_HEATER
        own = {
            name: value
            for name, value in truth.items()
            if BY_NAME[name].of != NIGHT or name == "shunt"
        }
        nights.append(
            log_of(rng, hot, hot_day(rng, hot), with_unit, own, kind, folder, seed + 10**6)
        )
    if kind == "twice":
        other = scene_at(str(rng.choice([name for name in COOL if name != where])))
        own = another_night(rng, truth, kind)
        day = cool_day(rng, other, kind)
        nights.append(log_of(rng, other, day, schedule, own, kind, folder, seed + 10**6))
    made = estimate(nights)
    found = Found(SPEC, made)
    true = {name: truth[name] for name in LOSS_OF}
    of_true = float(loss_w_per_k(nights[0].network, as_declared(1, **true))[0])
    loss = found.loss
    rows = [("heat_loss", of_true, loss.value, loss.low, loss.high, loss.is_found)]
    rows += [
        (name, truth[name], *made.interval(name), made.is_found(name))
        for name in (p.name for p in PARAMETERS if p.of != NIGHT)
        if made.column(name) is not None
    ]
    white = all(w is None or w.is_white for w in made.white)
    return scene.weather.name, day, nights[0].moments.wind_m_per_s.mean(), white, rows


def main(kind, seeds):
    held: dict[str, list] = {}
    stopped: list[int] = []
    # What is known so far is still told when somebody has no more time.
    signal.signal(signal.SIGTERM, lambda number, _: stopped.append(number))
    with TemporaryDirectory() as folder:
        for seed in seeds:
            if stopped:
                break
            place, day, wind, white, rows = one(seed, kind, Path(folder))
            for name, true, value, low, high, found in rows:
                held.setdefault(name, []).append((low <= true <= high, value / true - 1.0, found,
                                                  np.log(high / low) / 3.29,
                                                  np.log(value / true)))  # fmt: skip
            name, true, value, low, high, _ = rows[0]
            print(f"{seed} {place[:20]} day {day} wind {wind:.1f} white {white} true {true:.1f} "
                  f"found {value:.1f} ({low:.1f} to {high:.1f}) {value / true - 1.0:+.1%}",
                  flush=True)  # fmt: skip
    for name, entries in held.items():
        inside, off, found, sd, log_off = (np.array(column, dtype=float) for column in
                                           zip(*entries, strict=True))  # fmt: skip
        print(f"{name:10s} n {len(inside)} held {inside.mean():.0%} within 5 % "
              f"{(np.abs(off) < 0.05).mean():.0%} within 10 % {(np.abs(off) < 0.10).mean():.0%} "
              f"mean off {off.mean():+.1%} found {found.mean():.0%} of those within 5/10 % "
              f"{(np.abs(off[found > 0]) < 0.05).mean() if found.any() else 0:.0%} "
              f"{(np.abs(off[found > 0]) < 0.1).mean() if found.any() else 0:.0%} "
              f"sd {np.mean(sd):.3f} z {np.sqrt(np.mean((log_off / sd) ** 2)):.2f}")  # fmt: skip


if __name__ == "__main__":
    first, _, last = sys.argv[2].rpartition("-")
    main(sys.argv[1], range(int(first or 0), int(last)))
