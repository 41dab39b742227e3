"""The week laid out: every hour once, and within the rules it is named after."""

from itertools import pairwise

import pytest

from restcab.duty.timetable import DRIVE, REST, week
from restcab.spec.charging import DUTIES
from restcab.spec.reading import default_spec

HOUR = 1e-9


def laid_out(*overrides):
    return week(default_spec(overrides))


@pytest.mark.parametrize("duty", DUTIES)
@pytest.mark.parametrize("hours", [7, 10, 14, 34])
@pytest.mark.parametrize("drive", [0, 3, 11, 24])
def test_no_gap_and_no_overlap(duty, hours, drive):
    periods = laid_out(
        f"charging.duty={duty}", f"rest.hours={hours}", f"charging.drive_hours={drive}"
    )
    now_h = 0.0
    for period in periods:
        assert period.start_h == pytest.approx(now_h, abs=HOUR)
        assert period.hours > 0.0
        now_h += period.hours
    assert now_h >= 168.0 - HOUR
    # whole days, so that each week begins at the same time of day
    assert now_h % 24.0 == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("duty", DUTIES)
def test_driving_stays_within_11_hours_between_long_rests(duty):
    # 49 CFR 395.3: 11 h of driving after 10 h off duty, or after a pairing of 395.1(g) (read);
    # a team drives twice that, in turn
    periods = laid_out(f"charging.duty={duty}", "charging.drive_hours=11")
    driven = sum(p.hours for p in periods if p.kind == DRIVE)
    days = (periods[-1].start_h + periods[-1].hours) / 24.0
    assert driven / days <= (22.0 if duty == "team" else 11.0) + HOUR


@pytest.mark.parametrize(
    ("duty", "lengths"),
    [
        ("consecutive", [10.0] * 7),
        ("split-7/3", [7.0, 3.0] * 7),
        ("split-8/2", [8.0, 2.0] * 7),
        ("restart-34", [10.0] * 5 + [34.0]),
        ("team", [2.0] * 14),
    ],
)
def test_rests_are_those_of_the_rule(duty, lengths):
    rests = [p for p in laid_out(f"charging.duty={duty}") if p.kind == REST]
    assert [p.hours for p in rests] == lengths
    if duty != "team":
        assert all(p.start_h % 24.0 == 0.0 for p in rests if p.hours >= 7.0)


def test_split_drive_moves_the_driving():
    early = laid_out("charging.duty=split-7/3", "charging.split_drive=0.25")
    drives = [p.hours for p in early if p.kind == DRIVE]
    assert drives[0] == pytest.approx(2.75)
    assert drives[1] == pytest.approx(8.25)


def test_a_drive_ends_where_the_next_rest_begins():
    periods = laid_out("charging.drive_hours=5")
    for before, after in pairwise(periods):
        if after.kind == REST:
            assert before.kind == DRIVE
            assert before.hours == 5.0
