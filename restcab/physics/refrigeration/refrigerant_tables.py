"""Refrigerant properties from small polynomial tables.

A table holds Chebyshev coefficients in the distance from the critical point,
``z = (1 - T/T_crit)**(1/3)``, because along the saturation line all properties are smooth in that
variable up to the critical point, and in a second variable beside it: the superheat for suction
gas, or the entropy above saturated vapour for compression. With enthalpy given as a function of
pressure and entropy an isentropic compression needs no iteration, and its slope is the
temperature. The mapping of z and the two forms are design choices of this package.

Saturation temperature always means the dew point; for blends the liquid enthalpy is that of the
bubble point at the same pressure. Reference state: saturated liquid at 0 °C has 200 kJ/kg and
1 kJ/(kg K), the convention of the refrigeration trade (IIR).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
from numpy.polynomial import chebyshev

from restcab.physics.arrays import FloatArray, FloatLike
from restcab.units import KELVIN_OFFSET

_SUPERHEAT_STRETCH_K = 15.0  # vapour near the dew line bends sharply in hot, dense states
COEFFICIENT_FIELDS = (
    "ln_pressure",
    "h_liquid",
    "s_vapour",
    "h_superheat",
    "s_superheat",
    "ln_density",
    "h_entropy",
)


@dataclass(frozen=True)
class SuctionLine:
    """Vapour at one fixed superheat: coefficients in z alone, cheap to evaluate many times.

    Parameters
    ----------
    coefficients
        Columns of the logarithm of the saturation pressure, of enthalpy, of entropy and of the
        logarithm of density, shape (n_term, 4).
    """

    coefficients: FloatArray


class Vapour(NamedTuple):
    """State of vapour, shape of the temperatures asked for."""

    pressure_pa: FloatArray
    enthalpy_j_per_kg: FloatArray
    entropy_j_per_kgk: FloatArray
    density_kg_per_m3: FloatArray


@dataclass(frozen=True)
class Refrigerant:
    """Properties of one refrigerant between ``temp_min_c`` and ``temp_max_c`` of saturation.

    Parameters
    ----------
    name
        Trade name, such as ``R134a``.
    source
        Where the table comes from.
    temp_critical_c
        Critical temperature [°C].
    temp_min_c, temp_max_c
        Range of the saturation temperature [°C].
    superheat_max_k
        Range of the superheat, from 0 [K].
    entropy_max_j_per_kgk
        Range of the entropy above saturated vapour, from 0 [J/(kg K)].
    ln_pressure, h_liquid, s_vapour
        Chebyshev coefficients in z of ln(p / 1 Pa), of the enthalpy of liquid and of the entropy
        of saturated vapour.
    h_superheat, s_superheat, ln_density
        The same in z and superheat, for vapour: enthalpy [J/kg], entropy [J/(kg K)] and the
        logarithm of density [kg/m3].
    h_entropy
        The same in z and entropy above saturated vapour: enthalpy [J/kg].
    """

    name: str
    source: str
    temp_critical_c: float
    temp_min_c: float
    temp_max_c: float
    superheat_max_k: float
    entropy_max_j_per_kgk: float
    ln_pressure: FloatArray
    h_liquid: FloatArray
    s_vapour: FloatArray
    h_superheat: FloatArray
    s_superheat: FloatArray
    ln_density: FloatArray
    h_entropy: FloatArray

    @classmethod
    def from_dict(cls, table: Mapping[str, Any]) -> "Refrigerant":
        """Build from the mapping stored in a table file."""
        found = dict(table)
        for name in COEFFICIENT_FIELDS:
            found[name] = np.asarray(found[name], dtype=np.float64)
        return cls(**found)

    def to_dict(self) -> dict[str, Any]:
        """Return the mapping stored in a table file: plain numbers with 11 digits."""
        found = {entry.name: getattr(self, entry.name) for entry in fields(self)}
        for name in COEFFICIENT_FIELDS:
            found[name] = _rounded(found[name].tolist())
        return found

    def _x(self, temp_sat_c: FloatLike) -> FloatArray:
        return distance_scaled(temp_sat_c, self.temp_critical_c, self.temp_min_c, self.temp_max_c)

    def enthalpy_liquid_j_per_kg(self, temp_sat_c: FloatLike) -> FloatArray:
        """Enthalpy [J/kg] of liquid at a temperature [°C]; pressure hardly matters for liquid."""
        value: FloatArray = _chebyshev(self._x(temp_sat_c), self.h_liquid)
        return value

    def suction_line(self, superheat_k: float) -> SuctionLine:
        """Reduce the vapour tables to one fixed superheat [K]."""
        y = superheat_scaled(superheat_k, self.superheat_max_k)
        tables = (self.h_superheat, self.s_superheat, self.ln_density)
        return SuctionLine(_columns(self.ln_pressure, *(_chebyshev(y, t.T) for t in tables)))

    def suction_state(self, line: SuctionLine, temp_sat_c: FloatLike) -> Vapour:
        """State along a `suction_line`.

        Parameters
        ----------
        line
            From `suction_line` of this refrigerant.
        temp_sat_c
            Saturation temperature that belongs to the pressure [°C].
        """
        ln_pressure, enthalpy, entropy, ln_density = _chebyshev(
            self._x(temp_sat_c), line.coefficients
        )
        return Vapour(np.exp(ln_pressure), enthalpy, entropy, np.exp(ln_density))

    def discharge_state(
        self, temp_sat_c: FloatLike, entropy_j_per_kgk: FloatLike
    ) -> tuple[FloatArray, FloatArray]:
        """Pressure and enthalpy of vapour at a saturation temperature and an entropy.

        Parameters
        ----------
        temp_sat_c
            Saturation temperature that belongs to the pressure [°C].
        entropy_j_per_kgk
            Entropy [J/(kg K)]. Below that of saturated vapour the state is wet, where at
            constant pressure enthalpy rises with entropy by the temperature, dh = T ds.

        Returns
        -------
        tuple
            Pressure [Pa] and enthalpy [J/kg].
        """
        temp: FloatArray = np.asarray(temp_sat_c, dtype=np.float64)
        ln_pressure, dew, *across = _chebyshev(self._x(temp), self._discharge)
        excess = np.asarray(entropy_j_per_kgk) - dew
        y = 2.0 * np.maximum(excess, 0.0) / self.entropy_max_j_per_kgk - 1.0
        y, *across = np.broadcast_arrays(y, *across)
        dry = chebyshev.chebval(y, np.stack(across), tensor=False)
        return np.exp(ln_pressure), dry + (temp + KELVIN_OFFSET) * np.minimum(excess, 0.0)

    @cached_property
    def _discharge(self) -> FloatArray:
        """Columns of the logarithm of pressure, of entropy at the dew line, and of `h_entropy`."""
        return _columns(self.ln_pressure, self.s_vapour, *self.h_entropy.T)


def _columns(*series: FloatArray) -> FloatArray:
    """Coefficients side by side, shape (n_term, n_series): one sum for all of them."""
    found = np.zeros((max(map(len, series)), len(series)))
    for column, values in zip(found.T, series, strict=True):
        column[: len(values)] = values
    return found


def _chebyshev(x: FloatArray, coefficients: FloatArray) -> FloatArray:
    value: FloatArray = chebyshev.chebval(x, coefficients).astype(np.float64, copy=False)
    return value


def distance_scaled(
    temp_sat_c: FloatLike, temp_critical_c: float, temp_min_c: float, temp_max_c: float
) -> FloatArray:
    """Map a saturation temperature [°C] to the Chebyshev interval -1 … 1 through z.

    -1 is the end near the critical point, 1 is the cold end.
    """
    near, far = (
        np.cbrt((temp_critical_c - end) / (temp_critical_c + KELVIN_OFFSET))
        for end in (temp_max_c, temp_min_c)
    )
    temp = np.asarray(temp_sat_c, dtype=np.float64)
    z = np.cbrt((temp_critical_c - temp) / (temp_critical_c + KELVIN_OFFSET))
    scaled: FloatArray = (2.0 * z - near - far) / (far - near)
    return scaled


def temperature_at_scaled_c(
    x: FloatArray, temp_critical_c: float, temp_min_c: float, temp_max_c: float
) -> FloatArray:
    """Saturation temperature [°C] of a point in the Chebyshev interval: inverse mapping."""
    near, far = (
        np.cbrt((temp_critical_c - end) / (temp_critical_c + KELVIN_OFFSET))
        for end in (temp_max_c, temp_min_c)
    )
    z = 0.5 * (x * (far - near) + near + far)
    temp: FloatArray = temp_critical_c - (temp_critical_c + KELVIN_OFFSET) * z**3
    return temp


def superheat_scaled(superheat_k: FloatLike, superheat_max_k: float) -> FloatArray:
    """Map a superheat [K] to the Chebyshev interval -1 … 1, stretched near saturation."""
    superheat: FloatArray = np.asarray(superheat_k, dtype=np.float64)
    share = superheat / (superheat + _SUPERHEAT_STRETCH_K)
    return share * (2.0 * (superheat_max_k + _SUPERHEAT_STRETCH_K) / superheat_max_k) - 1.0


def superheat_at_scaled_k(y: FloatArray, superheat_max_k: float) -> FloatArray:
    """Superheat [K] of a point in the Chebyshev interval: inverse mapping."""
    share = (y + 1.0) * superheat_max_k / (2.0 * (superheat_max_k + _SUPERHEAT_STRETCH_K))
    superheat: FloatArray = _SUPERHEAT_STRETCH_K * share / (1.0 - share)
    return superheat


def _rounded(values: Sequence[Any]) -> list[Any]:
    return [_rounded(v) if isinstance(v, list) else float(f"{v:.11g}") for v in values]
