"""NSRDB, PVGIS and NASA POWER files, written here in their layouts from a year that is known.

The layouts are those that pvlib's readers read; that of NASA POWER's CSV is from memory. Every
source tells its sun at instants of its own, so the files are made from the course of one sky.
"""

import json

import numpy as np
import pytest
from made_sky import H, made, start_of_year

from restcab.errors import WeatherError
from restcab.weather.critique import outside_w_per_m2, sun_late_h
from restcab.weather.files import open_weather, open_years, read_weather
from restcab.weather.schema import STATION_BOUNDS


def _psm(years, minute=30, zone=-5):
    head = "Source,Location ID,City,State,Country,Latitude,Longitude,Time Zone,Elevation,"
    head += "Local Time Zone,Version\n"
    head += f"NSRDB,1060387,-,-,-,36.1,-79.95,{zone},273,-5,3.2.0\n"
    head += (
        "Year,Month,Day,Hour,Minute,Temperature,Relative Humidity,Pressure,Wind Speed,GHI,DNI,DHI\n"
    )
    rows = []
    for year in years:
        start = start_of_year(year)
        values = made(start - round(zone) * H, minute / 60.0)
        for at, t, rh, wind, ghi, dni, dhi in zip(start.tolist(), *values, strict=True):
            rows.append(
                f"{at.year},{at.month},{at.day},{at.hour},{minute},{t:.2f},{rh:.1f},980,{wind:.2f},"
                f"{ghi:.2f},{dni:.2f},{dhi:.2f}"
            )
    return head + "\n".join(rows) + "\n"


def _pvgis_tmy_rows(offset_h):
    start = np.concatenate(
        [start_of_year(2005 + m % 3)[_month(2005 + m % 3) == m] for m in range(12)]
    )
    values = made(start, 0.0)[:3] + made(start, offset_h)[3:]
    return start, values


def _month(year):
    return start_of_year(year).astype("datetime64[M]").astype(int) % 12


def _pvgis_tmy_csv(offset_h=0.1761):
    lines = ["Latitude (decimal degrees): 36.100", "Longitude (decimal degrees): -79.950"]
    lines += ["Elevation (m): 273.0", f"Irradiance Time Offset (h): {offset_h}", "month,year"]
    lines += [f"{m + 1},{2005 + m % 3}" for m in range(12)]
    lines += ["time(UTC),T2m,RH,G(h),Gb(n),Gd(h),IR(h),WS10m,WD10m,SP"]
    start, (t, rh, wind, ghi, dni, dhi) = _pvgis_tmy_rows(offset_h)
    for k, at in enumerate(start.tolist()):
        lines.append(
            f"{at:%Y%m%d:%H%M},{t[k]:.2f},{rh[k]},{ghi[k]:.2f},{dni[k]:.2f},{dhi[k]:.2f},330.0,"
            f"{wind[k]:.2f},180,98000.0"
        )
    return "\r\n".join([*lines, "", "T2m: 2-m air temperature (degree Celsius)", ""])


def _pvgis_hourly_json(years=(2015, 2016), minute=10, slope=0):
    rows = []
    for year in years:
        start = start_of_year(year, 366 if year % 4 == 0 else 365)
        t, _, wind, ghi, _, dhi = made(start, minute / 60.0)
        rows += [
            {
                "time": f"{at:%Y%m%d:%H}{minute:02d}",
                "Gb(i)": round(float(ghi[k] - dhi[k]), 2),
                "Gd(i)": round(float(dhi[k]), 2),
                "Gr(i)": 0.0,
                "H_sun": 0.0,
                "T2m": round(float(t[k]), 2),
                "WS10m": round(float(wind[k]), 2),
                "Int": 0.0,
            }
            for k, at in enumerate(start.tolist())
        ]
    site = {"latitude": 36.1, "longitude": -79.95, "elevation": 273.0}
    inputs = {"location": site, "mounting_system": {"fixed": {"slope": {"value": slope}}}}
    return json.dumps({"inputs": inputs, "outputs": {"hourly": rows}, "meta": {"inputs": {}}})


