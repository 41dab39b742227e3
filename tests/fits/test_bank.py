"""The charge of a bank, found from volts and amps where they tell it, and left alone elsewhere."""

from types import SimpleNamespace

import numpy as np
import pytest
from fitting import SPEC, header, scene_at

from restcab.fits.bank import (
    BANK_REASONS,
    CHARGE,
    FULL_AMPS_PER_AH,
    FULL_KNOWN_SD,
    FULL_VOLTS_FRAC,
    BankRun,
    _missing,
    bank_run_of,
    estimate_bank,
)
from restcab.fits.estimate import estimate
from restcab.fits.found import Found
from restcab.fits.logged import night_of, power_of
from restcab.spec.reading import default_spec
from restcab.weather.cab_log import read_cab_log

STEP_S, LOAD_W = 300.0, 420.0
TRUE = {"resistance": 1.2, "knee": 0.9, "amps": 1.005}


def bank_log(path, hours, charge=0.88, start="full", volts=None, seed=0, flip=1.0, spec=SPEC):
    """A log whose bank feeds a load that comes and goes, after an hour at rest."""
    scene = scene_at("phoenix-az")
    rng = np.random.default_rng(seed)
    count, rest = round(hours * 3600.0 / STEP_S), round(3600.0 / STEP_S)
    power = np.where(np.arange(count) % 9 < 6, 1.15 * LOAD_W, 0.7 * LOAD_W)
    power[:rest] = 0.0
    run = BankRun("true", scene, STEP_S, power, power, 25.0, 0.0, 0.0)
    trial = {CHARGE: charge, "missing": 0.0, "temp": 1.0, "volts": 0.03, **TRUE}
    made = run.volts({name: np.array([value]) for name, value in trial.items()})[:, 0]
    read = made + 0.02 * rng.standard_normal(count) if volts is None else np.full(count, volts)
    amps = power / read + 0.1 * rng.standard_normal(count)
    head = header(scene) | ({"soc_start_frac": 1} if start == "full" else {})
    lines = [f"# {key} = {value}" for key, value in head.items() if not key.startswith(" ")]
    lines.append("time,bunk (C),outdoor (C),volts (V),amps (A)")
    begin = np.datetime64("2024-06-20T19:00:00")
    for row in range(count):
        out, bunk = 25.0 + rng.standard_normal() * 0.1, 24.0 + rng.standard_normal() * 0.1
        lines.append(f"{begin + np.timedelta64(int((row + 1) * STEP_S), 's')},{bunk:.2f},{out:.2f},"
                     f"{read[row]:.3f},{flip * amps[row]:.2f}")  # fmt: skip
    path.write_text("\n".join(lines) + "\n")
    log = read_cab_log(path)
    return log, night_of(spec, log)


def fitted(path, hours, **words):
    return estimate_bank([bank_run_of(*bank_log(path, hours, **words))])


DEEP_H = 11.0


def test_a_night_that_empties_the_bank_tells_its_charge(tmp_path):
    found = fitted(tmp_path / "deep.csv", DEEP_H)
    value, low, high = found.interval(CHARGE)
    assert found.is_found(CHARGE)
    assert value == pytest.approx(0.88, rel=0.05)
    assert low < 0.88 < high


def test_a_shallow_night_tells_nothing(tmp_path):
    found = fitted(tmp_path / "shallow.csv", 5.0)
    assert not found.is_found(CHARGE)
    # What was known before lies in the interval of what is not told.
    assert found.left_frac[found.column(CHARGE)] > 0.5


def test_how_full_it_was_must_be_known(tmp_path):
    known = fitted(tmp_path / "known.csv", DEEP_H)
    unknown = fitted(tmp_path / "unknown.csv", DEEP_H, start="unknown")
    column = known.column(CHARGE)
    assert unknown.sd[column] > 1.2 * known.sd[column]


def test_intervals_hold_the_charge(tmp_path):
    rng, held = np.random.default_rng(3), 0
    for seed in range(8):
        true = float(np.exp(0.06 * rng.standard_normal()))
        found = fitted(tmp_path / f"{seed}.csv", DEEP_H, charge=true, seed=seed)
        _, low, high = found.interval(CHARGE)
        held += low <= true <= high
    # Of eight at 0.9 each, fewer than 5 happen once in 200.
    assert held >= 5


def test_which_way_the_shunt_counts_shows_in_the_volts(tmp_path):
    log, _ = bank_log(tmp_path / "a.csv", 6.0)
    turned, _ = bank_log(tmp_path / "b.csv", 6.0, flip=-1.0)
    assert power_of(turned) == pytest.approx(power_of(log))
    assert np.nanmean(power_of(log)) > 0.0


def test_a_bank_in_the_cab_is_as_warm_as_the_bunk(tmp_path):
    spec = default_spec(["bank.mounting=inside"])
    log, logged = bank_log(tmp_path / "inside.csv", 6.0, spec=spec)
    assert bank_run_of(log, logged).temp_c == pytest.approx(np.nanmean(log.columns["bunk"]))


