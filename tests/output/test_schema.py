"""Schemas: of the draft they name, and true of files that are read and answers that are given."""

import json
import tomllib
from pathlib import Path

import jsonschema
import pytest
import tomlkit
from support import COMPARED_BOX, use_own_cache

import restcab
from restcab.cli.main import main
from restcab.errors import InputError
from restcab.offers.file import load_offers
from restcab.offers.starter import offers_text
from restcab.output.schema import names, schema
from restcab.output.shown import PAGES
from restcab.results.columns import COLUMNS, UNITS, unit_of
from restcab.spec.starter import SCHEMA_FILE, starter_text

EXAMPLES = Path(restcab.__file__).parents[1] / "examples"
DAY = ("--weather", "phoenix-az@7-0.4")
ASKED = {
    "load": ("{box}", *DAY),
    "size": ("{box}", *DAY),
    "unit": (),
    "claim": ("{box}", *DAY, "--samples", "64", "--set", "bank.batteries=1"),
    "compare": ("{box}",),
    "regions": ("{box}", "--climates", "phoenix-az", "--jobs", "1"),
    "report": ("{box}", *DAY, "--claim", "3"),
    "fit": ("{box}", str(EXAMPLES / "log-heater-test.csv")),
    "fit-plan": ("{box}", "--plan", "--weather", "phoenix-az"),
    "choose": ("{box}", "{offers}", "--climate", DAY[1]),
}
"""Words of each study that answers in JSON."""


def check(document, name):
    validator = jsonschema.Draft202012Validator(schema(name))
    return [f"{'/'.join(map(str, e.absolute_path))}: {e.message[:200]}"
            for e in validator.iter_errors(document)]  # fmt: skip


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """With a box, and what each study answered about it."""
    folder = tmp_path_factory.mktemp("schema")
    (folder / "box.toml").write_text(COMPARED_BOX, encoding="utf-8")
    few = offers_text().replace("batteries_max = 8", "batteries_max = 2")
    (folder / "offers.toml").write_text(few, encoding="utf-8")
    return folder


@pytest.mark.parametrize("name", names())
def test_a_schema_is_one(name):
    jsonschema.Draft202012Validator.check_schema(schema(name))


def test_every_study_has_a_schema_and_columns():
    assert set(names()) == {"spec", "fleet", "offers", *ASKED}
    assert set(COLUMNS) == set(ASKED) == {*PAGES, "report"}


@pytest.mark.parametrize("study", ASKED)
def test_answer_and_table_are_as_described(study, folder, monkeypatch, capsys):
    use_own_cache(monkeypatch, folder / "cache")
    table = folder / f"{study}.csv"
    given = {"box": folder / "box.toml", "offers": folder / "offers.toml"}
    words = [word.format(**given) for word in ASKED[study]]
    extra = [] if study == "report" else ["--csv", str(table)]
    assert main([study.partition("-")[0], *words, "--json", *extra]) in (0, 3)
    answer = json.loads(capsys.readouterr().out)
    assert check(answer, study) == []
    answer["result"]["more"] = 1
    assert len(check(answer, study)) == 1
    if extra:
        head = table.read_text(encoding="utf-8").split("\n")[0].split(",")
        assert head == list(COLUMNS[study])


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.toml")), ids=lambda path: path.name)
def test_the_examples_are_of_the_form(path):
    document = tomllib.loads(path.read_text(encoding="utf-8"))
    kind = next((name for name in ("fleet", "offers") if name in document), "spec")
    assert check(document, kind) == []


@pytest.mark.parametrize("full", [False, True])
def test_the_starter_names_its_schema_and_is_of_the_form(full):
    text = starter_text(full=full)
    assert text.startswith(f"#:schema ./{SCHEMA_FILE}\n")
    assert check(tomllib.loads(text), "spec") == []


@pytest.mark.parametrize(
    "wrong",
    [
        {"cooling": {"capacity": 10000}},
        {"cooling": {"capacity": "many Btu/h"}},
        {"bank": {"batteries": 2.5}},
        {"bank": {"chemistry": "lead"}},
        {"rest": {"shade": 2.0}},
        {"rest": {"hour": 10}},
        {"resting": {}},
        {"truck": {"surfaces": [{"area": 3}]}},
    ],
)
def test_what_the_reader_refuses_the_schema_refuses(wrong):
    assert check(wrong, "spec")


@pytest.mark.parametrize(
    ("key", "value", "fits"),
    [
        ("price", "USD 4,300", True),
        ("price", "$4300", True),
        ("price", "4300 USD", True),
        ("price", 4300, False),
        ("price", "dear", False),
        ("airfow", "250 cfm", False),
        ("points", [{"outdoor": "80 degF", "load": 0.5, "power": "270 W"}], True),
    ],
)
def test_the_schema_of_offers_takes_what_the_reader_takes(tmp_path, key, value, fits):
    document = tomllib.loads(offers_text())
    document["units"][0][key] = value
    assert (check(document, "offers") == []) == fits
    path = tmp_path / "offers.toml"
    path.write_text(tomlkit.dumps(document), encoding="utf-8")
    if fits:
        load_offers(path)
    else:
        with pytest.raises(InputError, match=key):
            load_offers(path)


@pytest.mark.parametrize("table", ["units", "batteries"])
def test_a_file_of_offers_without_units_or_batteries_is_refused(table):
    document = tomllib.loads(offers_text())
    assert check(document, "offers") == []
    del document[table]
    assert check(document, "offers")


def test_words_are_accepted_in_any_case_as_the_reader_does():
    assert check({"bank": {"chemistry": "agm"}}, "spec") == []
    restcab.default_spec(["bank.chemistry=agm"])


def test_a_unit_is_read_from_the_ending():
    assert unit_of("load_energy_wh") == "Wh"
    assert unit_of("heat_loss_btu_per_h_f") == "Btu/(h·°F)"
    assert unit_of("option") == ""
    endings = [ending for ending, _ in UNITS]
    for at, ending in enumerate(endings):
        assert not any(ending.endswith(before) for before in endings[:at]), ending


def test_names_are_listed_and_columns_explained(capsys):
    assert main(["schema"]) == 0
    assert capsys.readouterr().out.split() == list(names())
    assert main(["schema", "size", "--columns"]) == 0
    assert "given_held" in capsys.readouterr().out
    assert main(["schema", "sise"]) == 2
    assert "Did you mean 'size'?" in capsys.readouterr().err
