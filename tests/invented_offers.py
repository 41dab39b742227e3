"""Many units, batteries and climates: their file, and an answer that nothing was run for."""

import json

import numpy as np
import pandas as pd

from restcab.offers.chart import OddsMap
from restcab.results.result import Result


def invented_choice(units=12, batteries=8, climates=("dallas-tx", "phoenix-az", "duluth-mn")):
    """Values as ``choose`` gives them, the odds a smooth curve of capacity and charge."""
    rows = []
    for u in range(units):
        capacity_w = 1500.0 + 300.0 * (u // 3)
        name = f"unit {u}" if u % 3 else f"rear wall unit of variable speed, year {2020 + u}"
        for b in range(batteries):
            kind = f"kind {b}" if b % 3 else f"sealed deep-cycle battery of group thirty-one, {b}"
            for count in range(1, 9):
                sure = count * (b + 2.0) * (1.0 + 0.02 * u) / 14.0 + capacity_w / 1500.0
                odds = round(256 / (1.0 + np.exp(-3.0 * (sure - 3.0)))) / 256
                rows.append(_row(name, kind, count, capacity_w, odds, climates, u, b))
    rows.sort(key=lambda row: (not row["holds"], row["net_present_cost_usd"]))
    seen = [row for row in rows if row["holds"]]
    for row in seen:
        row["undominated"] = not any(_beats(other, row) for other in seen)
    values = {
        "pairs": rows, "requirement_met": True, "cheapest": rows[0]["pair"], "next_step": None,
        "by": "cost", "climates": list(climates), "hold_share_frac": 0.98,
        "confidence_frac": 0.9, "judged_at": "end-of-life", "years": 5.0, "samples": 256,
        "season": "May-Sep", "rests_per_year": 250.0, "offers": "invented.toml",
    }  # fmt: skip
    better = (row for row in seen[1:] if row["judged_probability_frac"]
              > rows[0]["judged_probability_frac"])  # fmt: skip
    values["next_step"] = next((row["pair"] for row in better), None)
    kinds = list(dict.fromkeys(row["battery"] for row in rows))[:3]
    size_w, counts = np.linspace(1000.0, 3000.0, 9), list(range(1, 9))
    odds = 1.0 / (1.0 + np.exp(-np.add.outer(size_w / 300.0 - 7.0, np.array(counts) - 4.0)))
    maps = [
        OddsMap(climates[0], kind, "unit 1", "2001-08-01T20:00", size_w, counts, odds)
        for kind in kinds
    ]
    return Result("choose", values, pd.DataFrame({"pair": [row["pair"] for row in rows]}),
                  extra={"spec": "invented.toml", "maps": maps})  # fmt: skip


def many_offers(units=12, batteries=8, climates=("dallas-tx", "phoenix-az", "duluth-mn")):
    """A file of offers that a dealer never made: every unit with a bank of each kind of battery."""
    head = f"[offers]\nclimates = {json.dumps(climates)}\nbatteries_max = 1\n"
    return "\n".join([head, *map(_unit, range(units)), *map(_battery, range(batteries))])


def _unit(u):
    capacity, speed = 6000 + 500 * u, "variable" if u % 2 else "fixed"
    return (
        f'[[units]]\nname = "unit {u}"\ncapacity = "{capacity} Btu/h"\n'
        f'power = "{capacity / (8.5 + 0.3 * (u % 4)):.0f} W"\nairflow = "{capacity / 28:.0f} cfm"\n'
        f'speed = "{speed}"\nprice = "USD {3000 + 250 * u}"\nmass = "{70 + 4 * u} lb"\n'
        'voltage = "12 V"\n'
    )


def _battery(b):
    chemistry, volts, mass = ("LFP", 12.8, 30 + 3 * b) if b % 2 else ("AGM", 12, 60 + 5 * b)
    return (
        f'[[batteries]]\nname = "kind {b}"\nchemistry = "{chemistry}"\nrated = "{90 + 90 * b} Ah"\n'
        f'price = "USD {250 + 330 * b}"\nmass = "{mass} lb"\nvoltage = "{volts} V"\n'
    )


def _row(unit, kind, count, capacity_w, odds, climates, u, b):
    price = 2500.0 + 140.0 * u + (150.0 + 110.0 * b) * count
    mass = 30.0 + 2.0 * u + (25.0 - 1.5 * b) * count
    here = [
        {"climate": name, "probability_worn_frac": min(1.0, odds + 0.02 * at),
         "probability_frac": 1.0, "rests_held_frac": 1.0, "rests_held_worn_frac": odds,
         "bank_life_years": 4.0 + b, "recharge_in_time": True, "electric_peak_w": 400.0,
         "fails_on": [] if odds >= 0.9 else ["odds"], "net_present_cost_usd": price + 700.0}
        for at, name in enumerate(climates)
    ]  # fmt: skip
    return {
        "pair": f"{unit} + {count} x {kind}", "unit": unit, "battery": kind, "batteries": count,
        "measures": [], "cooling_capacity_w": capacity_w, "price_usd": price, "mass_kg": mass,
        "net_present_cost_usd": price + 700.0, "judged_rests_held_frac": odds,
        "judged_probability_frac": odds, "bank_life_years": 4.0 + b, "holds": odds >= 0.9,
        "fails_on": [] if odds >= 0.9 else ["odds"], "undominated": False, "climates": here,
    }  # fmt: skip


def _beats(one, other):
    keys = [(-1.0, "judged_probability_frac"), (1.0, "price_usd"), (1.0, "mass_kg")]
    gaps = [sign * (other[key] - one[key]) for sign, key in keys]
    return all(gap >= 0.0 for gap in gaps) and any(gap > 0.0 for gap in gaps)
