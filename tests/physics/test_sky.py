"""Sky emissivity, sky temperature, view split."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from restcab.physics import sky


def test_clark_allen_by_hand():
    # Dew point 0.0 °C: 0.787 + 0.764 ln(273.15/273) = 0.78742.
    assert sky.emissivity_clear_clark_allen(0.0) == pytest.approx(0.78742, abs=1e-5)
    # 20 °C: 0.787 + 0.764 ln(293.15/273) = 0.84141.
    assert sky.emissivity_clear_clark_allen(20.0) == pytest.approx(0.84141, abs=1e-5)


def test_two_published_clear_skies_agree():
    # Two independent fits to measured skies agree to 0.05 (20 W/m²) for dew points of summer;
    # for dry cold air Clark and Allen send more (0.09 at -5 °C). Common practice, no source.
    dew_c = np.linspace(8.0, 25.0, 18)
    # Berdahl, P. and Martin, M. (1984), "Emissivity of clear skies", Solar Energy 32(5), 663-664
    # (from memory).
    ratio = dew_c / 100.0
    berdahl_martin = 0.711 + 0.56 * ratio + 0.73 * ratio**2
    difference = sky.emissivity_clear_clark_allen(dew_c) - berdahl_martin
    assert np.abs(difference).max() < 0.05


def test_cloud_factor():
    assert sky.cloud_factor(0.0) == 1.0
    # Ten tenths: 1 + 0.224 - 0.35 + 0.28.
    assert sky.cloud_factor(1.0) == pytest.approx(1.154)
    assert (np.diff(sky.cloud_factor(np.linspace(0, 1, 101))) > 0).all()


@given(st.floats(-60, 55), st.floats(0, 40), st.floats(0, 1))
def test_sky_is_never_warmer_than_air(temp_air_c, spread_k, cloud_frac):
    ir = sky.sky_ir_w_per_m2(temp_air_c, temp_air_c - spread_k, cloud_frac)
    assert 0.0 < ir <= sky.black_body_w_per_m2(temp_air_c)
    assert sky.temp_sky_c(ir) <= temp_air_c + 1e-9


@given(st.floats(-80, 60))
def test_sky_temperature_inverts_emission(temp_c):
    assert sky.temp_sky_c(sky.black_body_w_per_m2(temp_c)) == pytest.approx(temp_c, abs=1e-9)


@given(st.floats(0, 180))
def test_view_shares_add_up(tilt_deg):
    view = sky.long_wave_view(tilt_deg)
    assert sum(view) == pytest.approx(1.0)
    assert min(view) >= 0.0


@pytest.mark.parametrize(
    ("tilt_deg", "expected"),
    [
        (0.0, (1.0, 0.0, 0.0)),
        # ½·√½ sky, the rest of the half dome air.
        (90.0, (0.353553, 0.146447, 0.5)),
        (180.0, (0.0, 0.0, 1.0)),
    ],
)
def test_view_split(tilt_deg, expected):
    assert tuple(sky.long_wave_view(tilt_deg)) == pytest.approx(expected, abs=1e-6)


def test_everything_broadcasts():
    air, tilt = np.zeros((3, 1)), np.linspace(0, 180, 4)
    assert sky.sky_ir_w_per_m2(air, -5.0, np.linspace(0, 1, 4)).shape == (3, 4)
    assert sky.long_wave_view(tilt).sky_frac.shape == (4,)
