"""Rests as pandas frames, and frames as plain rows."""

from typing import Any

import numpy as np
import pandas as pd

from restcab.engine.origins import LOAD_PARTS
from restcab.engine.record import RestRun
from restcab.physics.arrays import FloatArray


def hourly_frame(run: RestRun, case: int, start: np.datetime64, hours: float) -> pd.DataFrame:
    """One rest hour by hour: means of the hour that ends at ``time``.

    Parameters
    ----------
    run
        Rests with recorded parts.
    case
        Which of them.
    start
        Local standard time at which it began.
    hours
        Length of the rest [h].

    Returns
    -------
    DataFrame
        Columns ``time``, ``temp_out_c``, ``temp_bunk_c``, ``load_w`` and the parts ``<part>_w``
        of the load, which add up to it; a last row shorter than an hour keeps its own end.
    """
    assert run.parts_w is not None
    ends = _ends_h(hours)

    def mean(values: FloatArray) -> FloatArray:
        return hourly_means(run, values, hours)

    seconds = np.round(ends * 3600.0).astype("timedelta64[s]")
    columns: dict[str, object] = {
        "time": start.astype("datetime64[s]") + seconds,
        "temp_out_c": mean(run.temp_out_c[:, case]),
        "temp_bunk_c": mean(run.temp_bunk_c[:, case]),
        "load_w": mean(run.load_w[:, case]),
    }
    for index, part in enumerate(LOAD_PARTS):
        columns[f"{part}_w"] = mean(run.parts_w[index, :, case])
    return pd.DataFrame(columns)


def hourly_means(run: RestRun, values: FloatArray, hours: float) -> FloatArray:
    """Means of the hours of a rest from its steps, shape (n_step,); a last hour may be shorter."""
    ends = _ends_h(hours)
    row = np.clip(np.searchsorted(ends, run.time_h - 1e-9), 0, len(ends) - 1)
    total = np.bincount(row, weights=values, minlength=len(ends))
    return np.asarray(total / np.bincount(row, minlength=len(ends)))


def _ends_h(hours: float) -> FloatArray:
    return np.append(np.arange(1.0, hours), hours)


def records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Rows of a frame as plain values: times as ISO text, None where there is no number."""
    return [
        {str(key): _plain(value) for key, value in row.items()} for row in frame.to_dict("records")
    ]


def _plain(value: Any) -> Any:
    if isinstance(value, pd.Timestamp):
        return value.isoformat()
    return None if value != value else value