def test_a_bank_of_which_all_is_known_is_not_fitted(tmp_path):
    run = bank_run_of(*bank_log(tmp_path / "deep.csv", DEEP_H))
    assert estimate_bank([]) is None
    sure = SimpleNamespace(charge_sd=0.0)
    assert estimate_bank([sure]) is None
    assert estimate_bank([run]) is not None


def test_volts_that_do_not_move_are_no_reading(tmp_path):
    assert bank_run_of(*bank_log(tmp_path / "still.csv", 6.0, volts=12.6)) == BANK_REASONS[2]


def test_keys_and_rows(tmp_path):
    log, logged = bank_log(tmp_path / "deep.csv", DEEP_H)
    made, bank = estimate([logged.night]), estimate_bank([bank_run_of(log, logged)])
    found = Found(SPEC, made, bank)
    row = found.rows[-1]
    assert row["words"] == "charge of the bank"
    assert row["found"]
    spec = default_spec([f"{key}={value}" for key, value in found.keys().items()
                         if key.startswith(("bank.", "fitted.bank"))])  # fmt: skip
    assert spec.bank.rated_ah == pytest.approx(row["factor"] * SPEC.bank.rated_ah, rel=1e-3)
    assert spec.unsure("bank_capacity_spread_frac") < 0.5 * row["spread_before_frac"] + 1e-6
    assert spec.fitted.bank_age_frac == SPEC.bank.age_frac
    assert spec.bank_age_spread_frac == 0.0
    # A second log of the same bank begins with what the first one left, and no age on top.
    again = bank_run_of(*bank_log(tmp_path / "again.csv", DEEP_H, spec=spec))
    assert again.charge_sd == pytest.approx(spec.fitted.bank_spread_frac)
    nothing = Found(SPEC, made, BANK_REASONS[0])
    assert nothing.rows[-1]["why"] == BANK_REASONS[0]
    assert nothing.keys().get("bank.rated") is None


def test_points_of_the_sheet_follow_the_rating():
    """A unit found weaker and thirstier is so at the further points of its sheet too."""
    from restcab.season.declared_unit import data_point

    point = '[{outdoor="115 degF", capacity="8500 Btu/h", power="1300 W"}]'
    plain = default_spec([f"cooling.points={point}"])
    scaled = default_spec([f"cooling.points={point}", "fitted.points_capacity_scale=0.9",
                           "fitted.points_power_scale=1.1"])  # fmt: skip
    before, after = (data_point(spec, spec.cooling.points[0]) for spec in (plain, scaled))
    assert after.capacity_w == pytest.approx(0.9 * before.capacity_w)
    assert after.power_w == pytest.approx(1.1 * before.power_w)


def volts_of(missing_frac=0.0, **trial):
    """Volts of a bank under a steady load, to near its end."""
    count = round(DEEP_H * 3600.0 / STEP_S)
    power = np.full(count, LOAD_W)
    run = BankRun("true", scene_at("phoenix-az"), STEP_S, power, power, 25.0, missing_frac, 0.0)
    values = {CHARGE: 1.0, "missing": 0.0, "temp": 0.0, "volts": 0.0, "resistance": 1.0,
              "knee": 1.0, "amps": 1.0} | trial  # fmt: skip
    return run.volts({name: np.array([value]) for name, value in values.items()})[:, 0]


def test_what_was_missing_at_first_counts_whoever_says_so():
    known, found, full = volts_of(0.2), volts_of(missing=0.2), volts_of()
    assert known == pytest.approx(found)
    assert np.all(known[1:] < full[1:])


def test_the_fall_near_empty_has_a_knee_that_is_sought():
    early, late = volts_of(0.1, knee=0.8), volts_of(0.1, knee=1.25)
    assert np.ptp(early - late) > 0.02


@pytest.mark.parametrize(
    ("volts_frac", "amps_share", "full"),
    [(1.01, 0.5, True), (1.01, 1.5, False), (0.9, 0.5, False), (1.01, -0.1, False)],
    ids=["held, little taken", "held, still taking", "not at its voltage", "giving"],
)
def test_a_bank_is_full_that_takes_little_at_its_charging_voltage(volts_frac, amps_share, full):
    scene = scene_at("phoenix-az")
    params, bank = scene.bank(1.0, 25.0), scene.spec.bank
    volts = volts_frac * FULL_VOLTS_FRAC * params.chem.absorption_v_cell * float(params.cells)
    amps = amps_share * FULL_AMPS_PER_AH * bank.bank_ah
    log = SimpleNamespace(step_s=STEP_S, columns={"volts": np.full(12, volts)}, extra={})
    missing, sd = _missing(log, scene, np.full(12, -amps * volts), 12)
    assert (missing == 0.0) == full
    assert (sd == FULL_KNOWN_SD) == full
