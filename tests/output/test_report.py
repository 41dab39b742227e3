"""The report: a file that says all of it, to everybody, and loads nothing."""

import calendar
import re
from dataclasses import replace
from importlib.resources import files

import html5lib
import numpy as np
import pytest
from fleet_box import BOX as FLEET_BOX
from fleet_box import FLEET
from invented_offers import invented_choice
from support import PLAIN_BOX, warmer

from restcab.fleet.file import load_fleet
from restcab.output.cautions import CAUTIONS
from restcab.output.choose_words import answer_words
from restcab.output.report.page import report_page
from restcab.output.units import Show
from restcab.spec.reading import load_spec
from restcab.studies.regions import regions
from restcab.studies.report import DECLARED, ClaimAsked, report
from restcab.studies.sources import MODEL_SOURCES
from restcab.weather.files import open_weather

BOX = f"""{PLAIN_BOX}season = "Jul"
[options]
compare = "idling, battery+heater, apu"
"""
HOSTILE = "<script>alert('x')</script> & <b>Sons</b>.toml"
XHTML = "{http://www.w3.org/1999/xhtml}"
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def box(tmp_path_factory):
    path = tmp_path_factory.mktemp("report") / "box.toml"
    path.write_text(BOX, encoding="utf-8")
    return replace(load_spec(path), name=HOSTILE)


@pytest.fixture(scope="module")
def answer(box):
    return report(box, open_weather("greensboro"), ClaimAsked(3.5))


@pytest.fixture(scope="module")
def page(answer):
    return report_page(answer, "us")


@pytest.fixture(scope="module")
def tree(page):
    """The page as a strict parser reads it: any fault of the HTML is an error."""
    return html5lib.HTMLParser(strict=True).parse(page)


def text_of(element):
    return re.sub(r"\s+", " ", "".join(element.itertext()).replace("\N{NO-BREAK SPACE}", " "))


def section(tree, key):
    return next(s for s in tree.iter(f"{XHTML}section") if key in s.get("class").split())


def tables(element):
    """Captions, heads and cells."""
    found = {}
    for region in element.iter(f"{XHTML}div"):
        if region.get("role") == "region":
            rows = [[text_of(cell).strip() for cell in row] for row in region.iter(f"{XHTML}tr")]
            found[region.get("aria-label")] = rows
    return found


def test_it_loads_nothing_and_runs_nothing(page, tree):
    assert not list(tree.iter(f"{XHTML}script"))
    outside = [
        value
        for element in tree.iter()
        for name, value in element.attrib.items()
        if name in ("src", "href", "xlink:href", "action", "style", "onload", "onclick")
    ]
    assert outside == ["data:,"]
    style = text_of(next(tree.iter(f"{XHTML}style")))
    assert "@import" not in style
    assert "url(" not in style


def test_a_name_stays_a_name(page, tree):
    assert HOSTILE not in page
    assert text_of(next(tree.iter(f"{XHTML}dd"))) == HOSTILE
    assert not list(tree.iter(f"{XHTML}b"))


def test_the_same_answer_is_the_same_bytes(box, answer, page):
    assert report_page(answer, "us") == page
    assert report_page(report(box, open_weather("greensboro"), ClaimAsked(3.5)), "us") == page


def test_each_chart_is_named_and_has_its_values_in_a_table(tree):
    figures = list(tree.iter(f"{XHTML}figure"))
    assert len(figures) >= 9
    for figure in figures:
        drawn = [s for s in figure.iter(f"{SVG}svg") if s.get("role") == "img"]
        assert len(drawn) == 1
        assert drawn[0].get("aria-label")
        assert list(drawn[0].iter(f"{SVG}title"))
        (rows,) = tables(figure).values()
        assert len(rows) > 1
        for column in range(len(rows[0])):
            assert any(row[column] for row in rows[1:]), rows[0]


def test_anchors_are_unique(tree):
    anchors = [element.get("id") for element in tree.iter() if element.get("id")]
    assert len(anchors) == len(set(anchors)) > 8
    for element in tree.iter():
        assert element.get("aria-labelledby", anchors[0]) in anchors


def test_every_input_stands_there_with_its_origin_and_source(box, tree):
    shown = {
        row[0]: row[1:] for rows in tables(section(tree, "inputs")).values() for row in rows[1:]
    }
    for row in box.inputs():
        value, origin, source = shown[row.key]
        assert origin == row.origin
        assert value == re.sub(r"\s+", " ", row.value).strip()
        assert source == re.sub(r"\s+", " ", row.source).strip()


