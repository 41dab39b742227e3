"""The means of keeping a rest, one record each: what it holds, burns, draws, weighs and costs.

The words of ``options.compare``, the tables and sums of ``compare`` and the list of inputs whose
span is tried all read these records and nothing else about a means: a new one is a new record in
`MEANS`, with the rows of ``data/`` that it names. An option is one means, or one that cools and one
that heats.

A name stands for a row of ``data/factors.csv`` (``apu.electric``), a key of the spec in SI units
(``options.apu_price``), or ``bank.total_price`` and ``bank.total_mass`` of the declared bank. The
functions work on whole arrays, one value per rest.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from restcab.physics.arrays import BoolArray, FloatArray


class Rests(Protocol):
    """What a record may ask of the rests of a year; see `restcab.options.year.YearOfRests`."""

    @property
    def hours(self) -> float:
        """Length of a rest [h]."""

    @property
    def cooled(self) -> "BoolArray":
        """Rests that grow too warm if the cab is left alone."""

    @property
    def heated(self) -> "BoolArray":
        """Rests that grow too cold."""

    @property
    def cooling_wh(self) -> "FloatArray":
        """Heat to be taken out [Wh]."""

    @property
    def cooling_peak_w(self) -> "FloatArray":
        """Its highest rate [W]."""

    @property
    def heating_wh(self) -> "FloatArray":
        """Heat to be put in [Wh]."""

    @property
    def heating_peak_w(self) -> "FloatArray":
        """Its highest rate [W]."""

    @property
    def unit_wh(self) -> "FloatArray":
        """Electricity of the declared unit [Wh]."""

    @property
    def unit_held(self) -> "BoolArray":
        """Rests in which that unit keeps the bunk cool enough."""

    @property
    def heater_wh(self) -> "FloatArray":
        """Heat of the declared heater [Wh]."""

    @property
    def heater_electric_wh(self) -> "FloatArray":
        """That heater's own draw [Wh]."""

    @property
    def heater_held(self) -> "BoolArray":
        """Rests in which it keeps the bunk warm enough."""


class Given(Protocol):
    """Values by name."""

    def __getitem__(self, name: str) -> float: ...


Holds = Callable[[Rests, Given], "BoolArray"]
PerRest = Callable[[Rests, Given], "FloatArray"]


@dataclass(frozen=True)
class Kit:
    """Names of what a piece of equipment costs and weighs, each added up.

    Parameters
    ----------
    prices, masses
        Installed price [USD] and mass [kg].
    services, hourly
        Service per year [USD] and per running hour [USD/h].
    """

    prices: tuple[str, ...] = ()
    masses: tuple[str, ...] = ()
    services: tuple[str, ...] = ()
    hourly: tuple[str, ...] = ()


@dataclass(frozen=True)
class Engine:
    """Names of the figures of an engine that runs through a rest.

    Parameters
    ----------
    fuel_base, fuel_per_kwh
        Fuel without shaft load [gal/h] and per shaft work [gal/kWh].
    ac_cop, alternator
        Cooling over shaft work [-], and efficiency of the alternator [-].
    electric
        What blower and controls draw while it runs [W].
    coolant_pump
        What an electric pump draws while its coolant heats the bunk [W]; empty if the engine turns
        its pump itself.
    speed
        Speed without and with a heat duty [rpm], and rise of the fuel per 100 rpm [gal/h]; empty
        for an engine of one speed.
    ac_capacity, heat_capacity, run_frac
        For one that stops in between: what it cools and heats while it runs [W], and the least
        share of the rest in which it runs [-]; empty for one that runs throughout.
    by_habit
        Whether it runs only in some of the rests that ask for it (``options.idle_hours``).
    """

    fuel_base: str
    fuel_per_kwh: str
    ac_cop: str
    alternator: str
    electric: str
    coolant_pump: str = ""
    speed: tuple[str, str, str] | tuple[()] = ()
    ac_capacity: str = ""
    heat_capacity: str = ""
    run_frac: str = ""
    by_habit: bool = False


@dataclass(frozen=True)
class Emits:
    """Names of tailpipe factors.

    Parameters
    ----------
    nox, pm
        Per hour [g/h] or per fuel [g/gal].
    per
        ``hour`` or ``gal``.
    by_engine_years
        Whether the name goes on with ``options.engine_years``.
    """

    nox: str
    pm: str
    per: str = "hour"
    by_engine_years: bool = False


@dataclass(frozen=True)
class Extra:
    """Equipment that a choice of the user adds.

    Parameters
    ----------
    attribute, word
        Attribute of the options table, and its value with which the extra is there.
    kit, emits
        What is added, and the tailpipe factors that then hold.
    """

    attribute: str
    word: str
    kit: Kit
    emits: Emits


