"""What the fuzz tests share: how many inputs, faulty values for every key, what an answer must be.

A quick run takes the same few thousand inputs each time. A long one, with other inputs each time::

    RESTCAB_FUZZ=100000 pytest tests/faults -k fuzz

spreads that many over the tests, those that run the engine get a hundredth of their share. At its
end it says of each test how many inputs ended in which exit code.
"""

import json
import math
import os
import unicodedata
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from typing import Any, NamedTuple

from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st

from restcab.cli.main import main
from restcab.errors import RestcabError
from restcab.spec.declare import Choice, Number, Quantity, Row, Table, declarations

LONG = int(os.environ.get("RESTCAB_FUZZ", "0"))
SHARES = 20
"""Over how many tests a long run is spread."""
BALANCE_LIMIT_FRAC = 1e-6
REACHED = 99
ENDED: Counter[tuple[str, int]] = Counter()
"""Inputs tried so far, by the test that tried them and the exit code they ended with."""
_TURNING = ("LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI")


class Reached(RestcabError):  # noqa: N818 - no error, a place
    """Reading and checking are done: the run would begin here."""

    exit_code = REACHED


def reach(*_args: Any, **_more: Any) -> None:
    """Stand in for a study."""
    raise Reached("reached")


def inputs(quick: int, engine: bool = False) -> Callable[[Any], Any]:
    """Settings of a fuzz test.

    Parameters
    ----------
    quick
        Inputs in a quick run.
    engine
        Whether they run the engine, which takes a hundred times as long.
    """
    count = max(LONG // SHARES // (100 if engine else 1), 1) if LONG else quick
    return settings(
        max_examples=count, derandomize=not LONG, deadline=None, database=None,
        suppress_health_check=list(HealthCheck), phases=[Phase.explicit, Phase.generate],
    )  # fmt: skip


def check(words: Sequence[str], capsys: Any, *, allowed: Sequence[int] = (0, 2, 3)) -> int:
    """Run a command in this process: an answer that adds up, or messages and nothing else.

    Returns
    -------
    int
        Its exit code.
    """
    capsys.readouterr()
    code = main(list(words))
    out, err = capsys.readouterr()
    assert code in (*allowed, REACHED), err
    assert "Traceback" not in err
    assert "inside restcab" not in err
    assert not [letter for letter in out + err if _acts(letter)]
    if code in (1, 2) or (code == 3 and not out):  # no unit at all is a message
        assert out == ""
        # Warnings may stand before; what is wrong comes last, a line for each fault.
        last = [line for line in err.splitlines() if not line.startswith("warning: ")]
        assert last
        assert last[0].startswith(("restcab: ", "Usage: "))
        assert all(0 < len(line) < 3000 for line in last)
    elif "--json" in words and code != REACHED:
        check_answer(out)
    test = os.environ.get("PYTEST_CURRENT_TEST", "").partition("::")[2].partition(" ")[0]
    ENDED[test, code] += 1
    return code


def _acts(letter: str) -> bool:
    """Whether a character does something to a terminal, by its class in Unicode."""
    acting = unicodedata.category(letter) in ("Cc", "Cs", "Zl", "Zp") and letter != "\n"
    return acting or unicodedata.bidirectional(letter) in _TURNING


def check_answer(text: str) -> dict[str, Any]:
    """An answer in JSON: finite, its heat balanced."""
    answer: dict[str, Any] = json.loads(text, parse_constant=_no_constant)
    numbers = list(_numbers(answer))
    assert numbers
    assert all(map(math.isfinite, numbers))
    residual = answer["result"].get("balance_residual_frac", 0.0)
    assert 0.0 <= residual <= BALANCE_LIMIT_FRAC
    return answer


def _no_constant(name: str) -> None:
    raise AssertionError(f"{name} stands in JSON")


def _numbers(value: Any) -> Iterator[float]:
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list):
        for each in value:
            yield from _numbers(each)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield value


class Key(NamedTuple):
    """A declared key: its table, name, and what it accepts."""

    table: str
    name: str
    kind: Any
    default: Any


def keys(table: str, model: type[Table]) -> list[Key]:
    """All declared keys of a table."""
    return [Key(table, d.key, d.kind, d.default) for d in declarations(model).values()]