def test_the_answer_has_the_odds_of_each_study(answer, tree):
    parts = answer.extra["parts"]
    figures = [text_of(p) for p in section(tree, "answer").iter(f"{XHTML}p")
               if p.get("class") == "figure"]  # fmt: skip
    assert len(figures) == 4
    shown = [int(re.match(r"\s*(\d+)%", text)[1]) for text in figures[:3]]
    asked = [
        parts["claim"]["probability_frac"],
        parts["size"]["given"]["probability_frac"],
        parts["size"]["probability_frac"],
    ]
    assert shown == [pytest.approx(100.0 * value, abs=0.51) for value in asked]
    assert "USD" in figures[3]


def test_the_course_is_that_of_the_sizing(answer):
    """Worked out apart from each other, the odds of the deciding rest are the same."""
    sized = answer.extra["parts"]["size"]
    declared, smallest = answer.extra["nights"]
    assert declared.probability_frac == sized["given"]["probability_frac"]
    assert smallest.probability_frac == sized["probability_frac"]
    assert answer["deciding_rest"]["start"] == sized["bank_deciding_rest"]
    rest = sized.frame[sized.frame["start"].astype(str).str.startswith(
        sized["bank_deciding_rest"][:10])].iloc[0]  # fmt: skip
    # 10-minute steps of a trial against the 5-minute steps of the season
    end = declared.steps["soc_frac"].iloc[-1]
    assert end == pytest.approx(rest["given_soc_end_frac"], abs=0.01)


def test_the_curve_of_the_odds_passes_through_them(answer):
    hours = answer["deciding_rest"]["hours"]
    for course in answer.extra["nights"]:
        lasting = course.lasting
        assert lasting["probability_frac"].iloc[0] == 1.0
        assert (np.diff(lasting["probability_frac"]) <= 0.0).all()
        at = lasting["probability_frac"][np.isclose(lasting["hour"], hours)].item()
        assert at == course.probability_frac


def test_the_table_of_charge_has_the_values_of_the_course(answer, tree):
    rows = tables(section(tree, "night"))["State of charge at the end of each hour"]
    hours = next(c for c in answer["deciding_rest"]["courses"] if c["name"] == DECLARED)["hours"]
    assert [row[1] for row in rows[1:]] == [f"{hour['soc_frac']:.0%}" for hour in hours]


def test_all_cautions_warnings_and_sources_stand_at_its_end(answer, page, tree):
    said = text_of(section(tree, "cautions"))
    for caution in CAUTIONS:
        assert caution in said
    noted = text_of(section(tree, "notes"))
    assert answer.warnings
    for warning in answer.warnings:
        assert str(warning)[1:40] in noted
    (footer,) = tree.iter(f"{XHTML}footer")
    open_words = " ".join(text_of(p) for p in footer.findall(f"{XHTML}p"))
    for source in (*MODEL_SOURCES, "TMY3 file, station 723170"):
        assert source in open_words


@pytest.mark.parametrize(
    ("units", "foreign"), [("us", r"\d °C|\d kg|\d L\b"), ("si", r"°F|Btu|gal|lb")]
)
def test_it_speaks_the_units_asked_for(answer, units, foreign):
    tree = html5lib.HTMLParser(strict=True).parse(report_page(answer, units))
    for key in ("answer", "night", "odds", "measures", "unit", "ways"):
        assert not re.findall(foreign, text_of(section(tree, key)))


def test_a_single_day_has_no_year_and_still_a_report(box):
    result = report(box, open_weather("phoenix-az@7-0.4"))
    assert set(result["left_out"]) == {"compare"}
    assert "whole year" in result["left_out"]["compare"]
    tree = html5lib.HTMLParser(strict=True).parse(report_page(result, "us"))
    assert "whole year" in text_of(section(tree, "notes"))
    assert not [s for s in tree.iter(f"{XHTML}section") if "ways" in s.get("class")]


