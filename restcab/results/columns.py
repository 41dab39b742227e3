"""What the columns of the frames, and so of the CSV tables, mean.

A unit stands in a column's name: the ending tells it, here and in the JSON objects.
"""

UNITS = (
    ("_btu_per_h_f", "Btu/(h·°F)"), ("_btu_per_h", "Btu/h"), ("_gal_per_kwh", "gal/kWh"),
    ("_usd_per_gal", "USD/gal"), ("_usd_per_l", "USD/L"), ("_usd_per_year", "USD/year"),
    ("_l_per_year", "L/year"), ("_gal_per_year", "gal/year"), ("_kwh_per_year", "kWh/year"),
    ("_wh_per_year", "Wh/year"), ("_kg_per_year", "kg/year"), ("_h_per_year", "h/year"),
    ("_per_year", "1/year"), ("_l_per_rest", "L/rest"), ("_gal_per_rest", "gal/rest"),
    ("_wh_per_rest", "Wh/rest"), ("_per_rest_usd", "USD/rest"), ("_w_per_k", "W/K"),
    ("_wh", "Wh"), ("_w", "W"), ("_c", "°C"), ("_k", "K"), ("_frac", "1"), ("_h", "h"),
    ("_ah", "Ah"), ("_a", "A"), ("_pa", "Pa"), ("_kg", "kg"), ("_usd", "USD"), ("_years", "years"),
    ("_gal", "gal"), ("_deg", "°"),
)  # fmt: skip
"""Ending of a name -> unit, the longer first."""

