"""Exposure against published numbers of the reflected-light meter equation and of camera sensitivity.

Sources, by test: ISO 2720:1974 (N^2 / t = L S / K, K = 12.5), through public texts that quote it; the
encyclopaedic table of exposure values, L = 2^(EV - 3); ISO 12232's saturation-based exposure (from
memory). Stated sensitivity (2000 lx, a card of 89.9 %, the aperture for full video) is common practice in
broadcasting, no source. The standards' own texts were not at hand.
"""

from __future__ import annotations

from math import log2, pi

import numpy as np
import pytest

from preview.camera.exposure import (
    Exposure,
    card_luminance_cd_m2,
    exposure_time_s,
    iso_of,
    metered_luminance_cd_m2,
)
from preview.colour import bt709_oetf
from preview.show.model import Sensitivity


@pytest.mark.parametrize("iso", [50, 100, 400, 800])
def test_f_16_at_one_over_the_film_speed_meters_3200(iso: int) -> None:
    """Published example: f/16, t = 1/S, K = 12.5 is 3200 cd/m2 (quoted of the ANSI meter standard)."""
    assert metered_luminance_cd_m2(16.0, 1 / iso, iso) == pytest.approx(3200.0, rel=1e-9)


@pytest.mark.parametrize(
    ("ev", "luminance_cd_m2"),
    [(0, 0.125), (3, 1.0), (5, 4.0), (8, 32.0), (10, 128.0), (12, 512.0), (15, 4096.0)],
)
def test_table_of_exposure_values(ev: int, luminance_cd_m2: float) -> None:
    """At ISO 100 and K = 12.5, L = 2^(EV - 3), where 2^EV = N^2 / t: the encyclopaedic table."""
    for t_stop in (1.0, 2.0, 5.6, 16.0):
        exposure_s = t_stop**2 / 2**ev
        assert metered_luminance_cd_m2(t_stop, exposure_s, 100.0) == pytest.approx(luminance_cd_m2)


@pytest.mark.parametrize(
    ("t_stop", "exposure_s", "iso", "luminance_cd_m2", "ev"),
    # Worked apart from this project, twice, with the same result.
    [
        (2.8, 1 / 50, 800, 6.125, 8.615),
        (4.0, 1 / 50, 400, 25.0, 9.644),
        (2.0, 1 / 100, 1600, 3.125, 8.644),
        (5.6, 1 / 50, 800, 24.5, 10.615),
    ],
)
def test_settings_of_cameras(
    t_stop: float, exposure_s: float, iso: float, luminance_cd_m2: float, ev: float
) -> None:
    assert metered_luminance_cd_m2(t_stop, exposure_s, iso) == pytest.approx(luminance_cd_m2, rel=1e-9)
    assert log2(t_stop**2 / exposure_s) == pytest.approx(ev, abs=5e-4)


def test_the_standards_range_of_constants() -> None:
    """ISO 2720 recommends K from 10.6 to 13.4: the usual 12.5 is 0.24 stops above and 0.10 below them."""
    usual = metered_luminance_cd_m2(4.0, 0.02, 400.0)
    low, high = (metered_luminance_cd_m2(4.0, 0.02, 400.0, k) for k in (10.6, 13.4))
    assert log2(usual / low) == pytest.approx(0.238, abs=5e-4)
    assert log2(high / usual) == pytest.approx(0.100, abs=5e-4)


def test_a_meter_and_a_sensors_rating_agree() -> None:
    """Two standards meet: an ISO 12232 sensor at its middle exposure, H = 8/S lx s with q = 0.6516.

    H = q L t / N^2 gives L = (8/q) N^2 / (S t): a K of 12.278, inside the meters' range, so both say the
    same of a scene to a fortieth of a stop. q = pi/4 x 0.9 x 0.98 x cos(10 deg)^4 (value from memory).
    """
    q = pi / 4 * 0.9 * 0.98 * np.cos(np.radians(10)) ** 4
    sensor = 8 / q * 2.8**2 / (800 * 0.02)
    assert 8 / q == pytest.approx(12.278, abs=5e-4)
    assert log2(metered_luminance_cd_m2(2.8, 0.02, 800.0) / sensor) == pytest.approx(0.026, abs=5e-4)


