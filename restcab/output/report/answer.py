"""What stands on top: the job, and the answer in plain sentences with their odds."""

from dataclasses import dataclass
from typing import Any

from restcab.output.moments import time_of_day
from restcab.output.report.parts import plural, signed, when
from restcab.output.units import Show, energy, share
from restcab.results.result import Result
from restcab.studies.claim import BORDERLINE, HOLDS, verdict_of

_SIGNS = {HOLDS: "✓", BORDERLINE: "~", "falls short": "✗"}


@dataclass(frozen=True)
class Sentence:
    """One sentence of the answer.

    Parameters
    ----------
    figure, under
        The number that carries it, and what it is.
    lead, text
        What it comes to in a few words, and the sentence.
    verdict
        ``holds``, ``borderline``, ``falls short``, or empty where there is none.
    """

    figure: str
    under: str
    lead: str
    text: str
    verdict: str = ""

    @property
    def css(self) -> str:
        """Class of the verdict."""
        return self.verdict.replace(" ", "-") or "plain"

    @property
    def sign(self) -> str:
        """A sign for whom the colour says nothing."""
        return _SIGNS.get(self.verdict, "")


def job(result: Result, show: Show) -> list[tuple[str, str]]:
    """What was asked: truck, rest, weather, equipment; name and value."""
    spec, rest = result.extra["declared"], result["deciding_rest"]
    sized = result.extra["parts"].get("size")
    season = spec.rest.season
    if sized is not None:
        season = f"{sized['rests_total']} rests, {season}"
    count = spec.bank.batteries_count
    return [
        ("Truck", spec.name),
        ("Place", show.said(result.extra["weather"])),
        (
            "Rest",
            f"{rest['hours']:g} h from {time_of_day(rest['start'])}, bunk at "
            f"{show.temperature(rest['setpoint_c'])}; {season}",
        ),
        (
            "Declared",
            f"{show.heat_rate(spec.cooling.capacity_w)} unit, "
            f"{plural(count, spec.bank.chemistry + ' battery', spec.bank.chemistry + ' batteries')}"
            f" ({energy(spec.bank.bank_wh)}), {_age(spec.bank.age_frac, count)}",
        ),
    ]


def _age(age_frac: float, count: int) -> str:
    whose = "its" if count == 1 else "their"
    return "new" if age_frac == 0.0 else f"{age_frac:.0%} of {whose} life used"


def headline(result: Result) -> tuple[str, str]:
    """The answer in one line, and its verdict."""
    sentence = sentences(result, Show("us"))[0]
    return sentence.lead, sentence.css


def sentences(result: Result, show: Show) -> list[Sentence]:
    """The answer: a claim if one was asked, the declared pair, what it takes, what it saves."""
    found = [_claim(result, show), _declared(result, show), _needed(result, show),
             _saved(result, show)]  # fmt: skip
    return [sentence for sentence in found if sentence is not None]


def _claim(result: Result, show: Show) -> Sentence | None:
    part = result.extra["parts"].get("claim")
    if part is None:
        return None
    v = part.values
    return Sentence(
        share(v["probability_frac"]),
        "odds of the claim",
        f"The claim of {v['hours']:g} h {_verb(v['verdict'])}",
        f"from {when(v['rest_start'])}, outdoors up to {show.temperature(v['temp_out_max_c'])}: "
        f"half of such trucks last {v['runtime_h']['p50']:.1f} h or less, nineteen of twenty at "
        f"least {v['runtime_h']['p05']:.1f} h.",
        v["verdict"],
    )


def _verb(verdict: str) -> str:
    return "is borderline" if verdict == BORDERLINE else verdict


