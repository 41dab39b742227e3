"""Speed is that of a machine's cores, which the other tests share among themselves."""

import pytest

from restcab.physics import threads


@pytest.fixture(autouse=True)
def all_cores(monkeypatch):
    monkeypatch.delenv(threads.LIMIT, raising=False)
    threads.cores.cache_clear()
    yield
    monkeypatch.undo()
    threads.cores.cache_clear()
