"""Text for terminals that know few characters."""

import os
import sys

_SAME = {
    "°": "deg", "·": "*", "²": "2", "³": "3", "–": "-", "—": "-", "−": "-", "×": "x", "µ": "u",
    "≥": ">=", "≤": "<=", "±": "+-", "…": "...", "’": "'", "‘": "'", "“": '"', "”": '"',
    "\N{NO-BREAK SPACE}": " ", "→": "->", "é": "e", "ö": "o", "ü": "u", "ä": "a",
}  # fmt: skip


_PLAIN = ("C", "POSIX")
"""Names of the locale that knows ASCII alone."""
_COERCED = ("C.UTF-8", "C.utf8", "UTF-8")
"""What Python writes into LC_CTYPE when it finds that locale (PEP 538)."""


def terminal_encoding() -> str | None:
    """Encoding of what reads standard output; ASCII where the locale was set to C.

    Python writes UTF-8 in that locale whatever the terminal knows. Who sets PYTHONIOENCODING or
    PYTHONUTF8 says what it knows.
    """
    names = ("LC_ALL", "LC_CTYPE", "LANG")
    lc_all, lc_ctype, lang = (os.environ.get(name, "") for name in names)
    if lang in _PLAIN and lc_ctype in _COERCED:
        lc_ctype = ""
    told = os.environ.get("PYTHONIOENCODING") or os.environ.get("PYTHONUTF8")
    if not told and (lc_all or lc_ctype or lang) in _PLAIN:
        return "ascii"
    return sys.stdout.encoding


def fitting(text: str, encoding: str | None) -> str:
    """Write a text in the characters that a terminal can show.

    Parameters
    ----------
    text
        Any text.
    encoding
        The terminal's; None: unknown, the text stays.

    Returns
    -------
    str
        The same text if all of it can be shown; else plain ASCII: ``72 °F`` as ``72 degF``.
    """
    if encoding is None:
        return text
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        plain = "".join(_SAME.get(letter, letter) for letter in text)
        return plain.encode("ascii", "replace").decode("ascii")
    except LookupError:
        return text
    return text
