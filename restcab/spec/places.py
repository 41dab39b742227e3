"""Where a key stands in a TOML text: for messages only, since tomllib forgets the lines."""

import re

_HEADER = re.compile(r"\s*\[{1,2}\s*([\w.\- ]+?)\s*\]{1,2}\s*(?:#.*)?")
_COUNT = re.compile(r"(?<=\.)\d+(?=\.|$)")
_KEY = re.compile(r"\s*([\w\-]+(?:\s*\.\s*[\w\-]+)*)\s*=")


def counted(path: str) -> str:
    """Return a key path whose rows of lists are counted from 1, as people do; inside, from 0."""
    return _COUNT.sub(lambda at: str(int(at[0]) + 1), path)


class Places:
    """Finds the line of a key path.

    Parameters
    ----------
    file
        Name of the file.
    text
        Its content.
    """

    def __init__(self, file: str, text: str) -> None:
        self.file = file
        self._lines: dict[str, int] = {}
        self._number_keys: set[str] = set()
        self._overrides: dict[str, str] = {}
        self._scan(text)

    def _scan(self, text: str) -> None:
        table = ""
        counts: dict[str, int] = {}
        for number, line in enumerate(text.split("\n"), start=1):
            header = _HEADER.fullmatch(line.rstrip("\r"))
            if header:
                table = header[1].replace(" ", "")
                if line.lstrip().startswith("[["):
                    counts[table] = counts.get(table, -1) + 1
                    table = f"{table}.{counts[table]}"
                self._lines.setdefault(table, number)
                continue
            key = _KEY.match(line)
            if key:
                path = f"{table}.{key[1].replace(' ', '')}".lstrip(".")
                self._lines.setdefault(path, number)
                if path.rpartition(".")[2].isdecimal():
                    self._number_keys.add(path)

    def override(self, path: str, text: str) -> None:
        """Note that a key path comes from the command line."""
        self._overrides[path] = text

    def at(self, path: str) -> str:
        """Return ``file line N: path``, the path in the way a reader finds it."""
        if path in self._overrides:
            return self._overrides[path]
        shown = path if path in self._number_keys else counted(path)
        return f"{self.place(path)}: {shown}"

    def place(self, path: str) -> str:
        """Return ``file line N``, or the override that gave the key."""
        if path in self._overrides:
            return self._overrides[path]
        parts = path.split(".")
        # A key inside an inline table has no line of its own: its nearest parent's is given.
        for length in range(len(parts), 0, -1):
            line = self._lines.get(".".join(parts[:length]))
            if line is not None:
                return f"{self.file} line {line}"
        return self.file
