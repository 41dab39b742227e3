"""Refrigerant tables: names, files, agreement with the program they were made with."""

import json
import subprocess
import sys

import CoolProp
import numpy as np
import pytest

from restcab import userdir
from restcab.physics.refrigeration import refrigerant as module
from restcab.physics.refrigeration.refrigerant import (
    REFRIGERANTS,
    canonical_name,
    generate,
    refrigerant,
    write_table,
)
from restcab.physics.refrigeration.refrigerant_tables import Refrigerant

TABLE_ATOL_SPAN = 1e-3  # 0.1 % of the span of each property over the table
REGENERATED_RTOL = 2e-4  # same generator, another release of the property program


def test_written_table_reads_back(tmp_path):
    fluid = generate("R290")
    again = Refrigerant.from_dict(json.loads(write_table(fluid, tmp_path).read_text("utf-8")))
    assert again.to_dict() == fluid.to_dict()


def spread(values):
    return float(np.max(values) - np.min(values))


@pytest.mark.parametrize(
    ("written", "name"),
    [("R-134a", "R134a"), ("r134A", "R134a"), ("R 410 A", "R410A"), ("r1234YF", "R1234yf")],
)
def test_names_as_people_write_them(written, name):
    assert canonical_name(written) == name
    assert refrigerant(written).name == name


@pytest.mark.parametrize("name", REFRIGERANTS)
def test_shipped_table_is_what_the_generator_gives(name):
    shipped, made = refrigerant(name), generate(name)
    assert shipped.source
    assert made.temp_max_c == pytest.approx(shipped.temp_max_c, abs=0.05)
    temps = np.linspace(-30.0, shipped.temp_max_c - 2.0, 23)
    for read in ("pressure_pa", "enthalpy_liquid_j_per_kg"):
        np.testing.assert_allclose(
            getattr(made, read)(temps), getattr(shipped, read)(temps), rtol=REGENERATED_RTOL
        )
    superheats = np.linspace(0.0, 55.0, 7)
    for read in (
        "enthalpy_vapour_j_per_kg",
        "entropy_vapour_j_per_kgk",
        "density_vapour_kg_per_m3",
    ):
        np.testing.assert_allclose(
            getattr(made, read)(temps[:, None], superheats),
            getattr(shipped, read)(temps[:, None], superheats),
            rtol=REGENERATED_RTOL,
        )


def states(name, fluid):
    """Single states away from the nodes, in the reference of the tables: dew point to vapour."""
    components, fractions = module._BLENDS.get(name, (name, None))
    state = CoolProp.AbstractState("HEOS", components)
    if fractions:
        state.set_mass_fractions(list(fractions))
    state.update(CoolProp.QT_INPUTS, 0.0, 273.15)
    h_zero, s_zero = state.hmass() - 200e3, state.smass() - 1000.0
    for temp_c in np.linspace(-39.0, fluid.temp_max_c - 0.5, 29).tolist():
        try:
            state.update(CoolProp.QT_INPUTS, 1.0, temp_c + 273.15)
            pressure = state.p()
            state.update(CoolProp.PQ_INPUTS, pressure, 0.0)
        except ValueError:  # the program's own search fails at isolated points of a blend
            continue
        yield temp_c, None, (pressure, state.hmass() - h_zero, state.smass() - s_zero)
        for superheat in (2.0, 7.0, 23.0, 51.0):
            state.specify_phase(CoolProp.iphase_gas)
            state.update(CoolProp.PT_INPUTS, pressure, temp_c + 273.15 + superheat)
            found = (state.rhomass(), state.hmass() - h_zero, state.smass() - s_zero)
            state.unspecify_phase()
            yield temp_c, superheat, found


@pytest.mark.parametrize("name", REFRIGERANTS)
def test_table_equals_the_property_program(name):
    fluid = refrigerant(name)
    found = list(states(name, fluid))
    saturated = [(t, v) for t, sh, v in found if sh is None]
    assert len(saturated) >= 25
    temps = np.array([t for t, _ in saturated])
    pressure, h_liquid, _ = np.array([v for _, v in saturated]).T
    checks = [
        (np.log(fluid.pressure_pa(temps)), np.log(pressure)),
        (fluid.enthalpy_liquid_j_per_kg(temps), h_liquid),
    ]
    vapour = [(t, sh, v) for t, sh, v in found if sh is not None]
    temps, superheats = (np.array([row[i] for row in vapour]) for i in (0, 1))
    density, enthalpy, entropy = np.array([v for _, _, v in vapour]).T
    checks += [
        (np.log(fluid.density_vapour_kg_per_m3(temps, superheats)), np.log(density)),
        (fluid.enthalpy_vapour_j_per_kg(temps, superheats), enthalpy),
        (fluid.entropy_vapour_j_per_kgk(temps, superheats), entropy),
    ]
    inside = entropy - fluid.entropy_vapour_j_per_kgk(temps) < fluid.entropy_max_j_per_kgk
    checks.append(
        (
            fluid.enthalpy_at_entropy_j_per_kg(temps[inside], entropy[inside]),
            enthalpy[inside],
        )
    )
    for ours, theirs in checks:
        assert np.abs(ours - theirs).max() <= TABLE_ATOL_SPAN * spread(theirs)


