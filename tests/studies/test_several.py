"""Several years, measured or drawn: a row for each, their span, and the hardest answers."""

import json

import jsonschema
import numpy as np
import pytest
from made_sky import H, made
from support import box_in_july, use_own_cache, warmer

import restcab
from restcab.cli.main import main
from restcab.errors import InputError, RequirementNotMet
from restcab.fleet.file import load_fleet
from restcab.output.schema import schema
from restcab.output.units import Show
from restcab.output.years_lines import years_lines
from restcab.studies.claim import claim
from restcab.studies.regions import regions
from restcab.studies.several import DRAWS_MAX, over_draws, over_years, same_day, span
from restcab.studies.size import size
from restcab.weather.climates import climate_ids, read_climate
from restcab.weather.files import open_weather, open_weathers, open_years
from restcab.weather.synthesis import synthesise

BOX = box_in_july(batteries=4)


@pytest.fixture
def spec(tmp_path):
    (tmp_path / "box.toml").write_text(BOX)
    return restcab.load_spec(tmp_path / "box.toml")


def test_size_over_years_is_of_the_hardest(spec):
    years = [warmer(2019, 0.0), warmer(2021, 6.0), warmer(2022, -3.0)]
    result = over_years(lambda w: size(spec, w, 0.0), years)
    several = result["weather_years"]
    assert [row["year"] for row in several["rows"]] == ["2019", "2021", "2022"]
    assert several["answer"] == "2021"
    alone = size(spec, years[1], 0.0)
    assert result.weather_hash != alone.weather_hash
    assert result["bank_batteries"] == alone["bank_batteries"]
    held = [row["given_rests_held_frac"] for row in several["rows"]]
    assert several["span"]["given_rests_held_frac"] == {"low": min(held), "high": max(held)}
    capacity = [row["cooling_capacity_required_w"] for row in several["rows"]]
    assert capacity[2] < capacity[0] < capacity[1]
    line = years_lines(result.values, Show("us"))[0]
    assert line.startswith("Over 3 years (2019, 2021, 2022): ")
    assert "all else here is of 2021" in line
    ends = (f"{Show('us').heat_rate(capacity[i])} ({year})" for i, year in ((2, 2022), (1, 2021)))
    assert f"unit of the smallest pair: {' to '.join(ends)}; " in line


def test_one_year_is_the_study_itself(spec):
    weather = warmer(2019, 0.0)
    result = over_years(lambda w: size(spec, w, 0.0), [weather])
    assert result.values.keys() == size(spec, weather, 0.0).values.keys()
    assert years_lines(result.values, Show("us")) == []


def test_claim_over_years_is_of_the_year_with_the_least_odds(spec):
    day = np.datetime64("2019-07-15")
    years = [warmer(2019, -8.0), warmer(2021, 4.0)]
    result = over_years(lambda w: claim(spec, w, 3.0, same_day(day, w), 64, advise=False), years)
    rows = result["weather_years"]["rows"]
    assert rows[0]["temp_out_max_c"] == pytest.approx(rows[1]["temp_out_max_c"] - 12.0)
    assert rows[0]["probability_frac"] >= rows[1]["probability_frac"]
    assert result["weather_years"]["answer"] == "2021"


def test_the_year_that_no_unit_holds_is_named(spec):
    def study(weather):
        if weather.name == "lot 2021":
            raise RequirementNotMet("no unit holds")
        return size(spec, weather, 0.0)

    with pytest.raises(RequirementNotMet, match="2021: no unit holds"):
        over_years(study, [warmer(2019, 0.0), warmer(2021, 0.0)])


def test_draws_are_the_drawn_years_and_the_first_answers(spec):
    facts = read_climate("phoenix-az")
    result = over_draws(lambda w: size(spec, w, 0.0), "phoenix-az", 2)
    rows = result["draws"]["rows"]
    for row in rows:
        alone = size(spec, synthesise(facts, row["draw"]), 0.0)
        assert row["bank_batteries"] == alone["bank_batteries"]
        assert row["cooling_capacity_required_w"] == alone["cooling_capacity_required_w"]
    assert rows[0]["cooling_capacity_required_w"] != rows[1]["cooling_capacity_required_w"]
    assert result["cooling_capacity_required_w"] == rows[0]["cooling_capacity_required_w"]
    assert "Over 2 drawn years" in years_lines(result.values, Show("si"))[0]


