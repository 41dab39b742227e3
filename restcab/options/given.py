"""Values by the names that the records of `restcab.spec.means` use."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Any

from restcab.options.bank_price import bank_price_usd
from restcab.options.factors import Factors, is_factor
from restcab.season.scene import declared_bank_mass_kg
from restcab.spec.declare import Declared, declarations
from restcab.spec.model import TABLES, Spec


@dataclass(frozen=True)
class GivenValues:
    """Factors, keys of the spec in SI, and price and mass of the declared bank.

    Parameters
    ----------
    spec
        The truck, its prices and habits.
    factors
        Fuel, efficiency and emission factors.
    """

    spec: Spec
    factors: Factors

    def __getitem__(self, name: str) -> Any:
        """A number; of `stacked` factors an array of shape (n_case, 1)."""
        if is_factor(name):
            return self.factors[name]
        if name == "bank.total_price":
            return bank_price_usd(self.spec)
        if name == "bank.total_mass":
            return float(declared_bank_mass_kg(self.spec, self.spec.bank.bank_ah))
        return float(getattr(self.spec.table(name.split(".")[0]), declared_key(name)[0]))

    def total(self, names: Iterable[str]) -> float:
        """Sum of some values."""
        return sum((self[name] for name in names), 0.0)


@cache
def declared_key(name: str) -> tuple[str, Declared]:
    """Attribute and declaration of a key of the spec, ``table.key``.

    Raises
    ------
    KeyError
        If there is no such key.
    """
    table, _, key = name.partition(".")
    for attribute, declared in declarations(TABLES[table]).items():
        if declared.key == key:
            return attribute, declared
    raise KeyError(name)