def _pvgis_tmy_json():
    """The same year as the CSV, in the other form that is offered."""
    lines = _pvgis_tmy_csv().split("\r\n")
    titles = next(k for k, line in enumerate(lines) if line.startswith("time(UTC)"))
    names = lines[titles].split(",")
    rows = [line.split(",") for line in lines[titles + 1 :] if line[:8].isdigit()]
    hourly = [
        {name: cell if name == "time(UTC)" else float(cell)
         for name, cell in zip(names, row, strict=True)}
        for row in rows
    ]  # fmt: skip
    site = {"latitude": 36.1, "longitude": -79.95, "elevation": 273.0}
    months = [{"month": m + 1, "year": 2005 + m % 3} for m in range(12)]
    inputs = {"location": site | {"irradiance_time_offset": 0.1761}}
    outputs = {"months_selected": months, "tmy_hourly": hourly}
    return json.dumps({"inputs": inputs, "outputs": outputs, "meta": {"inputs": {}}})


def _pvgis_hourly_csv(year=2017, minute=10, slope="0 deg. ", parts=True):
    lines = ["Latitude (decimal degrees):\t36.100", "Longitude (decimal degrees):\t-79.950"]
    lines += ["Elevation (m):\t273.0", "Radiation database:\tmade", "", f"Slope: {slope}"]
    suns = "Gb(i),Gd(i),Gr(i)" if parts else "G(i)"
    lines += ["", f"time,{suns},H_sun,T2m,WS10m,Int"]
    start = start_of_year(year)
    t, _, wind, ghi, _, dhi = made(start, minute / 60.0)
    for k, at in enumerate(start.tolist()):
        sun = f"{ghi[k] - dhi[k]:.2f},{dhi[k]:.2f},0.0" if parts else f"{ghi[k]:.2f}"
        lines.append(f"{at:%Y%m%d:%H}{minute:02d},{sun},0.0,{t[k]:.2f},{wind[k]:.2f},0.0")
    return "\r\n".join([*lines, "", "T2m: 2-m air temperature (degree Celsius)", ""])


def _psm_by_parts(minutes):
    """Hours told at several instants each; ``minutes`` may differ from hour to hour."""
    parts = [_psm([2017], minute=minute).split("\n") for minute in minutes]
    rows = [row for hour in zip(*(part[3:] for part in parts), strict=True) for row in hour if row]
    return "\n".join([*parts[0][:3], *rows]) + "\n"


def _power(year=2020, zone="LST", days=366, gap=None):
    head = "-BEGIN HEADER-\nNASA/POWER Source Native Resolution Hourly Data\n"
    head += f"Dates (month/day/year): 01/01/{year} through 12/31/{year} in {zone}\n"
    head += "Location: latitude  36.1   longitude -79.95\n"
    head += "elevation from MERRA-2: Average for 0.5 x 0.625 degree region = 273.0 meters\n"
    head += "The value for missing source data that cannot be computed or is outside of the "
    head += "sources availability range: -999\nparameter(s):\n-END HEADER-\n"
    head += "YEAR,MO,DY,HR,ALLSKY_SFC_SW_DWN,ALLSKY_SFC_SW_DIFF,ALLSKY_SFC_SW_DNI,"
    head += "ALLSKY_SFC_LW_DWN,T2M,T2MDEW,WS10M,PS\n"
    start = start_of_year(year, days)
    t, _, wind, ghi, dni, dhi = made(start + (5 * H if zone == "LST" else 0 * H), 0.5)
    rows = []
    for k, at in enumerate(start.tolist()):
        temp = -999 if k == gap else f"{t[k]:.2f}"
        rows.append(
            f"{at.year},{at.month},{at.day},{at.hour},{ghi[k]:.2f},{dhi[k]:.2f},{dni[k]:.2f},330,"
            f"{temp},{t[k] - 5:.2f},{wind[k]:.2f},98.1"
        )
    return head + "\n".join(rows) + "\n"


