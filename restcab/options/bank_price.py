"""What a bank costs: the price given, or that of its chemistry by rated energy."""

from restcab.spec import catalog
from restcab.spec.model import Spec


def bank_price_usd(spec: Spec) -> float:
    """Price of a new bank [USD]."""
    return spec.bank.batteries_count * battery_price_usd(spec)


def battery_price_usd(spec: Spec) -> float:
    """Price of one battery [USD]: the one given, or that of its chemistry by rated energy."""
    if spec.money.battery_price_usd is not None:
        return spec.money.battery_price_usd
    return _battery_usd(spec, "value")


def battery_price_span_usd(spec: Spec) -> tuple[float, float]:
    """Low and high price of one battery of the declared chemistry [USD]."""
    return _battery_usd(spec, "low"), _battery_usd(spec, "high")


def _battery_usd(spec: Spec, column: str) -> float:
    bank = spec.bank
    usd_per_kwh = catalog.number("options", f"battery.price.{bank.chemistry}", column)
    return usd_per_kwh * bank.rated_ah * bank.voltage_v / 1000.0
