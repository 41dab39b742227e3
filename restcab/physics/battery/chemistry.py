"""Battery chemistries: the constants and curves of flooded lead, AGM lead and iron phosphate.

Every value stands in ``data/chemistries.csv`` with its source and with how the source was seen
("read", "read second-hand", "from memory", "computed", "design assumption", ...). Voltages are per
cell, so the same rows serve 6, 12, 24 and 48 V banks.
"""

from collections import defaultdict
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Any, NamedTuple

import numpy as np

from restcab.errors import InputError, Problem, nearest
from restcab.physics.arrays import FloatArray, FloatLike, IntArray, place_among, within
from restcab.provenance import data_rows

CHEMISTRIES = ("flooded", "AGM", "LFP")
"""Names accepted by :func:`chemistry`."""

_SOC_STEPS = 100  # every state-of-charge knot in the table is a multiple of 1 %
_SOC_GRID = np.arange(_SOC_STEPS + 1) / _SOC_STEPS


@dataclass(frozen=True, eq=False)
class Curve:
    """A table read by straight lines, held constant outside its range.

    Parameters
    ----------
    x, y
        Increasing abscissae and the values there, equal length.
    """

    x: FloatArray
    y: FloatArray

    def __call__(self, at: FloatLike) -> FloatArray:
        """Return the value at ``at`` (any shape)."""
        return np.asarray(read(self.points, at))

    @cached_property
    def points(self) -> FloatArray:
        """Abscissae and values, shape (2, n)."""
        return np.stack([self.x, self.y])


def read(points: FloatArray, at: FloatLike) -> FloatArray:
    """Return the value at ``at``, any shape, of a curve straight between points, shape (2, n)."""
    x, y = points[0], points[1]
    right = within(place_among(x, at), 1, x.size - 1)  # type: ignore[arg-type]
    left = right - 1
    share = within((at - x[left]) / (x[right] - x[left]), 0.0, 1.0)
    value: FloatArray = y[left] + share * (y[right] - y[left])
    return value


@dataclass(frozen=True, eq=False)
class SocCurve:
    """A curve over state of charge with its exact integral, on an even grid for speed.

    Parameters
    ----------
    value
        Values at 0, 1, ... 100 % state of charge; constant beyond both ends.
    """

    value: FloatArray

    def __call__(self, soc_frac: FloatLike) -> FloatArray:
        """Return the value at a state of charge [0-1], any shape."""
        return value_at(self.lines, 0, soc_frac)

    def integral(self, soc_frac: FloatLike) -> FloatArray:
        """Return the integral from 0 to a state of charge; exact for the straight lines."""
        return value_and_integral(self.lines, 0, soc_frac)[1]

    @cached_property
    def lines(self) -> FloatArray:
        """Straight line in each cell, with one before and one behind the grid, shape (1, 102, 3).

        Its level at an empty battery, its slope, and the constant of its integral: the integral up
        to the cell less that of the line itself.
        """
        slope = np.concatenate(([0.0], np.diff(self.value) * _SOC_STEPS, [0.0]))
        start = np.concatenate(([0.0], _SOC_GRID))
        level = np.concatenate((self.value[:1], self.value)) - slope * start
        steps = 0.5 * (self.value[1:] + self.value[:-1]) / _SOC_STEPS
        area = np.concatenate(([0.0, 0.0], np.cumsum(steps)))
        return np.stack([level, slope, area - start * (level + 0.5 * slope * start)], axis=-1)[None]


OCV_CELL, RESISTANCE_SOC, COULOMBIC_EFFICIENCY, CHARGE_OVERVOLTAGE_CELL, ACCEPTANCE_C_RATE = range(
    5
)
"""Place of each curve in the lines of a chemistry."""
_LEVEL, _SLOPE, _OFFSET = range(3)