@dataclass(frozen=True)
class Means:
    """One means of keeping a rest.

    Parameters
    ----------
    word
        Its word in ``options.compare``.
    options
        Options of the default comparison that begin with it.
    cools, heats
        Rests in which it can take out the heat, and put in the heat, that is needed; None if it
        does not cool, or heat, at all.
    kit, cooling_kit
        Equipment, and what comes on top of it where it cools.
    extra
        Equipment that a choice adds.
    unsure
        Names whose span is tried in the sensitivity; those known from memory alone are told when
        they decide.
    engine
        The engine that runs; None for none.
    bank
        Whether the declared bank feeds it and the hotel load.
    plug, fee
        Whether it needs a place with a plug, and the name of that place's fee [USD/h].
    draws_cooling_wh, draws_heating_wh
        Direct current it takes in each rest, its fans and pumps included [Wh].
    in_bank_run
        Whether the run of the declared bank has that draw already (the declared heater's).
    mains_heating_wh
        Heat it makes of mains electricity in each rest [Wh].
    road_wh
        Electricity it takes on the road for each rest [Wh].
    fuel_l
        Diesel it burns in each rest, other than in an engine [L].
    emits
        Tailpipe factors; None if it burns nothing.
    short, short_on_bank
        What to say where it does not keep enough rests, and where a bank feeds it;
        ``{heat_rate[name]}`` stands for a heat rate, in the units of the reader.
    """

    word: str
    options: tuple[str, ...] = ()
    cools: Holds | None = None
    heats: Holds | None = None
    kit: Kit = field(default_factory=Kit)
    cooling_kit: Kit = field(default_factory=Kit)
    extra: Extra | None = None
    unsure: tuple[str, ...] = ()
    engine: Engine | None = None
    bank: bool = False
    plug: bool = False
    fee: str = ""
    draws_cooling_wh: PerRest | None = None
    draws_heating_wh: PerRest | None = None
    in_bank_run: bool = False
    mains_heating_wh: PerRest | None = None
    road_wh: PerRest | None = None
    fuel_l: PerRest | None = None
    emits: Emits | None = None
    short: str = ""
    short_on_bank: str = ""


def _cools_within(name: str) -> Holds:
    return lambda rests, given: rests.cooling_peak_w <= given[name]


def _heats_within(name: str) -> Holds:
    return lambda rests, given: rests.heating_peak_w <= given[name]


def _unit_holds(rests: Rests, _: Given) -> "BoolArray":
    """The declared unit, on a supply that lasts."""
    return rests.unit_held


def _unit_draws_wh(rests: Rests, _: Given) -> "FloatArray":
    return rests.unit_wh


_SPEED = ("idle.rpm_low", "idle.rpm_high", "idle.fuel_per_100rpm")
_MAIN_ENGINE = Engine(
    "idle.fuel_base", "idle.fuel_per_kwh", "idle.ac_cop", "idle.alternator", "idle.truck_electric",
    speed=_SPEED,
)  # fmt: skip
_MAIN_ENGINE_UNSURE = (
    "idle.fuel_base", "idle.fuel_per_kwh", "idle.ac_cop", "idle.alternator", "idle.truck_electric",
    *_SPEED, "idle.ac_capacity", "idle.heat_capacity", "options.idle_wear",
)  # fmt: skip
_MAIN_ENGINE_EMITS = Emits("idle.nox", "idle.pm", by_engine_years=True)

IDLING = Means(
    "idling",
    options=("idling",),
    cools=_cools_within("idle.ac_capacity"),
    heats=_heats_within("idle.heat_capacity"),
    kit=Kit(hourly=("options.idle_wear",)),
    unsure=_MAIN_ENGINE_UNSURE,
    engine=replace(_MAIN_ENGINE, by_habit=True),
    emits=_MAIN_ENGINE_EMITS,
)

START_STOP = Means(
    "start-stop",
    options=("start-stop",),
    cools=_cools_within("idle.ac_capacity"),
    heats=_heats_within("idle.heat_capacity"),
    kit=Kit(
        prices=("options.start_stop_price",),
        masses=("options.start_stop_mass",),
        hourly=("options.idle_wear",),
    ),
    unsure=(
        *_MAIN_ENGINE_UNSURE, "start_stop.run_frac", "options.start_stop_price",
        "options.start_stop_mass",
    ),
    engine=replace(
        _MAIN_ENGINE, ac_capacity="idle.ac_capacity",
        heat_capacity="idle.heat_capacity", run_frac="start_stop.run_frac",
    ),
    emits=_MAIN_ENGINE_EMITS,
)  # fmt: skip

APU = Means(
    "apu",
    options=("apu", "apu+heater"),
    cools=_cools_within("apu.cool_capacity"),
    heats=_heats_within("apu.heat_capacity"),
    kit=Kit(
        prices=("options.apu_price",),
        masses=("options.apu_mass",),
        hourly=("options.apu_service",),
    ),
    extra=Extra(
        "apu_filter", "fitted",
        Kit(prices=("options.apu_filter_price",)), Emits("apu.nox", "apu.pm_filtered"),
    ),
    unsure=(
        "apu.fuel_base", "apu.fuel_per_kwh", "apu.ac_cop", "apu.alternator", "apu.electric",
        "apu.coolant_pump", "apu.cool_capacity", "apu.heat_capacity", "options.apu_price",
        "options.apu_filter_price", "options.apu_service", "options.apu_mass",
    ),
    engine=Engine(
        "apu.fuel_base", "apu.fuel_per_kwh", "apu.ac_cop", "apu.alternator", "apu.electric",
        coolant_pump="apu.coolant_pump",
    ),
    emits=Emits("apu.nox", "apu.pm"),
)  # fmt: skip

