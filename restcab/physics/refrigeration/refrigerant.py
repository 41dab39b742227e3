"""Refrigerants by trade name: shipped tables, and the generator that makes them.

CoolProp takes about two seconds to import, so tables are shipped and this module imports it only
inside the generator: to renew a table, or for a refrigerant that has none. The table made for such
a one is kept in the user's cache directory.
"""

import difflib
import json
import re
from collections.abc import Callable, Sequence
from functools import lru_cache
from importlib import metadata, resources
from pathlib import Path
from typing import Any

import numpy as np
from numpy.polynomial import chebyshev

import restcab
from restcab.physics.arrays import FloatArray
from restcab.physics.refrigeration.refrigerant_tables import (
    Refrigerant,
    superheat_at_scaled_k,
    temperature_at_scaled_c,
)
from restcab.userdir import keep, kept

REFRIGERANTS = ("R134a", "R1234yf", "R410A", "R32", "R290", "R513A")
"""Trade names with a shipped table."""

TEMP_MIN_C = -40.0
TEMP_MAX_C = 85.0
CRITICAL_MARGIN_K = 4.0  # closer to the critical point vapour properties are no longer smooth
SUPERHEAT_MAX_K = 60.0
SUPERHEAT_SUCTION_MAX_K = 30.0
_DEGREE_SATURATION = 14
_DEGREE_VAPOUR = 10
_NODES_SATURATION = 36
_NODES_VAPOUR = 16
_NEWTON_LIMIT = 60
_KELVIN = 273.15
_IIR_ENTHALPY = 200e3
_IIR_ENTROPY = 1000.0
_USUAL_SUPERHEAT_K = 5.0
_KEPT = "refrigerants"
_NAME_LENGTH = 40
"""Letters of a refrigerant in the name of the file that keeps it; the file holds its whole name."""

# Blends without an equation of state of their own: components and mass fractions
# (composition as in ANSI/ASHRAE 34; from memory).
_BLENDS = {"R513A": ("R1234yf&R134a", (0.56, 0.44))}


def canonical_name(name: str) -> str:
    """Trade spelling of a refrigerant's name.

    Parameters
    ----------
    name
        Name as people write it: ``R-134a``, ``r134A``, ``R 410 A``.

    Returns
    -------
    str
        ``R134a``; a name without a shipped table comes back with spaces and hyphens removed.
    """
    squeezed = re.sub(r"[\s\-_]", "", name)
    known = {shipped.lower(): shipped for shipped in REFRIGERANTS}
    return known.get(squeezed.lower(), squeezed)


@lru_cache(maxsize=32)
def refrigerant(name: str) -> Refrigerant:
    """Properties of a refrigerant by its trade name.

    Parameters
    ----------
    name
        Trade name; hyphens, spaces and case do not matter.

    Returns
    -------
    Refrigerant
        From the shipped table; otherwise from one kept in the user's cache, or computed now.

    Raises
    ------
    ValueError
        CoolProp does not know the name, or it is no refrigerant for a cab in hot weather.
    """
    trade_name = canonical_name(name)
    if trade_name in REFRIGERANTS:
        path = resources.files("restcab") / "data" / "refrigerants" / f"{trade_name}.json"
        return Refrigerant.from_dict(json.loads(path.read_text(encoding="utf-8")))
    name_kept = _name_kept(trade_name)
    fluid = _read_kept(kept(_KEPT, name_kept), trade_name)
    if fluid is None:
        fluid = generate(trade_name)
        keep(_KEPT, name_kept, _table_text(fluid).encode())
    return fluid


def _name_kept(trade_name: str) -> str:
    """Name of a table that was made on this machine, by this release of both programs."""
    made_by = f"{restcab.__version__}-{metadata.version('CoolProp')}"
    plain = re.sub(r"[^A-Za-z0-9]", "_", trade_name)[:_NAME_LENGTH]
    return f"{plain}-{made_by}.json"


def _read_kept(content: bytes | None, trade_name: str) -> Refrigerant | None:
    """Table from the cache, or None if it is not there or not whole."""
    if content is None:
        return None
    try:
        fluid = Refrigerant.from_dict(json.loads(content))
        temps_c = np.linspace(fluid.temp_min_c, fluid.temp_max_c, 9)
        drawn_in = fluid.suction_state(fluid.suction_line(_USUAL_SUPERHEAT_K), temps_c)
        pressed = fluid.discharge_state(temps_c[-1], drawn_in.entropy_j_per_kgk[0])
    except (ValueError, TypeError, KeyError, AttributeError, IndexError, RecursionError):
        return None
    rising = np.all(np.diff([drawn_in.pressure_pa, drawn_in.density_kg_per_m3]) > 0.0)
    return fluid if fluid.name == trade_name and rising and np.isfinite(pressed).all() else None


def _suggestion(name: str, known: Sequence[str]) -> str:
    for choice in (REFRIGERANTS, known):
        by_key = {entry.lower(): entry for entry in choice}
        close = difflib.get_close_matches(name.lower(), list(by_key), n=1, cutoff=0.75)
        if close:
            return f" (did you mean {by_key[close[0]]}?)"
    return ""


