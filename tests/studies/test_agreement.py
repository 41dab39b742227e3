"""Two commands that speak of one quantity say the same: three trucks in three climates.

Each command is asked once for each truck in each climate; every test then holds two answers
against each other. No number of another command is used to work out one of these.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from support import use_own_cache

from restcab.claims import remedies
from restcab.fleet.model import one_truck
from restcab.odds import pairs
from restcab.results.result import Result
from restcab.spec import load_spec
from restcab.spec.model import Spec
from restcab.studies import claim as claim_study
from restcab.studies.claim import claim
from restcab.studies.compare import compare
from restcab.studies.load import load
from restcab.studies.regions import regions
from restcab.studies.size import size
from restcab.studies.unit import unit
from restcab.weather.files import open_weather

pytestmark = pytest.mark.slow

EXAMPLES = Path(__file__).parents[2] / "examples"
TRUCKS = {
    "white-raised-roof": (),
    # As it stands its alternator refills no bank that the desert asks for.
    "dark-mid-roof": ("charging.alternator=320 A", "charging.drive_hours=11"),
    "team-truck": (),
}
CLIMATES = ("greensboro-nc", "phoenix-az", "duluth-mn")
REST = ("rest.season=Jul", "rest.hours=7")
"""`size` judges the rests of one month, which `regions` tells apart too; short rests run faster."""
OPTION, BASELINE = "battery+heater", "idling"
CLAIM_SAMPLES = 64
SAME_SUMS = 1e-9
"""The same additions in another order."""
SAME_BATCH = 1e-6
"""The same rests in another batch: the rounding of the coil's solution."""
SAME_LIFE = 1e-3
"""The air heater draws from the bank as declared in one, and as strong as asked in the other."""
MEAN_OF_A_REST = 0.06
"""A unit at the mean load, air and humidity of a rest, against its course through them."""
MEAN_OF_A_MILD_REST = 0.2
"""The same below the outdoor air that `unit` shows: most of the heat comes in the first hours, and
a mean over the night says little of how the unit meets it."""


@dataclass(frozen=True)
class Answers:
    """What the commands say of one truck in one climate.

    ``claim`` is about the declared truck, ``claim_pair`` about the one that `size` recommends,
    worn as it is sized for, ``claim_short`` about the same with half of the batteries; all on the
    day that decides the bank. ``load`` is of the day that decides the unit, ``unit_pair``
    of the recommended unit on the bunk's own air.
    """

    spec: Spec
    size: Result
    compare: Result
    regions: Result
    load: Result
    claim: Result
    claim_pair: Result
    claim_short: Result
    unit_pair: Result

    @property
    def region(self):
        """The row of the climate."""
        (row,) = self.regions["regions"]
        return row

    def of_compare(self, option):
        """The row of an option."""
        return self.compare.frame.set_index("option").loc[option]

    def of_regions(self, option):
        """The same in the fleet's table."""
        return next(row for row in self.regions["options"] if row["option"] == option)


