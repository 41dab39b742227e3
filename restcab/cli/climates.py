"""``restcab climates``: the built-in climates and what is known of each."""

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from restcab.cli.complete import ClimateId
from restcab.cli.options import output_options, write_output
from restcab.errors import InputError, Problem
from restcab.units import BTU_PER_WH, KM_PER_MILE, M_PER_FT, fahrenheit

if TYPE_CHECKING:
    from restcab.weather.climates import Climate

_JULY = 6
_MONTH_NAMES = (
    *("Jan", "Feb", "Mar", "Apr", "May", "Jun"),
    *("Jul", "Aug", "Sep", "Oct", "Nov", "Dec"),
)
_MPH_PER_M_PER_S = 3.6 / KM_PER_MILE
_BTU_PER_FT2 = BTU_PER_WH * M_PER_FT**2
"""Btu/ft² in one Wh/m²."""


@click.command(
    epilog="Example:\n\n\b\n  restcab climates\n  restcab climates phoenix-az\n"
    "  restcab climates phoenix-az --units si\n  restcab climates --json",
)
@click.argument("climate_id", required=False, metavar="[ID]", type=ClimateId())
@click.option(
    "--fetch", "place", metavar="LAT,LON",
    help="Fetch measured years of a place over the network, and write them to -o FILE.",
)  # fmt: skip
@click.option("--years", metavar="FIRST-LAST", help="Years to fetch, such as 2015-2024.")
@click.option(
    "--source", type=click.Choice(["nasa-power", "pvgis", "nsrdb"]), default="nasa-power",
    show_default=True,
    help="Whom to ask; pvgis has no humidity, nsrdb wants NSRDB_API_KEY and NSRDB_EMAIL in the "
    "environment.",
)  # fmt: skip
@output_options
def command(
    climate_id: str | None,
    place: str | None,
    years: str | None,
    source: str,
    as_json: bool,
    units: str,
    output: Path | None,
) -> None:
    """List the built-in climates, or show one of them.

    Without ID the stations are listed; with it, its months and design conditions. An ID can be
    given wherever weather is wanted; ID@MONTH-PERCENT is its design day, such as
    phoenix-az@7-0.4.

    With --fetch the measured years of a place are fetched, checked and written to a file, which
    --weather takes: no other command uses the network.
    """
    if place is not None or years is not None:
        _fetch(place, years, source, climate_id, output)
        return
    from restcab.weather.climates import climate_ids, read_climate

    names = climate_ids() if climate_id is None else (climate_id,)
    climates = [read_climate(name) for name in names]
    if as_json:
        text = _json(climates, whole=climate_id is not None)
    elif climate_id is None:
        text = _list(climates, units.lower(), to_file=output is not None)
    else:
        text = _page(climates[0], units.lower(), to_file=output is not None)
    write_output(text, output)


def _fetch(
    place: str | None, years: str | None, source: str, climate_id: str | None, output: Path | None
) -> None:
    """Fetch years of a place into a file."""
    if place is None or years is None or output is None or climate_id is not None:
        allowed = "--fetch LAT,LON --years FIRST-LAST -o FILE, and no ID"
        raise InputError(Problem("restcab climates", "a fetch is not wholly named", allowed))
    latitude, longitude = _numbers("--fetch", place, ",", "two numbers such as 33.43,-112.02")
    both = years if "-" in years else f"{years}-{years}"
    first, last = _numbers("--years", both, "-", "years such as 2015-2024, or 2020")
    from restcab.weather.fetch import fetch_years

    text = fetch_years(latitude, longitude, int(first), int(last), source)
    write_output(text, output)
    click.echo(f"{output}: {int(first)} to {int(last)} from {source}", err=True)


def _numbers(option: str, text: str, between: str, allowed: str) -> tuple[float, float]:
    """Read two numbers."""
    parts = text.split(between)
    try:
        one, other = (float(part) for part in parts)
    except ValueError as error:
        raise InputError(Problem(option, f"{text!r}", allowed)) from error
    if not (math.isfinite(one) and math.isfinite(other)):
        raise InputError(Problem(option, f"{text!r}", allowed))
    return one, other


