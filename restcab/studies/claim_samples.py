"""What is unsure about a runtime claim, drawn as a quasi-random batch of trucks.

A scrambled Sobol sequence fills the space of inputs evenly, so a thousand samples tell what plain
random numbers need many more for. The number of dimensions never changes: a spread set to zero
leaves the other inputs of the same seed as they were.
"""

from dataclasses import dataclass, fields, replace

import numpy as np

from restcab.engine.plant import UnitScale
from restcab.engine.record import RestRun
from restcab.engine.rests import BankSetup, run_rests
from restcab.physics.arrays import FloatArray
from restcab.spec.model import Spec
from restcab.studies.scene import Scene

_CUT_SD = 3.0
"""Normal spreads end at three standard deviations: a truck beyond is a fault, not a spread."""
_SHARE_MIN = 0.05
"""Least factor of a normal spread: nothing works backwards."""
_AGED_MEETS, _AGED_KEEPS = 0.2, 0.7
"""Aged reflectance: 0.2 + 0.7 (fresh - 0.2), three-year default of California Title 24 Part 6
(from memory)."""


@dataclass(frozen=True)
class Samples:
    """Unsure inputs; every array of shape (n_sample,), factors on the declared value but for two.

    Parameters
    ----------
    shell_conductance, leakage, paint_absorptance, humidity, hotel_load
        Factors on the cab, the outdoor humidity ratio and the hotel load [-].
    cooling_capacity, electric_input
        Factors on the unit's rating [-].
    bank_capacity
        Factor on the bank's rated charge [-].
    bank_age_frac, charge_at_start_frac
        Age of the bank and its state of charge when the rest begins [-].
    """

    shell_conductance: FloatArray
    leakage: FloatArray
    paint_absorptance: FloatArray
    humidity: FloatArray
    hotel_load: FloatArray
    cooling_capacity: FloatArray
    electric_input: FloatArray
    bank_capacity: FloatArray
    bank_age_frac: FloatArray
    charge_at_start_frac: FloatArray

    def __len__(self) -> int:
        return int(self.shell_conductance.shape[0])

    def columns(self) -> dict[str, FloatArray]:
        """Inputs by name, in a fixed order."""
        return {entry.name: getattr(self, entry.name) for entry in fields(self)}

    def take(self, index: slice) -> "Samples":
        """Pick some of the samples."""
        return Samples(**{name: values[index] for name, values in self.columns().items()})

    def joined(self, other: "Samples") -> "Samples":
        """Put other samples behind these."""
        more = other.columns()
        both = {name: np.concatenate([own, more[name]]) for name, own in self.columns().items()}
        return Samples(**both)


SPREAD_KEYS = {
    "shell_conductance": "ua_spread",
    "leakage": "leakage_spread",
    "paint_absorptance": "paint_ageing",
    "humidity": "humidity_spread",
    "hotel_load": "hotel_load_spread",
    "cooling_capacity": "capacity_spread",
    "electric_input": "power_spread",
    "bank_capacity": "bank_capacity_spread",
    "bank_age_frac": "bank_age_spread",
    "charge_at_start_frac": "charge_missing",
}
"""Input -> key of the table [claim] that sets its spread."""


def as_declared(spec: Spec) -> Samples:
    """One sample: the truck exactly as declared, the paint fresh and the bank full."""
    one = np.ones(1)
    plain = dict.fromkeys(SPREAD_KEYS, one)
    return Samples(**{**plain, "bank_age_frac": spec.bank.age_frac * one})


