"""Flash counts against published thresholds, on arrays alone: nothing here is ever shown.

Sources: Recommendation ITU-R BT.1702-3 (11/2023), Annex 1, guideline 1, and Annex 2, table 1, both read only
through texts that quote them; Web Content Accessibility Guidelines (WCAG) 2.2, "general flash and red flash
thresholds" and its relative luminance; Recommendation ITU-R BT.1886 (03/2011), Annex 1. Areas of 67 and 68 of
270 parts: open test sequences described in J. B. Jordan, HCI International 2025, LNCS 15780,
doi 10.1007/978-3-031-93848-1_7.
"""

from fractions import Fraction

import colour
import numpy as np
import pytest

from preview.checks.flash import (
    BRIGHT_CONTRAST,
    MONITOR_WHITE_CD_M2,
    RED_SHARE,
    Limits,
    LuminanceChanges,
    RedChanges,
    luminance_of,
    monitor_light,
    red_share_of,
    uv_of,
)
from preview.checks.flash_count import FlashCount
from preview.colour import srgb8_to_linear
from preview.show.thresholds import FlashingLimits

SDR, HDR = Limits(), Limits(contrast=BRIGHT_CONTRAST)
FULL = np.ones((4, 4), dtype=bool)
NTSC, DOUBLE_NTSC = Fraction(30000, 1001), Fraction(60000, 1001)


def square_wave(low, high, fps=25, seconds=2.0, period=5, lit=2):
    """Levels of a flash every ``period`` frames, ``lit`` frames long; 5 Hz at 25."""
    return [high if frame % period < lit else low for frame in range(round(seconds * float(fps)))]


def flashes_of(levels, limits=SDR, fps=25, area=FULL, rest=50.0):
    """The count of a picture whose ``area`` takes the levels in turn; the rest stands still."""
    finder, counted = LuminanceChanges(limits), FlashCount(Fraction(fps), limits, np.ones(area.shape))
    for level in levels:
        counted.feed(finder.feed(np.where(area, float(level), rest)))
    return counted


def rows(lit, of):
    area = np.zeros((of, 3), dtype=bool)
    area[:lit] = True
    return area


@pytest.mark.parametrize(
    ("low", "high", "limits", "too_many"),
    [
        (100, 119, SDR, False),
        (100, 120, SDR, True),
        (0, 20, SDR, True),
        (160, 180, SDR, False),
        (160, 200, SDR, False),
        (159, 180, SDR, True),
        (100, 119, HDR, False),
        (100, 120, HDR, True),
        (160, 180, HDR, False),  # contrast 1/17: both rules meet
        (160, 180.1, HDR, True),
        (400, 450, HDR, False),  # 50 / 850 = 1/17
        (400, 460, HDR, True),
        (400, 450, SDR, False),
    ],
)
def test_step_of_luminance(low, high, limits, too_many):
    assert bool(flashes_of(square_wave(low, high), limits).above) is too_many


@pytest.mark.parametrize(
    ("area", "too_many"),
    [
        (rows(250, 1000), False),
        (rows(252, 1000), True),
        (rows(270, 1080), False),
        (rows(271, 1080), True),
        (rows(67, 270), False),
        (rows(68, 270), True),
    ],
)
def test_area(area, too_many):
    counted = flashes_of(square_wave(100, 120), area=area)
    assert bool(counted.above) is too_many
    assert counted.largest == pytest.approx(area.mean())


@pytest.mark.parametrize(("changes", "too_many"), [(2, False), (4, False), (6, False), (7, True), (8, True)])
def test_more_than_three_flashes_in_a_second(changes, too_many):
    levels = [100] * 3 + [level for n in range(changes) for level in [(120, 100)[n % 2]] * 3]
    levels += [levels[-1]] * 30
    counted = flashes_of(levels)
    assert counted.most == changes
    assert bool(counted.above) is too_many


@pytest.mark.parametrize(("last_change", "too_many"), [(25, True), (26, False)])
def test_a_second_is_as_many_frames_as_the_rate_says(last_change, too_many):
    """Seven changes, of which the first and last are 24 or 25 frames apart, at 25."""
    changes = (1, 5, 9, 13, 17, 21, last_change)
    levels = [(100, 120)[sum(frame >= at for at in changes) % 2] for frame in range(60)]
    assert bool(flashes_of(levels).above) is too_many


SPACINGS = [(25, 9), (50, 18), (24, 8), (30, 10), (60, 20), (NTSC, 10), (DOUBLE_NTSC, 20)]


@pytest.mark.parametrize(("fps", "period"), SPACINGS)
def test_leading_edges_far_enough_apart_are_acceptable_however_long_the_flash(fps, period):
    """360 ms at 50 Hz, 334 ms at 60 Hz; ten frames at 30000/1001 are 333.67 ms, and meant."""
    for lit in range(1, period):
        levels = square_wave(100, 180, fps, 4, period, lit)
        assert flashes_of(levels, fps=fps).most == 6
        assert not flashes_of(levels, fps=fps).above


@pytest.mark.parametrize(
    ("fps", "period"), [(25, 8), (50, 16), (24, 7), (30, 9), (60, 19), (NTSC, 9), (DOUBLE_NTSC, 19)]
)
def test_four_leading_edges_in_a_second_are_too_many(fps, period):
    for lit in range(1, period):
        assert flashes_of(square_wave(100, 180, fps, 4, period, lit), fps=fps).above