def generate(name: str) -> Refrigerant:
    """Compute the table of one refrigerant with CoolProp.

    Parameters
    ----------
    name
        Trade name, such as ``R134a``.

    Returns
    -------
    Refrigerant
        Table for saturation temperatures -40 °C to 85 °C, or to 4 K below the critical
        temperature where that is lower.

    Raises
    ------
    ValueError
        CoolProp does not know the name, or it is no refrigerant for a cab in hot weather.
    """
    import CoolProp

    trade_name = canonical_name(name)
    state = _abstract_state(CoolProp, trade_name)
    temp_critical_c = max(point.T for point in state.all_critical_points()) - _KELVIN
    temp_max_c = min(TEMP_MAX_C, temp_critical_c - CRITICAL_MARGIN_K)
    if temp_max_c < 40.0:
        msg = (
            f"refrigerant {trade_name!r}: critical temperature {temp_critical_c:.0f} °C is too low "
            "for a condensing cycle in hot weather"
        )
        raise ValueError(msg)
    if state.Ttriple() - _KELVIN > TEMP_MIN_C:
        msg = (
            f"refrigerant {trade_name!r} freezes at {state.Ttriple() - _KELVIN:.0f} °C: no "
            "refrigerant for a compressor in the cold"
        )
        raise ValueError(msg)
    try:
        return _tabulate(CoolProp, state, trade_name, temp_critical_c, temp_max_c)
    except (ArithmeticError, ValueError) as error:
        msg = f"refrigerant {trade_name!r}: CoolProp cannot solve it from {TEMP_MIN_C:.0f} °C on"
        raise ValueError(msg) from error


def _tabulate(
    coolprop: Any, state: Any, trade_name: str, temp_critical_c: float, temp_max_c: float
) -> Refrigerant:
    """Solve the states of a table and fit it."""
    bounds = (temp_critical_c, TEMP_MIN_C, temp_max_c)
    x = _gauss_nodes(_NODES_SATURATION)
    y = _gauss_nodes(_NODES_VAPOUR)
    read = _Reader(coolprop, state)
    temps_k = temperature_at_scaled_c(x, *bounds) + _KELVIN
    x, temps_k, saturation = _saturation_nodes(read, x, temps_k)
    pressure, h_liquid, _, s_vapour, rho_vapour = saturation.T
    dew_points = list(zip(*(v.tolist() for v in (pressure, temps_k, rho_vapour)), strict=True))
    superheats = superheat_at_scaled_k(y, SUPERHEAT_MAX_K).tolist()
    vapour = np.array(
        [[read.superheated(p, t + sh, rho) for sh in superheats] for p, t, rho in dew_points]
    )
    # The hottest discharge starts from the coldest suction gas with a long, warm suction line.
    cold_k = TEMP_MIN_C + _KELVIN
    cold = read.saturation(cold_k)
    hottest = read.superheated(cold[0], cold_k + SUPERHEAT_SUCTION_MAX_K, cold[4])[1]
    entropy_max = float(np.ceil(hottest - s_vapour.min()))
    excesses = entropy_max * (y + 1) / 2
    at_entropy = np.array(
        [
            [read.enthalpy_at_entropy(p, t, rho, s) for s in (s_dew + excesses).tolist()]
            for (p, t, rho), s_dew in zip(dew_points, s_vapour, strict=True)
        ]
    )
    h_zero, s_zero = read.reference()
    along = _fitter(x)
    across = _fitter_2d(x, y)
    return Refrigerant(
        name=trade_name,
        source=f"CoolProp {coolprop.__version__}, Helmholtz-energy equations of state; computed",
        temp_critical_c=round(temp_critical_c, 6),
        temp_min_c=TEMP_MIN_C,
        temp_max_c=round(temp_max_c, 6),
        superheat_max_k=SUPERHEAT_MAX_K,
        entropy_max_j_per_kgk=entropy_max,
        ln_pressure=along(np.log(pressure)),
        h_liquid=along(h_liquid - h_zero),
        s_vapour=along(s_vapour - s_zero),
        h_superheat=across(vapour[:, :, 0] - h_zero),
        s_superheat=across(vapour[:, :, 1] - s_zero),
        ln_density=across(np.log(vapour[:, :, 2])),
        h_entropy=across(at_entropy - h_zero),
    )


def write_table(fluid: Refrigerant, directory: Path) -> Path:
    """Write one table file, as shipped in ``restcab/data/refrigerants``.

    Parameters
    ----------
    fluid
        Result of `generate`.
    directory
        Existing directory.

    Returns
    -------
    Path
        The file written: JSON, one property a line.
    """
    path = directory / f"{fluid.name}.json"
    path.write_text(_table_text(fluid), encoding="utf-8")
    return path


def _table_text(fluid: Refrigerant) -> str:
    lines = (f"{json.dumps(key)}: {json.dumps(value)}" for key, value in fluid.to_dict().items())
    return "{\n" + ",\n".join(lines) + "\n}\n"


