"""A log of stops: what is a rest, what is left out and why, and where and when it was."""

import numpy as np
import pandas as pd
import pytest
from invented_stops import BROKEN, TOWNS, write_stops

from restcab.errors import InputError
from restcab.fleet.file import load_fleet
from restcab.fleet.file_tables import StopsTable
from restcab.fleet.stops import read_stops

HEAD = "vehicle,start,end,latitude,longitude,idle hours"
PLACE = "33.4,-112.0"  # near the station of phoenix-az


def read(tmp_path, *rows, head=HEAD, **keys):
    (tmp_path / "log.csv").write_text("\n".join((head, *rows)) + "\n")
    table = StopsTable.model_validate({"file": "log.csv"} | keys)
    return read_stops("fleet.toml: stops", tmp_path, table, [None])


def night(day=1, hour=20, length=10, vehicle="A", place=PLACE, idle=4, month=7):
    begin = pd.Timestamp(2024, month, day, hour)
    end = begin + pd.Timedelta(hours=length)
    return f"{vehicle},{begin:%Y-%m-%d %H:%M}-07:00,{end:%Y-%m-%d %H:%M}-07:00,{place},{idle}"


def left_out(stops):
    return {one.reason: (one.rows, one.line) for one in stops.left_out}


def test_lines_are_those_of_the_file_behind_a_row_that_cannot_be_split(tmp_path):
    swapped = night(5, place="-112.0,33.4")
    stops = read(tmp_path, night(3), night(4) + ",x" * 9, night(6), swapped)
    assert left_out(stops)["swapped"] == (1, 5)
    assert left_out(stops)["cells"][0] == 1
    # Where a cell is quoted a line's end may stand in it: then rows are counted, that one not.
    quoted = night(3).replace("A,", '"A",')
    stops = read(tmp_path, quoted, night(4) + ",x" * 9, night(6), swapped)
    assert left_out(stops)["swapped"] == (1, 4)


def test_a_rest_is_as_it_was(tmp_path):
    stops = read(tmp_path, night(3, 20, 9.5))
    rest = stops.rests.iloc[0]
    assert (stops.climates, stops.vehicles) == (("phoenix-az",), ("A",))
    assert (rest["month"], rest["start_h"], rest["hours"], rest["idle_h"]) == (7, 20.0, 9.5, 4.0)


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        (night(5, place="0,0"), "zero"),
        (night(5, place="-112.0,33.4"), "swapped"),
        (night(5, place="-88.0,41.7"), "swapped"),
        (night(5, place="33.4,112.0"), "sign"),
        (night(5, place=","), "coordinates"),
        (night(5, place="133.4,-12.0"), "coordinates"),
        (night(5, place="33.4,east"), "coordinates"),
        (night(5, place="-33.4,-70.6"), "beyond"),
        (night(5, length=-3), "backwards"),
        (night(5, length=0), "backwards"),
        (night(5) + ",more", "cells"),
        ("A,2024-07-05 20:00-07:00", "time"),
        (night(5, vehicle=""), "vehicle"),
        (night(5).replace("2024-07-05 20:00", "5th of July"), "time"),
        (night(5).replace("2024-07-05", "0001-07-05"), "time"),
        (night(5).replace("2024-07-06", "9999-07-06"), "time"),
        (night(5).replace("2024-07-05", "2042-07-05").replace("2024-07-06", "2042-07-06"), "years"),
        (night(1), "same"),
        (night(2, hour=2), "overlap"),
    ],
)
def test_what_cannot_be_is_left_out_and_counted(tmp_path, row, reason):
    stops = read(tmp_path, night(1), night(3), night(4), row)
    assert left_out(stops) == {reason: (1, 5)}
    assert len(stops.rests) == 3
    assert stops.rows == 4


def test_each_spoiled_row_of_a_log_is_found_and_no_other(tmp_path):
    write_stops(tmp_path / "log.csv", rows=2000, trucks=20, spoiled=4)
    table = StopsTable.model_validate({"file": "log.csv"})
    stops = read_stops("", tmp_path, table, [None])
    found = {
        one.reason: one.rows for one in stops.left_out if one.reason not in ("overlap", "jump")
    }
    assert found == dict.fromkeys(BROKEN, 4)
    # Two copies of a spoiled row cannot both be counted as written twice: all rows add up.
    lost = sum(one.rows for one in stops.left_out)
    none = sum(one.rows for one in stops.no_rest)
    assert len(stops.rests) + lost + none == stops.rows == 2004


