"""Sources that refill the bank: alternator, roof panel, shore charger; fuel for the energy."""

from dataclasses import dataclass
from functools import cache

import numpy as np

from restcab.physics.arrays import FloatArray, FloatLike
from restcab.physics.battery.chemistry import Curve
from restcab.provenance import data_rows


@dataclass(frozen=True, eq=False)
class ChargingTable:
    """Constants of the charging chain, read from ``data/charging.csv``.

    Parameters
    ----------
    output_speed
        Alternator output over its rating against its own speed [rpm].
    constant
        Single values by name.
    """

    output_speed: Curve
    constant: dict[str, float]


@cache
def charging_table() -> ChargingTable:
    """Return the constants of the charging chain."""
    rows = data_rows("charging")
    curve = [(float(r["x"]), float(r["value"])) for r in rows if r["quantity"] == "output_speed"]
    x, y = np.array(sorted(curve)).T
    single = {r["quantity"]: float(r["value"]) for r in rows if not r["x"]}
    return ChargingTable(Curve(x, y), single)


def _or_default(value: FloatLike | None, name: str) -> FloatLike:
    return charging_table().constant[name] if value is None else value


def alternator_output_a(
    rated_a: FloatLike,
    engine_rpm: FloatLike,
    temp_hood_c: FloatLike = 60.0,
    pulley_ratio: FloatLike | None = None,
    derate_hot_frac: FloatLike | None = None,
) -> FloatArray:
    """Return the greatest output of an alternator.

    Parameters
    ----------
    rated_a
        Rated current [A].
    engine_rpm
        Engine speed [rpm]: about 600 idling, 1100-1400 at cruise.
    temp_hood_c
        Air at the alternator [°C]; 60 °C at cruise on a summer day (design assumption).
    pulley_ratio
        Alternator turns per engine turn; default 2.9 (from memory).
    derate_hot_frac
        Share of the rating lost in the hottest air; default 0.25 (read: "up to 25 %").

    Returns
    -------
    ndarray
        Current [A]; falls in a straight line with temperature between the rating (25 °C) and the
        hottest air (105 °C) (design assumption).
    """
    table = charging_table()
    ratio = _or_default(pulley_ratio, "pulley_ratio")
    derate = _or_default(derate_hot_frac, "derate_hot_frac")
    cool_c, hot_c = table.constant["temp_rated_c"], table.constant["temp_hot_c"]
    heat = np.clip((np.asarray(temp_hood_c, dtype=np.float64) - cool_c) / (hot_c - cool_c), 0, 1)
    speed = table.output_speed(np.asarray(engine_rpm, dtype=np.float64) * ratio)
    return rated_a * speed * (1.0 - derate * heat)


def current_for_bank_a(
    output_a: FloatLike, truck_loads_a: FloatLike, wiring_limit_a: FloatLike = np.inf
) -> FloatArray:
    """Return the alternator current left for the bank [A], never below 0.

    Parameters
    ----------
    output_a
        Alternator output [A].
    truck_loads_a
        Lights, fans, controls while driving [A]; 65-75 A read for a 24 V tractor.
    wiring_limit_a
        Limit of cable, fuse or charger to the bank [A].
    """
    left = np.asarray(output_a, dtype=np.float64) - truck_loads_a
    return np.clip(left, 0.0, wiring_limit_a)


def pv_current_a(
    rated_w: FloatLike,
    irradiance_w_per_m2: FloatLike,
    temp_air_c: FloatLike,
    voltage_v: FloatLike = 13.5,
) -> FloatArray:
    """Return the current of a roof panel through its controller [A].

    Parameters
    ----------
    rated_w
        Panel rating at 1000 W/m² and 25 °C [W].
    irradiance_w_per_m2
        Sun on the panel [W/m²].
    temp_air_c
        Air temperature [°C].
    voltage_v
        Voltage at the bank [V].

    Returns
    -------
    ndarray
        Current [A]: rating, cell heating above air in proportion to the sun (from memory) and
        90 % for controller, wiring and dirt (design assumption).
    """
    const = charging_table().constant
    sun = np.asarray(irradiance_w_per_m2, dtype=np.float64)
    cell_c = temp_air_c + const["pv_cell_rise_noct_k"] * sun / 800.0
    hot = np.maximum(1.0 - const["pv_temp_per_k"] * (cell_c - 25.0), 0.0)
    return rated_w * sun / 1000.0 * hot * const["pv_system_frac"] / voltage_v


def fuel_gal_per_kwh(
    efficiency_engine_frac: FloatLike | None = None,
    efficiency_alternator_frac: FloatLike | None = None,
    efficiency_belt_frac: FloatLike | None = None,
) -> FloatArray:
    """Return the diesel burnt per kilowatt-hour at the alternator of a running engine.

    Parameters
    ----------
    efficiency_engine_frac
        Brake efficiency of the engine; default 0.40 (read), 0.42-0.46 at cruise since 2010 (from
        memory).
    efficiency_alternator_frac
        Default 0.55 (read); 0.50-0.80 by build.
    efficiency_belt_frac
        Default 0.98 (read).

    Returns
    -------
    ndarray
        Fuel [US gal/kWh], on the lower heating value.
    """
    chain = (
        np.asarray(_or_default(efficiency_engine_frac, "efficiency_engine_frac"))
        * _or_default(efficiency_alternator_frac, "efficiency_alternator_frac")
        * _or_default(efficiency_belt_frac, "efficiency_belt_frac")
    )
    return 1.0 / (charging_table().constant["diesel_lhv_kwh_per_gal"] * chain)


def recharge_fuel_gal(
    energy_in_wh: FloatLike,
    gal_per_kwh: FloatLike | None = None,
    efficiency_wiring_frac: FloatLike | None = None,
) -> FloatArray:
    """Return the diesel burnt to put energy into the bank.

    Parameters
    ----------
    energy_in_wh
        Energy into the bank's terminals [Wh], charging losses of the bank included.
    gal_per_kwh
        Fuel per kilowatt-hour at the alternator [US gal/kWh]; default :func:`fuel_gal_per_kwh`.
    efficiency_wiring_frac
        Share that reaches the bank; default 0.97 (design assumption).

    Returns
    -------
    ndarray
        Fuel [US gal].
    """
    rate = fuel_gal_per_kwh() if gal_per_kwh is None else gal_per_kwh
    wiring = _or_default(efficiency_wiring_frac, "wiring_efficiency_frac")
    return np.asarray(energy_in_wh, dtype=np.float64) / 1000.0 / wiring * rate