@pytest.fixture(
    scope="module",
    params=[(truck, climate) for truck in TRUCKS for climate in CLIMATES],
    ids=lambda param: " in ".join(param),
)
def answers(request, tmp_path_factory):
    truck, climate = request.param
    spec = load_spec(EXAMPLES / f"{truck}.toml", (*REST, *TRUCKS[truck]))
    weather = open_weather(climate)
    with pytest.MonkeyPatch.context() as patch:
        use_own_cache(patch, tmp_path_factory.mktemp("cache"))
        # Of a claim's advice only the bank is asked for here, on as many samples as `size` takes.
        patch.setattr(remedies, "PROBE", pairs.SAMPLES)
        patch.setattr(remedies, "open_measures", lambda _spec: [])
        patch.setattr(claim_study, "scenarios", lambda *_: [])
        sized = size(spec, weather)
        day = np.datetime64(sized["bank_deciding_rest"][:10])

        def claimed(truck, *, advise=False):
            return claim(truck, weather, None, day, CLAIM_SAMPLES, advise=advise)

        pair = recommended(spec, sized)
        half = max(sized["bank_batteries"] // spec.bank.series_count // 2, 1)
        short = pair.with_values("bank", batteries_count=half * spec.bank.series_count)
        return Answers(
            spec,
            sized,
            compare(spec, weather),
            regions(one_truck(spec, (climate,), diesel_by_state=False), jobs=1),
            load(spec, weather, np.datetime64(sized["capacity_deciding_rest"][:10])),
            claimed(spec),
            claimed(pair),
            claimed(short, advise=True),
            unit(pair, spec.rest.setpoint_c, rh_frac=spec.rest.load_humidity_frac),
        )


def recommended(spec, sized):
    """The truck with the recommended pair written into its spec, the bank at its end of life."""
    scale = sized["cooling_capacity_required_w"] / spec.cooling.capacity_w
    names = ("capacity_w", "airflow_m3_per_s", "fan_power_w", "condenser_fan_power_w")
    grown = {name: scale * getattr(spec.cooling, name) for name in names}
    # What the controls draw does not grow with the unit.
    own_w = spec.cooling.controls_power_w
    grown["power_w"] = own_w + scale * (spec.cooling.power_w - own_w)
    drop = spec.cooling.wiring_drop_frac * grown["power_w"] / (scale * spec.cooling.power_w)
    spec = spec.with_values("cooling", **grown, wiring_drop_frac=drop)
    assert spec.bank.size_for == "end-of-life"
    return spec.with_values("bank", batteries_count=sized["bank_batteries"], age_frac=1.0)


# Bank ----------------------------------------------------------------------------------------


def test_bank_of_size_and_regions(answers):
    """For the declared unit: the same number of batteries."""
    given = answers.size["given"]["bank_batteries_required"]
    assert given == answers.region["bank_batteries_required"]


def test_bank_of_size_and_the_remedy_of_a_claim(answers):
    """With too small a bank, a claim asks for the one that `size` finds for that rest alone."""
    (remedy,) = answers.claim_short["what_would_make_it_hold"]
    assert remedy["bank_batteries"] == answers.size["bank_batteries_one_rest"]
    assert answers.size["bank_batteries"] >= remedy["bank_batteries"]


# Life ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("key", ["bank_life_years", "bank_life_remaining_years"])
def test_life_of_size_and_compare(answers, key):
    given = answers.size["given"]
    assert given[key] == pytest.approx(answers.of_compare(OPTION)[key], rel=SAME_LIFE)
    used = 1.0 - given["bank_life_remaining_years"] / given["bank_life_years"]
    assert used == pytest.approx(answers.spec.bank.age_frac)


def test_life_in_the_money_of_compare_and_regions(answers):
    """`regions` shows a bank's life in its replacements alone."""
    ours, theirs = answers.of_compare(OPTION), answers.of_regions(OPTION)
    assert theirs["net_present_cost_usd"] == pytest.approx(
        ours["net_present_cost_usd"], rel=SAME_SUMS
    )


# Draw ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("key", ["load_peak_w", "load_energy_wh"])
def test_load_of_size_and_load(answers, key):
    assert answers.load["rest_start"] == answers.size["capacity_deciding_rest"]
    assert answers.load[key] == pytest.approx(answers.size[key], rel=SAME_BATCH)


def test_draw_of_size_claim_and_unit(answers):
    """The recommended unit takes in its hardest rest what `unit` says for that mean of a day.

    Load and draw of the rest are `size`'s, the outdoor air the claim's, the unit's power at part
    load `unit`'s, in a straight line between its two outdoor temperatures.
    """
    sized, rest = answers.size, answers.spec.rest
    row = sized.frame.set_index("start").loc[sized["bank_deciding_rest"]]
    drawn_w = row["electric_energy_wh"] / rest.hours - rest.hotel_load_w
    part = pd.DataFrame(answers.unit_pair["part_load"]).sort_values("capacity_w")
    asked_w = row["load_energy_wh"] / rest.hours
    outdoors_c, powers_w = zip(
        *(
            (outdoor_c, np.interp(asked_w, rows["capacity_w"], rows["power_bank_w"]))
            for outdoor_c, rows in part.groupby("outdoor_c")
        ),
        strict=True,
    )
    share = (answers.claim["temp_out_mean_c"] - outdoors_c[0]) / (outdoors_c[1] - outdoors_c[0])
    expected_w = powers_w[0] + share * (powers_w[1] - powers_w[0])
    mild = share < 0.0
    tolerance = MEAN_OF_A_MILD_REST if mild else MEAN_OF_A_REST
    assert drawn_w == pytest.approx(expected_w, rel=tolerance)
    assert row["electric_energy_wh"] == pytest.approx(sized["electric_energy_wh"], rel=SAME_SUMS)


# Rests held ----------------------------------------------------------------------------------


def test_rests_held_of_size_and_regions(answers):
    """Of July's rests, by the declared unit and bank."""
    (july,) = (row for row in answers.regions["months"] if row["month"] == 7)
    held = answers.size["given"]["rests_held_frac"]
    assert july["rests_held_frac"] == pytest.approx(held, rel=SAME_SUMS)


def test_rests_held_of_compare_and_regions(answers):
    ours = answers.of_compare(OPTION)
    assert answers.region["rests_held_frac"] == pytest.approx(ours["held_frac"], rel=SAME_SUMS)
    assert answers.region["requirement_met"] == ours["does_the_job"]


def test_rest_held_of_size_and_claim(answers):
    """The declared truck without any spread, on the day of the claim."""
    rests = answers.size.frame.set_index("start")
    held = rests.loc[answers.claim["rest_start"], "given_held"]
    assert held == (answers.claim["runtime_as_declared_h"] >= answers.spec.rest.hours)


# Probability ---------------------------------------------------------------------------------


@pytest.mark.parametrize("pair", ["declared", "recommended"])
def test_probability_of_size_and_claim(answers, pair):
    """Sample by sample: `size` takes the first of the samples that a claim takes."""
    of, made = {
        "declared": (answers.size["given"], answers.claim),
        "recommended": (answers.size, answers.claim_pair),
    }[pair]
    held = made.frame["held"].to_numpy()
    assert held[: pairs.SAMPLES].mean() == of["probability_frac"]
    assert held.mean() == made["probability_frac"]


# Fuel and saving -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("key", "column", "per"),
    [
        ("idle_fuel_gal_per_year", "fuel_gal_per_year", BASELINE),
        ("option_fuel_gal_per_year", "fuel_gal_per_year", OPTION),
        ("saving_usd_per_year", "cost_usd_per_year", "saved"),
        ("nox_saved_kg_per_year", "nox_kg_per_year", "saved"),
        ("pm_saved_kg_per_year", "pm_kg_per_year", "saved"),
    ],
)
def test_fuel_and_saving_of_compare_and_regions(answers, key, column, per):
    rows = {name: answers.of_compare(name)[column] for name in (BASELINE, OPTION)}
    rows["saved"] = rows[BASELINE] - rows[OPTION]
    assert answers.region[key] == pytest.approx(rows[per], rel=SAME_SUMS)


def test_saving_after_purchase_and_payback_of_compare_and_regions(answers):
    ours, idle = answers.of_compare(OPTION), answers.of_compare(BASELINE)
    level = answers.spec.money.rests_per_year_count * (
        idle["cost_per_rest_usd"] - ours["cost_per_rest_usd"]
    )
    assert answers.region["saving_after_purchase_usd_per_year"] == pytest.approx(level)
    payback = answers.region["payback_years"]
    expected = ours["payback_years"]
    assert np.isnan(expected) if payback is None else payback == pytest.approx(expected)