def test_a_chain_of_overlaps_loses_every_second_rest(tmp_path):
    chain = [night(1, 20, 10), night(2, 4, 10), night(2, 8, 12), night(2, 18, 9)]
    stops = read(tmp_path, *chain)
    assert left_out(stops) == {"overlap": (2, 3)}
    assert stops.rests["hours"].tolist() == [10.0, 12.0]


def test_vehicles_do_not_overlap_each_other(tmp_path):
    assert len(read(tmp_path, night(1), night(1, vehicle="B")).rests) == 2


def test_a_week_at_the_yard_takes_no_night_away(tmp_path):
    stops = read(tmp_path, night(1, 12, 200), night(3))
    assert len(stops.rests) == 1
    assert {one.reason: one.rows for one in stops.no_rest} == {"long": 1}


@pytest.mark.parametrize(
    ("length", "keys", "rests"),
    [
        (6.9, {}, 0),
        (7.0, {}, 1),
        (6.9, {"shortest": 6}, 1),
        (40.0, {}, 1),
        (40.1, {}, 0),
        (10.0, {"longest": 9}, 0),
        (10.0, {"begins": "18:00-06:00"}, 1),
        (10.0, {"begins": "06:00-18:00"}, 0),
        (10.0, {"begins": "20:00-21:00"}, 1),
    ],
)
def test_length_and_hour_make_a_rest(tmp_path, length, keys, rests):
    """A stop from 20:00 standard time."""
    if rests:
        assert len(read(tmp_path, night(1, 20, length), **keys).rests) == 1
    else:
        with pytest.raises(InputError, match=r"no row is a rest: 1 rows: (shorter|longer|begin)"):
            read(tmp_path, night(1, 20, length), **keys)


ZONED = "vehicle,start,end,latitude,longitude,zone"


@pytest.mark.parametrize(
    ("written", "zone", "start_h"),
    [
        ("2024-07-01 20:00", "America/Phoenix", 20.0),  # no summer time there
        ("2024-07-01 20:00", "America/Chicago", 18.0),  # UTC-5 in summer, the place at UTC-7
        ("2024-01-01 20:00", "America/Chicago", 19.0),  # UTC-6 in winter
        ("2024-07-01 20:00", "EST", 18.0),
        ("2024-07-01 20:00", "ET", 17.0),
        ("2024-07-02 03:00", "UTC", 20.0),
        ("7/1/2024 8:00 PM", "MST", 20.0),
        ("07/01/2024 20:00", "MST", 20.0),
        ("2024-07-01T20:00:00-05:00", "", 18.0),
        ("2024-07-02T03:00:00Z", "", 20.0),
    ],
)
def test_times_of_any_zone(tmp_path, written, zone, start_h):
    begin = pd.Timestamp(written.replace("Z", "").split("-05:00")[0])
    later = (begin + pd.Timedelta(hours=9)).strftime(
        "%m/%d/%Y %I:%M %p" if "M" in written else "%m/%d/%Y %H:%M" if "/" in written
        else "%Y-%m-%dT%H:%M:%S" if "T" in written else "%Y-%m-%d %H:%M"
    )  # fmt: skip
    later += "Z" if written.endswith("Z") else "-05:00" if written.endswith("-05:00") else ""
    stops = read(tmp_path, f"A,{written},{later},{PLACE},{zone}", head=ZONED)
    assert stops.rests["start_h"].tolist() == [start_h]
    assert stops.rests["hours"].tolist() == [9.0]


@pytest.mark.parametrize(
    ("begin", "end"),
    [
        ("2024-07-01 20:00:00-05", "2024-07-02 05:00:00-05"),  # as PostgreSQL writes them
        ("2024-07-01T20:00-5", "2024-07-02T05:00-5:00"),
        ("20240701T2000-0500", "20240702T0500-0500"),
        ("20240702T0100Z", "20240702T10Z"),
        ("2024-07-01T20-05", "2024-07-02 05 -05"),
    ],
)
@pytest.mark.parametrize("other", ["2024-06-01 20:00", "2024-06-01 20:00+00:00"])
def test_an_offset_in_any_spelling_is_an_offset(tmp_path, begin, end, other):
    """Beside times of the other kind, which stand two hours ahead of the place's in the zone."""
    late = other.replace("06-01 20", "06-02 10")
    rows = [f"A,{begin},{end},{PLACE},4", f"A,{other},{late},{PLACE},4"]
    stops = read(tmp_path, *rows, zone="America/Chicago")
    assert stops.rests["start_h"].tolist() == [13.0 if "+" in other else 18.0, 18.0]
    assert stops.rests["hours"].tolist() == [14.0, 9.0]


