"""Every input of a file of offers with its value, origin and source, as ``explain`` shows them."""

from restcab.offers.model import BatteryOffer, MeasureOffer, Offers, UnitOffer
from restcab.offers.tables import KEPT
from restcab.spec.declare import declarations
from restcab.spec.model import InputRow
from restcab.spec.places import counted


def inputs_of(offers: Offers) -> list[InputRow]:
    """Return a row for each key of each unit, battery and measure, in the order of the file.

    Parameters
    ----------
    offers
        The offers. What a data sheet does not say of a unit is a default, or as in the truck's
        spec for the few keys that are the truck's own.
    """
    lists: dict[str, tuple[UnitOffer | BatteryOffer | MeasureOffer, ...]] = {
        "units": offers.units, "batteries": offers.batteries, "measures": offers.measures,
    }  # fmt: skip
    rows = []
    for name, given in lists.items():
        for index, offer in enumerate(given):
            for attribute, declared in declarations(type(offer.table)).items():
                value = getattr(offer.table, attribute)
                text = si = declared.unset or "not used"
                if value is not None:
                    text, si = declared.kind.show(value)
                origin, source = "default", declared.source
                path = f"{name}.{index}.{declared.key}"
                if path in offers.given:
                    origin, source = "given", offers.given[path]
                elif name == "units" and declared.key in KEPT:
                    text, si, source = "as in the spec", "as in the spec", "the truck's own"
                rows.append(InputRow(counted(path), text, si, origin, source))
    return rows