def _list(climates: "list[Climate]", units: str, to_file: bool) -> str:
    from restcab.output.console import Page

    page = Page(to_file)
    degree, length = ("°C", "m") if units == "si" else ("°F", "ft")
    head = ("id", "place", length, f"heat {degree}", f"cool {degree}", f"July {degree}",
            "source, edition")  # fmt: skip
    rows = [
        (
            one.id,
            one.place,
            _height(one.elevation_m, units),
            _temp(_annual(one, "heat_996_c"), units),
            _temp(_annual(one, "cool_004_c"), units),
            _temp(one.months["temp_mean_c"][_JULY], units),
            _short_source(one),
        )
        for one in climates
    ]
    page.table(head, rows, right=range(2, 6), wide=(1, 6), room=26)
    page.text()
    page.text(
        "heat, cool: dry bulb exceeded in 99.6 and 0.4 % of the hours (ASHRAE handbook, edition in "
        "the last column; a dash where none is known). July: mean. 'design only': no hourly "
        "year; give a design day such as las-vegas-nv@7-0.4."
    )
    page.cautions()
    return page.done()


def _short_source(climate: "Climate") -> str:
    year = climate.source.split(" (")[0] if climate.has_year else "design only"
    return year if climate.design is None else f"{year}, {climate.design.edition}"


def _page(climate: "Climate", units: str, to_file: bool) -> str:
    from restcab.output.console import Page
    from restcab.weather.climates import measured_error

    page = Page(to_file)
    page.title(f"{climate.id}: {climate.place}, {climate.country}")
    page.text(
        f"{climate.latitude_deg:g}° N, {-climate.longitude_deg:g}° W, "
        f"{_height(climate.elevation_m, units)} {'m' if units == 'si' else 'ft'}, "
        f"UTC{climate.utc_offset_h:+g} h, station {climate.wmo}"
    )
    page.text(f"Source: {climate.source}")
    if not climate.has_year:
        page.text(
            "Design conditions and monthly means only: usable for design days "
            f"({climate.id}@7-0.4), not for a year."
        )
    else:
        page.text(measured_error(climate))
    page.text()
    page.table(*_months(climate, units), right=range(1, 9))
    page.text(
        "mean, dew: means of the month. min, max: extremes of the typical year."
        + (" night: mean of the nights; 98 %: two nights of a hundred are warmer."
           if climate.has_year else "")
    )  # fmt: skip
    if climate.design is not None:
        _design(page, climate, units)
    else:
        page.text()
        page.text(_no_design(climate, units))
    page.cautions()
    return page.done()