@pytest.mark.parametrize("at", [0, 1, 3])
@pytest.mark.parametrize("more", [1, 4, 5, 30])
def test_a_row_of_too_many_cells_is_left_out_wherever_it_stands(tmp_path, at, more):
    rows = [night(1), night(3), night(5)]
    rows.insert(at, night(7) + "," * more + "x")
    stops = read(tmp_path, *rows)
    assert stops.rests["hours"].tolist() == [10.0] * 3
    assert sum(one.rows for one in stops.left_out) == 1


@pytest.mark.parametrize("odd", ["2024-07-01T20:00 + 5", "20240701Z", "2024-07-01T20:00-05:00:00"])
def test_an_offset_in_no_known_spelling_is_no_time(tmp_path, odd):
    row = f"A,{odd},2024-07-02 06:00,{PLACE},4"
    stops = read(tmp_path, night(3), night(5), night(7), row, zone="America/Phoenix")
    assert left_out(stops) == {"time": (1, 5)}


@pytest.mark.parametrize(
    ("form", "begin", "end"),
    [
        ("%H:%M %m-%d-%Y", "20:00 07-01-2024", "05:00 07-02-2024"),  # the year is no offset
        ("%m.%d.%Y %H:%M %z", "07.01.2024 20:00 -0500", "07.02.2024 05:00 -0500"),
        ("%m.%d.%Y %H:%M %Z", "07.02.2024 01:00 UTC", "07.02.2024 10:00 UTC"),
    ],
)
def test_a_form_that_is_given_says_whether_there_is_an_offset(tmp_path, form, begin, end):
    stops = read(tmp_path, f"A,{begin},{end},{PLACE},4", zone="America/Chicago", times=form)
    assert stops.rests["start_h"].tolist() == [18.0]
    assert stops.rests["hours"].tolist() == [9.0]


def test_clocks_that_jump(tmp_path):
    """In 2024 clocks of Chicago jumped on 10 March at 2:00 and fell back on 3 November at 2:00."""
    rows = [
        f"A,2024-03-10 02:30,2024-03-10 12:00,{PLACE},",
        f"A,2024-03-09 20:00,2024-03-10 06:00,{PLACE},",
        f"A,2024-11-03 01:30,2024-11-03 10:00,{PLACE},",
    ]
    stops = read(tmp_path, *rows, zone="America/Chicago")
    assert left_out(stops) == {"jump": (1, 2)}
    assert stops.read_as_summer == 1
    assert stops.rests["hours"].tolist() == [9.0, 9.5]


@pytest.mark.parametrize("written", ["0001-07-05 20:00", "9999-07-05 20:00", "1/1/1700 20:00"])
def test_the_time_of_an_unset_clock_is_none(tmp_path, written):
    row = f"A,{written},2024-07-06 06:00,{PLACE},4"
    stops = read(tmp_path, night(1), night(3), night(4), row, zone="America/Phoenix")
    assert left_out(stops) == {"time": (1, 5)}


def test_times_without_a_zone_are_refused(tmp_path):
    with pytest.raises(InputError, match=r"line 2.*has no offset, and no zone is named"):
        read(tmp_path, f"A,2024-07-01 20:00,2024-07-02 06:00,{PLACE},4")


def test_a_zone_that_is_none(tmp_path):
    with pytest.raises(InputError, match="'Mars/Base' is no time zone"):
        read(tmp_path, night(), zone="Mars/Base")


def test_titles_in_other_words_and_units(tmp_path):
    head = "unitNo;stopStart;stopEnd;LAT;Lng;Idling (min)"
    row = night().replace(",", ";").replace(";4", ";90")
    stops = read(tmp_path, row, head=head)
    assert stops.rests["idle_h"].tolist() == [1.5]


def test_titles_mapped_by_hand(tmp_path):
    head = "id,from,to,y,x,motor"
    names = dict(zip(("vehicle", "start", "end", "latitude", "longitude", "idle"),
                     head.split(","), strict=True))  # fmt: skip
    assert read(tmp_path, night(), head=head, columns=names).rests["idle_h"].tolist() == [4.0]


@pytest.mark.parametrize(
    ("head", "message"),
    [
        ("vehicle,start,end,latitude,east,idle", "no title tells the longitude"),
        ("vehicle,truck,start,end,lat,lon", "'vehicle' and 'truck' may both be the vehicle"),
    ],
)
def test_titles_that_do_not_tell(tmp_path, head, message):
    with pytest.raises(InputError, match=message):
        read(tmp_path, night(), head=head)


def test_files_that_are_none(tmp_path):
    table = StopsTable.model_validate({"file": "log.csv"})
    with pytest.raises(InputError, match="there is no such file"):
        read_stops("", tmp_path, table, [None])
    (tmp_path / "log.csv").write_text("")
    with pytest.raises(InputError, match="empty"):
        read_stops("", tmp_path, table, [None])
    (tmp_path / "log.csv").write_text(HEAD + "\n")
    with pytest.raises(InputError, match="no rows"):
        read_stops("", tmp_path, table, [None])