def test_draws_of_regions(spec, tmp_path, monkeypatch):
    use_own_cache(monkeypatch, tmp_path / "cache")
    fleet = load_fleet(tmp_path / "box.toml", (), ["phoenix-az"])
    plain = regions(fleet, jobs=1)
    result = regions(fleet, jobs=1, draws=2)
    assert "draws" not in plain.values
    for key in ("totals", "regions", "months"):
        assert result[key] == plain[key]
    rows = result["draws"]["rows"]
    assert rows[0]["saving_usd_per_year"] == plain["totals"]["saving_usd_per_year"]
    assert rows[1]["saving_usd_per_year"] != rows[0]["saving_usd_per_year"]
    assert result["draws"]["span"]["saving_usd_per_year"]["low"] == min(
        row["saving_usd_per_year"] for row in rows
    )


@pytest.mark.parametrize(("climate", "draws"), [("phoenix-az", 0), ("phoenix-az", DRAWS_MAX + 1),
                                                ("miami", 2), ("las-vegas-nv", 2)])  # fmt: skip
def test_draws_out_of_range_or_of_no_climate(climate, draws):
    with pytest.raises(InputError, match="--draws"):
        over_draws(lambda _: None, climate, draws)


def test_draws_on_the_command_line_need_a_climate(tmp_path, capsys):
    (tmp_path / "box.toml").write_text(BOX)
    assert main(["size", str(tmp_path / "box.toml"), "--draws", "2"]) == 2
    assert "no built-in climate" in capsys.readouterr().err


def test_span_of_a_figure_that_one_year_lacks():
    rows = [{"year": "1", "batteries": 4}, {"year": "2", "batteries": None}]
    assert span(rows) == {"batteries": {"low": 4, "high": None}}


def check(document, name):
    """What of an answer its schema refuses."""
    validator = jsonschema.Draft202012Validator(schema(name))
    return [error.message[:200] for error in validator.iter_errors(document)]


def check_years(answer, name, key="weather_years"):
    """The rows and spans of a real answer are of the form, and nothing else is."""
    assert check(answer, name) == []
    years = answer["result"][key]
    for part in (years, years["rows"][1], years["span"], years["span"][next(iter(years["span"]))]):
        part["more"] = 1
        assert len(check(answer, name)) == 1
        del part["more"]
    row = years["rows"][0]
    for lacking in list(row):
        value = row.pop(lacking)
        assert len(check(answer, name)) == 1, lacking
        row[lacking] = value


def said_of(key, rows, **more):
    """What a page says of rows, clause by clause."""
    v = {key: {"rows": rows, "answer": rows[0].get("year", 0), "span": {}}} | more
    (line,) = years_lines(v, Show("us"))
    return line.rstrip(".").split("; ")


SIZE_ROW = {
    "cooling_capacity_required_w": 1000.0, "bank_batteries": 4, "bank_rated_required_ah": 300.0,
    "probability_frac": 0.95, "season_probability_frac": 0.97, "given_probability_frac": 0.4,
    "given_season_probability_frac": 0.6, "given_rests_held_frac": 0.9,
    "given_bank_batteries_required": 6,
}  # fmt: skip


def test_the_line_of_size_says_whose_odds_of_what_and_which_year():
    rows = [
        SIZE_ROW | {"year": "2019"},
        SIZE_ROW | {
            "year": "2020", "bank_batteries": 6, "given_bank_batteries_required": None,
            "given_season_probability_frac": 0.21, "given_probability_frac": 0.1,
            "cooling_capacity_required_w": 2000.0, "given_rests_held_frac": 0.5,
        },
        SIZE_ROW | {"year": "2021", "given_season_probability_frac": 0.83},
    ]  # fmt: skip
    assert said_of("weather_years", rows) == [
        "Over 3 years (2019, 2020, 2021): batteries of the smallest pair: 4 in 2019 and 2021, 6 in "
        "2020",
        "batteries that the declared unit needs: 6 in 2019 and 2021, none is enough in 2020",
        "unit of the smallest pair: 3,412 Btu/h (2019) to 6,824 Btu/h (2020)",
        "odds that the declared pair holds the share of the season's rests asked for: 21% (2020) "
        "to 83% (2021)",
        "odds that the declared pair holds its deciding rest: 10% (2020) to 40% (2019)",
        "odds that the smallest pair holds its deciding rest: 95% in each",
        "rests that the declared pair holds, exactly as declared: 50% (2020) to 90% (2019)",
        "all else here is of 2019",
    ]


