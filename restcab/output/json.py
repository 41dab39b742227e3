"""The one JSON object that every command prints."""

import json
from collections.abc import Mapping, Sequence
from typing import Any


def envelope(
    command: str,
    result: Mapping[str, Any],
    *,
    warnings: Sequence[str] = (),
    sources: Sequence[str] = (),
    provenance: Mapping[str, Any],
) -> str:
    """Return the JSON text of a result.

    Parameters
    ----------
    command
        Name of the command; the schema is ``restcab/<command>/1``.
    result
        The result, SI, keys with unit suffixes; numpy scalars and arrays are converted.
    warnings, sources
        One sentence each.
    provenance
        Version, hash of the inputs, hash of the weather; see `restcab.provenance.provenance`.

    Returns
    -------
    str
        JSON with sorted keys, ending in a newline.

    Raises
    ------
    ValueError
        If a number is NaN or infinite: JSON has neither, and a result must not.
    """
    document = {
        "schema": f"restcab/{command}/1",
        "result": result,
        "warnings": list(warnings),
        "sources": list(sources),
        "provenance": provenance,
    }
    # Plain values first: what numpy holds can be a negative zero too.
    plain = json.loads(json.dumps(document, allow_nan=False, default=_plain), parse_float=_unsigned)
    return json.dumps(plain, indent=2, sort_keys=True) + "\n"


def _unsigned(text: str) -> float:
    """Read a number, zero without a sign: -0.0 means nothing in a result."""
    return float(text) + 0.0


def _plain(value: Any) -> Any:
    """Turn what json does not know into plain values; numpy's own ``tolist`` does it."""
    if hasattr(value, "tolist"):
        return value.tolist()
    if hasattr(value, "isoformat"):
        return value.isoformat()
    raise TypeError(f"{type(value).__name__} cannot stand in JSON")