# TOML texts of values that no key should stumble over.
ODD_VALUES = (
    "nan", "inf", "-inf", "1e400", "-0.0", "9" * 400, "-" + "9" * 400, "1e-320", "0x" + "f" * 5000,
    "9" * 5000, '""', '" "', '"\\u0000"', '"\\u001b[2Jx"', '"\\u202Eevil"', '"nan W"', '"inf W"',
    '"1e400 Btu/h"', '"-1e400 degF"', f'"{"9" * 400} W"', f'"1 {"W" * 400}"', '"1 W/"', '"1 ((W"',
    '"1 W**99999"', '"1 W**W"', '"1 furlong"', '"1_000 W"', '"١٠ W"', '"1 Btu/h; rm"', '"="',
    "[]", "[[]]", "[" * 60 + "]" * 60, "[" * 5000 + "]" * 5000, "{}", "{ a = 1 }",
    '[{ a = 1 }]', '["a", 1]', "true", "2024-07-01", "20:00:00", "2024-07-01T00:00:00Z", "''",
    "'''x'''", '"$\\\\frac{1}{0}$"', f'"{"x" * 10000}"', '"a\\nb"', "1__0", "=", '"',
)  # fmt: skip


def odd_values(key: Key) -> list[str]:
    """TOML texts just beside what a key accepts, and far from it."""
    found: list[str] = []
    kind = key.kind
    if isinstance(kind, Quantity):
        low, high = kind.hard
        span = high - low
        ends = (low - 1e-3 * span, high + 1e-3 * span, -1e30, 1e30, low, high, 1e-300)
        found += [f'"{value!r} {kind.unit}"' for value in ends]
        found += [f'"{high!r}"', f"{high!r}", f'"{high!r} {kind.unit}{kind.unit}"',
                  f'"{high!r} kg"', f'"{high!r} degF"', f'"{kind.unit}"', f'"nan {kind.unit}"',
                  f'"1,000 {kind.unit}"', f'"{high!r} {kind.unit.upper()}"']  # fmt: skip
    elif isinstance(kind, Number):
        low, high = kind.hard
        found += [repr(low), repr(high), repr(low - 1), repr(high + 1), f'"{high!r}"',
                  repr(low + 0.37 * (high - low))]  # fmt: skip
    elif isinstance(kind, Choice | Row):
        words = kind.words if isinstance(kind, Choice) else tuple(kind.allowed().split(", "))
        found += [f'"{word}"' for word in words]
        found += [f'"{words[0]}x"', f'"{words[0].upper()}"', f'"{words[0]}, {words[-1]}"']
    else:
        found += ['"all"', '"any"', '"Nov-Feb"', '"Foo-Bar"', '"25:00"', '"20:00"', '"-1"', "5",
                  '"battery"', '"battery, battery"', '"2015-2020"', "361", "-5"]  # fmt: skip
    return found


def value_text(key: Key) -> st.SearchStrategy[str]:
    """A TOML text for a key: mostly odd, sometimes good."""
    own = st.sampled_from(odd_values(key))
    written = st.text(max_size=20).map(json.dumps)
    number = st.floats().map(repr) | st.integers().map(str)
    return own | own | st.sampled_from(ODD_VALUES) | written | number


def typo(name: str) -> st.SearchStrategy[str]:
    """A key as somebody might mistype it."""
    return st.sampled_from(
        [name[:-1] or "x", name + "s", name.upper(), name.replace("_", ""), f'"{name} "', name * 30,
         '"\\u001b[31m"', '""']
    )  # fmt: skip


def good_value(key: Key) -> st.SearchStrategy[str]:
    """A TOML text that a numeric or word key accepts."""
    kind = key.kind
    if isinstance(kind, Quantity):
        return st.floats(*kind.hard).map(lambda value: f'"{value!r} {kind.unit}"')
    if isinstance(kind, Number):
        span = st.integers(*map(math.trunc, kind.hard)) if kind.whole else st.floats(*kind.hard)
        return span.map(repr)
    if isinstance(kind, Choice):
        return st.sampled_from(kind.words).map(json.dumps)
    if isinstance(kind, Row):
        return st.sampled_from(kind.allowed().split(", ")).map(json.dumps)
    return st.just(json.dumps(key.default))
