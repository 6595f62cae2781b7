"""Laws of the transfer functions; published values are in tests/outside/test_colour_outside.py."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.colour import (
    BT709_KNEE_CODED,
    bt709_oetf,
    bt709_oetf_inverse,
    hex_to_linear,
    linear_to_srgb,
    srgb8_to_linear,
    srgb_to_linear,
)

PAIRS = [(srgb_to_linear, linear_to_srgb), (bt709_oetf_inverse, bt709_oetf)]


@pytest.mark.parametrize(("decode", "encode"), PAIRS)
@given(linear=st.floats(-0.5, 100.0))
def test_round_trip_returns_the_light(decode, encode, linear):
    # 2e-6 absolute near the sRGB knee: 0.0031308 x 12.92 = 0.04044994, not exactly 0.04045.
    assert float(decode(encode(linear))) == pytest.approx(linear, rel=1e-9, abs=2e-6)


@pytest.mark.parametrize("function", [srgb_to_linear, linear_to_srgb, bt709_oetf, bt709_oetf_inverse])
def test_more_in_never_gives_less_out(function):
    values = np.concatenate([np.linspace(-0.1, 0.2, 300_001), np.linspace(0.2, 4, 1001)])
    assert np.all(np.diff(function(values)) >= -1e-7)  # sRGB's rounded knee steps back by 2e-8


@pytest.mark.parametrize("function", [srgb_to_linear, linear_to_srgb, bt709_oetf, bt709_oetf_inverse])
def test_black_and_white_are_fixed_points_and_float32_stays_float32(function):
    ends = function(np.array([[0.0, 1.0]], dtype=np.float32))
    assert ends.dtype == np.float32 and ends.shape == (1, 2)
    np.testing.assert_allclose(ends, [[0.0, 1.0]], atol=1e-7)
    assert function(np.array([0.25])).dtype == np.float64
    assert function(np.array([0.25], dtype=np.float16)).dtype == np.float64


def test_nan_stays_nan():
    assert np.isnan(srgb_to_linear(np.nan)) and np.isnan(bt709_oetf(np.nan))


def test_coded_values_inside_the_knee_step_give_the_knee():
    inside = np.array([0.0810001, 0.08112, BT709_KNEE_CODED - 1e-9])
    np.testing.assert_array_equal(bt709_oetf_inverse(inside), 0.018)


def test_whole_numbers_are_refused():
    with pytest.raises(TypeError, match="whole numbers"):
        srgb_to_linear(np.array([0, 255], dtype=np.uint8))
    assert float(srgb_to_linear(1)) == 1.0  # a plain 1 is white, no picture


def test_eight_bit_pictures_match_the_formula():
    picture = np.arange(256, dtype=np.uint8).reshape(4, 4, 16)
    expected = srgb_to_linear(picture.astype(np.float64) / 255)
    np.testing.assert_allclose(srgb8_to_linear(picture), expected, rtol=1e-6)
    with pytest.raises(TypeError, match="uint8"):
        srgb8_to_linear(np.zeros(3, dtype=np.float32))


def test_hex_colours():
    assert hex_to_linear("#000000") == (0.0, 0.0, 0.0)
    assert hex_to_linear("#FFffFF") == pytest.approx((1.0, 1.0, 1.0))
    # 188/255 is the code nearest to half the light: common practice, no source.
    assert hex_to_linear("#bc0000")[0] == pytest.approx(0.5029, abs=1e-4)


@pytest.mark.parametrize("wrong", ["ffffff", "#fff", "#gggggg", "#ffffff ", "", "#ffffff\n"])
def test_wrongly_written_colours_say_how(wrong):
    with pytest.raises(ValueError, match="#rrggbb"):
        hex_to_linear(wrong)