def test_slope_of_enthalpy_with_entropy_is_the_temperature():
    """dh = T ds at constant pressure, in the vapour and across the dew line."""
    fluid = refrigerant("R1234yf")
    temp_c = 50.0
    at_dew = float(fluid.entropy_vapour_j_per_kgk(temp_c))
    for shift in (-20.0, -5.0, 0.0):
        low, high = fluid.enthalpy_at_entropy_j_per_kg(temp_c, at_dew + shift + np.array([-1, 1]))
        assert (high - low) / 2.0 == pytest.approx(temp_c + 273.15, rel=2e-3)


def test_suction_line_equals_the_full_table():
    fluid = refrigerant("R32")
    temps = np.linspace(-30.0, 25.0, 5)
    line = fluid.suction_line(7.0)
    pressure, enthalpy, entropy, density = fluid.suction_state(line, temps)
    np.testing.assert_allclose(pressure, fluid.pressure_pa(temps), rtol=1e-12)
    np.testing.assert_allclose(enthalpy, fluid.enthalpy_vapour_j_per_kg(temps, 7.0), rtol=1e-12)
    np.testing.assert_allclose(entropy, fluid.entropy_vapour_j_per_kgk(temps, 7.0), rtol=1e-12)
    np.testing.assert_allclose(density, fluid.density_vapour_kg_per_m3(temps, 7.0), rtol=1e-12)


def test_another_refrigerant_is_computed():
    fluid = refrigerant("R152a")
    assert fluid.name == "R152a"
    assert 1.0e5 < fluid.pressure_pa(0.0) < 4.0e5


def test_unknown_refrigerant_names_the_nearest():
    with pytest.raises(ValueError, match="did you mean R134a"):
        refrigerant("R134z")


def test_too_low_critical_temperature_is_refused():
    with pytest.raises(ValueError, match="critical temperature"):
        refrigerant("R744")


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("R718", "freezes at 0 °C"),
        ("R134b", "did you mean R134a"),
        ("R3x", "unknown refrigerant"),
    ],
)
def test_unsuited_and_unknown_names_are_one_message(name, message):
    with pytest.raises(ValueError, match=message) as caught:
        refrigerant(name)
    assert "\n" not in str(caught.value)


def test_table_made_here_is_kept_and_a_damaged_one_made_anew(tmp_path, monkeypatch):
    monkeypatch.setenv("RESTCAB_CACHE_DIR", str(tmp_path))
    made = []
    real = module.generate
    monkeypatch.setattr(module, "generate", lambda name: made.append(name) or real(name))
    first = module.refrigerant.__wrapped__("R161")
    (kept,) = tmp_path.glob("*/refrigerants/*.json")
    again = module.refrigerant.__wrapped__("R161")
    assert made == ["R161"]
    assert again.to_dict() == first.to_dict()

    def put(content):
        userdir.keep("refrigerants", kept.name, content.encode())

    whole = kept.read_text().partition("\n")[2]
    damages = (lambda: kept.write_text("{"), lambda: put("{"), lambda: put("[]"),
               lambda: put(whole.replace('"R161"', '"R32"')))  # fmt: skip
    for damage in damages:
        damage()
        assert module.refrigerant.__wrapped__("R161").to_dict() == first.to_dict()
    assert made == ["R161"] * 5
    assert json.loads(kept.read_text().partition("\n")[2])["name"] == "R161"


def test_shipped_refrigerants_do_not_import_the_program():
    code = (
        "import sys; "
        "from restcab.physics.refrigeration.refrigerant import refrigerant, REFRIGERANTS; "
        "[refrigerant(n).pressure_pa(20.0) for n in REFRIGERANTS]; "
        "sys.exit('CoolProp' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
