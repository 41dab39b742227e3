"""Heat loss in W/K: by hand, and by heating the cab until nothing changes."""

import numpy as np
import pytest
from support import (
    CONCRETE,
    FOAM,
    STEEL,
    TRIM,
    cases_of,
    fixed_wall,
    one_zone,
    plain_forcing,
    truck_scene,
)

from restcab.engine.assemble import build_network
from restcab.engine.cases import RunOptions
from restcab.engine.heat_loss import (
    TEST_EXCESS_K,
    TEST_OUTDOORS_C,
    TEST_WIND_M_PER_S,
    heat_loss,
)
from restcab.engine.heating import HeaterSetup
from restcab.engine.rests import run_rests
from restcab.physics.air import PRESSURE_SEA_LEVEL_PA, density_dry_kg_per_m3
from restcab.physics.refrigeration.coil import moist_cp_j_per_kgk

LONG_H = 400
STEADY_FRAC = 1e-3


def test_plain_box_by_hand():
    walls = [
        fixed_wall((STEEL, FOAM, TRIM), name="shell", area_m2=30.0, h_out=20.0, h_in=8.0),
        fixed_wall((CONCRETE,), name="slab", area_m2=4.0, h_out=10.0, h_in=6.0),
    ]
    box = build_network(one_zone(walls, volume_m3=10.0, air_changes_per_h=0.9))
    shell_r = 0.05 + 0.001 / 50.0 + 0.05 / 0.04 + 0.004 / 0.2 + 0.125
    slab_r = 0.1 + 0.20 / 1.2 + 1.0 / 6.0
    shell = 30.0 / shell_r + 4.0 / slab_r
    # The leaking air is as heavy as it is outdoors.
    density = density_dry_kg_per_m3(TEST_OUTDOORS_C, 0.0, PRESSURE_SEA_LEVEL_PA)
    air = 0.9 / 3600.0 * 10.0 * float(density * moist_cp_j_per_kgk(0.0))
    found = heat_loss(box)
    assert found.shell_w_per_k == pytest.approx(shell, rel=1e-6)
    assert found.air_w_per_k == pytest.approx(air, rel=1e-6)
    assert found.total_w_per_k == pytest.approx(shell + air, rel=1e-6)


@pytest.mark.parametrize(
    "overrides",
    [(), ("truck.curtain=open", "truck.roof_fairing=open"), ("truck.preset=day-cab",)],
    ids=["curtain closed", "curtain open, open fairing", "day cab"],
)
def test_a_heater_run_for_days_takes_as_much(overrides):
    net = truck_scene(*overrides).network
    forcing = plain_forcing(
        [TEST_OUTDOORS_C] * (LONG_H + 2), wind_m_per_s=TEST_WIND_M_PER_S, n_zone=net.n_zone
    )
    bunk_c = TEST_OUTDOORS_C + TEST_EXCESS_K
    heater = HeaterSetup(np.array([np.inf]), np.array([bunk_c]))
    options = RunOptions(
        hours=float(LONG_H), step_s=3600.0, lead_in_h=0.0, arrival="soaked", start_temp_c=bunk_c
    )
    run = run_rests(net, forcing, cases_of(1, bunk_c), options, heater=heater)
    found = heat_loss(net)
    assert run.temp_bunk_c[-1, 0] == pytest.approx(bunk_c)
    assert run.heat_w[-1, 0] / TEST_EXCESS_K == pytest.approx(found.total_w_per_k, rel=STEADY_FRAC)
    assert found.shell_w_per_k + found.air_w_per_k == pytest.approx(found.total_w_per_k, rel=1e-6)


def test_more_insulation_and_less_leakage_lose_less():
    base, tight, warm = (
        heat_loss(truck_scene(*more).network)
        for more in ((), ("truck.air_changes=0.1 1/h",), ("truck.r_value=12 ft**2*degF*h/Btu",))
    )
    assert tight.air_w_per_k < base.air_w_per_k
    assert tight.shell_w_per_k == pytest.approx(base.shell_w_per_k, rel=0.02)
    assert warm.shell_w_per_k < base.shell_w_per_k
