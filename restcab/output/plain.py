"""Text for terminals that know few characters."""

_SAME = {
    "°": "deg", "·": "*", "²": "2", "³": "3", "–": "-", "—": "-", "−": "-", "×": "x", "µ": "u",
    "≥": ">=", "≤": "<=", "±": "+-", "…": "...", "’": "'", "‘": "'", "“": '"', "”": '"',
    "\N{NO-BREAK SPACE}": " ", "→": "->", "é": "e", "ö": "o", "ü": "u", "ä": "a",
}  # fmt: skip


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
