"""[options]: the ways to rest that are compared, what they cost, and how the engine idles."""

from functools import cache
from typing import Any, ClassVar, NamedTuple

from restcab.errors import nearest
from restcab.spec import catalog
from restcab.spec.declare import Choice, Number, Quantity, Table, Text, declare
from restcab.spec.means import MEANS, Means, default_options, words

GRIDS = ("us", "rfce", "camx")
"""Grids with a factor in ``data/factors.csv``: United States, Mid-Atlantic, California."""
IDLE_LOGGED_H = (480.0, 1840.0)
"""Idle hours a year of a large van fleet and of a flatbed fleet: NREL fleet study (read)."""
MODEL_YEARS = ("1998-2006", "2007-2009", "2010-2023", "2024-on")


class Way(NamedTuple):
    """One option: what cools and what heats.

    Parameters
    ----------
    name
        As the user wrote it, such as ``battery+heater``.
    cools, heats
        Words of `restcab.spec.means.MEANS`; empty for none.
    """

    name: str
    cools: str
    heats: str

    @property
    def cooling(self) -> Means | None:
        """The means that cools."""
        return MEANS[self.cools] if self.cools else None

    @property
    def heating(self) -> Means | None:
        """The means that heats."""
        return MEANS[self.heats] if self.heats else None

    @property
    def means(self) -> tuple[Means, ...]:
        """All its means, each once."""
        return _means_of(self.cools, self.heats)

    @property
    def engine(self) -> Means | None:
        """The means that runs an engine."""
        return _engine_of(self.cools, self.heats)

    @property
    def on_bank(self) -> bool:
        """Whether the declared bank feeds it."""
        return any(means.bank for means in self.means)


@cache
def _means_of(cools: str, heats: str) -> tuple[Means, ...]:
    """The means of some words: asked for at every turn of a year's account."""
    return tuple(MEANS[word] for word in dict.fromkeys((cools, heats)) if word)


@cache
def _engine_of(cools: str, heats: str) -> Means | None:
    return next((means for means in _means_of(cools, heats) if means.engine), None)


def read_ways(value: Any) -> tuple[Way, ...]:
    """Read ``"idling, apu, battery+heater"``.

    The first word cools, and heats too if it can and no second word follows.

    Raises
    ------
    ValueError
        If a word is unknown, cannot do what it stands for, or an option comes twice.
    """
    if not isinstance(value, str) or not value.strip():
        raise ValueError("not a list of options")
    ways = [_way(part.strip().lower()) for part in value.split(",")]
    if len(set(ways)) < len(ways):
        raise ValueError("an option is listed twice")
    return tuple(ways)


def _way(text: str) -> Way:
    parts = [word.strip() for word in text.split("+")]
    for word in parts:
        if word not in MEANS:
            raise ValueError(f"unknown option {word!r}. {nearest(word, words())}".strip())
    if len(parts) == 1:
        (word,) = parts
        return Way(text, word if MEANS[word].cools else "", word if MEANS[word].heats else "")
    if len(parts) > 2:
        raise ValueError(f"{text!r} has more than two parts")
    cools, heats = parts
    if not MEANS[cools].cools:
        raise ValueError(f"{cools!r} does not cool")
    if not MEANS[heats].heats:
        raise ValueError(f"{heats!r} does not heat")
    return Way("+".join(parts), cools, heats)


def write_ways(ways: tuple[Way, ...]) -> str:
    """Write options as they are read."""
    return ", ".join(way.name for way in ways)


class _OptionList(Text):
    """Options by the words that there are."""

    def allowed(self) -> str:
        """Say what is accepted."""
        cools, heats = words(lambda means: means.cools), words(lambda means: means.heats)
        return (
            f'options such as "{", ".join(words()[:2])}": what cools ({", ".join(cools)}), '
            f"then + what heats ({', '.join(heats)})"
        )


def row_default(name: str) -> tuple[str, tuple[float, float], str]:
    """Default with unit, span, and source of a row of the options table."""
    row = catalog.row("options", name)
    span = (float(row["low"]), float(row["high"]))
    return f"{row['value']} {row['unit']}", span, catalog.source("options", name)


def _price(key: str, row: str, meaning: str) -> Any:
    default, span, source = row_default(row)
    return declare(key, Quantity("USD", "USD", (0.0, 1e6), span), default, meaning, source)


def _hourly(key: str, row: str, meaning: str) -> Any:
    default, span, source = row_default(row)
    return declare(key, Quantity("USD/h", "USD/h", (0.0, 100.0), span), default, meaning, source)


def _mass(key: str, row: str, meaning: str) -> Any:
    default, span, source = row_default(row)
    return declare(key, Quantity("kg", "kg", (0.0, 2000.0), span), default, meaning, source)


