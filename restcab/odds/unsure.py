"""The inputs nobody knows exactly, and what each of them does to a rest.

One list serves every command that speaks of odds: a truck whose inputs are drawn from it is run as
a batch of cases, and the share of the batch that holds the rest is the probability. A scrambled
Sobol sequence fills the space of inputs evenly, so a thousand samples tell what plain random
numbers need many more for. Each input keeps its place in the list, and so its dimension: a spread
set to zero leaves the other inputs of the same seed as they were.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from statistics import NormalDist

import numpy as np

from restcab.physics.arrays import FloatArray, IntArray
from restcab.runs import cache
from restcab.spec.heat_loss import insulation_log_sd
from restcab.spec.model import Spec

_CUT_SD = 3.0
"""Normal spreads end at three standard deviations: a truck beyond is a fault, not a spread."""
_SHARE_MIN = 0.05
"""Least factor of a normal spread: nothing works backwards."""
_AGED_MEETS, _AGED_KEEPS = 0.2, 0.7
"""Aged reflectance: 0.2 + 0.7 (fresh - 0.2), three-year default of California Title 24 Part 6
(from memory)."""

_KEPT_AS, _KEPT_SEQUENCES = "even", 8
SHIPPED, SHIPPED_SEED = "even_samples.npy", 0
"""File of the package's data with evenly spread numbers, and the seed that they are drawn with:
scipy would take longer to load than a truck takes to size."""
PARTS = 2.0**30
"""They are stored as whole numbers of which so many make one."""

CASE, UNIT, BANK = "case", "unit", "bank"
"""Whose input it is: that of a rest, of the cooling unit, of the bank."""


@dataclass(frozen=True)
class Unsure:
    """One unsure input.

    Parameters
    ----------
    name
        Column of the samples.
    words
        What a person calls it.
    of, field
        Whose input it is, and the field that it acts on.
    spread_key
        Key of the table [claim] that says how unsure it is.
    draw
        Value for evenly spread numbers between 0 and 1, under a spec.
    declared
        Value of the truck exactly as declared.
    adds
        Whether it is added to the field; else the field is multiplied by it.
    """

    name: str
    words: str
    of: str
    field: str
    spread_key: str
    draw: Callable[[Spec, FloatArray], FloatArray]
    declared: Callable[[Spec], float] = lambda _: 1.0
    adds: bool = False


def _normal(even: FloatArray) -> FloatArray:
    """Standard normal values, cut at both ends."""
    return _normal_of(even.tobytes())


@lru_cache(maxsize=_KEPT_SEQUENCES * 16)
def _normal_of(even_bytes: bytes) -> FloatArray:
    """The same for the bytes of evenly spread numbers: every truck of a run is drawn from them."""
    even = np.frombuffer(even_bytes)
    # scipy would take longer to load than all samples of a command take to draw.
    standard = NormalDist()
    tail = standard.cdf(-_CUT_SD)
    found = np.array([standard.inv_cdf(each) for each in tail + even * (1.0 - 2.0 * tail)])
    found.setflags(write=False)
    return found


def _factor(attribute: str) -> Callable[[Spec, FloatArray], FloatArray]:
    """Normal about 1, the spread a standard deviation as a share."""

    def draw(spec: Spec, even: FloatArray) -> FloatArray:
        spread = spec.unsure(attribute)
        assert spread is not None
        return np.maximum(1.0 + spread * _normal(even), _SHARE_MIN)

    return draw


def _log_factor(attribute: str) -> Callable[[Spec, FloatArray], FloatArray]:
    """Log-normal about 1, the spread a standard deviation of the logarithm."""

    def draw(spec: Spec, even: FloatArray) -> FloatArray:
        spread = spec.unsure(attribute)
        assert spread is not None
        return np.asarray(np.exp(spread * _normal(even)))

    return draw


def _shell(spec: Spec, even: FloatArray) -> FloatArray:
    """Log-normal about 1, as wide as the insulation is unknown unless the claim says how wide."""
    spread = spec.unsure("ua_spread_frac")
    if spread is None:
        spread = insulation_log_sd(spec.truck.insulation_known_by)
    return np.asarray(np.exp(spread * _normal(even)))


def _surroundings(spec: Spec, even: FloatArray) -> FloatArray:
    """Normal about no difference [K]."""
    return spec.claim.surroundings_spread_k * _normal(even)


def _ageing(spec: Spec, even: FloatArray) -> FloatArray:
    """Factor on the paint's absorptance after a part of the three years, or as a log left it."""
    found = spec.fitted.solar_spread_frac
    if found is not None and "claim.paint_ageing" not in spec.given:
        # What shone on the truck was measured on it, aged as it is.
        return np.asarray(np.exp(found * _normal(even)))
    fresh = spec.truck.absorptance_frac
    if fresh <= 0.0:
        return np.ones_like(even)
    aged = 1.0 - (_AGED_MEETS + _AGED_KEEPS * (1.0 - fresh - _AGED_MEETS))
    part = spec.claim.paint_ageing_frac * even
    return np.clip(fresh + part * (aged - fresh), 0.0, 1.0) / fresh


def _age(spec: Spec, even: FloatArray) -> FloatArray:
    """Age of the bank, even about the declared one."""
    spread = spec.bank_age_spread_frac
    low, high = max(spec.bank.age_frac - spread, 0.0), min(spec.bank.age_frac + spread, 1.0)
    return low + (high - low) * even


def _charge(spec: Spec, even: FloatArray) -> FloatArray:
    """State of charge when the rest begins, even from full."""
    return 1.0 - spec.claim.charge_missing_frac * even