_UNIT = Kit(
    prices=("money.unit_price",), masses=("options.unit_mass",), services=("options.unit_service",)
)
_UNIT_UNSURE = ("money.unit_price", "options.unit_mass", "options.unit_service")

BATTERY = Means(
    "battery",
    options=("battery+heater",),
    cools=_unit_holds,
    cooling_kit=_UNIT,
    kit=Kit(prices=("bank.total_price",), masses=("bank.total_mass",)),
    unsure=(*_UNIT_UNSURE, "money.battery_price", "model.bank_life", "shore.converter"),
    bank=True,
    draws_cooling_wh=_unit_draws_wh,
    short="Unit or bank is too small: restcab size finds those that do.",
)


def _store_holds(rests: Rests, given: Given) -> "BoolArray":
    """Enough cold for the rest, and fast enough."""
    kept_wh = given["storage.capacity"] * (1.0 - given["storage.loss"])
    return (rests.cooling_wh <= kept_wh) & (rests.cooling_peak_w <= given["storage.rate"])


def _store_gives_wh(rests: Rests, given: Given) -> "FloatArray":
    return rests.cooling_wh.clip(max=given["storage.capacity"]) * rests.cooled


def _store_draws_wh(rests: Rests, given: Given) -> "FloatArray":
    """Pump and fan run for as long as the cold takes to come out at its greatest rate."""
    hours = (_store_gives_wh(rests, given) / given["storage.rate"]).clip(max=rests.hours)
    return hours * given["storage.fan"]


def _store_freezes_wh(rests: Rests, given: Given) -> "FloatArray":
    frozen_wh = _store_gives_wh(rests, given) / (1.0 - given["storage.loss"])
    return frozen_wh / given["storage.charge_cop"]


STORAGE = Means(
    "storage",
    options=("storage+heater",),
    cools=_store_holds,
    kit=Kit(
        prices=("options.storage_price",),
        masses=("options.storage_mass",),
        services=("options.storage_service",),
    ),
    unsure=(
        "storage.capacity", "storage.rate", "storage.charge_cop", "storage.loss", "storage.fan",
        "options.storage_price", "options.storage_service", "options.storage_mass",
    ),
    draws_cooling_wh=_store_draws_wh,
    road_wh=_store_freezes_wh,
)  # fmt: skip

SHORE = Means(
    "shore",
    options=("shore",),
    cools=_unit_holds,
    heats=_heats_within("shore.heat_capacity"),
    kit=Kit(prices=("options.shore_price",), masses=("options.shore_mass",)),
    cooling_kit=_UNIT,
    unsure=(
        *_UNIT_UNSURE, "shore.converter", "shore.heat_capacity", "options.shore_fee",
        "options.shore_price", "options.shore_mass",
    ),
    plug=True,
    fee="options.shore_fee",
    draws_cooling_wh=_unit_draws_wh,
    mains_heating_wh=lambda rests, _: rests.heating_wh * rests.heated,
)  # fmt: skip


def _heater_burns_l(rests: Rests, given: Given) -> "FloatArray":
    """Fuel in proportion to the heat, as it modulates (design assumption)."""
    output_w = given["heater.output"]
    per_wh = given["heater.fuel"] / output_w if output_w > 0.0 else 0.0
    return rests.heater_wh * rests.heated * per_wh


HEATER = Means(
    "heater",
    options=("heater",),
    heats=lambda rests, _: rests.heater_held,
    kit=Kit(
        prices=("options.heater_price",),
        masses=("options.heater_mass",),
        services=("options.heater_service",),
    ),
    unsure=("options.heater_price", "options.heater_service", "options.heater_mass"),
    draws_heating_wh=lambda rests, _: rests.heater_electric_wh,
    in_bank_run=True,
    fuel_l=_heater_burns_l,
    emits=Emits("heater.nox", "heater.pm", per="gal"),
    short="The heater of {heat_rate[heater.output]} is too small for the coldest rests "
    "(heater.output).",
    short_on_bank="The heater of {heat_rate[heater.output]} or the bank behind it is too small "
    "(heater.output, bank).",
)

MEANS: dict[str, Means] = {
    means.word: means for means in (IDLING, START_STOP, APU, BATTERY, STORAGE, SHORE, HEATER)
}
"""Every means by its word, in the order in which tables and messages list them."""


def words(of: Callable[[Means], object] = lambda means: means) -> tuple[str, ...]:
    """Return the words of the means for which something is true, in their order."""
    return tuple(word for word, means in MEANS.items() if of(means))


def default_options() -> str:
    """Return the options of the default comparison: those all of whose parts there are."""
    listed = [name for means in MEANS.values() for name in means.options]
    return ", ".join(name for name in listed if set(name.split("+")) <= set(MEANS))
