"""Equipment of an option and its mass."""

from restcab.options.factors import Factors
from restcab.options.given import GivenValues
from restcab.spec.means import Kit
from restcab.spec.model import Spec
from restcab.spec.options import Way


def kits_of(way: Way, spec: Spec) -> list[Kit]:
    """Equipment of an option."""
    kits = [means.kit for means in way.means]
    if way.cooling is not None:
        kits.append(way.cooling.cooling_kit)
    for means in way.means:
        extra = means.extra
        if extra is not None and getattr(spec.options, extra.attribute) == extra.word:
            kits.append(extra.kit)
    return kits


def equipment_mass_kg(way: Way, spec: Spec) -> float:
    """Mass that an option adds to the truck [kg]."""
    given = GivenValues(spec, Factors())
    return sum(given.total(kit.masses) for kit in kits_of(way, spec))
