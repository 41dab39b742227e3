"""Pages, short forms and figures of every study, found by the name of its command."""

from functools import cache
from html.parser import HTMLParser
from pathlib import Path

import pytest
from support import COMPARED_BOX, use_own_cache

import restcab
from restcab.cli.main import main
from restcab.offers.starter import offers_text
from restcab.output.brief import BRIEF, LINES, WIDTH
from restcab.output.cautions import CAUTION_BRIEF
from restcab.output.console import Page
from restcab.output.figures import KINDS, saved
from restcab.output.plain import fitting
from restcab.output.shown import FIGURES, PAGES

STUDIES = tuple(PAGES)
LOG = Path(__file__).parents[2] / "examples" / "log-heater-test.csv"


@pytest.fixture(scope="module")
def answers(tmp_path_factory):
    folder = tmp_path_factory.mktemp("shown")
    path = folder / "box.toml"
    path.write_text(COMPARED_BOX, encoding="utf-8")
    spec, day = restcab.load_spec(path), restcab.open_weather("phoenix-az@7-0.4")

    @cache
    def answer(study):
        if study == "regions":
            with pytest.MonkeyPatch.context() as patch:
                use_own_cache(patch, folder / "cache")
                from restcab.fleet.file import load_fleet

                return restcab.regions(load_fleet(path, (), ["phoenix-az"]), jobs=1)
        if study == "choose":
            offers = folder / "offers.toml"
            few = offers_text().replace("batteries_max = 8", "batteries_max = 2")
            offers.write_text(few, encoding="utf-8")
            return restcab.choose(spec, restcab.load_offers(offers), {"phoenix-az": day})
        if study == "compare":
            return restcab.compare(spec, restcab.open_weather("phoenix-az"))
        if study == "claim":
            return restcab.claim(spec, day, 4.0, samples=64)
        if study == "fit":
            return restcab.fit(spec, [LOG])
        if study == "fit-plan":
            from restcab.studies.fit_plan import fit_plan

            return fit_plan(spec, restcab.open_weather("phoenix-az"))
        return (
            {"load": restcab.load, "size": restcab.size}[study](spec, day)
            if (study != "unit")
            else restcab.unit(spec)
        )

    return answer


def test_every_study_has_all_three():
    assert set(PAGES) == set(FIGURES) == set(BRIEF)


@pytest.mark.parametrize("units", ["us", "si", "both"])
@pytest.mark.parametrize("study", STUDIES)
def test_the_short_form_has_twelve_lines_and_a_caution(answers, study, units, monkeypatch):
    monkeypatch.setenv("COLUMNS", str(WIDTH))
    lines = restcab.page(answers(study), units, brief=True).rstrip("\n").split("\n")
    assert 4 <= len(lines) <= LINES
    assert lines[-1] == CAUTION_BRIEF
    assert max(map(len, lines)) <= WIDTH


@pytest.mark.parametrize("study", STUDIES)
def test_the_page_keeps_to_eighty_columns(answers, study, monkeypatch):
    monkeypatch.delenv("COLUMNS", raising=False)
    lines = restcab.page(answers(study)).split("\n")
    assert max(map(len, lines)) <= WIDTH == Page(to_file=True).width


@pytest.mark.parametrize("study", STUDIES)
def test_a_figure_has_labelled_axes_and_is_the_same_bytes_again(answers, study):
    result = answers(study)
    figure = result.plot()
    assert figure.get_suptitle()
    named = [axes for axes in figure.axes if axes.get_xlabel() or axes.get_ylabel()]
    assert named
    for kind in KINDS:
        first, second = (saved(result.plot("si"), kind) for _ in range(2))
        assert first == second
        assert first.startswith({"svg": b"<?xml", "png": b"\x89PNG", "pdf": b"%PDF"}[kind])


def test_figures_speak_the_units_asked_for(answers):
    for study, customary, metric in (
        ("load", "Btu/h", "[W]"),
        ("size", "Btu/h", "[W]"),
        ("fit", "°F", "°C"),
    ):
        for units, there in (("us", customary), ("si", metric)):
            text = saved(answers(study).plot(units), "svg").decode()
            assert there in text
            assert (metric if units == "us" else customary) not in text


@pytest.mark.parametrize("study", STUDIES)
def test_a_notebook_shows_the_short_form_and_the_rows(answers, study):
    result = answers(study)
    html = result._repr_html_()
    open_tags = []

    class Tags(HTMLParser):
        def handle_starttag(self, tag, attrs):
            open_tags.append(tag)

        def handle_endtag(self, tag):
            assert open_tags.pop() == tag

    Tags().feed(html)
    assert not open_tags
    assert str(result.frame.columns[0]) in html
    assert CAUTION_BRIEF in html


def test_a_result_without_a_figure_says_which_have_one(answers):
    from dataclasses import replace

    odd = replace(answers("unit"), command="report")
    with pytest.raises(ValueError, match="report has no figure; those that have: load"):
        odd.plot()


def test_a_terminal_that_knows_only_ascii_gets_ascii():
    text = "72 °F, 3 W/m²·K – “ok”, 5 ≤ 6"
    assert fitting(text, "utf-8") == text
    assert fitting(text, None) == text
    plain = fitting(text, "ascii")
    assert plain == '72 degF, 3 W/m2*K - "ok", 5 <= 6'
    assert fitting("72 °F", "latin-1") == "72 °F"
    assert fitting("Ω", "ascii") == "?"


@pytest.mark.parametrize("kind", KINDS)
def test_table_and_figure_are_files_beside_the_page(kind, tmp_path, capsys):
    plot, table = tmp_path / f"unit.{kind}", tmp_path / "unit.csv"
    assert main(["unit", "--brief", "--plot", str(plot), "--csv", str(table)]) == 0
    assert capsys.readouterr().out.count("\n") <= LINES
    assert plot.stat().st_size > 1000
    head, *rows = table.read_text(encoding="utf-8").splitlines()
    assert head.startswith("outdoor_c,capacity_w,power_w,cop")
    assert len(rows) == 13