def test_full_video_lies_below_saturation() -> None:
    """ISO 12232: a sensor saturates at 78/S lx s; f/2.8, 1/50, ISO 800 at 58.66 cd/m2 (value from memory).

    Full video, 1/0.18 above grey, is 34.0 cd/m2: 0.79 stops under saturation, the room the knee works in.
    """
    q = pi / 4 * 0.9 * 0.98 * np.cos(np.radians(10)) ** 4
    saturation = 78 / 800 * 2.8**2 / (q * 0.02)
    assert saturation == pytest.approx(58.658, abs=5e-3)
    full = Exposure(2.8, 0.02, 800.0).full_video_cd_m2
    assert full == pytest.approx(6.125 / 0.18)
    assert log2(saturation / full) == pytest.approx(0.785, abs=5e-3)


def test_grey_comes_out_at_41_percent_video() -> None:
    """ITU-R BT.709-6, item 1.2, at L = 0.18: 1.099 x 0.18^0.45 - 0.099 = 40.9 %."""
    exposure = Exposure(4.0, 0.02, 400.0)
    level = metered_luminance_cd_m2(4.0, 0.02, 400.0) / exposure.full_video_cd_m2
    assert level == pytest.approx(0.18)
    assert float(bt709_oetf(level)) == pytest.approx(0.409, abs=5e-4)


@pytest.mark.parametrize(
    ("angle_deg", "fps", "one_over"),
    [
        (180, 25, 50),
        (180, 24000 / 1001, 47.952),
        (180, 30000 / 1001, 59.940),
        (180, 50, 100),
        (172.8, 24, 50),
        (360, 25, 25),
    ],
)
def test_shutter_angles_as_times(angle_deg: float, fps: float, one_over: float) -> None:
    """The trade's table: 180 degrees at 25 is 1/50 s; 172.8 at 24 is 1/50 s. Common practice, no source."""
    assert 1 / exposure_time_s(angle_deg, fps) == pytest.approx(one_over, abs=5e-4)


@pytest.mark.parametrize(
    ("illuminance_lx", "card_percent", "luminance_cd_m2"),
    # L = E rho / pi, worked apart from this project.
    [(300, 4, 3.819719), (500, 5, 7.957747), (100, 5, 1.591549), (50, 4, 0.636620)],
)
def test_matt_cards(illuminance_lx: float, card_percent: float, luminance_cd_m2: float) -> None:
    assert card_luminance_cd_m2(illuminance_lx, card_percent) == pytest.approx(luminance_cd_m2, abs=1e-6)


def test_stated_sensitivity_against_the_incident_meter() -> None:
    """A second road to the same number: incident-light meters, N^2 / t = E S / C.

    2000 lx meter, at C = 250 (ISO 2720, flat receptor), S = 250 N^2 / (2000 t); at F 10 and 1/50 s that is
    625. The reflected road sees an 18 % card in that light: 12.5 N^2 pi / (2000 x 0.18 t) = 545. The two
    constants imply a 15.7 % card (pi K / C), so they differ by 18/15.7, 0.20 stops, and no more.
    """
    stated = Sensitivity(f_number=10.0)
    incident = 250 * 10**2 / (2000 * 0.02)
    assert incident == 625
    assert iso_of(stated) == pytest.approx(545.4, abs=0.05)
    assert log2(incident / iso_of(stated)) == pytest.approx(log2(18 / (100 * pi * 12.5 / 250)), abs=1e-9)


def test_a_wall_at_full_light_in_an_ordinary_studio() -> None:
    """By hand: T 4, 1/50 s, ISO 400 is right for grey of 25 cd/m2; 1000 is 40 times that, 5.32 stops."""
    exposure = Exposure(4.0, 0.02, 400.0)
    assert exposure.stops_above(1000.0) == pytest.approx(5.3219, abs=1e-4)
    assert exposure.stops_above(1000.0, 90.0) == pytest.approx(5.3219 - 2.3219, abs=1e-4)
    assert exposure.stops_over_video(1000.0) == pytest.approx(log2(1000 * 0.18 / 25), abs=1e-9)