def _months(climate: "Climate", units: str) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Table of monthly means."""
    degree, speed = ("°C", "m/s") if units == "si" else ("°F", "mph")
    months = climate.months
    columns: list[tuple[str, list[str]]] = [
        (f"mean {degree}", [_temp(value, units) for value in months["temp_mean_c"]]),
        ("min", [_temp(value, units) for value in months["temp_min_c"]]),
        ("max", [_temp(value, units) for value in months["temp_max_c"]]),
        (f"dew {degree}", [_temp(value, units) for value in months["dew_mean_c"]]),
    ]
    if climate.has_year:
        nights = climate.nights
        columns.append(("night", [_temp(value, units) for value in nights["temp_mean_c"]]))
        columns.append(("night 98 %", [_temp(value, units) for value in nights["temp_q98_c"]]))
        sun_wh = [sum(row) for row in climate.mean_day["ghi_w_per_m2"]]
    else:
        sun_wh = list(months["ghi_wh_per_m2_day"])
    if units == "si":
        sun, sun_unit = [f"{value / 1000.0:.1f}" for value in sun_wh], "kWh/m²/d"
    else:
        sun, sun_unit = [f"{value * _BTU_PER_FT2:,.0f}" for value in sun_wh], "Btu/ft²/d"
    factor = 1.0 if units == "si" else _MPH_PER_M_PER_S
    wind = [f"{value * factor:.1f}" for value in months["wind_mean_m_per_s"]]
    columns += [(f"wind {speed}", wind), (f"sun {sun_unit}", sun)]
    head = ("month", *(name for name, _ in columns))
    cells = [values for _, values in columns]
    rows = [(name, *(values[m] for values in cells)) for m, name in enumerate(_MONTH_NAMES)]
    return head, rows


def _design(page: Any, climate: "Climate", units: str) -> None:
    design = climate.design
    assert design is not None
    degree = "°C" if units == "si" else "°F"
    page.text()
    page.title(f"Design conditions, ASHRAE Handbook of Fundamentals {design.edition}")
    heat = " / ".join(_temp(design.annual[key], units) for key in ("heat_996_c", "heat_990_c"))
    page.text(f"Heating 99.6 / 99 %: {heat} {degree}")
    pairs = ", ".join(
        f"{_temp(design.annual[f'cool_{mark}_c'], units)} / "
        f"{_temp(design.annual[f'cool_{mark}_wet_c'], units)}"
        for mark in ("004", "010", "020")
    )
    page.text(f"Cooling 0.4, 1, 2 %, dry / wet bulb: {pairs} {degree}")
    page.text()
    marks = (("0.4 %", "004"), ("2 %", "020"), ("5 %", "050"), ("10 %", "100"))
    head = ("month", *(f"{text} dry/wet {degree}" for text, _ in marks), "range", "tau b/d")
    scale = 1.0 if units == "si" else 1.8
    rows = [
        (
            name,
            *(
                f"{_temp(design.months[f'dry_{mark}_c'][m], units)}/"
                f"{_temp(design.months[f'wet_{mark}_c'][m], units)}"
                for _, mark in marks
            ),
            f"{design.months['range_hot_k'][m] * scale:.1f}",
            f"{design.months['tau_beam'][m]:.3f}/{design.months['tau_diffuse'][m]:.3f}",
        )
        for m, name in enumerate(_MONTH_NAMES)
    ]
    page.table(head, rows, right=range(1, 7))
    page.text(
        "dry/wet: dry bulb exceeded in that share of the month's hours, and the wet bulb with it. "
        f"range: daily swing of a hot day, {'K' if units == 'si' else '°F'}. "
        "tau b/d: optical depths of the clear sky, beam and diffuse."
    )


def _no_design(climate: "Climate", units: str) -> str:
    """Say that there is no design day, what the typical year has instead, and who has one."""
    import numpy as np

    from restcab.fleet.nearest import nearest_climates
    from restcab.weather.climates import climate_ids, read_climate

    names = [name for name in climate_ids() if read_climate(name).design is not None]
    place = (climate.latitude_deg, climate.longitude_deg, math.nan)
    nearest = nearest_climates(names, *(np.array([value]) for value in place))
    other, apart_km = names[int(nearest.climate[0])], float(nearest.distance_km[0])
    apart = f"{apart_km:.0f} km" if units == "si" else f"{apart_km / KM_PER_MILE:.0f} mi"
    degree = "°C" if units == "si" else "°F"
    hot, cold = (_temp(climate.year[key], units) for key in ("temp_p996_c", "temp_p04_c"))
    return (
        f"No design conditions: the sources of this climate give none, so there is no design day "
        f"{climate.id}@7-0.4. In its typical year 0.4 % of the hours are above {hot} {degree} and "
        f"0.4 % below {cold} {degree}, but a typical year understates rare heat. The nearest "
        f"station with design conditions is {other}, {apart} away."
    )


def _json(climates: "list[Climate]", whole: bool) -> str:
    from restcab.output.json import envelope
    from restcab.provenance import hash_inputs, provenance

    rows = [_row(one) for one in climates]
    result: dict[str, Any] = {"climates": rows}
    if whole:
        one = climates[0]
        result["months"] = _plain(one.months)
        result["days"], result["nights"] = _plain(one.days), _plain(one.nights)
        result["links"] = {key: list(pair) for key, pair in one.links.items()}
        result["checked"] = dict(one.checked) or None
        result["design"] = (
            None
            if one.design is None
            else {
                "edition": one.design.edition,
                "annual": dict(one.design.annual),
                "months": _plain(one.design.months),
            }
        )
    return envelope(
        "climates",
        result,
        sources=list(dict.fromkeys(one.source for one in climates)),
        provenance=provenance(hash_inputs(result)),
    )


def _row(climate: "Climate") -> dict[str, Any]:
    return {
        "id": climate.id,
        "name": climate.name,
        "state": climate.state,
        "country": climate.country,
        **climate.station,
        "has_year": climate.has_year,
        "heat_996_c": _annual(climate, "heat_996_c"),
        "cool_004_c": _annual(climate, "cool_004_c"),
        "july_mean_c": climate.months["temp_mean_c"][_JULY],
        "edition": None if climate.design is None else climate.design.edition,
        "source": climate.source,
    }


def _plain(table: Any) -> dict[str, list[float | None]]:
    """Columns for JSON, which knows no NaN."""
    return {
        key: [None if math.isnan(value) else value for value in values]
        for key, values in table.items()
    }


def _annual(climate: "Climate", key: str) -> float | None:
    return None if climate.design is None else climate.design.annual[key]


def _temp(value_c: float | None, units: str) -> str:
    if value_c is None or math.isnan(value_c):
        return "-"
    return f"{value_c if units == 'si' else fahrenheit(value_c):.1f}"


def _height(value_m: float, units: str) -> str:
    return f"{value_m if units == 'si' else value_m / M_PER_FT:.0f}"
