"""What a fit tells: numbers that the logs carry, with intervals, and the spec's keys for them."""

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from restcab.engine.network import Network
from restcab.fits.bank import BANK_REASONS, CHARGE, CHARGE_OF, BankTask
from restcab.fits.estimate import LEARNED_FRAC, Z90, Estimate, Task
from restcab.fits.loss import loss_w_per_k
from restcab.fits.parameters import BY_NAME, REPORTED, Parameter, Values, as_declared
from restcab.physics.arrays import FloatArray
from restcab.spec.heat_loss import heat_loss_insulated, scaled_to
from restcab.spec.model import Spec

LOSS_OF = ("shell", "leakage", "films")
"""Parameters that the heat loss depends on."""
_LEAK_SHARE = 0.7
"""Most of what is unsure of the heat loss that is left to leakage."""


class Loss(NamedTuple):
    """Heat loss of the truck as it stood, by the fit [W/K].

    Parameters
    ----------
    value, low, high
        With its 90 % interval.
    sd_log
        Standard deviation of its logarithm.
    left_frac
        What is still unsure over what was unsure before.
    """

    value: float
    low: float
    high: float
    sd_log: float
    left_frac: float

    @property
    def is_found(self) -> bool:
        """Whether the logs carry it."""
        return self.left_frac <= LEARNED_FRAC


def loss_slopes(network: Network, values: Values) -> dict[str, float]:
    """Change of the logarithm of the heat loss with that of each of `LOSS_OF`.

    Parameters
    ----------
    network
        The cab as declared.
    values
        Parameters about which it is taken, one case.
    """
    step = BY_NAME["shell"].step
    trials = {
        name: np.repeat(value, 1 + len(LOSS_OF)) for name, value in values.items()
    }  # fmt: skip
    for row, name in enumerate(LOSS_OF, start=1):
        trials[name][row] *= math.exp(step)
    losses = np.log(loss_w_per_k(network, trials))
    return dict(zip(LOSS_OF, (losses[1:] - losses[0]) / step, strict=True))


def sd_and_left(made: Estimate[Task], slope: FloatArray) -> tuple[float, float]:
    """Standard deviation of what moves with the coordinates, and that over the one before.

    Parameters
    ----------
    made
        A fit.
    slope
        Change of it per coordinate, shape (n_coordinate,).
    """
    sd = math.sqrt(float(slope @ made.covariance @ slope))
    before = math.sqrt(float(np.sum((slope * made.task.spreads) ** 2)))
    return sd, sd / before if before > 0.0 else 1.0


