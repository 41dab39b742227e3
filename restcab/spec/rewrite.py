"""A spec file with some keys changed, all else left as its owner wrote it."""

import re
from collections.abc import Mapping

_HEAD = re.compile(r"^\s*\[([A-Za-z_]+)\]\s*(#.*)?$")
_ANY_HEAD = re.compile(r"^\s*\[")


def with_keys(text: str, changes: Mapping[str, str], remark: str = "") -> str:
    """Change keys of a spec's text.

    Parameters
    ----------
    text
        TOML as it stands; may be empty.
    changes
        ``table.key`` -> value as TOML writes it.
    remark
        Comment behind every changed line, without its mark.

    Returns
    -------
    str
        The text with each key replaced where it stands, else put below the head of its table, else
        in a new table at the end. What a line said before is kept as a comment above it.
    """
    lines = text.splitlines()
    behind = f"  # {remark}" if remark else ""
    for path, value in changes.items():
        table, _, key = path.partition(".")
        new = f"{key} = {value}{behind}"
        begin, end = _span(lines, table)
        if begin is None:
            lines += [*([""] if lines and lines[-1].strip() else []), f"[{table}]", new]
            continue
        place = _line_of(lines, key, begin + 1, end)
        if place is None:
            while end > begin + 1 and not lines[end - 1].strip():
                end -= 1
            lines.insert(end, new)
        else:
            lines[place : place + 1] = [f"# before: {lines[place].strip()}", new]
    return "\n".join(lines) + "\n"


def _span(lines: list[str], table: str) -> tuple[int | None, int]:
    """Line of a table's head, and the line behind its last; None if there is no such table."""
    for number, line in enumerate(lines):
        head = _HEAD.match(line)
        if head and head.group(1) == table:
            for after in range(number + 1, len(lines)):
                if _ANY_HEAD.match(lines[after]) and not lines[after].lstrip().startswith("[["):
                    return number, after
                if lines[after].lstrip().startswith("[["):
                    return number, after
            return number, len(lines)
    return None, len(lines)


def _line_of(lines: list[str], key: str, begin: int, end: int) -> int | None:
    """Line on which a key is set."""
    pattern = re.compile(rf"^\s*\"?{re.escape(key)}\"?\s*=")
    for number in range(begin, end):
        if pattern.match(lines[number]):
            return number
    return None
