"""Errors a user can meet, and the exit code each one gives.

::

    RestcabError            1  the run failed
    ├── InputError          2  the user's input cannot be used; lists every problem found
    │   └── WeatherError    2  a weather file cannot be used
    ├── SolverError         1  the solution left the physical range; says when and where
    └── RequirementNotMet   3  the run is fine, the stated requirement is not met
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from restcab.visible import visible

_LONGEST = 400
"""Letters of one part of a message: an input may hold a word of any length."""


def _cut(text: str) -> str:
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]}..."


@dataclass(frozen=True)
class Problem:
    """One fault in the input: where it is, what is wrong, what would be right.

    Parameters
    ----------
    where
        File, or ``file: table.key``.
    what
        What was found, with the value.
    allowed
        What would be accepted; empty if that is evident.
    hint
        A suggestion such as the nearest key; empty if there is none.
    """

    where: str
    what: str
    allowed: str = ""
    hint: str = ""

    def __str__(self) -> str:
        text = f"{_cut(self.where)}: {_cut(self.what)}"
        if self.allowed:
            text += f"; allowed: {self.allowed}"
        if self.hint:
            text += f". {_cut(self.hint)}"
        # One fault, one line, whatever the input holds.
        return visible(text, one_line=True)


class RestcabError(Exception):
    """Base of every error that is reported as one message and no traceback."""

    exit_code = 1


class InputError(RestcabError):
    """The input cannot be used; ``problems`` lists every fault found."""

    exit_code = 2

    def __init__(self, problems: Problem | Iterable[Problem]) -> None:
        self.problems = [problems] if isinstance(problems, Problem) else list(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))

    def __reduce__(self) -> tuple[Any, ...]:
        """Survive the way back from another process with the problems, not only their text."""
        return type(self), (self.problems,)


class WeatherError(InputError):
    """A weather file cannot be used: names file, row and column."""


class SolverError(RestcabError):
    """The solution left the physical range: names the time and the place."""


class RequirementNotMet(RestcabError):  # noqa: N818 - not a fault, an answer
    """The run is fine, but the stated requirement is not met."""

    exit_code = 3


def nearest(word: str, choices: Sequence[str]) -> str:
    """Phrase a suggestion from the closest choice, or an empty text if none is close."""
    match = get_close_matches(word, choices, n=1, cutoff=0.6)
    return f"Did you mean {match[0]!r}?" if match else ""
