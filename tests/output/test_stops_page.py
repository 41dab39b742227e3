"""What the page says of a log of stops."""

import pytest

from restcab.output.console import Page
from restcab.output.stops_page import idling_sentence, reading

LOG = {
    "rows": 5200, "days": 365.0, "rests": 3100, "vehicles": 12, "no_rest": [], "left_out": [],
    "vehicles_without_rest": 0, "read_as_summer": 0, "idle_doubtful": 0,
}  # fmt: skip
BINS = {
    "runs": 40, "start_spread_h": 0.4, "hours_spread_h": 0.3, "fuel_saved_half_change_frac": None,
}  # fmt: skip
IDLING = {
    "asked_h_per_year": 12_000.0, "idled_h_per_year": 9000.0, "logged_h_per_year": 9600.0,
    "logged_beyond_asked_h_per_year": 0.0, "rests_without_record": 0, "whose": "log",
}  # fmt: skip


def read(bins=(), **log):
    page = Page(to_file=True)
    reading(page, {"stops": LOG | log, "binning": BINS | dict(bins)})
    return " ".join(page.done().split())


def test_a_clean_log_says_no_more_than_what_was_read():
    text = read()
    assert (
        "5,200 rows over 365 days; 3,100 rests of 12 vehicles; 0 stops are no rests; 0 rows" in text
    )
    assert "from them (root mean square)." in text
    for word in ("never rest", "autumn", "unknown", "stops.runs"):
        assert word not in text


def test_all_that_was_odd_in_a_log_is_told():
    odd = [{"rows": 3, "words": "end before they begin", "first_line": 17}]
    text = read(
        {"fuel_saved_half_change_frac": 0.012}, left_out=odd, no_rest=odd, vehicles_without_rest=2,
        read_as_summer=4, idle_doubtful=5,
    )  # fmt: skip
    assert "3 rows left out (3 end before they begin (line 17 first))" in text
    assert "3 stops are no rests (3 end before they begin)" in text
    assert "2 vehicles never rest and count as no trucks." in text
    assert "4 stops with a clock time of the hour that autumn repeats" in text
    assert "taken as unknown (5 rests)" in text
    assert "half as many would change the diesel saved by +1.2% (stops.runs)" in text


@pytest.mark.parametrize(
    ("idling", "words", "not_said"),
    [
        ({}, ["a truck idles 800 h a year", "ask for 1,000 h", "75% of"], ["beyond", "record"]),
        ({"logged_beyond_asked_h_per_year": 600.0, "rests_without_record": 7},
         ["50 h go beyond what is asked for", "without a record (7)"], []),
        ({"whose": "set"}, ["750 h of them, after --set options.idle_hours"], ["In the log"]),
        ({"whose": "spec"}, ["it idles 750 h of them, after options.idle_hours"], ["--set"]),
    ],
)  # fmt: skip
def test_whose_idling_it_is(idling, words, not_said):
    text = idling_sentence({"idling": IDLING | idling, "truck_years": 12.0})
    for word in words:
        assert word in text
    for word in not_said:
        assert word not in text