@dataclass(frozen=True, eq=False)
class Found:
    """What a fit of a spec found.

    Parameters
    ----------
    spec, estimate
        The truck as declared, and the fit of cab and unit.
    bank
        Fit of the bank; where there is none, why not, in words.
    """

    spec: Spec
    estimate: Estimate[Task]
    bank: Estimate[BankTask] | str = BANK_REASONS[0]

    @cached_property
    def elasticity(self) -> FloatArray:
        """Change of the logarithm of the heat loss per coordinate, shape (n_coordinate,)."""
        made = self.estimate
        found = np.zeros(len(made.at))
        for name, slope in loss_slopes(made.task.nights[0].network, made.values()).items():
            column = made.column(name)
            if column is not None:
                found[column] = slope
        return found

    @cached_property
    def loss(self) -> Loss:
        """Heat loss of the truck as it stood."""
        made = self.estimate
        value = float(loss_w_per_k(made.task.nights[0].network, made.values())[0])
        sd, left = sd_and_left(made, self.elasticity)
        return Loss(value, value * math.exp(-Z90 * sd), value * math.exp(Z90 * sd), sd, left)

    @cached_property
    def rows(self) -> list[dict[str, Any]]:
        """One row for each parameter of truck and unit: its value if the logs carry it."""
        bank = None if isinstance(self.bank, str) else self.bank
        return [
            *(self._row(parameter, self.estimate) for parameter in REPORTED),
            self._row(CHARGE_OF, bank),
        ]

    def _row(
        self, parameter: Parameter, made: Estimate[Task] | Estimate[BankTask] | None
    ) -> dict[str, Any]:
        """One parameter: its value and interval if the logs carry it, else why not."""
        name = parameter.name
        row: dict[str, Any] = {"name": name, "words": parameter.words, "found": False}
        column = None if made is None else made.column(name)
        if made is None or column is None:
            return row | {"left_frac": None, "why": self._absent(name)}
        left = float(made.left_frac[column])
        row |= {"left_frac": min(left, 1.0), "found": left <= LEARNED_FRAC}
        row["spread_before_frac"] = float(made.task.spreads[column])
        if row["found"]:
            factor, low, high = made.interval(name)
            return row | {"factor": factor, "factor_low": low, "factor_high": high, "why": ""}
        row["why"] = f"the logs leave {min(left, 1.0):.0%} of what was unsure: kept as declared"
        return row

    def _absent(self, name: str) -> str:
        if name == CHARGE:
            return self.bank if isinstance(self.bank, str) else "declared without a spread"
        if name == "sun":
            return "no sun in the logs"
        if BY_NAME[name].of == "unit":
            return "the unit did not run in the logs"
        return "declared without a spread"

    def factor(self, name: str) -> float:
        """Factor of a parameter if the logs carry it, else 1."""
        return self.estimate.interval(name)[0] if self.estimate.is_found(name) else 1.0

    def spread(self, name: str) -> float | None:
        """Standard deviation of a parameter's logarithm if the logs carry it."""
        column = self.estimate.column(name)
        if column is None or not self.estimate.is_found(name):
            return None
        return float(self.estimate.sd[column])

    @cached_property
    def bare_loss_w_per_k(self) -> float:
        """Heat loss for ``truck.heat_loss``: windows bare, curtain open [W/K].

        The shell is scaled as found; what films and leakage took of the loss found goes to the
        shell too, as long as the spec keeps those as they were.
        """
        cab, values = self.spec.cab, self.estimate.values()
        leak = self.factor("leakage")
        zones = tuple(
            replace(zone, air_changes_per_h=leak * zone.air_changes_per_h) for zone in cab.zones
        )
        network = self.estimate.task.nights[0].network
        kept = as_declared(1, shell=values["shell"], leakage=leak)
        more = float(loss_w_per_k(network, values)[0] / loss_w_per_k(network, kept)[0])
        as_leaky = replace(cab, zones=zones)
        of_shell = heat_loss_insulated(as_leaky, 1.0 / float(values["shell"][0]))
        try:
            scaled_to(as_leaky, more * of_shell)
        except ValueError:
            return of_shell  # no insulation comes to the rest of it
        return more * of_shell

    @cached_property
    def loss_spreads(self) -> dict[str, float]:
        """Spreads of shell and leakage that together give that of the heat loss.

        The odds draw the two apart; their fitted intervals belong together (less of one is more
        of the other), and drawn apart they would spread the sum too far.
        """
        made, slope, sd = self.estimate, self.elasticity, self.loss.sd_log
        found: dict[str, float] = {}
        column = made.column("leakage")
        leak_part = 0.0
        if column is not None:
            leak = float(made.sd[column])
            most = _LEAK_SHARE * sd / max(abs(slope[column]), 1e-9)
            found["leakage_spread"] = min(leak, most)
            leak_part = found["leakage_spread"] * float(slope[column])
        shell = made.column("shell")
        if shell is not None:
            rest = math.sqrt(max(sd**2 - leak_part**2, 1e-12))
            found["shell_spread"] = min(rest / max(float(slope[shell]), 1e-9),
                                        float(made.task.spreads[shell]))  # fmt: skip
        return found

    def keys(self) -> dict[str, str]:
        """Keys of a spec with what the logs carry, as TOML values, without those of the log."""
        spec = self.spec
        found: dict[str, str] = {}
        if self.loss.is_found:
            found["truck.heat_loss"] = f'"{self.bare_loss_w_per_k:.2f} W/K"'
            for key, spread in self.loss_spreads.items():
                found[f"fitted.{key}"] = f"{spread:.4f}"
        if self.estimate.is_found("leakage"):
            changes = self.factor("leakage") * spec.truck.air_changes_per_h
            found["truck.air_changes"] = f'"{changes:.3f} 1/h"'
        for name, key in (("sun", "solar"), ("contents", "contents"), ("part_load", "part_load")):
            if self.estimate.is_found(name):
                before = getattr(spec.fitted, f"{key}_scale")
                found[f"fitted.{key}_scale"] = f"{before * self.factor(name):.4f}"
                found[f"fitted.{key}_spread"] = f"{self.spread(name):.4f}"
        return found | self._unit_keys() | self._bank_keys()

    def _bank_keys(self) -> dict[str, str]:
        """Keys of the bank's charge."""
        if isinstance(self.bank, str) or not self.bank.is_found(CHARGE):
            return {}
        factor, column = self.bank.interval(CHARGE)[0], self.bank.column(CHARGE)
        assert column is not None
        return {
            "bank.rated": f'"{factor * self.spec.bank.rated_ah:.2f} Ah"',
            "fitted.bank_spread": f"{float(self.bank.sd[column]):.4f}",
            "fitted.bank_age": f"{self.spec.bank.age_frac:g}",
        }

    def _points_key(self, what: str, factor: float) -> dict[str, str]:
        """Factor on the further points of the data sheet; none without such points."""
        if not self.spec.cooling.points:
            return {}
        before = getattr(self.spec.fitted, f"points_{what}_scale")
        return {f"fitted.points_{what}_scale": f"{before * factor:.4f}"}

    def _unit_keys(self) -> dict[str, str]:
        """Keys of the cooling unit's rating, and factors on the further points of its sheet."""
        cooling, found = self.spec.cooling, dict[str, str]()
        if self.estimate.is_found("capacity"):
            found["cooling.capacity"] = f'"{self.factor("capacity") * cooling.capacity_w:.0f} W"'
            found |= self._points_key("capacity", self.factor("capacity"))
            found["fitted.capacity_spread"] = f"{self.spread('capacity'):.4f}"
        if self.estimate.is_found("power"):
            # Indoor fan and controls are no part of what was scaled.
            apart_w = cooling.fan_power_w + cooling.controls_power_w
            power_w = apart_w + self.factor("power") * (cooling.power_w - apart_w)
            found["cooling.power"] = f'"{power_w:.0f} W"'
            found |= self._points_key("power", power_w / cooling.power_w)
            found["fitted.power_spread"] = f"{self.spread('power'):.4f}"
        if self.estimate.is_found("controls"):
            controls_w = self.factor("controls") * cooling.controls_power_w
            found["cooling.controls_power"] = f'"{controls_w:.1f} W"'
            found["fitted.controls_spread"] = f"{self.spread('controls'):.4f}"
        return found
