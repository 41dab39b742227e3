"""What every test of a command relies on."""

import pytest


@pytest.fixture(autouse=True)
def width_of_a_pipe(monkeypatch):
    """Parallel test runners set COLUMNS; a command whose output is captured sees a pipe."""
    monkeypatch.delenv("COLUMNS", raising=False)