def test_idling_that_cannot_be_is_unknown(tmp_path):
    stops = read(
        tmp_path, night(1, idle=12), night(3, idle=-1), night(5, idle=""), night(7, idle=3)
    )
    assert stops.idle_doubtful == 2
    assert np.isnan(stops.rests["idle_h"]).tolist() == [True, True, True, False]


def test_a_log_of_a_year_is_not_scaled_and_one_of_a_month_is(tmp_path):
    year = read(tmp_path, night(1, month=1), night(28, month=12))
    assert year.per_year == 1.0
    month = read(tmp_path, night(1), night(30))
    assert month.days == 30.0
    assert month.per_year == pytest.approx(365 / 30)


FLEET = """
[stops]
file = "log.csv"
[[trucks]]
spec = "box.toml"
vehicles = ["7*", "81?"]
[[trucks]]
spec = "box.toml"
name = "others"
"""


def test_vehicles_by_pattern(tmp_path):
    (tmp_path / "box.toml").write_text("")
    (tmp_path / "fleet.toml").write_text(FLEET)
    rows = [night(vehicle=name) for name in ("7001", "811", "8111", "9")]
    (tmp_path / "log.csv").write_text("\n".join((HEAD, *rows)))
    fleet = load_fleet(tmp_path / "fleet.toml")
    assert [truck.count for truck in fleet.trucks] == [2.0, 2.0]
    (tmp_path / "fleet.toml").write_text(FLEET + 'vehicles = ["9"]\n')
    with pytest.raises(InputError, match="1 of the 4 vehicles that rest are of no kind"):
        load_fleet(tmp_path / "fleet.toml")


@pytest.mark.parametrize(
    ("more", "message"),
    [
        ("[[lanes]]\nclimates = { phoenix-az = 1.0 }", "lanes stands beside"),
        ('[rests]\nstarts = { "20:00" = 1.0 }', "rests stands beside"),
        ("count = 3", "count: the vehicles of .stops. are counted"),
        ("[fleet]\n[stops2]", "unknown table"),
    ],
)
def test_a_log_says_where_and_when_and_who(tmp_path, more, message):
    (tmp_path / "box.toml").write_text("")
    (tmp_path / "log.csv").write_text("\n".join((HEAD, night())))
    (tmp_path / "fleet.toml").write_text(FLEET + more + "\n")
    with pytest.raises(InputError, match=message):
        load_fleet(tmp_path / "fleet.toml")


def test_towns_are_near_the_climates_they_are_named_after(tmp_path):
    rows = [night(day, place=f"{lat},{lon}") for day, (lat, lon, _) in enumerate(TOWNS.values(), 1)]
    stops = read(tmp_path, *rows)
    assert [stops.climates[i] for i in stops.rests["climate"]] == list(TOWNS)


@pytest.mark.parametrize(
    "change",
    [
        lambda row: row.replace(",", " ,"),
        lambda row: row.replace(",", ", "),
        lambda row: row + " ",
        lambda row: row + "\r",
        lambda row: ",".join(f'"{cell} "' for cell in row.split(",")),
        lambda row: row.replace("A,", "A\N{NO-BREAK SPACE},"),
        lambda row: row.replace(",", "\t,"),
    ],
)
def test_blanks_around_a_cell_mean_nothing(tmp_path, change):
    plain = read(tmp_path, night(1), night(3))
    blank = read(tmp_path, change(night(1)), change(night(3)))
    assert blank.vehicles == plain.vehicles == ("A",)
    pd.testing.assert_frame_equal(blank.rests, plain.rests)


def test_forms_of_times_mixed_in_a_file(tmp_path):
    """Each row is read in its own form; an offset is one only behind a clock."""
    rows = [
        f"A,2024-07-01 20:00,2024-07-02 06:00,{PLACE},MST",
        f"A,07/03/2024 8:00 PM,07/04/2024 6:00 AM,{PLACE},MST",
        f"A,07/05/2024 20:00,07/06/2024 06:00,{PLACE},MST",
        f"A,2024-07-07T20:00-07:00,2024-07-08T06:00-0700,{PLACE},",
        f"A,07-2024,08-2024,{PLACE},MST",
    ]
    stops = read(tmp_path, *rows, head=ZONED)
    assert stops.rests["start_h"].tolist() == [20.0] * 4
    assert stops.rests["hours"].tolist() == [10.0] * 4
    assert left_out(stops) == {"time": (1, 6)}
