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
from restcab.physics.refrigeration.refrigerant_tables import Refrigerant, Vapour

TABLE_ATOL_SPAN = 1e-3  # 0.1 % of the span of each property over the table
SUPERHEATS_K = (2.0, 7.0, 23.0, 51.0)
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
    np.testing.assert_allclose(
        made.enthalpy_liquid_j_per_kg(temps), shipped.enthalpy_liquid_j_per_kg(temps),
        rtol=REGENERATED_RTOL,
    )  # fmt: skip
    for superheat_k in np.linspace(0.0, 55.0, 7):
        again, kept = (vapour(fluid, superheat_k, temps) for fluid in (made, shipped))
        np.testing.assert_allclose(again, kept, rtol=REGENERATED_RTOL)


def vapour(fluid, superheat_k, temps):
    """State of vapour at one superheat [K]."""
    return fluid.suction_state(fluid.suction_line(superheat_k), temps)


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
        for superheat in SUPERHEATS_K:
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
        (np.log(vapour(fluid, 0.0, temps).pressure_pa), np.log(pressure)),
        (fluid.enthalpy_liquid_j_per_kg(temps), h_liquid),
    ]
    rows = [[(t, v) for t, superheat, v in found if superheat == each] for each in SUPERHEATS_K]
    by_superheat = [np.array([t for t, _ in some]) for some in rows]
    drawn_in = Vapour(*np.concatenate(
        [vapour(fluid, *each) for each in zip(SUPERHEATS_K, by_superheat, strict=True)], axis=1
    ))  # fmt: skip
    density, enthalpy, entropy = np.array([v for some in rows for _, v in some]).T
    checks += [
        (np.log(drawn_in.density_kg_per_m3), np.log(density)),
        (drawn_in.enthalpy_j_per_kg, enthalpy),
        (drawn_in.entropy_j_per_kgk, entropy),
    ]
    temps = np.concatenate(by_superheat)
    above_dew = entropy - vapour(fluid, 0.0, temps).entropy_j_per_kgk
    inside = above_dew < fluid.entropy_max_j_per_kgk
    checks.append((fluid.discharge_state(temps[inside], entropy[inside])[1], enthalpy[inside]))
    for ours, theirs in checks:
        assert np.abs(ours - theirs).max() <= TABLE_ATOL_SPAN * spread(theirs)


def test_slope_of_enthalpy_with_entropy_is_the_temperature():
    """dh = T ds at constant pressure, in the vapour and across the dew line."""
    fluid = refrigerant("R1234yf")
    temp_c = 50.0
    at_dew = float(vapour(fluid, 0.0, temp_c).entropy_j_per_kgk)
    for shift in (-20.0, -5.0, 0.0):
        _, (low, high) = fluid.discharge_state(temp_c, at_dew + shift + np.array([-1, 1]))
        assert (high - low) / 2.0 == pytest.approx(temp_c + 273.15, rel=2e-3)


def test_another_refrigerant_is_computed():
    fluid = refrigerant("R152a")
    assert fluid.name == "R152a"
    assert 1.0e5 < vapour(fluid, 0.0, 0.0).pressure_pa < 4.0e5


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
        "[refrigerant(n).enthalpy_liquid_j_per_kg(20.0) for n in REFRIGERANTS]; "
        "sys.exit('CoolProp' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