def _saturation_nodes(
    read: "_Reader", x: FloatArray, temps_k: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Saturation states at the nodes that CoolProp can solve.

    The bubble- and dew-point search of a blend fails at a few isolated temperatures. There are
    more nodes than coefficients, so such a node is left out of the fit.
    """
    solved, states = [], []
    for index, temp_k in enumerate(temps_k.tolist()):
        try:
            states.append(read.saturation(temp_k))
        except ValueError:
            continue
        solved.append(index)
    if len(solved) < 0.8 * x.size:
        msg = f"CoolProp solved only {len(solved)} of {x.size} saturation states"
        raise ValueError(msg)
    return x[solved], temps_k[solved], np.array(states)


def _abstract_state(coolprop: Any, name: str) -> Any:
    known = coolprop.CoolProp.get_global_param_string("FluidsList").split(",")
    spelled = {entry.lower(): entry for entry in known}.get(name.lower(), name)
    components, fractions = _BLENDS.get(name, (spelled, None))
    try:
        state = coolprop.AbstractState("HEOS", components)
    except ValueError as error:
        numbered = [entry for entry in known if re.match(r"R\d", entry)]
        msg = (
            f"unknown refrigerant {name!r}{_suggestion(name, numbered)}; shipped: "
            f"{', '.join(REFRIGERANTS)}; any other that CoolProp knows will do"
        )
        raise ValueError(msg) from error
    if fractions is not None:
        state.set_mass_fractions(list(fractions))
    return state


class _Reader:
    """Single states from CoolProp.

    Vapour states are solved here on density with the phase imposed: the general flash of blends
    can fail close to the dew line.
    """

    def __init__(self, coolprop: Any, state: Any) -> None:
        self._cp = coolprop
        self._state = state

    def saturation(self, temp_k: float) -> tuple[float, float, float, float, float]:
        """Pressure, liquid enthalpy and entropy, vapour entropy and density at a dew point."""
        self._state.update(self._cp.QT_INPUTS, 1.0, temp_k)
        pressure, s_vapour, density = self._state.p(), self._state.smass(), self._state.rhomass()
        self._state.update(self._cp.PQ_INPUTS, pressure, 0.0)
        return pressure, self._state.hmass(), self._state.smass(), s_vapour, density

    def superheated(
        self, pressure_pa: float, temp_k: float, density: float
    ) -> tuple[float, float, float]:
        """Enthalpy, entropy and density of vapour; ``density`` is that of the dew point."""
        self._state.specify_phase(self._cp.iphase_gas)
        for _ in range(_NEWTON_LIMIT):
            self._state.update(self._cp.DmassT_INPUTS, density, temp_k)
            slope = self._state.first_partial_deriv(self._cp.iP, self._cp.iDmass, self._cp.iT)
            change = (pressure_pa - self._state.p()) / slope
            density = max(density + change, 0.5 * density)
            if abs(change) < 1e-12 * density:
                break
        else:
            msg = f"vapour density not found at {pressure_pa:.0f} Pa and {temp_k:.2f} K"
            raise ArithmeticError(msg)
        self._state.unspecify_phase()
        return self._state.hmass(), self._state.smass(), density

    def enthalpy_at_entropy(
        self, pressure_pa: float, temp_sat_k: float, density: float, entropy: float
    ) -> float:
        """Enthalpy of vapour at a pressure and an entropy, by Newton steps on dh = T ds."""
        temp_k = temp_sat_k + 1.0
        for _ in range(_NEWTON_LIMIT):
            enthalpy, found, _ = self.superheated(pressure_pa, temp_k, density)
            change = (entropy - found) * temp_k / self._state.cpmass()
            temp_k = max(temp_k + change, temp_sat_k)
            if abs(change) < 1e-9 * temp_k:
                return enthalpy
        msg = f"vapour temperature not found at {pressure_pa:.0f} Pa and {entropy:.1f} J/(kg K)"
        raise ArithmeticError(msg)

    def reference(self) -> tuple[float, float]:
        """Offsets that give saturated liquid at 0 °C the values of the IIR convention."""
        self._state.update(self._cp.QT_INPUTS, 0.0, _KELVIN)
        return self._state.hmass() - _IIR_ENTHALPY, self._state.smass() - _IIR_ENTROPY


def _gauss_nodes(count: int) -> FloatArray:
    nodes: FloatArray = np.cos(np.pi * (np.arange(count) + 0.5) / count)
    return nodes


def _fitter(x: FloatArray) -> Callable[[FloatArray], FloatArray]:
    inverse = np.linalg.pinv(chebyshev.chebvander(x, _DEGREE_SATURATION))
    return lambda values: inverse @ values


def _fitter_2d(x: FloatArray, y: FloatArray) -> Callable[[FloatArray], FloatArray]:
    inverse_x = np.linalg.pinv(chebyshev.chebvander(x, _DEGREE_SATURATION))
    inverse_y = np.linalg.pinv(chebyshev.chebvander(y, _DEGREE_VAPOUR))
    return lambda values: inverse_x @ values @ inverse_y.T
