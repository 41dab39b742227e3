"""Heat loss by the layers, scaled to a measured one; glass by its data; insulation as built."""

from pathlib import Path

import pytest

from restcab.engine.assemble import build_network
from restcab.engine.heat_loss import heat_loss
from restcab.errors import InputError
from restcab.spec import catalog, default_spec, load_spec
from restcab.spec.heat_loss import (
    INSULATION_LOG_SD,
    heat_loss_w_per_k,
    insulation_log_sd,
)
from restcab.spec.surfaces import Cab, Layer, Surface, Zone
from restcab.units import R_IP_PER_R_SI

# Inside film of an upright wall, outside film in a light wind: ASHRAE Handbook Fundamentals 2021
# ch. 26 Table 10 (read).
FILMS_M2K_PER_W = 1.0 / 8.29 + 1.0 / 22.7
BOX = Path(__file__).parents[2] / "examples" / "plain-box.toml"


def test_heat_loss_by_hand():
    """The only face that radiates gets nothing back: its film is that of the air alone."""
    wall = Surface(
        "w", "walls", "bunk", 10.0, layers=(Layer(r_value_m2k_per_w=0.5),),
        h_out_w_per_m2k=20.0, h_in_convective_w_per_m2k=3.0,
    )  # fmt: skip
    inner = Surface(
        "m", "mass", "bunk", 5.0, facing="adiabatic", layers=wall.layers,
        h_in_radiative_w_per_m2k=0.0,
    )  # fmt: skip
    cab = Cab((Zone("bunk", 6.0, air_changes_per_h=0.5),), (wall, inner))
    shell = 10.0 / (0.5 + 1.0 / 3.0 + 1.0 / 20.0)
    assert heat_loss_w_per_k(cab) == pytest.approx(shell + 0.5 * 6.0 * 1.29 * 1006.0 / 3600.0)


@pytest.mark.parametrize("target", [50.0, 70.0, 95.0])
def test_shell_is_scaled_to_the_heat_loss_measured(target):
    spec = default_spec([f"truck.heat_loss={target} W/K"])
    assert heat_loss_w_per_k(spec.cab) == pytest.approx(target)
    plain = default_spec().cab
    factors = set()
    for one, other in zip(spec.cab.surfaces, plain.surfaces, strict=True):
        assert one.capacity_j_per_m2k == other.capacity_j_per_m2k
        if one.part in ("glass", "mass", "curtain"):
            assert one == other
        else:
            factors.add(round(one.resistance_m2k_per_w / other.resistance_m2k_per_w, 9))
    assert len(factors) == 1


@pytest.mark.parametrize("change", ["truck.curtain=open", "truck.window_covers=none"])
def test_what_is_drawn_or_hung_does_not_change_the_measured_shell(change):
    """Else closing the curtain would be taken back by a worse shell."""
    measured = "truck.heat_loss=80 W/K"
    one, other = (default_spec([measured, *more]).cab for more in ((), (change,)))
    walls = [{s.name: s.layers for s in cab.surfaces if s.part == "walls"} for cab in (one, other)]
    assert walls[0] == walls[1]


@pytest.mark.parametrize(
    "overrides",
    [(), ("truck.heat_loss=45 W/K",), ("truck.air_changes=2 1/h", "truck.r_value=0.3 m**2*K/W")],
)
def test_it_is_what_the_running_model_finds_in_a_heater_test(overrides):
    """One zone, bare windows, no panel over the roof: the same test, reckoned in two places."""
    bare = ("truck.preset=day-cab", "truck.window_covers=none", "truck.roof_fairing=none")
    cab = default_spec((*bare, *overrides)).cab
    found = heat_loss(build_network(cab)).total_w_per_k
    assert heat_loss_w_per_k(cab) == pytest.approx(found, rel=0.01)


@pytest.mark.parametrize("preset", ["raised-roof-72", "mid-roof-60"])
def test_seats_that_a_bunk_heater_leaves_cooler_lose_less(preset):
    """In the engine's test only the bunk is heated; the stated state has the seats as warm."""
    bare = ("truck.curtain=open", "truck.window_covers=none", "truck.roof_fairing=none")
    cab = default_spec((f"truck.preset={preset}", *bare)).cab
    ratio = heat_loss_w_per_k(cab) / heat_loss(build_network(cab)).total_w_per_k
    assert 1.0 < ratio < 1.15


@pytest.mark.parametrize("target", [10.0, 1500.0])
def test_heat_loss_no_insulation_could_give(target):
    with pytest.raises(InputError, match=r"cannot be: .* loses \d+ to \d+ W/K"):
        default_spec([f"truck.heat_loss={target} W/K"])


