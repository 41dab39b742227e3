"""``load``: how much heat gets into the bunk in one rest, from where, hour by hour."""

from typing import Any

import numpy as np
import pandas as pd

from restcab.engine.record import LOAD_PARTS, RestRun
from restcab.results.frames import hourly_frame, hourly_means, records
from restcab.results.result import Result
from restcab.spec.model import Spec
from restcab.studies.answer import answer
from restcab.studies.damp import humidity_values, humidity_warnings
from restcab.studies.held import judged_steps
from restcab.studies.levers import levers
from restcab.studies.scene import Scene, make_scene
from restcab.weather.schema import Weather


def ideal_season(scene: Scene) -> RestRun:
    """Every rest of the season with whatever cooling the setpoint takes."""
    return scene.run(scene.unit(1.0, len(scene.start_h), unlimited=True))


def load(spec: Spec, weather: Weather, date: np.datetime64 | None = None) -> Result:
    """Split the heat that reaches the bunk in one rest into its parts.

    Parameters
    ----------
    spec, weather
        The truck, its rest, and the weather.
    date
        Day on which the rest begins; by default the rest of the season with the highest load
        after the pull-down.

    Returns
    -------
    Result
        ``load_peak_w`` (highest load after the pull-down), ``load_energy_wh`` (heat removed over
        the rest), ``humidity_bunk_max_frac`` and ``humidity_above_frac`` (highest relative
        humidity after the pull-down, and share of that time above ``rest.humidity_limit``, with
        the declared unit), ``hours``, ``levers`` (what would lower the load, strongest first, each
        computed by running it); the frame has a row per hour.
    """
    scene = make_scene(spec, weather)
    case = _chosen_rest(scene, date)
    run = scene.run(scene.unit(1.0, 1, unlimited=True), np.array([case]), record=True)
    # How dry the air gets is up to the unit that runs, not to one that has no end.
    declared = scene.run(scene.unit(1.0, 1), np.array([case]))
    frame = hourly_frame(run, 0, scene.start_time[case], spec.rest.hours)
    frame["humidity_bunk_frac"] = hourly_means(
        declared, declared.humidity_bunk_frac[:, 0], spec.rest.hours
    )
    load_wh = float(run.load_w[:, 0].sum() * run.step_h)
    values: dict[str, Any] = {
        "rest_start": pd.Timestamp(scene.start_time[case]).isoformat(),
        "load_peak_w": float(run.load_w[judged_steps(spec, run), 0].max()),
        "load_energy_wh": load_wh,
        "latent_energy_wh": float(run.latent_w[:, 0].sum() * run.step_h),
        **humidity_values(spec, declared),
        "parts_energy_wh": _parts_energy(run),
        "balance_residual_frac": float(run.balance_residual_frac.max()),
        "hours": records(frame),
        "levers": [
            {
                "change": lever.words,
                "saves_wh": lever.saves_wh,
                "saves_frac": lever.saves_wh / load_wh,
            }
            for lever in (levers(spec, weather, case, load_wh) if load_wh > 0.0 else [])
        ],
    }
    warnings = [*scene.season_warnings(), *humidity_warnings(spec, values)]
    return answer("load", spec, weather, values, frame, warnings=warnings)


def _chosen_rest(scene: Scene, date: np.datetime64 | None) -> int:
    """Index of the rest that begins on a day, or of the hardest one."""
    if date is None:
        run = ideal_season(scene)
        judged = judged_steps(scene.spec, run)
        return int(run.load_w[judged].max(axis=0).argmax())
    return scene.rest_on(date)


def _parts_energy(run: RestRun) -> dict[str, float]:
    assert run.parts_w is not None
    total = run.parts_w[:, :, 0].sum(axis=1) * run.step_h
    return {f"{part}_wh": float(value) for part, value in zip(LOAD_PARTS, total, strict=True)}
