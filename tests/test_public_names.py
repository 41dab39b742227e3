"""The public names of the package: there, and imported only when they are used."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import restcab

NAMES = [name for name in restcab.__all__ if name != "__version__"]
HEAVY = {"numpy", "pandas", "pvlib", "scipy", "matplotlib", "pydantic", "pint", "click", "rich"}


def test_importing_the_package_imports_nothing_heavy():
    program = "import sys, restcab; dir(restcab); print(*sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert not HEAVY & {name.split(".")[0] for name in done.stdout.split()}


@pytest.mark.parametrize("name", NAMES)
def test_public_name_is_the_function_of_its_module(name):
    found = getattr(restcab, name)
    assert callable(found)
    assert found.__name__ == name
    assert found.__module__.startswith(restcab._HOME[name])
    assert name in dir(restcab)


def test_the_names_that_type_checkers_see_are_the_public_ones():
    tree = ast.parse(Path(restcab.__file__).read_text(encoding="utf-8"))
    guarded = next(node for node in tree.body if isinstance(node, ast.If))
    seen = {alias.name: node.module for node in guarded.body for alias in node.names}
    assert seen == restcab._HOME
    assert set(seen) == set(NAMES)


def test_unknown_name_is_an_attribute_error():
    with pytest.raises(AttributeError, match="siz"):
        restcab.siz  # noqa: B018


def test_size_is_reached_through_the_package():
    spec = restcab.default_spec(["rest.season=Jul", "rest.hours=6"])
    answer = restcab.size(spec, restcab.open_weather("greensboro"))
    assert answer["rests_total"] == 31
    assert len(answer.frame) == 31