FILES = {
    "nsrdb": lambda: _psm([2017]),
    "nsrdb on the full hour": lambda: _psm([2017], minute=0),
    "nsrdb in utc": lambda: _psm([2017], zone=0),
    "nsrdb half-hourly": lambda: _psm_by_parts((15, 45)),
    "nsrdb half-hourly from the full hour": lambda: _psm_by_parts((0, 30)),
    "pvgis typical year": _pvgis_tmy_csv,
    "pvgis typical year in json": _pvgis_tmy_json,
    "pvgis hourly": lambda: _pvgis_hourly_json((2017,)),
    "pvgis hourly in csv": _pvgis_hourly_csv,
    "power": _power,
    "power in utc": lambda: _power(zone="UTC"),
}


@pytest.mark.parametrize("kind", FILES)
def test_every_source_gives_the_same_sky(write, kind):
    weather = read_weather(write(FILES[kind]()))
    assert weather.utc_offset_h == -5.0
    assert weather.elevation_m == 273.0
    labels = weather.label_local
    assert str(labels[0])[5:16] == "01-01T01:00"
    # State at the end of the hour; the seam of a typical year's months, and the turn of the year
    # where UTC is moved, excepted.
    ours = weather.values("temp_air_c")
    real = made(labels + 5 * H, 0.0)[0]
    off = np.abs(ours - real)
    assert np.quantile(off, 0.98) < 0.25
    assert np.median(off) < 0.1
    # Sun as mean of the hour before the label.
    outside, _ = outside_w_per_m2({k: getattr(weather, k) for k in STATION_BOUNDS}, labels)
    ghi, dhi = weather.values("ghi_w_per_m2"), weather.values("dhi_w_per_m2")
    high = outside > 300.0
    assert ghi[high] == pytest.approx(0.7 * outside[high], rel=0.05)
    assert dhi[high].sum() == pytest.approx(0.15 * outside[high].sum(), rel=0.03)
    assert np.nanmax(np.abs(sun_late_h(labels, ghi, outside))) < 0.05
    assert not any("sun stands" in note for note in weather.notes)


def test_humidity_pressure_infrared(write):
    psm = read_weather(write(_psm([2017]), "a.csv"))
    assert psm.values("pressure_pa")[0] == pytest.approx(98_000.0)
    # 60 % relative humidity: 7.4 K below 15 °C (psychrometric chart).
    near = np.abs(psm.values("temp_air_c") - 15.0) < 0.3
    below = (psm.values("temp_air_c") - psm.values("temp_dew_c"))[near]
    assert below == pytest.approx(np.full(near.sum(), 7.7), abs=0.3)
    power = read_weather(write(_power(), "b.csv"))
    assert power.values("sky_ir_w_per_m2") == pytest.approx(np.full(8784, 330.0))
    assert power.values("pressure_pa")[0] == pytest.approx(98_100.0)


def test_no_humidity_is_told(write):
    weather = read_weather(write(_pvgis_hourly_json((2017,))))
    assert any("no humidity in the file" in note for note in weather.notes)


def test_the_sun_may_come_undivided(write):
    """Without its parts the total is read, and its parts are estimated."""
    whole = read_weather(write(_pvgis_hourly_csv(parts=False), "a.csv"))
    parted = read_weather(write(_pvgis_hourly_csv(), "b.csv"))
    ghi = whole.values("ghi_w_per_m2")
    # Under a low sun the reader takes the total that the parts give: 0.24 W/m2 apart at most.
    assert ghi == pytest.approx(parted.values("ghi_w_per_m2"), abs=0.5)
    assert np.all(whole.values("dhi_w_per_m2") <= ghi + 1e-9)
    assert 0.05 < whole.values("dhi_w_per_m2").sum() / ghi.sum() < 0.6