def test_of_several_years_the_hardest_is_reported_beside_the_others(box):
    years = [warmer(2019, 0.0), warmer(2021, 6.0)]
    day = np.datetime64("2019-07-10")
    result = report(box, years, ClaimAsked(3.5, None, day), confidence=0.0)
    alone = report(box, years[1], confidence=0.0)
    assert result["deciding_rest"] == alone["deciding_rest"]
    assert result["deciding_rest"]["start"].startswith("2021")
    assert result["parts"]["compare"] == alone["parts"]["compare"]
    assert result.weather_hash != alone.weather_hash
    assert [row["year"] for row in result["parts"]["claim"]["weather_years"]["rows"]] == [
        "2019",
        "2021",
    ]
    tree = html5lib.HTMLParser(strict=True).parse(report_page(result, "us"))
    found = section(tree, "years")
    assert "All else here is of 2021" in text_of(found)
    rows = tables(found)["Each year"]
    assert [row[0] for row in rows[1:]] == ["2019", "2021"]
    asked = result["parts"]["size"]["weather_years"]["rows"]
    assert [row[2] for row in rows[1:]] == [str(row["bank_batteries"]) for row in asked]
    assert list(result.extra["weather_sources"]) == ["log 2021"]


def test_a_year_that_no_pair_holds_is_the_one_reported(box):
    hopeless = box.with_values("cooling", outdoor_max_c=30.0)
    result = report(hopeless, [warmer(2019, -12.0), warmer(2021, 6.0)])
    assert "size" in result["left_out"]
    assert result["deciding_rest"]["start"].startswith("2021")


def test_a_rest_that_no_unit_holds_has_a_report_too(box):
    hopeless = box.with_values("cooling", outdoor_max_c=20.0)
    result = report(hopeless, open_weather("phoenix-az@7-0.4"))
    assert {"size", "compare"} == set(result["left_out"])
    assert [course.pair.name for course in result.extra["nights"]] == [DECLARED]
    page = report_page(result, "us")
    assert "No unit and bank of these kinds hold these rests" in page


@pytest.fixture(scope="module")
def fleet_part(tmp_path_factory):
    """What ``regions`` says of a small fleet."""
    folder = tmp_path_factory.mktemp("fleet")
    (folder / "box.toml").write_text(FLEET_BOX)
    (folder / "fleet.toml").write_text(FLEET)
    return regions(load_fleet(folder / "fleet.toml"), jobs=1, keep=False)


def with_part(answer, name, part, units="us", **changes):
    """A section of the page, its study's answer changed."""
    changed = replace(part, values={**part.values, **changes})
    parts = {**answer.extra["parts"], name: changed}
    told = replace(answer, extra={**answer.extra, "parts": parts})
    tree = html5lib.HTMLParser(strict=True).parse(report_page(told, units))
    return section(tree, {"compare": "ways"}.get(name, name))


SAVED = "What is saved a year on this fleet's lanes"


def test_regions_stand_in_it_the_best_first_with_what_each_saves(answer, fleet_part):
    found = with_part(answer, "regions", fleet_part)
    rows = sorted(
        fleet_part["regions"], key=lambda row: row["saving_usd_per_year"] / row["truck_years"]
    )[::-1]
    told = tables(found)[SAVED]
    assert [row[0] for row in told[1:]] == [row["climate"] for row in rows]
    gallons = [row["idle_fuel_gal_per_year"] - row["option_fuel_gal_per_year"] for row in rows]
    assert [row[4] for row in told[1:]] == [f"{gallon:,.0f}" for gallon in gallons]
    assert f"most in {rows[0]['climate']}" in text_of(found)
    tons = [row["co2_saved_kg_per_year"] * 0.45359237**-1 / 2000.0 for row in rows]
    assert [float(row[6]) for row in told[1:]] == pytest.approx(tons, abs=0.06)
    litres = tables(with_part(answer, "regions", fleet_part, "si"))[SAVED]
    assert litres[0][4] == "diesel L"
    assert [row[4] for row in litres[1:]] == [f"{gallon * 3.785411784:,.0f}" for gallon in gallons]


def test_a_region_that_pays_never_or_is_held_too_rarely_says_so(answer, fleet_part):
    first, *others = fleet_part["regions"]
    long = {"requirement_met": True, "payback_years": 2.16, "bank_batteries_required": 3}
    held = [{**row, **long} for row in others]
    short = {**first, "requirement_met": False, "payback_years": None,
             "bank_batteries_required": None}  # fmt: skip
    found = with_part(answer, "regions", fleet_part, regions=[short, *held])
    told = {row[0]: row for row in tables(found)[SAVED]}
    assert (told[first["climate"]][7], told[first["climate"]][9]) == ("never", "none")
    assert all((told[row["climate"]][7], told[row["climate"]][9]) == ("2.2", "3") for row in held)
    assert "Too few rests are held in 1 climate." in text_of(found)
    met = [{**row, "requirement_met": True} for row in fleet_part["regions"]]
    found = with_part(answer, "regions", fleet_part, regions=met)
    assert "Too few rests" not in text_of(found)
    assert "holds too few" not in text_of(found)


