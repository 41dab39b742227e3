"""Text of an input made harmless for a terminal: what would act is shown instead.

A name in a spec, a cell of a log or a file's name may hold escape sequences that move the cursor,
recolour the screen or turn the direction of writing. On a page and in a message such characters
stand as their code, so that a reader sees that they are there and none of them does anything.
"""

import re

_ACTING = (
    "\x00-\x09\x0b-\x1f"  # controls; the end of a line is left to the caller
    "\x7f-\x9f"  # delete, and the controls of 8 bits: next line, CSI, OSC
    "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"  # direction of writing
    "\u2028\u2029\ufeff"  # ends of line and of file that few programs know
    "\ud800-\udfff"  # bytes of a file's name that are no text
    "\U000e0000-\U000e007f"  # tags, invisible
)
_ACTING_CHARACTER = re.compile(f"[{_ACTING}]")
_ACTING_OR_NEW_LINE = re.compile(f"[{_ACTING}\n]")


def visible(text: str, *, one_line: bool = False) -> str:
    r"""Replace characters that act on a terminal by their code, such as ``\x1b``.

    Parameters
    ----------
    text
        Any text.
    one_line
        Whether the end of a line is replaced too: a cell, a message.

    Returns
    -------
    str
        The text; one without such characters comes back as it is.
    """
    pattern = _ACTING_OR_NEW_LINE if one_line else _ACTING_CHARACTER
    return pattern.sub(_code, text)


def _code(match: re.Match[str]) -> str:
    return match[0].encode("unicode_escape").decode("ascii")