def _declared(result: Result, show: Show) -> Sentence:
    """How surely the declared pair holds."""
    night, spec = result.extra["nights"][0], result.extra["declared"]
    sized = result.extra["parts"].get("size")
    probability = night.probability_frac
    verdict = verdict_of(spec, probability)
    rest = when(result["deciding_rest"]["start"])
    text = f"of {rest}, outdoors up to {_hottest(result, show)}"
    if sized is None:
        text += "."
    else:
        given = sized["given"]
        text += (
            f"; {share(given['season_probability_frac'])} sure of the "
            f"{share(spec.rest.hold_share_frac)} of the season's rests that are asked for. Exactly "
            f"as declared, nothing unsure, it holds {given['rests_held_frac']:.1%} of them."
        )
    return Sentence(
        share(probability), "odds as declared",
        f"The declared unit and bank {_do(verdict)} the deciding rest", text, verdict,
    )  # fmt: skip


def _do(verdict: str) -> str:
    return {HOLDS: "hold", BORDERLINE: "are borderline on"}.get(verdict, "fall short on")


def _hottest(result: Result, show: Show) -> str:
    steps = result.extra["nights"][0].steps
    return show.temperature(float(steps["temp_out_c"].max()))


def _needed(result: Result, show: Show) -> Sentence | None:
    """What it would take."""
    sized = result.extra["parts"].get("size")
    if sized is None:
        return Sentence(
            "none",
            "of the pairs tried",
            "No unit and bank of these kinds hold these rests",
            "with the charging that is declared; the cautions say why, and what would.",
        )
    v: Any = sized.values
    age = "new" if v["bank_sized_for"] == "new" else "to the end of the bank's life"
    back = (
        f"the alternator refills them in {v['recharge_h']:.1f} h of driving"
        if v["recharge_in_time"]
        else "one drive does not refill them after that rest"
    )
    declared = result.extra["declared"].bank.batteries_count
    more = v["bank_batteries"] - declared
    change = f"{abs(more)} {'more' if more > 0 else 'fewer'}" if more else "as many"
    return Sentence(
        share(v["probability_frac"]),
        "odds with the smallest pair",
        f"It takes {show.heat_rate(v['cooling_capacity_required_w'])} and "
        f"{plural(v['bank_batteries'], 'battery', 'batteries')}",
        f"({change} than declared, {show.mass(v['bank_mass_kg'])}) to hold it {age}; {back}; a new "
        f"bank of this size lasts {v['bank_life_years']:.1f} years.".replace(
            "(as many than declared", "(as many as declared"
        ),
        verdict_of(result.extra["declared"], v["probability_frac"]),
    )  # fmt: skip


def _saved(result: Result, show: Show) -> Sentence | None:
    """What the judged way saves against the baseline."""
    part = result.extra["parts"].get("compare")
    if part is None:
        return None
    v = part.values
    rows = {row["option"]: row for row in v["options"]}
    judged, base = rows[v["judged"]], rows[v["baseline"]]
    saved_l = base["fuel_l_per_year"] - judged["fuel_l_per_year"]
    saved_usd = base["cost_usd_per_year"] - judged["cost_usd_per_year"]
    present = base["net_present_cost_usd"] - judged["net_present_cost_usd"]
    span = next(
        (row for row in (v["idle"] or {}).get("savings", []) if row["option"] == v["judged"]), None
    )
    more = " more" if saved_l < 0.0 else ""
    text = (
        f"{show.fuel_of_year(abs(saved_l))} of diesel{more} a year; over {v['years']:g} years, all "
        f"bought and replaced, it {'saves' if present >= 0.0 else 'costs'} {abs(present):,.0f} USD"
    )
    if span is not None:
        low, high = sorted((span["present_saved_low_usd"], span["present_saved_high_usd"]))
        text += f", from {signed(low)} to {signed(high)} over the idling hours of logged fleets"
    return Sentence(
        f"{abs(saved_usd):,.0f} USD",
        f"saved a year by {v['judged']}" if saved_usd >= 0.0 else f"more a year for {v['judged']}",
        f"Against {v['baseline']}, {v['judged']} {'saves' if saved_l >= 0.0 else 'burns'}",
        text + ".",
    )  # fmt: skip
