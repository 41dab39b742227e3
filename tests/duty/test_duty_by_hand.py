"""Each kind of duty worked out by hand: the hours of the week, and a bank's charge through it.

The hours are those of 49 CFR 395.3 and 395.1(g)(1) (read): at least 10 consecutive hours off duty,
or a sleeper-berth pairing of at least 7 h in the berth and 2 h off that add up to 10; then at most
11 h of driving within 14 h; a restart of 34 h; a team that pairs 8 h in the moving berth with 2 h.

The bank: iron phosphate, 4 cells in series, 400 A·h, at 25 °C all week, under 80 W and nothing
else. Its cells rest at 3.33 to 3.40 V while more than 80 % full, 3.34 V on the mean (the open
circuit table), so 80 W take 80 / (4 x 3.34) = 5.99 A, 6 A here: 1.5 % of the charge each hour.
What is charged stays to 99.5 %.
"""

from functools import cache

import numpy as np
import pytest

from restcab.duty.bank_course import BankLoad
from restcab.duty.run import run_duty
from restcab.duty.season_bank import carry_season
from restcab.duty.timetable import DRIVE, REST, STAND, week
from restcab.duty.week import duty_week
from restcab.season.scene import make_scene
from restcab.spec.reading import default_spec
from restcab.weather.design_day import chamber

HOUR = 1e-9
BANK_AH = 400.0
SOC = 0.003
"""The steady 6 A: the resting voltage moves by 1 % of 0.3 of the charge."""
SOC_DEEP = 0.012
"""Where a rest goes down to half of the charge, at 3.29 V: 1.5 % of 0.5, and what follows."""
FULL = 0.999


def in_hand(duty):
    """The truck of the docstring; it stands where its unit is too cold to run."""
    return default_spec(
        (
            f"charging.duty={duty}", "charging.drive_hours=11", "charging.split_drive=0.5",
            "rest.hours=10", "rest.hotel_load=80 W", "rest.occupants=0", "rest.setpoint=77 degF",
            "cooling.outdoor_min=68 degF", "cooling.standby_power=0 W", "heater.output=0 W",
            "bank.chemistry=LFP", "bank.voltage=12.8 V", "bank.system_voltage=12.8 V",
            "bank.batteries=2", "bank.rated=200 Ah", "bank.mounting=inside",
        )
    )  # fmt: skip


# Hours ---------------------------------------------------------------------------------------

ONE_REST_A_DAY = [(REST, 0, 10), (STAND, 10, 3), (DRIVE, 13, 11)]
"""10 h off, then 14 h on duty, of which 11 h of driving; the drive ends where the rest begins."""
BY_HAND = {
    "consecutive": ONE_REST_A_DAY,
    # 24 - 7 - 3 = 14 h of work, half of it on either side of the short rest, half of the driving
    # with it: 7 h, 5.5 h of driving in them, so 1.5 h of standing before.
    "split-7/3": [(REST, 0, 7), (STAND, 7, 1.5), (DRIVE, 8.5, 5.5),
                  (REST, 14, 3), (STAND, 17, 1.5), (DRIVE, 18.5, 5.5)],
    "split-8/2": [(REST, 0, 8), (STAND, 8, 1.5), (DRIVE, 9.5, 5.5),
                  (REST, 15, 2), (STAND, 17, 1.5), (DRIVE, 18.5, 5.5)],
    "restart-34": ONE_REST_A_DAY,
    # Each driver's 8 h in the berth and 2 h off leave 14 h in a day; the truck stops twice for
    # 2 h, so it rolls for (24 - 4) / 2 = 10 h in between, within one driver's 11 h.
    "team": [(REST, 0, 2), (DRIVE, 2, 10), (REST, 12, 2), (DRIVE, 14, 10)],
}  # fmt: skip
RESTART = [(REST, 120, 34), (STAND, 154, 3), (DRIVE, 157, 11)]
"""After five days of 24 h; 34 h, and a last day's work of 14 h, are the two days that are left."""


@pytest.mark.parametrize("duty", BY_HAND)
def test_hours_of_the_week(duty):
    days = 5 if duty == "restart-34" else 7
    expected = [(kind, 24 * day + at, hours)
                for day in range(days) for kind, at, hours in BY_HAND[duty]]  # fmt: skip
    expected += RESTART if duty == "restart-34" else []
    found = week(in_hand(duty))
    assert [kind for kind, _, _ in found] == [kind for kind, _, _ in expected]
    for period, (_, at, hours) in zip(found, expected, strict=True):
        assert period.start_h == pytest.approx(at, abs=HOUR)
        assert period.hours == pytest.approx(hours, abs=HOUR)


# Charge --------------------------------------------------------------------------------------


@cache
def asked_of(duty):
    """The week in a chamber of 15 °C."""
    mild = chamber(name="mild", temp_air_c=15.0, rh_frac=0.5, n_hour=240)
    scene = make_scene(in_hand(duty), mild)
    return scene, duty_week(scene, 1.0, 3)