_RESTS = {
    "start": "begin of the rest, local standard time",
    "temp_out_max_c": "warmest outdoor air in the rest",
    "load_peak_w": "highest heat load after the pull-down",
    "load_energy_wh": "heat to take out in the rest",
    "electric_energy_wh": "electricity of the smallest pair's unit and the hotel load",
    "given_temp_bunk_max_c": "warmest bunk with the declared pair, after the pull-down",
    "given_soc_end_frac": "state of charge of the declared bank at the end",
    "given_held": "whether the declared pair holds the rest",
}
_PARTS = {
    "roof": "through the roof", "walls": "through the walls", "floor": "through the floor",
    "glass": "through the windows", "mass": "stored in the cab before the rest",
    "air": "with leaking air", "curtain": "past the curtain", "people": "from people",
    "equipment": "from the hotel load",
}  # fmt: skip
_HOURS = {
    "time": "end of the hour, local standard time",
    "temp_out_c": "outdoor air, mean of the hour",
    "temp_bunk_c": "bunk air, mean of the hour",
    "load_w": "heat to take out, mean of the hour",
    **{f"{part}_w": f"part of the load: {words}" for part, words in _PARTS.items()},
    "humidity_bunk_frac": "relative humidity of the bunk with the declared unit",
}
_UNIT = {
    "outdoor_c": "outdoor air",
    "capacity_w": "heat taken from the room, net of the indoor fan",
    "power_w": "electric power at the unit's terminals",
    "cop": "heat per electricity [1]",
    "sensible_frac": "share of the heat that lowers the temperature",
    "coil_c": "surface of the coil",
    "runs": "whether the unit runs at this temperature",
}
_SAMPLES = {
    "shell_conductance": "factor on the heat through the shell [1]",
    "leakage": "factor on the leaking air [1]",
    "paint_absorptance": "factor on the paint's absorptance [1]",
    "humidity": "factor on the outdoor humidity ratio [1]",
    "hotel_load": "factor on the hotel load [1]",
    "cooling_capacity": "factor on the cooling capacity [1]",
    "electric_input": "factor on the unit's electric input [1]",
    "bank_capacity": "factor on the bank's charge [1]",
    "bank_age_frac": "share of the bank's life used",
    "charge_at_start_frac": "state of charge when the rest begins",
    "part_load_input": "factor on the electric input at part load [1]",
    "controls_draw": "factor on the draw of the unit's controls [1]",
    "inside_film": "factor on the films of air inside [1]",
    "surroundings": "ground and trucks around warmer by [K]",
    "runtime_h": "hours until too warm or empty, up to those followed",
    "held": "whether the sample lasts the claimed hours",
}
_WAYS = {
    "option": "way to rest",
    "fuel_l_per_year": "diesel burnt", "fuel_gal_per_year": "diesel burnt",
    "electric_kwh_per_year": "electricity of unit and hotel load",
    "cost_usd_per_year": "running cost",
    "net_present_cost_usd": "present cost of purchases and running, resale off",
    "payback_years": "until the price is back against the first option; empty: never",
    "co2_kg_per_year": "carbon dioxide of the tailpipe",
    "nox_kg_per_year": "nitrogen oxides of the tailpipe",
    "pm_kg_per_year": "particulates of the tailpipe",
    "held_frac": "share of all rests that are held",
    "cooled_held_frac": "share held of the rests that need cooling",
    "heated_held_frac": "share held of the rests that need heating",
    "does_the_job": "whether the asked share of both is held",
    "price_usd": "price of the equipment",
    "fuel_usd_per_year": "cost of diesel",
    "energy_usd_per_year": "shore fee or electricity",
    "upkeep_usd_per_year": "service and wear",
    "payload_usd_per_year": "payload lost",
    "co2_upstream_kg_per_year": "carbon dioxide of making the fuel",
    "co2_grid_kg_per_year": "carbon dioxide of power stations",
    "engine_h_per_year": "running hours of an engine",
    "plug_h_per_year": "hours on shore power",
    "grid_kwh_per_year": "electricity from the grid",
    "fuel_engine_l_per_year": "diesel of engines",
    "fuel_heater_l_per_year": "diesel of the air heater",
    "fuel_recharge_l_per_year": "diesel of recharging on the road",
    "fuel_mass_l_per_year": "diesel of carrying the equipment",
    "mass_kg": "mass of the equipment",
    "bank_life_remaining_years": "life left in the declared bank",
    "bank_life_years": "life of a new bank",
    "cost_per_rest_usd": "equal cost of a rest, purchases in",
    "net_present_cost_low_usd": "present cost, all uncertain prices together, low",
    "net_present_cost_high_usd": "present cost, all uncertain prices together, high",
    "why": "what moves it, in words",
}  # fmt: skip
_REGIONS = {
    "climate": "id of the climate",
    "place": "name of the station",
    "latitude_deg": "latitude", "longitude_deg": "longitude",
    "truck_years": "trucks there, counted by the year [years]",
    "rests": "rests a year",
    "rests_cooled": "rests a year that need cooling",
    "rests_heated": "rests a year that need heating",
    "cooling_wh_per_year": "heat to take out",
    "heating_wh_per_year": "heat to put in",
    "idle_fuel_gal_per_year": "diesel of the baseline",
    "option_fuel_gal_per_year": "diesel of the judged option",
    "saving_usd_per_year": "running cost saved",
    "saving_after_purchase_usd_per_year": "saved after buying it",
    "payback_years": "until the price is back; empty: not within money.years",
    "saving_after_purchase_low_usd_per_year": "the same at the fewest logged idling hours",
    "saving_after_purchase_high_usd_per_year": "the same at the most idling hours",
    "fuel_saved_low_gal_per_year": "diesel saved at the fewest idling hours",
    "fuel_saved_high_gal_per_year": "diesel saved at the most idling hours",
    "baseline_engine_h_per_year": "running hours of the baseline's engines",
    "co2_saved_kg_per_year": "carbon dioxide saved, tailpipe and power stations",
    "nox_saved_kg_per_year": "nitrogen oxides saved",
    "pm_saved_kg_per_year": "particulates saved",
    "rests_held_frac": "share of the rests that the option holds",
    "unit_held_frac": "share of the rests that the declared unit holds on an endless supply",
    "requirement_met": "whether it does the job for every truck there",
    "bank_batteries_required": "batteries for the declared unit; empty: none is enough",
    "bank_rated_required_ah": "rated charge of them",
    "diesel_usd_per_gal": "price of diesel",
    "diesel_from": "whose price that is",
}  # fmt: skip
_COURSE = {
    "hour": "end of the hour since the rest began [h]",
    "temp_out_c": "outdoor air at that time",
    "temp_bunk_c": "bunk air at that time",
    "power_w": "unit and hotel load at the bank, mean of the hour",
    "soc_frac": "state of charge at that time, truck as declared",
    "soc_p05_frac": "state of charge that one sample in twenty falls short of",
    "soc_p95_frac": "state of charge that one sample in twenty exceeds",
    "pair": "unit and bank: as declared, or the smallest pair",
}
_FIT = {
    "log": "name of the log",
    "hour": "end of the step since the log began [h]",
    "temp_out_c": "outdoor air, a running mean of half an hour",
    "heater_w": "heat of the fan heater, mean of the step",
    "temp_bunk_c": "bunk air as read",
    "temp_bunk_modelled_c": "bunk air as the fitted truck has it",
    "temp_bunk_band_c": "half width of the 90 % band of a reading about it",
    "temp_bunk_measured_c": "readings that were fitted; empty: none, or left out",
    "power_modelled_w": "draw from the bank as the fitted unit has it, means of half an hour",
    "power_band_w": "half width of the 90 % band of a reading about it",
    "power_measured_w": "draws that were fitted; empty: none, or left out",
}
_FIT_PLAN = {
    "kind": "heater, heater and day, this twice, unit, or heater and unit",
    "month": "month of the night, 1 to 12",
    "start_h": "begin on the clock",
    "hours": "length of all its logs [h]",
    "heater_w": "heat of the fan heater; 0: none",
    "heated_h": "how long it is on",
    "logged": "what is logged besides bunk, outdoor air, heater or bank",
    "temp_out_c": "outdoor air, mean of the test",
    "temp_bunk_max_c": "warmest bunk while it heats",
    **{
        f"{name}_half_width_frac": f"half width of the 90 % interval: {words}; empty: nothing found"
        for name, words in {
            "heat_loss": "heat loss", "shell": "heat through the shell", "leakage": "leakage",
            "films": "films of air inside", "sun": "solar gain",
            "contents": "heat capacity of the contents", "capacity": "cooling capacity",
            "power": "electric input", "part_load": "electric input at part load",
            "controls": "draw of the unit's controls",
        }.items()
    },
}  # fmt: skip
_PAIRS = {
    "pair": "name of the pair, for --write",
    "unit": "name of the unit",
    "battery": "name of the battery",
    "batteries": "how many",
    "price_usd": "price of all of it, installed",
    "mass_kg": "mass of all of it",
    "holds": "whether the pair does all that is asked, in every climate",
    "undominated": "whether no pair that holds is as cheap, as light and as sure, and better in "
    "one",
    "climate": "where the columns behind are judged",
    "deciding_rest": "begin of the rest that decides the bank, local standard time",
    "rests_total": "rests of the season",
    "rests_held_frac": "share of them held as declared, the bank new",
    "rests_bank_empty": "rests with the bank empty before the end",
    "rests_unit_too_small": "rests too warm although it was not",
    "rests_held_worn_frac": "share held with the bank at the end of its life",
    "probability_frac": "of holding the deciding rest, the bank new",
    "probability_worn_frac": "of holding it with the bank at the end of its life",
    "recharge_in_time": "whether the drive refills the bank after the rest that takes most of it",
    "week_carried": "whether the week of duty around it is carried again and again; empty: it "
    "fails otherwise",
    "electric_peak_w": "highest draw at the bank",
    "bank_life_years": "life of the bank",
    "net_present_cost_usd": "present cost of purchases and running, resale off",
    "fails_on": "what the pair fails on there: unit, bank, odds, week, current; empty: nothing",
}
COLUMNS = {
    "load": _HOURS, "size": _RESTS, "unit": _UNIT, "claim": _SAMPLES, "compare": _WAYS,
    "regions": _REGIONS, "report": _COURSE, "fit": _FIT, "fit-plan": _FIT_PLAN, "choose": _PAIRS,
}  # fmt: skip
"""Study -> column of its frame -> what it means."""
LOGGED = {
    "regions": {"bank_batteries_hardest": "batteries of the hardest truck and start, log or not"}
}
"""Columns that stand there only for a fleet with a log of stops."""


def unit_of(name: str) -> str:
    """Unit of a column or key, from the ending of its name; empty if it has none."""
    return next((unit for ending, unit in UNITS if name.endswith(ending)), "")