def test_months_of_the_regions_are_diesel_saved_per_rest_and_blank_without_rests(
    answer, fleet_part
):
    months = [dict(row) for row in fleet_part["months"]]
    empty = next(row for row in months if row["rests"] > 0.0)
    empty["rests"] = 0.0
    found = with_part(answer, "regions", fleet_part, months=months)
    head, *told = tables(found)["Diesel saved per rest in gal"]
    assert head[1:] == list(calendar.month_abbr)[1:]
    north = sorted(fleet_part["regions"], key=lambda row: -row["latitude_deg"])
    assert [row[0] for row in told] == [row["climate"] for row in north]
    cells = {row[0]: row[1:] for row in told}
    for row in months:
        words = cells[row["climate"]][row["month"] - 1]
        if row["rests"] > 0.0:
            saved = (row["idle_fuel_gal"] - row["option_fuel_gal"]) / row["rests"]
            assert words == f"{saved:.2f}"
        else:
            assert words == ""
    assert "no rests" in html_of(found)


def html_of(element):
    """Texts and titles of an element, those of its drawings too."""
    return " ".join([text_of(element), *(v for e in element.iter() for v in e.attrib.values())])


def test_where_no_way_does_the_job_the_page_says_so(answer):
    part = answer.extra["parts"]["compare"]
    found = text_of(with_part(answer, "compare", part))
    assert "Cheapest over" in found
    assert "No way does the job" not in found
    none = [{**row, "does_the_job": False} for row in part["options"]]
    found = text_of(with_part(answer, "compare", part, options=none))
    assert "No way does the job in the share of rests asked for" in found
    assert "Cheapest over" not in found
    assert found.count("held, too few") >= len(none)


@pytest.fixture(scope="module")
def offered(answer):
    """The answer with offers to choose among, and a truck that logs were fitted to."""
    part = invented_choice(3, 2, ("dallas-tx", "duluth-mn"))
    parts = {**answer.extra["parts"], "choose": part}
    logs = {"log": "night one.csv", "log_sha256": "a" * 64, "capacity_spread_frac": 0.05}
    fitted = answer.extra["declared"].with_values("fitted", **logs)
    return replace(answer, extra={**answer.extra, "parts": parts, "declared": fitted})


@pytest.mark.parametrize("units", ["us", "si"])
def test_offers_stand_in_it_with_the_sentence_the_pairs_and_two_charts(offered, units):
    page = report_page(offered, units)
    assert page == report_page(offered, units)
    found = section(html5lib.HTMLParser(strict=True).parse(page), "offers")
    part = offered.extra["parts"]["choose"]
    assert answer_words(part.values, Show(units)) in text_of(found)
    rows = part["pairs"]
    shown = tables(found)
    assert len(shown[f"All {len(rows)} pairs"]) == len(rows) + 1
    assert len(shown["The first of them; * none is as cheap, as light and as sure"]) == 9
    drawn = [s for s in found.iter(f"{SVG}svg") if s.get("role") == "img"]
    assert len(drawn) == 2
    of_kind = sum(row["battery"] == part.extra["maps"][0].battery for row in rows)
    dots = [len(list(each.iter(f"{SVG}circle"))) for each in drawn]
    assert dots == [of_kind, len(rows)]
    lines = [each.get("class") for each in drawn[0].iter(f"{SVG}polyline")]
    assert lines == ["line dots", "line a dash", "line a"]
    assert "where the first pair is least sure" in text_of(found)


def test_no_column_of_the_pairs_is_empty(offered):
    """Where all that are shown hold, nothing stands under what they would fail on."""
    part = offered.extra["parts"]["choose"]
    does = [{**row, "holds": True, "fails_on": []} for row in part["pairs"]]
    holding = replace(part, values={**part.values, "pairs": does})
    parts = {**offered.extra["parts"], "choose": holding}
    page = report_page(replace(offered, extra={**offered.extra, "parts": parts}), "us")
    for name, rows in tables(section(html5lib.parse(page), "offers")).items():
        if name.startswith(("The first", "All")):
            assert "fails" not in rows[0]
            assert all(any(column) for column in zip(*rows[1:], strict=True))