def draw(spec: Spec, count: int, seed: int) -> Samples:
    """Draw the unsure inputs.

    Parameters
    ----------
    spec
        The truck; its table [claim] holds the spreads.
    count
        Number of samples, a power of two.
    seed
        Same seed, same samples.
    """
    from scipy.special import ndtr, ndtri
    from scipy.stats import qmc

    sequence = qmc.Sobol(len(SPREAD_KEYS), scramble=True, seed=np.random.default_rng(seed))
    even = dict(zip(SPREAD_KEYS, sequence.random_base2(count.bit_length() - 1).T, strict=True))
    claim, tail = spec.claim, float(ndtr(-_CUT_SD))

    def normal(name: str) -> FloatArray:
        return np.asarray(ndtri(tail + even[name] * (1.0 - 2.0 * tail)))

    def factor(name: str, spread: float) -> FloatArray:
        return np.maximum(1.0 + spread * normal(name), _SHARE_MIN)

    def log_factor(name: str, spread: float) -> FloatArray:
        return np.exp(spread * normal(name))

    age_low = max(spec.bank.age_frac - claim.bank_age_spread_frac, 0.0)
    age_high = min(spec.bank.age_frac + claim.bank_age_spread_frac, 1.0)
    return Samples(
        shell_conductance=log_factor("shell_conductance", claim.ua_spread_frac),
        leakage=log_factor("leakage", claim.leakage_spread_frac),
        paint_absorptance=_ageing(spec, claim.paint_ageing_frac * even["paint_absorptance"]),
        humidity=log_factor("humidity", claim.humidity_spread_frac),
        hotel_load=log_factor("hotel_load", claim.hotel_load_spread_frac),
        cooling_capacity=factor("cooling_capacity", claim.capacity_spread_frac),
        electric_input=factor("electric_input", claim.power_spread_frac),
        bank_capacity=factor("bank_capacity", claim.bank_capacity_spread_frac),
        bank_age_frac=age_low + (age_high - age_low) * even["bank_age_frac"],
        charge_at_start_frac=1.0 - claim.charge_missing_frac * even["charge_at_start_frac"],
    )


def _ageing(spec: Spec, part: FloatArray) -> FloatArray:
    """Factor on the paint's absorptance after a part of the three years."""
    fresh = spec.truck.absorptance_frac
    if fresh <= 0.0:
        return np.ones_like(part)
    aged = 1.0 - (_AGED_MEETS + _AGED_KEEPS * (1.0 - fresh - _AGED_MEETS))
    return np.clip(fresh + part * (aged - fresh), 0.0, 1.0) / fresh


@dataclass(frozen=True)
class Trial:
    """A rest that a claim is tried on.

    Parameters
    ----------
    scene
        The truck under the weather of the claim.
    rest
        Index of the rest among those of the scene.
    hours, step_h
        Simulated time and time step [h].
    bank_ah
        Rated charge of the bank [Ah].
    unit_scale
        Size of the unit relative to the declared one [-].
    """

    scene: Scene
    rest: int
    hours: float
    step_h: float
    bank_ah: float
    unit_scale: float = 1.0

    def bank(self, samples: Samples, rated_ah: FloatArray | float) -> BankSetup:
        """The banks of some samples, full but for what is missing."""
        scene = self.scene
        time_h = np.arange(0.0, self.hours, 0.5) + scene.start_h[self.rest]
        outdoors_c = scene.temp_out_at_c(time_h)
        temp_c = np.full(len(samples), scene.bank_temp_c(outdoors_c[:, None])[0])
        params = scene.bank(rated_ah * samples.bank_capacity, temp_c, samples.bank_age_frac)
        return BankSetup(params, samples.charge_at_start_frac)

    def run(self, samples: Samples, endless_bank: bool = False) -> RestRun:
        """Run the rest for some samples in one batch."""
        scene, n_sample = self.scene, len(samples)
        declared = scene.cases(np.full(n_sample, self.rest))
        cases = replace(
            declared,
            hotel_w=declared.hotel_w * samples.hotel_load,
            solar_scale=samples.paint_absorptance,
            ua_scale=samples.shell_conductance,
            leakage_scale=samples.leakage,
            humidity_scale=samples.humidity,
        )
        # A weak unit draws no less: its size carries the capacity, its efficiency takes that back.
        size = self.unit_scale * samples.cooling_capacity
        scale = UnitScale(size, samples.electric_input / samples.cooling_capacity)
        unit = replace(scene.unit(1.0, n_sample), scale=scale)
        bank = None if endless_bank else self.bank(samples, self.bank_ah)
        options = scene.options(hours=self.hours, step_s=self.step_h * 3600.0)
        return run_rests(scene.network, scene.forcing, cases, options, unit, bank)
