"""Exposure as a show file states it: laws of the meter equation, and which of a camera's keys count."""

from __future__ import annotations

from math import log2, pi
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.camera.exposure import (
    Exposure,
    camera_exposure,
    card_luminance_cd_m2,
    exposure_time_s,
    iso_of,
    metered_luminance_cd_m2,
    shutter_angle_deg,
)
from preview.show.model import Camera, Sensitivity

t_stops, times, isos = st.floats(1, 22), st.floats(1e-4, 0.1), st.floats(50, 25600)


def camera(**keys: Any) -> Camera:
    table = {
        "name": "CAM1",
        "number": 1,
        "sensor": {"size_mm": (9.6, 5.4), "photosites": (1920, 1080)},
        "lens": {"focal_length_mm": (8.0, 80.0), "t_stop": 2.0},
        "position_m": (0.0, -5.0, 1.6),
        "framings": [{"name": "a", "pan_deg": 0.0, "focal_length_mm": 10.0}],
    }
    return Camera(**(table | keys))


@given(t_stops, times, isos)
def test_a_stop_is_a_stop_by_whichever_ring(t_stop: float, exposure_s: float, iso: float) -> None:
    plain = Exposure(t_stop, exposure_s, iso)
    for other in (
        Exposure(t_stop / 2**0.5, exposure_s, iso),
        Exposure(t_stop, 2 * exposure_s, iso),
        Exposure(t_stop, exposure_s, 2 * iso),
    ):
        assert other.stops_above(100.0) == pytest.approx(plain.stops_above(100.0) + 1, abs=1e-9)
        assert other.stops_over_video(100.0) == pytest.approx(plain.stops_over_video(100.0) + 1, abs=1e-9)


@given(t_stops, times, isos)
def test_what_is_metered_comes_out_as_grey(t_stop: float, exposure_s: float, iso: float) -> None:
    exposure = Exposure(t_stop, exposure_s, iso)
    grey = metered_luminance_cd_m2(t_stop, exposure_s, iso)
    assert exposure.stops_above(grey) == pytest.approx(0.0, abs=1e-9)
    assert exposure.stops_above(4 * grey) == pytest.approx(2.0)
    # Common practice: grey at 0.18 of full video, log2(0.18) = -2.474 stops.
    assert exposure.stops_over_video(grey) == pytest.approx(-2.473931, abs=1e-6)


@pytest.mark.parametrize(("key_percent", "stops"), [(18.0, 0.0), (36.0, -1.0), (90.0, -log2(5)), (9.0, 1.0)])
def test_the_key_may_be_another_card(key_percent: float, stops: float) -> None:
    exposure = Exposure(2.8, 0.02, 800.0)
    assert exposure.stops_above(exposure.card_cd_m2(18.0), key_percent) == pytest.approx(stops)


@given(st.floats(1, 360), st.floats(10, 120))
def test_angles_and_times_are_two_names_of_one_thing(angle_deg: float, fps: float) -> None:
    assert shutter_angle_deg(exposure_time_s(angle_deg, fps), fps) == pytest.approx(angle_deg)


# ---- Which keys count ----------------------------------------------------------------------------


def test_iso_is_800_at_180_degrees_wide_open_if_nothing_is_written() -> None:
    exposure = camera_exposure(camera(), 25)
    assert exposure == Exposure(2.0, 0.02, 800.0, 100.0)


def test_written_keys_count() -> None:
    made = camera(t_stop=5.6, shutter_angle_deg=90.0, iso=1600.0)
    assert camera_exposure(made, 50) == Exposure(5.6, 0.005, 1600.0)


def test_a_slot_of_the_wall_may_decide_the_time() -> None:
    whole, slot = camera_exposure(camera(), 25), camera_exposure(camera(), 25, exposure_s=0.005)
    assert slot.exposure_s == 0.005
    assert whole.stops_above(500.0) - slot.stops_above(500.0) == pytest.approx(2.0)


def test_a_stated_sensitivity_counts_before_iso() -> None:
    stated = {"f_number": 10.0}
    exposure = camera_exposure(camera(sensitivity=stated), 25)
    assert exposure.iso == pytest.approx(iso_of(Sensitivity(**stated)))
    assert exposure.full_video_percent == 89.9


@given(
    f_number=st.floats(4, 16),
    lux=st.floats(100, 5000),
    card=st.floats(50, 100),
    seconds=st.floats(0.005, 0.05),
)
def test_the_sheets_own_card_comes_out_at_full_video(
    f_number: float, lux: float, card: float, seconds: float
) -> None:
    """Set as it was measured, a camera answers its data sheet: that card, in that light, at 100 %."""
    stated = Sensitivity(f_number=f_number, illuminance_lx=lux, card_percent=card, exposure_s=seconds)
    exposure = camera_exposure(camera(t_stop=f_number, sensitivity=stated.model_dump()), 25, seconds)
    white = card_luminance_cd_m2(lux, card)
    assert white == pytest.approx(lux * card / 100 / pi)
    assert exposure.full_video_cd_m2 == pytest.approx(white)
    assert exposure.stops_over_video(white) == pytest.approx(0.0, abs=1e-9)
    assert exposure.stops_above(white) == pytest.approx(log2(card / 18))


def test_two_stops_more_light_need_two_stops_less_lens() -> None:
    """F 10 at 2000 lx, shutter off at 50 Hz: T 5 and 500 lx give the same picture, a 1/100 s one less."""
    made = camera(t_stop=5.0, sensitivity={"f_number": 10.0}, shutter_angle_deg=180.0)
    white = card_luminance_cd_m2(500.0, 89.9)
    assert camera_exposure(made, 25).stops_over_video(white) == pytest.approx(0.0, abs=1e-9)
    assert camera_exposure(made, 50).stops_over_video(white) == pytest.approx(-1.0)


def test_a_lens_that_is_not_looked_up_has_no_stop() -> None:
    with pytest.raises(TypeError, match="'some zoom' of 'CAM1' is not looked up"):
        camera_exposure(camera(lens="some zoom"), 25)
