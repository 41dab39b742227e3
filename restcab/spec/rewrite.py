"""A spec file with some keys changed, all else left as its owner wrote it.

The file is a document of tomlkit, which keeps comments, order and the way values are written.
"""

from collections.abc import Mapping
from typing import Any

from restcab.spec.reading import rivals_of, toml_value


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
        The text with each key set in its table; keys that it takes the place of go. What the file
        said before stands in the comment behind the value.
    """
    import tomlkit

    document = tomlkit.parse(text)
    for path, value in changes.items():
        table, _, key = path.partition(".")
        before = document.get(table, {}).get(key)
        put(document, table, key, toml_value(value))
        told = [remark] if remark else []
        if before is not None:
            told.append(f"before: {tomlkit.item(before).as_string()}")
        if told:
            document[table][key].comment("; ".join(told))
    return tomlkit.dumps(document)


def put(document: Any, table: str, key: str, value: Any) -> None:
    """Set a key of a document; the keys that it replaces go, and with None the key itself."""
    import tomlkit

    if value is None:
        drop(document, table, key)
        return
    if table not in document:
        if len(document):
            document.add(tomlkit.nl())
        document[table] = tomlkit.table()
    for rival in rivals_of(table, key):
        drop(document, table, rival)
    document[table][key] = value


def drop(document: Any, table: str, key: str) -> None:
    """Take a key out of a document, if it is there."""
    if table in document and key in document[table]:
        document[table].remove(key)