def bank_through(duty, current_a):
    """The week again and again until it repeats itself, with so many amperes on the road."""
    scene, asked = asked_of(duty)
    return run_duty(scene, asked, BANK_AH, current_a)


def expect(run, starts, ends, tolerance=SOC):
    assert run.periodic.all()
    assert run.carried.all()
    assert run.soc_start_frac[:, 0] == pytest.approx(np.array(starts), abs=tolerance)
    assert run.soc_end_frac[:, 0] == pytest.approx(np.array(ends), abs=tolerance)


@pytest.mark.parametrize("duty", BY_HAND)
def test_energy_asked_in_each_rest(duty):
    """80 W times the hours of the rest, by the truck's own rests."""
    rests_h = {"consecutive": [10] * 7, "split-7/3": [7, 3] * 7, "split-8/2": [8, 2] * 7,
               "restart-34": [10] * 5 + [34], "team": [2] * 14}[duty]  # fmt: skip
    _, asked = asked_of(duty)
    assert asked.energy_wh == pytest.approx(80.0 * np.array(rests_h), rel=1e-9)


def test_each_rest_of_a_season_from_full():
    """10 h take 60 A·h, 15 %, whenever; a bank of a quarter would have to give three fifths."""
    scene, _ = asked_of("consecutive")
    n_rest = len(scene.start_h)
    none, load_w = np.zeros((40, n_rest)), np.full((40, n_rest), 80.0)
    load = BankLoad(load_w, none, none, none, none, np.full(n_rest, 25.0))
    found = carry_season(scene, load, BANK_AH)
    assert found.held.all()
    assert found.soc_used_frac == pytest.approx(np.full(n_rest, 0.15), abs=SOC)
    assert carry_season(scene, load, BANK_AH / 4.0).soc_used_frac == pytest.approx(0.6, abs=0.02)
    assert not carry_season(scene, load, BANK_AH / 8.0).held.any()


def test_one_rest_a_day():
    """10 h take 60 A·h, 15 %. 11 h at 5.6 A bring 11 x 5.6 x 0.995 = 61.3 A·h: full again."""
    run = bank_through("consecutive", 5.6)
    expect(run, [1.0] * 7, [0.85] * 7)


def test_one_rest_a_day_a_little_too_little():
    """11 h at 5.3 A bring 11 x 5.3 x 0.995 = 58.0 A·h of 60, so it never repeats itself.

    After seven weeks 49 x 2 A·h and more are missing, a quarter. There a cell rests at 3.31 V and
    80 W take 80 / (4 x 3.31) = 6.04 A, 60.4 A·h a night: 2.4 A·h less each morning.
    """
    run = bank_through("consecutive", 5.3)
    assert not run.periodic.any()
    starts = run.soc_start_frac[:, 0]
    assert np.diff(starts) == pytest.approx(-2.4 / BANK_AH, abs=0.4 / BANK_AH)
    assert starts[0] == pytest.approx(1.0 - 49 * 2.2 / BANK_AH, abs=49 * 0.4 / BANK_AH)


def test_split_of_7_and_3():
    """7 h take 42 A·h; 5.5 h at 6 A bring 5.5 x 6 x 0.995 = 32.8: 9.2 are missing then.

    The short rest takes 18 more, 27.2 in all, and the second drive's 32.8 fill the bank.
    """
    run = bank_through("split-7/3", 6.0)
    starts = [1.0, 1.0 - 9.2 / BANK_AH]
    ends = [1.0 - 42.0 / BANK_AH, 1.0 - 27.2 / BANK_AH]
    expect(run, starts * 7, ends * 7)


def test_split_of_8_and_2():
    """8 h take 48 A·h, 48 - 32.8 = 15.2 are missing at the short rest, 12 more after its 2 h."""
    run = bank_through("split-8/2", 6.0)
    starts = [1.0, 1.0 - 15.2 / BANK_AH]
    ends = [1.0 - 48.0 / BANK_AH, 1.0 - 27.2 / BANK_AH]
    expect(run, starts * 7, ends * 7)


def test_restart_of_34_hours():
    """34 h take 204 A·h, and one drive brings 11 x 10 x 0.995 = 109.45: 94.55 are missing.

    A usual day takes 60 and brings 109.45: 94.55 + 60 - 109.45 = 45.1 the day after, then none.
    """
    run = bank_through("restart-34", 10.0)
    missing = np.array([94.55, 45.1, 0.0, 0.0, 0.0, 0.0])
    taken = np.array([60.0] * 5 + [204.0])
    starts, ends = 1.0 - missing / BANK_AH, 1.0 - (missing + taken) / BANK_AH
    expect(run, starts, ends, SOC_DEEP)


def test_team():
    """A stop of 2 h takes 12 A·h, 3 %; 10 h at 1.25 A bring 12.5 x 0.995 = 12.4: full again."""
    run = bank_through("team", 1.25)
    expect(run, [1.0] * 14, [0.97] * 14)
    # 9 h at that current would bring 11.2 of 12, and it would sink.
    short = bank_through("team", 1.125)
    assert short.soc_start_frac[0, 0] < FULL