UNSURE = (
    Unsure("shell_conductance", "heat through the shell", CASE, "ua_scale", "ua_spread",
           _shell),
    Unsure("leakage", "leakage", CASE, "leakage_scale", "leakage_spread",
           _log_factor("leakage_spread_frac")),
    Unsure("paint_absorptance", "ageing of the paint", CASE, "solar_scale", "paint_ageing",
           _ageing),
    Unsure("humidity", "outdoor humidity", CASE, "humidity_scale", "humidity_spread",
           _log_factor("humidity_spread_frac")),
    Unsure("hotel_load", "hotel load", CASE, "hotel_w", "hotel_load_spread",
           _log_factor("hotel_load_spread_frac")),
    Unsure("cooling_capacity", "cooling capacity", UNIT, "capacity", "capacity_spread",
           _factor("capacity_spread_frac")),
    Unsure("electric_input", "electric input of the unit", UNIT, "power", "power_spread",
           _factor("power_spread_frac")),
    Unsure("bank_capacity", "charge of the bank", BANK, "rated_ah", "bank_capacity_spread",
           _factor("bank_capacity_spread_frac")),
    Unsure("bank_age_frac", "age of the bank", BANK, "age_frac", "bank_age_spread", _age,
           lambda spec: spec.bank.age_frac),
    Unsure("charge_at_start_frac", "charge at the start", BANK, "soc_start_frac",
           "charge_missing", _charge),
    Unsure("part_load_input", "electric input at part load", UNIT, "part_load",
           "part_load_spread", _log_factor("part_load_spread_frac")),
    Unsure("controls_draw", "draw of the unit's controls", UNIT, "controls", "controls_spread",
           _log_factor("controls_spread_frac")),
    Unsure("inside_film", "films of air inside", CASE, "film_scale", "film_spread",
           _log_factor("film_spread_frac")),
    Unsure("surroundings", "warmth of ground and trucks around", CASE, "surroundings_k",
           "surroundings_spread", _surroundings, lambda _: 0.0, adds=True),
)  # fmt: skip
"""In an order that never changes; new inputs go to the end."""
WORDS = {entry.name: entry.words for entry in UNSURE}
SPREAD_KEYS = {entry.name: entry.spread_key for entry in UNSURE}
"""Input -> key of the table [claim] that sets its spread."""


@dataclass(frozen=True)
class Samples:
    """Drawn inputs by name; every array of shape (n_sample,)."""

    columns: Mapping[str, FloatArray]

    def __getitem__(self, name: str) -> FloatArray:
        return self.columns[name]

    def __len__(self) -> int:
        return len(next(iter(self.columns.values())))

    def take(self, index: "slice | IntArray") -> "Samples":
        """Pick some of the samples, in any order and number."""
        return Samples({name: value[index] for name, value in self.columns.items()})

    def changed(self, name: str, value: FloatArray) -> "Samples":
        """Return the samples with one input replaced."""
        return Samples({**self.columns, name: value})


def join_samples(parts: Sequence[Samples]) -> Samples:
    """Put samples one behind the other."""
    names = parts[0].columns
    return Samples({name: np.concatenate([part[name] for part in parts]) for name in names})


def as_declared(spec: Spec) -> Samples:
    """One sample: the truck exactly as declared, the paint fresh and the bank full."""
    return Samples({entry.name: np.array([entry.declared(spec)]) for entry in UNSURE})


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
    even = _even(count, seed)
    return Samples({e.name: e.draw(spec, column) for e, column in zip(UNSURE, even, strict=True)})


@lru_cache(maxsize=_KEPT_SEQUENCES)
def _even(count: int, seed: int) -> FloatArray:
    """Evenly spread numbers between 0 and 1, shape (n_unsure, count), kept between runs."""
    if seed == SHIPPED_SEED and count <= _shipped().shape[1]:
        # A short sequence is the beginning of a long one.
        return np.ascontiguousarray(_shipped()[:, :count])
    key = cache.cache_key(inputs=len(UNSURE), count=count, seed=seed)
    stored = cache.load(_KEPT_AS, key)
    if stored is not None:
        return stored["even"]
    even = drawn(count, seed)
    cache.save(_KEPT_AS, key, {"even": even})
    return even


@lru_cache(maxsize=1)
def _shipped() -> FloatArray:
    """Numbers drawn with `SHIPPED_SEED`, shape (n_unsure, n_shipped); none for other inputs."""
    with files("restcab").joinpath("data", SHIPPED).open("rb") as file:
        parts = np.load(file)
    return parts / PARTS if len(parts) == len(UNSURE) else np.empty((len(UNSURE), 0))


def drawn(count: int, seed: int) -> FloatArray:
    """Draw evenly spread numbers between 0 and 1, shape (n_unsure, count); a power of two."""
    from scipy.stats import qmc

    sequence = qmc.Sobol(len(UNSURE), scramble=True, seed=np.random.default_rng(seed))
    found: FloatArray = sequence.random_base2(count.bit_length() - 1).T
    return found


def moved(of: str, declared: Mapping[str, FloatArray], samples: Samples) -> dict[str, FloatArray]:
    """Put the samples into the declared inputs of a rest, a unit or a bank.

    Parameters
    ----------
    of
        `CASE`, `UNIT` or `BANK`.
    declared
        Field -> its declared values, scalar or (n_sample,).
    samples
        The drawn inputs.

    Returns
    -------
    dict
        Field -> its values, (n_sample,), for every field that an unsure input acts on.
    """
    found = {}
    for entry in UNSURE:
        if entry.of == of:
            own, drawn = declared[entry.field], samples[entry.name]
            found[entry.field] = own + drawn if entry.adds else own * drawn
    return found
