"""The spec's floor stays light: importing it brings no array library."""

import subprocess
import sys
from pathlib import Path

import restcab


def test_importing_the_spec_brings_no_numpy():
    tell = "import sys, restcab.spec; print(*{name.split('.')[0] for name in sys.modules})"
    done = subprocess.run(
        [sys.executable, "-c", tell],
        cwd=Path(restcab.__file__).parents[1],
        capture_output=True,
        text=True,
        check=True,
    )
    assert not {"numpy", "pandas", "scipy", "pint", "rich", "click"} & set(done.stdout.split())