@pytest.mark.parametrize(("seconds", "told"), [(4.68, False), (5.76, True)])
def test_flashing_of_more_than_five_seconds_is_told_even_within_the_limits(seconds, told):
    levels = [100.0] * 5 + square_wave(100, 180, 25, seconds, 9, 4) + [100.0] * 30
    counted = flashes_of(levels)
    assert not counted.above
    assert bool(counted.sustained) is told


def test_defaults_of_a_show_are_the_published_ones_and_wcags():
    """WCAG 2.2: 10 % of the maximum relative luminance, the darker image below 0.80."""
    own = FlashingLimits()
    assert (own.step_cd_m2, own.dark_cd_m2, own.area_percent, own.flashes) == (20, 160, 25, 3)
    assert own.step_cd_m2 / MONITOR_WHITE_CD_M2 == pytest.approx(0.10)
    assert own.dark_cd_m2 / MONITOR_WHITE_CD_M2 == pytest.approx(0.80)


@pytest.mark.parametrize(("code_10_bit", "cd_m2"), [(400, 20.1), (863, 160.4), (940, 200.0)])
def test_luminance_of_codes(code_10_bit, cd_m2):
    """BT.1702-3, Annex 2, table 1: 10-bit narrow range; between the 8-bit full range codes on both sides."""
    code = 255 * (code_10_bit - 64) / 876
    around = np.array([np.floor(code), np.ceil(code)], dtype=np.uint8)
    light = luminance_of(monitor_light(np.repeat(around[:, None, None], 3, axis=2)))[:, 0]
    share = code - np.floor(code)
    assert light[0] + share * (light[1] - light[0]) == pytest.approx(cd_m2, abs=0.06)


def test_monitor_is_that_of_bt1886():
    codes = np.arange(256, dtype=np.uint8)
    ours = monitor_light(np.repeat(codes[:, None, None], 3, axis=2))[:, 0, 0]
    np.testing.assert_allclose(ours, colour.models.eotf_BT1886(codes / 255, L_B=0.0, L_W=200.0), atol=1e-9)


def srgb(*code):
    return 200.0 * srgb8_to_linear(np.array(code, dtype=np.uint8)).astype(np.float64)


RED, BLUE, GREY = srgb(255, 0, 0), srgb(0, 0, 255), srgb(128, 128, 128)
PALE_RED, TEAL = srgb(205, 78, 78), srgb(60, 132, 132)


@pytest.mark.parametrize(
    ("one", "other", "distance"), [(RED, BLUE, 0.4572), (RED, GREY, 0.2587), (PALE_RED, TEAL, 0.1947)]
)
def test_distance_of_colours(one, other, distance):
    assert np.linalg.norm(uv_of(one) - uv_of(other)) == pytest.approx(distance, abs=1e-4)


def test_u_v_agree_with_a_colour_library():
    light = np.random.default_rng(3).uniform(0, 200, (50, 3))
    xyz = colour.RGB_to_XYZ(light, "ITU-R BT.709", apply_cctf_decoding=False)
    np.testing.assert_allclose(uv_of(light), colour.xy_to_Luv_uv(colour.XYZ_to_xy(xyz)), atol=2e-4)


def test_shares_of_red():
    assert float(red_share_of(PALE_RED)) == pytest.approx(0.8003, abs=1e-4)
    assert float(red_share_of(srgb(204, 80, 80))) == pytest.approx(0.7901, abs=1e-4)
    assert red_share_of(PALE_RED) > RED_SHARE > red_share_of(srgb(204, 80, 80))


def red_flashes(one, other, area=FULL, limits=SDR):
    light, red = LuminanceChanges(limits), RedChanges()
    counts = [FlashCount(Fraction(25), limits, np.ones(area.shape)) for _ in range(2)]
    for other_now in square_wave(False, True):
        picture = np.where(area[..., None], other if other_now else one, GREY)
        counts[0].feed(light.feed(luminance_of(picture)))
        counts[1].feed(red.feed(picture))
    return [bool(counted.above) for counted in counts]


DIM_RED = RED * luminance_of(BLUE) / luminance_of(RED)


@pytest.mark.parametrize(
    ("one", "other", "lit_rows", "light", "red"),
    [
        (DIM_RED, BLUE, 30, False, True),  # equal luminance
        (DIM_RED, BLUE, 25, False, False),  # a quarter of the picture
        (RED, GREY, 100, False, True),  # almost equal luminance
        (PALE_RED, TEAL, 100, False, False),  # 0.1947 apart
        (srgb(204, 80, 80), srgb(0, 132, 132), 100, False, False),  # not a saturated red
        (BLUE, GREY, 100, True, False),
        (0.03 * RED, 0.0 * RED, 100, False, True),  # 1.3 cd/m2: "at any luminance"; black counts as neutral
        (0.003 * RED, 0.0 * RED, 100, False, False),  # 0.13 cd/m2: below what has a colour (own choice)
    ],
)
def test_saturated_red(one, other, lit_rows, light, red):
    assert red_flashes(one, other, rows(lit_rows, 100)) == [light, red]