def test_many_drawn_years_are_counted_not_listed():
    rows = [SIZE_ROW | {"draw": n, "bank_batteries": 4 if n < 9 else 5} for n in range(11)]
    said = said_of("draws", rows)
    assert said[0] == (
        "Over 11 drawn years (draw 0 to draw 10): batteries of the smallest pair: 4 in 9 of them, "
        "5 in draw 9 and draw 10"
    )
    assert said[-1] == "all else here is of draw 0"


def test_the_line_of_claim_says_the_odds_and_the_verdict_of_each_year():
    rows = [
        {"year": year, "verdict": verdict, "probability_frac": odds, "runtime_as_declared_h": hours,
         "temp_out_max_c": 30.0}
        for year, verdict, odds, hours in (("2019", "holds", 0.97, 11.0),
                                           ("2021", "falls short", 0.12, 6.5))
    ]  # fmt: skip
    assert said_of("weather_years", rows, hours=10.0) == [
        "Over 2 years (2019, 2021): odds that the truck as judged holds the 10 h claimed: 12% "
        "(2021) to 97% (2019)",
        "verdict: falls short in 2021, holds in 2019",
        "runtime of the truck exactly as declared: 6.5 h (2021) to 11.0 h (2019)",
        "highest temperature outdoors: 86.0 °F in each",
        "all else here is of 2019",
    ]


COMPARE_ROW = {
    "judged": "battery+heater", "best": "battery+heater", "held_frac": 0.9,
    "cooled_held_frac": 0.8, "heated_held_frac": 1.0, "fuel_saved_gal_per_year": 400.0,
    "present_saved_usd": -1200.0,
}  # fmt: skip


def test_the_line_of_compare_names_the_option_and_what_it_holds():
    other = {"year": "2021", "held_frac": 0.95, "cooled_held_frac": 0.85, "best": "apu",
             "fuel_saved_gal_per_year": 350.0, "present_saved_usd": 300.0}  # fmt: skip
    rows = [COMPARE_ROW | {"year": "2019"}, COMPARE_ROW | other]
    assert said_of("weather_years", rows, judged="battery+heater", years=5.0) == [
        "Over 2 years (2019, 2021): rests that battery+heater holds: 90% (2019) to 95% (2021)",
        "of those that need cooling: 80% (2019) to 85% (2021)",
        "of those that need heating: 100% in each",
        "diesel that battery+heater saves a year: 350 gal (2021) to 400 gal (2019)",
        "what it saves in 5 years, its price paid: -1,200 USD (2019) to 300 USD (2021)",
        "best option: apu in 2021, battery+heater in 2019",
        "all else here is of 2019",
    ]
    rows[1]["judged"] = "apu"
    said = said_of("weather_years", rows, judged="battery+heater", years=5.0)
    assert "option judged: apu in 2021, battery+heater in 2019" in said[0]
    assert said[1] == "rests that the option judged holds: 90% (2019) to 95% (2021)"


def test_the_line_of_regions_counts_where_most_are_needed():
    one = {"draw": 0, "bank_batteries": 4, "rests_held_frac": 0.9, "fuel_saved_gal_per_year": 10.0,
           "saving_usd_per_year": 20.0, "saving_after_purchase_usd_per_year": -5.0,
           "regions": []}  # fmt: skip
    rows = [one, one | {"draw": 1, "bank_batteries": None, "saving_usd_per_year": 30.0}]
    assert said_of("draws", rows, option="battery") == [
        "Over 2 drawn years (draw 0, draw 1): batteries where most are needed: 4 in draw 0, none "
        "is enough in draw 1",
        "rests that battery holds: 90% in each",
        "diesel that battery saves a year: 10 gal in each",
        "running cost that it saves a year: 20 USD (draw 0) to 30 USD (draw 1)",
        "the same with its price: -5 USD in each",
        "all else here is of draw 0",
    ]


HEAD = "# latitude_deg = 36.1\n# longitude_deg = -79.95\n# elevation_m = 273\n# utc_offset_h = -5\n"


@pytest.fixture
def folder(tmp_path):
    """Logs of eight days in July of two years, the second one warmer."""
    years = tmp_path / "years"
    years.mkdir()
    for year, warmer_k in ((2020, 0.0), (2021, 6.0)):
        start = np.datetime64(f"{year}-07-10T00", "h") + np.arange(192)
        temp, _, wind, ghi, *_ = made(start + 5 * H, 0.5)
        rows = [
            f"{str(at + H).replace('T', ' ')}:00,{temp[k] + warmer_k:.2f},12,{wind[k]:.2f},"
            f"{ghi[k]:.1f}"
            for k, at in enumerate(start)
        ]
        text = HEAD + "time,temp_air_c,temp_dew_c,wind_m_per_s,ghi_w_per_m2\n" + "\n".join(rows)
        (years / f"lot-{year}.csv").write_text(text + "\n")
    return years


