"""Reference answers: what the program said when somebody last looked, so that no change is silent.

They check nothing against the outside world: that is the task of ``tests/outside``. A change that
means to move them renews them, and the difference is read before it is committed::

    python tests/reference/answers.py        # writes answers.json, and says what moved
    git diff tests/reference/answers.json

With a share the file is not written: what differs by more from what stands in it is named, and the
end is 1. So two sets of libraries on one machine are compared::

    python tests/reference/answers.py 1e-9
"""

import json
import sys
from pathlib import Path
from typing import Any

from restcab.spec import default_spec, load_spec
from restcab.studies.load import load
from restcab.studies.size import size
from restcab.studies.unit import unit
from restcab.weather.files import open_weather

HERE = Path(__file__).parent
FILE = HERE / "answers.json"
BOX = HERE.parents[1] / "examples" / "plain-box.toml"
LOADS = {
    "box, hot day": (str(BOX), "atlanta-ga@7-0.4"),
    "box, frost": (str(BOX), "sae-j2918-heating"),
    "built-in truck, hot day": ("", "atlanta-ga@7-0.4"),
}
_LEFT_OUT = (
    "balance_residual_frac",  # rounding, which differs everywhere
    "probability_frac", "season_probability_frac",  # tests take few samples
)  # fmt: skip
TOLERANCE = 1e-6
"""Other processors and releases of the libraries differ in the last bits, which add up."""


def answers() -> dict[str, dict[str, float]]:
    """Work out all reference answers: name of the case, name of the number, value in SI."""
    found = {}
    for name, (path, weather) in LOADS.items():
        spec = load_spec(path) if path else default_spec()
        found[f"load: {name}"] = _numbers(load(spec, open_weather(weather)).values)
    spec, weather = load_spec(BOX), open_weather("atlanta-ga@7-0.4")
    found["size: box, hot day, as declared"] = _numbers(size(spec, weather, confidence=0.0).values)
    found["unit: built-in truck"] = _numbers(unit(default_spec()).values)
    return found


def _numbers(values: Any, path: str = "") -> dict[str, float]:
    """All numbers of an answer by their path, lists left out."""
    found: dict[str, float] = {}
    for key, value in values.items():
        if isinstance(value, dict):
            found |= _numbers(value, f"{path}{key}.")
        elif key in _LEFT_OUT or isinstance(value, bool):
            continue
        elif isinstance(value, int | float):
            found[f"{path}{key}"] = float(value)
    return found


def read() -> dict[str, dict[str, float]]:
    """Read the answers as they were last looked at."""
    found: dict[str, dict[str, float]] = json.loads(FILE.read_text(encoding="utf-8"))
    return found


def moved(
    old: dict[str, dict[str, float]], new: dict[str, dict[str, float]],
    tolerance_frac: float = TOLERANCE,
) -> list[str]:  # fmt: skip
    """Say what is not the same within the tolerance, one line each."""
    lines = []
    for case in sorted(old | new):
        before, after = old.get(case, {}), new.get(case, {})
        for name in sorted(before | after):
            a, b = before.get(name), after.get(name)
            if a is None or b is None or abs(a - b) > tolerance_frac * max(abs(a), abs(b), 1e-3):
                lines.append(f"{case}: {name}: {a} -> {b}")
    return lines


if __name__ == "__main__":
    new, tolerances = answers(), [float(word) for word in sys.argv[1:]]
    differences = moved(read() if FILE.exists() else {}, new, *tolerances)
    for line in differences:
        print(line, file=sys.stderr)
    if tolerances:
        sys.exit(bool(differences))
    FILE.write_text(json.dumps(new, indent=1, sort_keys=True) + "\n", encoding="utf-8")