class Options(Table):
    """The ways to rest."""

    title: ClassVar[str] = "The ways to rest that are compared."

    compare: str = declare(
        "compare",
        _OptionList("a list of options", lambda value: write_ways(read_ways(value))),
        default_options(),
        "Options compared; the first is the one that the others are measured against.",
        "design assumption",
    )
    idle_when: str = declare(
        "idle_when",
        Choice(("needed", "always")),
        "needed",
        "Rests in which an engine idles: those that need cooling or heating, or all.",
        "design assumption: the smaller saving",
    )
    idling_h: float | None = declare(
        "idle_hours",
        Number((0.0, 8784.0), IDLE_LOGGED_H, unit="h"),
        None,
        "Hours a year that the main engine idles for rests, from the engine records. They are "
        "spread over the rests that ask for an engine; one that is not idled is not held.",
        "Logged fleets 480 and 1,840 h a year: NREL (read); between them: design assumption",
        unset="1160 h, midway between logged fleets, with the range over them",
    )
    model_years: str = declare(
        "engine_years", Choice(MODEL_YEARS), "2010-2023",
        "Model years of the main engine, for its emissions.", "design assumption",
    )  # fmt: skip
    grid: str = declare(
        "grid", Choice(GRIDS), "us", "Grid that shore power comes from.",
        "United States: design assumption",
    )  # fmt: skip
    shore_share_frac: float = declare(
        "shore_share",
        Number((0.0, 1.0)),
        1.0,
        "Share of the rests that find a place with a plug.",
        "The option at its best: design assumption; 93 electrified sites in 2012: DOE (read)",
    )
    idle_wear_usd_per_h: float = _hourly(
        "idle_wear", "idling.wear", "Maintenance and wear of the main engine per idle hour."
    )
    start_stop_price_usd: float = _price(
        "start_stop_price", "start-stop.price", "Installed price of automatic start-stop."
    )
    apu_price_usd: float = _price(
        "apu_price", "apu.price", "Installed price of a diesel auxiliary unit."
    )
    apu_service_usd_per_h: float = _hourly(
        "apu_service", "apu.service", "Service of the auxiliary unit per hour."
    )
    apu_filter: str = declare(
        "apu_filter", Choice(("none", "fitted")), "none",
        "Particulate filter behind the auxiliary unit: its price and what it takes out.",
        "design assumption: some places ask for one behind newer trucks (CARB idling pages, read)",
    )  # fmt: skip
    apu_filter_price_usd: float = _price(
        "apu_filter_price", "apu.filter_price", "Price of that filter, if it is fitted."
    )
    heater_price_usd: float = _price(
        "heater_price", "heater.price", "Installed price of the fuel-fired heater."
    )
    heater_service_usd: float = _price(
        "heater_service", "heater.service", "Service of the heater per year."
    )
    unit_service_usd: float = _price(
        "unit_service", "unit.service", "Service of the electric cooling unit per year."
    )
    shore_price_usd: float = _price(
        "shore_price", "shore.price", "Installed price of the shore-power kit."
    )
    shore_fee_usd_per_h: float = _hourly(
        "shore_fee", "shore.fee",
        "Fee of a place with a plug, energy included; 0 if only the electricity is paid.",
    )  # fmt: skip
    storage_price_usd: float = _price(
        "storage_price", "storage.price", "Installed price of a cold store."
    )
    storage_service_usd: float = _price(
        "storage_service", "storage.service", "Service of the cold store per year."
    )
    apu_mass_kg: float = _mass("apu_mass", "apu.mass", "Mass of the auxiliary unit.")
    unit_mass_kg: float = _mass(
        "unit_mass", "unit.mass", "Mass of the electric unit without batteries."
    )
    heater_mass_kg: float = _mass("heater_mass", "heater.mass", "Mass of the heater.")
    storage_mass_kg: float = _mass("storage_mass", "storage.mass", "Mass of the cold store.")
    shore_mass_kg: float = _mass("shore_mass", "shore.mass", "Mass of the shore-power kit.")
    start_stop_mass_kg: float = _mass(
        "start_stop_mass", "start-stop.mass", "Mass of the start-stop controls."
    )

    @property
    def idle_asked_h(self) -> float:
        """Hours a year that the main engine idles if the rests ask for as many [h]."""
        given = self.idling_h
        return sum(IDLE_LOGGED_H) / 2.0 if given is None else given

    @property
    def ways(self) -> tuple[Way, ...]:
        """The options compared."""
        return read_ways(self.compare)

    def faults(self) -> list[tuple[str, str]]:
        """Return (key, what is wrong) for values that do not fit together."""
        return [
            ("compare", f"pairs two engines in {way.name}")
            for way in self.ways
            if way.cools != way.heats and sum(means.engine is not None for means in way.means) > 1
        ]