def test_without_an_elevation_power_lies_at_the_sea_and_says_so(write):
    lines = _power().split("\n")
    text = "\n".join(line for line in lines if not line.startswith("elevation"))
    weather = read_weather(write(text))
    assert weather.elevation_m == 0.0
    assert any("no elevation in the header, taken as sea level" in note for note in weather.notes)
    assert not any("no elevation" in note for note in read_weather(write(_power())).notes)


def test_the_missing_code_of_power_is_what_its_head_says(write):
    text = _power(gap=1000).replace("availability range: -999", "availability range: -777")
    text = text.replace(",-999,", ",-777,")
    weather = read_weather(write(text))
    assert any("temp_air_c: 2 missing hours interpolated" in note for note in weather.notes)
    told = "The value for missing source data that cannot be computed or is outside of the "
    told += "sources availability range: -999\n"
    weather = read_weather(write(_power(gap=1000).replace(told, "")))
    assert any("temp_air_c: 2 missing hours interpolated" in note for note in weather.notes)


def test_missing_code_is_a_gap(write):
    weather = read_weather(write(_power(gap=1000)))
    assert any("temp_air_c: 2 missing hours interpolated" in note for note in weather.notes)
    assert weather.values("temp_air_c").min() > -20.0


def test_several_years(write, tmp_path):
    path = write(_pvgis_hourly_json(), "two.json")
    years = open_years(path)
    assert [str(one.label_local[0])[:4] for one in years] == ["2015", "2016"]
    assert [len(one) for one in years] == [8760, 8784]
    with pytest.raises(WeatherError, match=r"holds 2 years: 2015, 2016.*#2016"):
        read_weather(path)
    assert open_weather(f"{path}#2015").content_hash == years[0].content_hash
    with pytest.raises(WeatherError, match="2015, 2016"):
        open_weather(f"{path}#2014")


def test_folder_of_years(write, tmp_path, epw_text):
    write(_psm([2018]), "b.csv")
    write(_psm([2017]), "c.csv")
    write(epw_text, "a.epw")
    assert [str(one.label_local[0])[:4] for one in open_years(tmp_path)] == ["2001", "2017", "2018"]
    (tmp_path / "empty").mkdir()
    with pytest.raises(WeatherError, match="empty folder"):
        open_years(tmp_path / "empty")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("\n".join(_psm([2017]).split("\n")[:-40]), "hourly rows of 2017"),
        (_psm([2017])[:-3010], "damaged"),
        ("Source,Location ID\nNSRDB,1\nYear\n", "damaged"),
        (_psm([2017]).replace(",GHI,", ",GXX,", 1), "ghi_w_per_m2 is not in the file"),
        (_pvgis_tmy_csv()[:-90_000], "cut short"),
        (_pvgis_hourly_json((2017,), slope=35), "plane tilted"),
        (_pvgis_hourly_json((2017,))[:-500], "damaged"),
        ("-BEGIN HEADER-\n-END HEADER-\n", "NASA POWER"),
        (_power(days=200), "hourly rows of 2020"),
        (_power(days=0), "there are no data rows"),
        (_power().replace(" in LST", ""), "is not a whole NASA POWER CSV"),
        (_pvgis_hourly_csv(slope="30 deg. (optimum)"), "a plane tilted by 30"),
        (_psm_by_parts((0, 20, 50)), "rows at uneven times"),
        (_psm_by_parts((15, 45)).rstrip().rpartition("\n")[0], "rows at uneven times"),
    ],
    ids=[
        "cut psm",
        "torn psm",
        "psm header",
        "no ghi",
        "cut tmy",
        "tilted",
        "torn json",
        "power",
        "cut power",
        "empty power",
        "power without a zone",
        "tilted csv",
        "uneven psm",
        "half an hour short",
    ],
)
def test_faults(fault, write, text, says):
    assert says in fault(write(text))
