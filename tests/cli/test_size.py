"""``restcab size``: the exit code says whether the declared pair holds."""

import json

import pytest

from restcab.cli.main import main

DAY = ("size", "--weather", "phoenix-az@7-0.4", "--confidence", "0", "--set", "rest.hours=4",
       "--set", "rest.arrival=cooled", "--set", "rest.start=20:00")  # fmt: skip


@pytest.mark.parametrize(("batteries", "code"), [(8, 0), (1, 3)])
def test_exit_code_is_that_of_the_declared_pair(capsys, batteries, code):
    words = [*DAY, "--set", f"bank.batteries={batteries}"]
    assert main([*words, "--json"]) == code
    given = json.loads(capsys.readouterr().out)["result"]["given"]
    assert given["requirement_met"] is (code == 0)
    assert main(words) == code
    assert "Cooling unit and battery bank" in capsys.readouterr().out