def value_at(lines: FloatArray, curve: int, soc_frac: FloatLike) -> FloatArray:
    """Return the value of a curve at a state of charge [0-1], any shape.

    Parameters
    ----------
    lines
        Lines of one curve or of several, as of :class:`SocCurve` or :class:`Chemistry`.
    curve
        Which of them.
    soc_frac
        State of charge.
    """
    cell = _cell(soc_frac)
    value: FloatArray = lines[curve, cell, _LEVEL] + soc_frac * lines[curve, cell, _SLOPE]
    return value


def value_and_integral(
    lines: FloatArray, curve: int, soc_frac: FloatLike
) -> tuple[FloatArray, FloatArray]:
    """Return value and integral from 0 at a state of charge, for little more than one of them."""
    cell = _cell(soc_frac)
    level = lines[curve, cell, _LEVEL]
    half_rise = 0.5 * lines[curve, cell, _SLOPE] * soc_frac
    area = lines[curve, cell, _OFFSET] + soc_frac * (level + half_rise)
    return level + (half_rise + half_rise), area


def _cell(soc_frac: FloatLike) -> IntArray:
    """Return the cell of a state of charge: 0 below the grid, 101 above it."""
    return np.int64(within(soc_frac * _SOC_STEPS + 1.0, 0.0, _SOC_STEPS + 1.0))  # type: ignore[return-value]


class OneChemistry(NamedTuple):
    """What of a :class:`Chemistry` compiled code asks, in few arrays."""

    peukert_exponent: float
    knee_exponent: float
    absorption_v_cell: float
    resistance_temp_per_k: float
    charge_temp_min_c: float
    charge_temp_max_c: float
    lines: FloatArray
    capacity_points: FloatArray
    acceptance_points: FloatArray


@dataclass(frozen=True, eq=False)
class Chemistry:
    """Constants and curves of one battery chemistry; per cell unless the name says otherwise.

    Parameters
    ----------
    name
        One of :data:`CHEMISTRIES`.
    cells_per_12v
        Cells in series in a nominal 12 V battery.
    peukert_exponent
        Exponent of the rate effect, >= 1.
    capacity_temp
        Capacity over rated capacity against temperature [°C], constant current for hours.
    capacity_fade_frac
        Share of the capacity lost at the end of life.
    ocv_cell
        Rest voltage of a cell [V] against state of charge.
    end_v_cell
        Voltage under load [V] at which the rated capacity ends.
    knee_exponent
        Shape of the voltage fall towards the end voltage.
    resistance_ohm_ah_12v
        Effective resistance of a full 12 V battery at 25 °C times its rated Ah [ohm·Ah].
    resistance_soc
        Resistance over that of a full battery, against state of charge.
    resistance_temp_per_k
        Exponential rise per kelvin below 25 °C [1/K].
    resistance_age_rise_frac
        Rise at the end of life.
    usable_depth_frac
        Depth of discharge used in practice.
    cutoff_v_cell
        Usual low-voltage disconnect under load [V].
    specific_energy_wh_per_kg
        Rated energy over mass of the battery [Wh/kg].
    density_kg_per_m3, specific_heat_j_per_kgk
        Mass over outer volume [kg/m³] and specific heat [J/(kg·K)] of the whole battery.
    cycles
        Life in cycles against depth of discharge.
    calendar_life_years, calendar_halving_k
        Life at 25 °C [years] and the warming that halves it [K].
    coulombic_efficiency, charge_overvoltage_cell, acceptance_c_rate
        Charging, against state of charge: share of the charge kept; terminal above rest voltage
        [V]; current taken over rated Ah [1/h].
    absorption_v_cell
        Voltage limit of charging [V].
    acceptance_temp
        Acceptance over that at 25 °C, against temperature [°C].
    charge_temp_min_c, charge_temp_max_c
        Temperatures between which the battery may be charged [°C].
    """

    name: str
    cells_per_12v: float
    peukert_exponent: float
    capacity_temp: Curve
    capacity_fade_frac: float
    ocv_cell: SocCurve
    end_v_cell: float
    knee_exponent: float
    resistance_ohm_ah_12v: float
    resistance_soc: SocCurve
    resistance_temp_per_k: float
    resistance_age_rise_frac: float
    usable_depth_frac: float
    cutoff_v_cell: float
    specific_energy_wh_per_kg: float
    density_kg_per_m3: float
    specific_heat_j_per_kgk: float
    cycles: Curve
    calendar_life_years: float
    calendar_halving_k: float
    coulombic_efficiency: SocCurve
    charge_overvoltage_cell: SocCurve
    absorption_v_cell: float
    acceptance_c_rate: SocCurve
    acceptance_temp: Curve
    charge_temp_min_c: float
    charge_temp_max_c: float

    def cells_in_series(self, voltage_nominal_v: FloatLike) -> FloatArray:
        """Return the cells in series of a bank from its nominal voltage.

        Parameters
        ----------
        voltage_nominal_v
            Nominal voltage [V]: 6, 12, 24, 36 or 48, or the 12.8, 25.6, 51.2 V that iron-phosphate
            packs are labelled with.

        Returns
        -------
        ndarray
            Number of cells.

        Notes
        -----
        Rounded to whole 6 V blocks of 12.3 V per two, so that both ways of labelling give the
        same count.
        """
        blocks_6v = np.round(2.0 * np.asarray(voltage_nominal_v, dtype=np.float64) / 12.3)
        return 0.5 * self.cells_per_12v * blocks_6v

    @cached_property
    def lines(self) -> FloatArray:
        """Lines of the curves over state of charge, shape (5, 102, 3), see :class:`SocCurve`."""
        curves = (
            self.ocv_cell, self.resistance_soc, self.coulombic_efficiency,
            self.charge_overvoltage_cell, self.acceptance_c_rate,
        )  # fmt: skip
        return np.concatenate([curve.lines for curve in curves])

    @property
    def capacity_points(self) -> FloatArray:
        """Points of the capacity against temperature, shape (2, n)."""
        return self.capacity_temp.points

    @property
    def acceptance_points(self) -> FloatArray:
        """Points of the acceptance against temperature, shape (2, n)."""
        return self.acceptance_temp.points

    @cached_property
    def arrays(self) -> OneChemistry:
        """The chemistry as compiled code reads it."""
        return OneChemistry(*(getattr(self, name) for name in OneChemistry._fields))


