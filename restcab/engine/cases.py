"""What differs from one rest to the next: arrays over cases, and the options a run shares."""

from dataclasses import dataclass, fields, replace

import numpy as np

from restcab.physics.arrays import FloatArray, IntArray


@dataclass(frozen=True)
class Cases:
    """Rest periods to run; every array has shape (n_case,).

    Parameters
    ----------
    start_h
        Start of the rest on the hour axis of the forcing [h].
    setpoint_c
        Bunk temperature that the unit holds [°C].
    people_sensible_w, people_moisture_kg_per_s
        Dry heat [W] and water vapour [kg/s] of the people in the bunk.
    hotel_w
        Electric hotel load [W]: heat in the bunk and drain on the bank.
    solar_scale, ua_scale, leakage_scale
        Factors on paint absorptance, conduction of the shell, and air change [-].
    soak_k
        Excess of the engine bay over the outdoor air when the rest starts [K].
    humidity_scale
        Factor on the outdoor humidity ratio [-], capped at saturation.
    surroundings_k
        Added to the temperature of ground and trucks around [K]: how much the model of them may
        be off.
    film_scale
        Factor on the convective films of the inner faces [-], moved air or still.
    """

    start_h: FloatArray
    setpoint_c: FloatArray
    people_sensible_w: FloatArray
    people_moisture_kg_per_s: FloatArray
    hotel_w: FloatArray
    solar_scale: FloatArray
    ua_scale: FloatArray
    leakage_scale: FloatArray
    soak_k: FloatArray
    humidity_scale: FloatArray
    surroundings_k: FloatArray
    film_scale: FloatArray

    def __len__(self) -> int:
        return int(self.start_h.shape[0])

    def take(self, index: slice | IntArray) -> "Cases":
        """Pick some of the cases."""
        picked = {f.name: getattr(self, f.name)[index] for f in fields(self)}
        return replace(self, **picked)


def make_cases(
    start_h: FloatArray,
    setpoint_c: FloatArray | float,
    *,
    people_sensible_w: FloatArray | float = 0.0,
    people_moisture_kg_per_s: FloatArray | float = 0.0,
    hotel_w: FloatArray | float = 0.0,
    solar_scale: FloatArray | float = 1.0,
    ua_scale: FloatArray | float = 1.0,
    leakage_scale: FloatArray | float = 1.0,
    soak_k: FloatArray | float = 0.0,
    humidity_scale: FloatArray | float = 1.0,
    surroundings_k: FloatArray | float = 0.0,
    film_scale: FloatArray | float = 1.0,
) -> Cases:
    """Make cases from arrays or from values that all of them share; see :class:`Cases`."""
    start = np.atleast_1d(np.asarray(start_h, dtype=float))

    def full(value: FloatArray | float) -> FloatArray:
        return np.array(np.broadcast_to(np.asarray(value, dtype=float), start.shape))

    return Cases(
        start, full(setpoint_c), full(people_sensible_w), full(people_moisture_kg_per_s),
        full(hotel_w), full(solar_scale), full(ua_scale), full(leakage_scale), full(soak_k),
        full(humidity_scale), full(surroundings_k), full(film_scale),
    )  # fmt: skip


@dataclass(frozen=True)
class RunOptions:
    """Options that all cases of a run share.

    Parameters
    ----------
    hours
        Length of the rest [h], above 0.
    step_s
        Time step during the rest [s].
    first_step_s, first_h
        Finer step at the beginning of a ``soaked`` rest and how long it is used: cooling down or
        heating up changes the air by several kelvin in the first minutes [s], [h].
    lead_in_h
        Time simulated before the rest, so that walls and bedding start as the day left them [h].
    lead_in_step_s
        Time step during the last hours of the lead-in [s], see `restcab.engine.lead_in`.
    lead_in_lowest_c
        Air temperature that both zones are heated to before the rest where they would be colder
        [°C]; None: no heat.
    arrival
        ``cooled``: the cab was driven with its air conditioning holding the setpoint in both
        zones; ``soaked``: it stood closed without cooling.
    driving_wind_m_per_s
        Air speed along the cab while driving [m/s], used in a ``cooled`` lead-in.
    start_temp_c
        Temperature of every node at the start of the lead-in [°C]; None: the setpoint if cooled,
        the outdoor air if soaked.
    bunk_fan_m_per_s
        Air speed along the bunk's faces that a fan keeps up throughout the rest [m/s].
    soak_time_h
        Time in which the warmth of the engine bay falls to 1/e [h].
    people_radiant_frac, hotel_radiant_frac
        Shares of the dry heat of people and of the hotel load that walls and bedding take up
        before the air does [-].
    record
        Keep the parts of the load, not only its total; for ideal cooling alone.
    """

    hours: float
    step_s: float = 300.0
    first_step_s: float = 60.0
    first_h: float = 0.5
    lead_in_h: float = 8.0
    lead_in_step_s: float = 300.0
    lead_in_lowest_c: float | None = None
    arrival: str = "cooled"
    driving_wind_m_per_s: float = 20.0
    start_temp_c: float | None = None
    bunk_fan_m_per_s: float = 0.0
    soak_time_h: float = 2.0
    people_radiant_frac: float = 0.5
    hotel_radiant_frac: float = 0.0
    record: bool = False


def keys_of(numbers: FloatArray) -> list[bytes]:
    """Keys by which cases are known again: all numbers of each, shape (n_number, n_case)."""
    rows = np.ascontiguousarray(numbers.T)
    found: list[bytes] = rows.view(f"V{rows.shape[1] * rows.itemsize}").ravel().tolist()
    return found
