"""How often the intervals of a fit hold the truth: a script, for it takes minutes.

    PYTHONPATH=.:tests python tests/bench/fit_coverage.py KIND SEEDS

Each seed is another truck (all parameters of truck and unit drawn from what is unsure about them),
another place, night and sensor offset, logged by a cheap logger: noise of 0.3 K, a row every five
minutes. Kinds: ``heated`` (a heater test, wind and cloud of the station logged), ``bare`` (the same
without), ``windy`` (without, in the windiest tenth of the nights), ``sunny`` (a heater test and
the next day, sun logged), ``both`` (a heater test and a hot night with the unit).
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

COOL = ("denver-co", "duluth-mn", "greensboro-nc", "salem-or")
HOT = ("phoenix-az", "miami-fl", "houston-tx")
SUNNY = Schedule(40.0, 1000.0, ((2.0, 9.0),))
COOLED = Schedule(14.0, cooled_h=((1.0, 13.5),))
NIGHT_SD = {"wind": 0.15, "sky": 3.0, "surroundings": 1.0, "aspect": 0.15, "sunshine": 0.03}
"""What the truck's own place adds to the weather of the station (design assumption)."""


def truths(rng, kind):
    """A truck and a unit as they could be."""
    found = {}
    for parameter in PARAMETERS:
        if parameter.of == NIGHT:
            spread = NIGHT_SD.get(parameter.name, 0.0)
            if parameter.name in ("aspect", "sunshine") and kind != "sunny":
                continue
            if kind in ("bare", "windy") and parameter.name != "surroundings":
                continue
        else:
            spread = parameter.spread(SPEC)
        drawn = spread * np.clip(rng.standard_normal(), -2.5, 2.5)
        found[parameter.name] = float(parameter.value(np.array(drawn)))
    return found


def cool_day(rng, scene, kind):
    """A night below 15 °C on the mean; of the windy ones, if asked."""
    hours = scene.start_h[:, None] + np.arange(14.0)
    wind = scene.forcing.wind_m_per_s[np.floor(hours).astype(int) % scene.forcing.n_hour]
    mean = wind.mean(axis=1)
    good = scene.temp_out_at_c(hours).mean(axis=1) < 15.0
    if kind == "windy":
        good &= mean > np.quantile(mean[good], 0.9)
    good[-3:] = False
    return int(rng.choice(np.flatnonzero(good)))


def hot_day(rng, scene):
    """One of the thirty hottest nights."""
    hours = scene.start_h[:, None] + np.arange(14.0)
    return int(rng.choice(np.argsort(scene.temp_out_at_c(hours).mean(axis=1))[-30:]))


def log_of(rng, scene, day, schedule, truth, kind, folder, seed):
    start_h = float(scene.start_h[day])
    night = simulated_night(scene, start_h, schedule)
    course = true_course(night, as_declared(1, **truth))
    logger = replace(Logger(), offset_k=float(SENSOR_SD_K * rng.standard_normal()))
    readings = read_by(logger, night, course, seed)
    columns = station_columns(scene, start_h, readings)
    if kind in ("bare", "windy"):
        columns = {}
    elif kind != "sunny":
        columns.pop("sun (W/m2)")
    text = log_text(night, readings, scene.start_time[day], header(scene), columns=columns)
    return night_from(folder / f"{seed}.csv", text)


def one(seed, kind, folder):
    """Rows (name, truth, value, low, high, found) of a seed."""
    rng = np.random.default_rng(seed)
    truth = truths(rng, kind)
    scene = scene_at(str(rng.choice(COOL)))
    day = cool_day(rng, scene, kind)
    schedule = SUNNY if kind == "sunny" else HEATED
    nights = [log_of(rng, scene, day, schedule, truth, kind, folder, seed)]
    if kind == "both":
        hot = scene_at(str(rng.choice(HOT)), "16:00")
        own = {name: value for name, value in truth.items() if BY_NAME[name].of != NIGHT}
        nights.append(log_of(rng, hot, hot_day(rng, hot), COOLED, own, kind, folder, seed + 10**6))
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