def test_heat_loss_of_a_listed_cab(tmp_path):
    text = BOX.read_text(encoding="utf-8").replace("[truck]", '[truck]\nheat_loss = "12 W/degF"', 1)
    path = tmp_path / "box.toml"
    path.write_text(text, encoding="utf-8")
    assert heat_loss_w_per_k(load_spec(path).cab) == pytest.approx(12.0 * 1.8)


@pytest.mark.parametrize(
    ("overrides", "known_by"),
    [
        ((), "assumed"),
        (("truck.insulation=R-4.2",), "assumed"),
        (("truck.r_value=0.5 m**2*K/W",), "stated"),
        (("truck.heat_loss=90 W/K",), "measured"),
        (("truck.r_value=0.5 m**2*K/W", "truck.heat_loss=90 W/K"), "measured"),
    ],
)
def test_spread_follows_how_the_insulation_is_known(overrides, known_by):
    truck = default_spec(overrides).truck
    assert truck.insulation_known_by == known_by
    assert insulation_log_sd(truck.insulation_known_by) == INSULATION_LOG_SD[known_by]
    assert (
        INSULATION_LOG_SD["measured"] < INSULATION_LOG_SD["stated"] < INSULATION_LOG_SD["assumed"]
    )


def test_listed_layers_are_stated():
    assert load_spec(BOX).truck.insulation_known_by == "stated"


@pytest.mark.parametrize("name", catalog.names("insulations"))
def test_whole_wall_value_is_that_of_the_preset_with_its_ribs(name):
    cab = default_spec([f"truck.insulation={name}"]).cab
    wall = tuple(s for s in cab.surfaces if s.name in ("bunk-rear", "bunk-rear-ribs"))
    assert len(wall) == 2
    # Insulation and ribs side by side between the two airs; the films come off again, as a tester
    # who knows only the two faces' mean temperatures would do.
    area_m2 = sum(surface.area_m2 for surface in wall)
    conductance = sum(s.area_m2 / (FILMS_M2K_PER_W + s.resistance_m2k_per_w) for s in wall)
    stated = catalog.number("insulations", name, "r_value_whole_wall_m2k_per_w")
    assert area_m2 / conductance - FILMS_M2K_PER_W == pytest.approx(stated, abs=0.001)


def test_default_is_r_2_over_the_whole_wall():
    assert default_spec().truck.insulation == "as-built"
    whole = catalog.number("insulations", "as-built", "r_value_whole_wall_m2k_per_w")
    assert whole * R_IP_PER_R_SI == pytest.approx(2.0, abs=0.02)


def window(*overrides):
    cab = default_spec(overrides).cab
    return next(s for s in cab.surfaces if s.name == "windshield")


def test_glass_by_its_data():
    pane = window("truck.glass_transmittance=0.6", "truck.glass_absorptance=0.3")
    assert (pane.transmittance, pane.absorptance, pane.panes) == (0.6, 0.3, 1)
    assert window("truck.glass_transmittance=0.6").absorptance == 0.0
    # Of a row, only the absorptance is replaced.
    other = window("truck.glass=clear-3mm", "truck.glass_absorptance=0.05")
    assert (other.transmittance, other.absorptance) == (0.834, 0.05)


def test_panes_with_a_gap_between():
    double = window("truck.glass_panes=2", "truck.glass_gap=9 mm")
    assert (double.panes, len(double.layers)) == (2, 3)
    assert double.gap_m == pytest.approx(0.009)
    assert len(window("truck.glass_panes=3").layers) == 5


@pytest.mark.parametrize(("panes", "u_value"), [(2, 2.8), (3, 1.6)])
def test_rated_u_sets_the_gaps(panes, u_value):
    made = window(f"truck.glass_panes={panes}", f"truck.glass_u_value={u_value} W/(m**2*K)")
    assert 1.0 / (made.resistance_m2k_per_w + 0.17) == pytest.approx(u_value)
    assert made.gap_m == 0.0


def test_rated_u_above_that_of_the_panes_alone():
    with pytest.raises(InputError, match=r"glass_u_value given: below 5\.5"):
        default_spec(["truck.glass_panes=2", "truck.glass_u_value=5.8 W/(m**2*K)"])


def test_listed_window_by_its_data(tmp_path):
    text = BOX.read_text(encoding="utf-8")
    start = text.index('glass = "clear-6mm"')
    end = text.index("[[truck.surfaces]]", start)
    data = 'glass_transmittance = 0.8\nglass_panes = 2\nglass_gap = "8 mm"\ncover = "none"\n\n'
    path = tmp_path / "box.toml"
    path.write_text(text[:start] + data + text[end:], encoding="utf-8")
    (made,) = (s for s in load_spec(path).cab.surfaces if s.part == "glass")
    assert (made.transmittance, made.panes, len(made.layers)) == (0.8, 2, 3)
    assert made.gap_m == pytest.approx(0.008)
    assert made.emittance_inside == 0.84
