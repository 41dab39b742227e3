"""``restcab new``: what it writes is a spec that reads as the built-in truck."""

import pytest

from restcab.cli.main import main
from restcab.spec import default_spec, load_spec
from restcab.spec.declare import declarations
from restcab.spec.model import TABLES


@pytest.mark.parametrize("words", [["new"], ["new", "--full"]])
def test_what_it_prints_is_the_built_in_truck(tmp_path, capsys, words):
    assert main(words) == 0
    path = tmp_path / "t.toml"
    path.write_text(capsys.readouterr().out, encoding="utf-8")
    spec = load_spec(path)
    assert spec.warnings == ()
    assert spec.resolved() == default_spec().resolved()


def test_full_names_every_key_and_its_source(capsys):
    main(["new", "--full"])
    text = " ".join(line.removeprefix("# ") for line in capsys.readouterr().out.splitlines())
    for model in TABLES.values():
        for declared in declarations(model).values():
            assert f"{declared.key} =" in text
            assert declared.source in text


def test_short_is_short_and_fits_a_terminal(capsys):
    main(["new"])
    short = capsys.readouterr().out
    main(["new", "--full"])
    full = capsys.readouterr().out
    assert len(short) < 0.6 * len(full)
    assert max(len(line) for line in full.splitlines()) <= 100


def test_writes_a_file_and_refuses_to_overwrite(tmp_path, capsys):
    path = tmp_path / "t.toml"
    assert main(["new", "-o", str(path)]) == 0
    before = path.read_text(encoding="utf-8")
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err == f"wrote {path}\n"
    path.write_text("mine", encoding="utf-8")
    assert main(["new", "-o", str(path)]) == 2
    assert "exists. --force overwrites it." in capsys.readouterr().err
    assert path.read_text(encoding="utf-8") == "mine"
    assert main(["new", "-o", str(path), "--force"]) == 0
    assert path.read_text(encoding="utf-8") == before
    assert [entry.name for entry in tmp_path.iterdir()] == ["t.toml"]


def test_directory_that_does_not_exist(tmp_path, capsys):
    assert main(["new", "-o", str(tmp_path / "none" / "t.toml")]) == 2
    assert "cannot be written: No such file or directory" in capsys.readouterr().err
