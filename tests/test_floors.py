"""Imports run downwards: a floor may use what lies below it, never what lies above."""

import ast
from pathlib import Path

import pytest

import restcab

PACKAGE = Path(restcab.__file__).parent
FLOORS = {
    "units": 0,
    "said": 0,
    "visible": 0,
    "files": 0,
    "errors": 0,
    "provenance": 0,
    "table_text": 0,
    "userdir": 0,
    "physics": 1,
    "spec": 2,
    "weather": 3,
    "engine": 4,
    "results": 5,
    "runs": 6,
    "season": 7,
    "duty": 8,
    "odds": 9,
    "options": 10,
    "offers": 11,
    "claims": 12,
    "fleet": 13,
    "fits": 14,
    "studies": 15,
    "output": 16,
    "cli": 17,
    "__main__": 18,
}
ONLY_IN = {
    "CoolProp": {"physics/refrigeration/refrigerant.py"},
    "pvlib": {"weather"},
    "pint": {"spec/quantity.py"},
    "pydantic": {"spec", "fleet/file.py", "offers/file.py"},
    "tomlkit": {"offers/write.py", "spec/rewrite.py"},
    "rich": {"output/console.py"},
    "click": {"cli"},
    "pandas": {
        "table_text.py",
        "weather",
        "results",
        "duty",
        "options",
        "fleet",
        "studies",
        "output",
    },
    "jinja2": {"output/report/page.py"},
    "matplotlib": {"output"},
    "numba": {"physics/compiled.py"},
    "numpy_financial": {"options/cashflow.py"},
}
"""Where a library may be imported: a file, or a floor."""
NOT_ON_FLOOR = {
    "units": {"numpy"},
    "said": {"numpy"},
    "visible": {"numpy"},
    "files": {"numpy"},
    "errors": {"numpy"},
    "provenance": {"numpy"},
    "userdir": {"numpy"},
    "spec": {"numpy", "pandas"},
}

MODULES = sorted(
    path.relative_to(PACKAGE) for path in PACKAGE.rglob("*.py") if "data" not in path.parts
)


def _floor_name(module: Path) -> str:
    return module.parts[0].removesuffix(".py")


def _imported(path: Path) -> set[str]:
    """Every module a file imports, anywhere in it, type-checking blocks left out."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    skipped = {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and getattr(node.test, "id", "") == "TYPE_CHECKING"
        for inner in ast.walk(node)
    }
    found = set()
    for node in ast.walk(tree):
        if id(node) in skipped:
            continue
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            found.add(node.module or "")
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return found


@pytest.mark.parametrize("module", MODULES, ids=str)
def test_imports_run_downwards(module):
    own = _floor_name(module)
    if own == "__init__":
        return
    for name in _imported(PACKAGE / module):
        parts = name.split(".")
        if parts[0] != "restcab" or len(parts) == 1 or parts[1] == "__version__":
            continue
        assert FLOORS[parts[1]] <= FLOORS[own], f"{module} reaches up to {name}"


@pytest.mark.parametrize("module", MODULES, ids=str)
def test_libraries_stay_on_their_floors(module):
    own = _floor_name(module)
    libraries = {name.split(".")[0] for name in _imported(PACKAGE / module)}
    for library, places in ONLY_IN.items():
        if library in libraries:
            assert own in places or module.as_posix() in places, f"{module} imports {library}"
    assert not libraries & NOT_ON_FLOOR.get(own, set()), module


def test_every_floor_of_the_package_is_known():
    names = {_floor_name(module) for module in MODULES} - {"__init__"}
    assert names == set(FLOORS)