def test_a_folder_is_all_its_years(folder):
    assert [str(w.label_local[0])[:4] for w in open_weathers(folder)] == ["2020", "2021"]
    assert len(open_weathers(folder / "lot-2020.csv")) == 1
    assert len(restcab.open_years(folder)) == len(open_years(folder)) == 2
    assert len(open_weathers("miami")) == len(open_weathers(None)) == 1
    assert "phoenix-az" in climate_ids()


def test_a_folder_on_the_command_line(folder, tmp_path, capsys):
    (tmp_path / "box.toml").write_text(BOX)
    words = ["size", str(tmp_path / "box.toml"), "--weather", str(folder), "--confidence", "0"]
    assert main([*words, "--json"]) in (0, 3)
    answer = json.loads(capsys.readouterr().out)
    values = answer["result"]
    check_years(answer, "size")
    assert [row["year"] for row in values["weather_years"]["rows"]] == ["2020", "2021"]
    assert values["weather_years"]["answer"] == "2021"
    assert main(words) in (0, 3)
    assert "Over 2 years (2020, 2021)" in capsys.readouterr().out


def test_a_claim_of_a_day_of_each_year(folder, tmp_path, capsys):
    """Logs of some days have no end that meets the beginning: the day is named in each year."""
    (tmp_path / "box.toml").write_text(BOX)
    words = ["claim", str(tmp_path / "box.toml"), "--weather", str(folder), "--date", "2020-07-12"]
    assert main([*words, "--samples", "64", "--json"]) in (0, 3)
    answer = json.loads(capsys.readouterr().out)
    values = answer["result"]
    check_years(answer, "claim")
    cool, warm = values["weather_years"]["rows"]
    assert warm["temp_out_max_c"] == pytest.approx(cool["temp_out_max_c"] + 6.0, abs=0.1)
    assert values["rest_start"].startswith("2021-07-12")


@pytest.mark.parametrize(
    ("day", "found"), [("2020-02-29", "2019-02-28"), ("2020-07-04", "2019-07-04")]
)
def test_the_same_day_of_another_year(day, found):
    assert str(same_day(np.datetime64(day), warmer(2019, 0.0))) == found


@pytest.fixture
def years_of_hours(tmp_path):
    """Files of two whole years, the second one warmer."""
    folder = tmp_path / "whole"
    folder.mkdir()
    base = open_weather("greensboro")
    columns = ("temp_air_c", "temp_dew_c", "wind_m_per_s", "ghi_w_per_m2")
    values = {name: base.values(name) for name in columns}
    for year, warmer_k in (("2018", 0.0), ("2019", 5.0)):
        start = np.datetime64(f"{year}-01-01T00:00", "m")
        lines = [
            f"{str(start + (k + 1) * 60).replace('T', ' ')},{temp + warmer_k:.2f},{dew:.2f},"
            f"{wind:.2f},{ghi:.1f}"
            for k, (temp, dew, wind, ghi) in enumerate(zip(*values.values(), strict=True))
        ]
        text = HEAD + ",".join(("time", *columns)) + "\n" + "\n".join(lines) + "\n"
        (folder / f"year-{year}.csv").write_text(text)
    return folder


def run(capsys, *words):
    code = main([str(word) for word in words])
    captured = capsys.readouterr()
    assert code in (0, 3), captured.err
    return code, captured.out