_CURVES = {"capacity_temp", "cycles", "acceptance_temp"}
_SOC_CURVES = {
    "ocv_cell",
    "resistance_soc",
    "coulombic_efficiency",
    "charge_overvoltage_cell",
    "acceptance_c_rate",
}


@cache
def chemistry(name: str) -> Chemistry:
    """Return a chemistry by name.

    Parameters
    ----------
    name
        ``"flooded"``, ``"AGM"`` or ``"LFP"``; case does not matter.

    Returns
    -------
    Chemistry
        Constants and curves; the same object on every call.

    Raises
    ------
    InputError
        If there is no such chemistry.
    """
    known = {key.lower(): key for key in CHEMISTRIES}
    if name.lower() not in known:
        raise InputError(
            Problem(
                "bank.chemistry",
                f"unknown chemistry {name!r}",
                ", ".join(CHEMISTRIES),
                nearest(name, CHEMISTRIES),
            )
        )
    found = known[name.lower()]
    points: dict[str, list[tuple[float, float]]] = defaultdict(list)
    for row in data_rows("chemistries"):
        if row["chemistry"] == found:
            x = float(row["x"]) if row["x"] else np.nan
            points[row["quantity"]].append((x, float(row["value"])))
    return Chemistry(name=found, **{key: _field(key, pairs) for key, pairs in points.items()})


# Any: a field is a number or a curve, as its name says
def _field(quantity: str, pairs: list[tuple[float, float]]) -> Any:
    x, y = np.array(sorted(pairs)).T
    if quantity in _CURVES:
        return Curve(x, y)
    if quantity in _SOC_CURVES:
        return SocCurve(np.interp(_SOC_GRID, x, y))
    return float(y[0])