def test_points_of_the_offers_stand_where_their_odds_and_costs_are(offered):
    found = section(html5lib.HTMLParser(strict=True).parse(report_page(offered, "us")), "offers")
    cost = [s for s in found.iter(f"{SVG}svg") if s.get("role") == "img"][1]
    rows = offered.extra["parts"]["choose"]["pairs"]
    dots = list(cost.iter(f"{SVG}circle"))[::-1]  # the first are drawn last, on top
    place = {text_of(dot).split(" ")[0]: dot for dot in dots}
    heights = [float(place[str(at + 1)].get("cy")) for at in range(len(rows))]
    costs = [row["net_present_cost_usd"] for row in rows]
    slope = (heights[0] - heights[-1]) / (costs[0] - costs[-1])
    assert slope < 0.0
    assert heights == pytest.approx(
        [heights[0] + slope * (cost - costs[0]) for cost in costs], abs=0.15
    )
    looks = {at: place[str(at + 1)].get("class") for at in range(len(rows))}
    for at, row in enumerate(rows):
        expected = "unbeaten" if row["undominated"] else "a" if row["holds"] else "fails"
        assert looks[at] == f"dot {expected}"


def test_fitted_values_stand_in_it_with_their_spans_and_logs(offered, tree):
    found = section(html5lib.HTMLParser(strict=True).parse(report_page(offered, "us")), "fitted")
    (row,) = tables(found)["Values that the logs found"][1:]
    # 90 % of a logarithm: 1.645 times 0.05, so a factor of 0.921 to 1.086
    assert row[0] == "cooling capacity"
    assert row[2:] == ["\N{MINUS SIGN}8% to +9%", "cooling.capacity"]
    assert "a" * 64 in text_of(found)
    assert "night one.csv" in text_of(found)
    assert not [s for s in tree.iter(f"{XHTML}section") if "fitted" in s.get("class").split()]


# Colour blindness: matrices of Machado, Oliveira and Fernandes 2009 at full severity (from
# memory), applied to linear light; distances in Ottosson's OKLab (from memory).
SEEN = {
    "all colours": np.eye(3),
    "no red": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216],
               [-0.003882, -0.048116, 1.051998]],
    "no green": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413],
                 [-0.011820, 0.042940, 0.968881]],
    "no blue": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602],
                [0.004733, 0.691367, 0.303900]],
}  # fmt: skip
TO_CONES = np.array([[0.4122214708, 0.5363325363, 0.0514459929],
                     [0.2119034982, 0.6806995451, 0.1073969566],
                     [0.0883024619, 0.2817188376, 0.6299787005]])  # fmt: skip
TO_LAB = np.array([[0.2104542553, 0.793617785, -0.0040720468],
                   [1.9779984951, -2.428592205, 0.4505937099],
                   [0.0259040371, 0.7827717662, -0.8086757660]])  # fmt: skip
SCHEMES = ("light", "dark", "print")
TOLD_APART = 0.1
"""Distance in OKLab; a just noticeable one is about 0.02."""
SIDE_BY_SIDE = (("stored", "shell", "curtain", "air", "glass", "gains"), ("out", "a", "b"))


def linear(colour):
    value = np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)]) / 255.0
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def lab(light):
    return TO_LAB @ np.cbrt(TO_CONES @ np.clip(light, 0.0, 1.0))


def colours_of(scheme):
    style = files("restcab").joinpath("output", "report", "style.css").read_text()
    block = re.findall(r":root \{(.*?)\}", style, re.DOTALL)[SCHEMES.index(scheme)]
    return dict(re.findall(r"--([\w-]+): (#\w{6})", block))


# Contrast of WCAG 2.1: 4.5 for text, 3 for lines and marks (from memory). What checks pages in a
# browser cannot tell what lies behind the text of a drawing.
@pytest.mark.parametrize("scheme", SCHEMES)
def test_text_and_lines_stand_out_from_the_paper(scheme):
    colours = colours_of(scheme)
    light = {name: linear(value) @ (0.2126, 0.7152, 0.0722) for name, value in colours.items()}
    for wanted, names in (
        (4.5, ("ink", "quiet", "good", "fair", "poor")),
        (3.0, ("out", "a", "b")),
    ):
        for name in names:
            low, high = sorted((light[name], light["paper"]))
            assert (high + 0.05) / (low + 0.05) >= wanted, name


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("eyes", SEEN)
def test_colours_side_by_side_are_told_apart(scheme, eyes):
    colours = colours_of(scheme)
    for group in SIDE_BY_SIDE:
        seen = {name: lab(np.array(SEEN[eyes]) @ linear(colours[name])) for name in group}
        for one in group:
            for other in group:
                if one < other:
                    assert np.linalg.norm(seen[one] - seen[other]) > TOLD_APART, (one, other)