def test_compare_over_years_on_the_command_line(years_of_hours, tmp_path, capsys):
    """The rows are those of each year alone, and the answer and the exit code of the hardest."""
    (tmp_path / "box.toml").write_text(BOX + '[options]\ncompare = "idling, battery+heater"\n')
    words = ("compare", tmp_path / "box.toml", "--weather")
    code, out = run(capsys, *words, years_of_hours, "--json")
    values = json.loads(out)["result"]
    check_years(json.loads(out), "compare")
    rows = values["weather_years"]["rows"]
    alone = []
    for row, year in zip(rows, ("2018", "2019"), strict=True):
        code_alone, out_alone = run(capsys, *words, years_of_hours / f"year-{year}.csv", "--json")
        answer = json.loads(out_alone)["result"]
        judged = next(one for one in answer["options"] if one["option"] == answer["judged"])
        first = next(one for one in answer["options"] if one["option"] == answer["baseline"])
        assert row["year"] == year
        assert row["held_frac"] == judged["held_frac"]
        assert row["present_saved_usd"] == pytest.approx(
            first["net_present_cost_usd"] - judged["net_present_cost_usd"]
        )
        alone.append((code_alone, answer))
    assert rows[0]["fuel_saved_gal_per_year"] != rows[1]["fuel_saved_gal_per_year"]
    hardest = min(range(2), key=lambda i: (rows[i]["held_frac"], rows[i]["present_saved_usd"]))
    assert values["weather_years"]["answer"] == rows[hardest]["year"]
    assert (code, values["options"]) == (alone[hardest][0], alone[hardest][1]["options"])
    saved = values["weather_years"]["span"]["present_saved_usd"]
    assert saved["low"] == min(row["present_saved_usd"] for row in rows)
    code_of_page, page = run(capsys, *words, years_of_hours)
    assert code_of_page == code
    flat = " ".join(page.split())
    assert "Over 2 years (2018, 2019): rests that battery+heater holds: " in flat
    assert f"all else here is of {rows[hardest]['year']}." in flat


def test_draws_of_regions_on_the_command_line(tmp_path, monkeypatch, capsys):
    use_own_cache(monkeypatch, tmp_path / "cache")
    (tmp_path / "box.toml").write_text(BOX)
    words = ("regions", tmp_path / "box.toml", "--climates", "phoenix-az", "--jobs", "1")
    code, out = run(capsys, *words, "--draws", "2", "--json", "--csv", tmp_path / "rows.csv")
    check_years(json.loads(out), "regions", "draws")
    values = json.loads(out)["result"]
    rows = values["draws"]["rows"]
    assert [row["draw"] for row in rows] == [0, 1]
    assert rows[0]["rests_held_frac"] == values["totals"]["rests_held_frac"]
    assert rows[0]["saving_usd_per_year"] != rows[1]["saving_usd_per_year"]
    plain_code, plain = run(capsys, *words, "--json")
    plain_values = json.loads(plain)["result"]
    assert (code, values["totals"]) == (plain_code, plain_values["totals"])
    assert "draws" not in plain_values
    assert (tmp_path / "rows.csv").read_text().count("\n") == 2
    flat = " ".join(run(capsys, *words, "--draws", "2")[1].split())
    assert "Over 2 drawn years (draw 0, draw 1): batteries where most are needed: " in flat
    low, high = sorted(row["saving_usd_per_year"] for row in rows)
    assert f"{low:,.0f} USD (" in flat
    assert f"to {high:,.0f} USD (" in flat
    assert "all else here is of draw 0." in flat
    assert main([str(word) for word in (*words, "--draws", "99")]) == 2
    assert "--draws: 99 is out of range" in capsys.readouterr().err


def assert_draws(capsys, command, words):
    """Two drawn years: the first is that without draws, and answers; the other differs."""
    code, out = run(capsys, *words, "--draws", "2", "--json")
    check_years(json.loads(out), command, "draws")
    values = json.loads(out)["result"]
    rows = values.pop("draws")["rows"]
    assert [row["draw"] for row in rows] == [0, 1]
    assert {**rows[0], "draw": 1} != rows[1]
    plain_code, plain = run(capsys, *words, "--json")
    assert (code, values) == (plain_code, json.loads(plain)["result"])
    flat = " ".join(run(capsys, *words, "--draws", "2")[1].split())
    assert "Over 2 drawn years (draw 0, draw 1): " in flat


def test_draws_of_compare_on_the_command_line(tmp_path, capsys):
    (tmp_path / "box.toml").write_text(BOX + '[options]\ncompare = "idling, battery+heater"\n')
    assert_draws(capsys, "compare", ("compare", tmp_path / "box.toml", "--weather", "phoenix-az"))


def test_draws_of_a_claim_on_the_command_line(tmp_path, capsys):
    (tmp_path / "box.toml").write_text(BOX)
    words = ("claim", tmp_path / "box.toml", "--weather", "phoenix-az", "--samples", "64")
    assert_draws(capsys, "claim", (*words, "--date", "2001-07-12"))
    hot = ("claim", tmp_path / "box.toml", "--peak-outdoor", "100degF", "--draws", "2")
    assert main([str(word) for word in hot]) == 2
    assert "--draws: stands without --date" in capsys.readouterr().err
