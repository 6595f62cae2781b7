"""PSNR, SSIM and CIEDE2000 against closed forms, published pairs and two other libraries.

Sources: Sharma, Wu, Dalal, "The CIEDE2000 color-difference formula: implementation notes, supplementary test
data, and mathematical observations", Color Research and Application 30(1), 2005, table 1 (values from
memory; scikit-image and colour-science both give them). Wang, Bovik, Sheikh, Simoncelli, IEEE Transactions
on Image Processing 13(4), 2004. Recommendations ITU-R BT.709-6 (06/2015) and BT.1886 (03/2011).
"""

import colour
import numpy as np
import pytest
from skimage import data
from skimage.metrics import peak_signal_noise_ratio, structural_similarity

from preview.compare.measures import (
    _XYZ_FROM_BT709,
    de2000,
    de2000_map,
    lab_on_monitor,
    measure,
    psnr_db,
)

SHARMA = np.array(
    [
        (50.0000, 2.6772, -79.7751, 50.0000, 0.0000, -82.7485, 2.0425),
        (50.0000, 3.1571, -77.2803, 50.0000, 0.0000, -82.7485, 2.8615),
        (50.0000, 2.8361, -74.0200, 50.0000, 0.0000, -82.7485, 3.4412),
        (50.0000, -1.3802, -84.2814, 50.0000, 0.0000, -82.7485, 1.0000),
        (50.0000, -1.1848, -84.8006, 50.0000, 0.0000, -82.7485, 1.0000),
        (50.0000, -0.9009, -85.5211, 50.0000, 0.0000, -82.7485, 1.0000),
        (50.0000, 0.0000, 0.0000, 50.0000, -1.0000, 2.0000, 2.3669),
        (50.0000, -1.0000, 2.0000, 50.0000, 0.0000, 0.0000, 2.3669),
        (50.0000, 2.4900, -0.0010, 50.0000, -2.4900, 0.0009, 7.1792),
        (50.0000, 2.4900, -0.0010, 50.0000, -2.4900, 0.0010, 7.1792),
        (50.0000, 2.4900, -0.0010, 50.0000, -2.4900, 0.0011, 7.2195),
        (50.0000, 2.4900, -0.0010, 50.0000, -2.4900, 0.0012, 7.2195),
        (50.0000, -0.0010, 2.4900, 50.0000, 0.0009, -2.4900, 4.8045),
        (50.0000, -0.0010, 2.4900, 50.0000, 0.0010, -2.4900, 4.8045),
        (50.0000, -0.0010, 2.4900, 50.0000, 0.0011, -2.4900, 4.7461),
        (50.0000, 2.5000, 0.0000, 50.0000, 0.0000, -2.5000, 4.3065),
        (50.0000, 2.5000, 0.0000, 73.0000, 25.0000, -18.0000, 27.1492),
        (50.0000, 2.5000, 0.0000, 61.0000, -5.0000, 29.0000, 22.8977),
        (50.0000, 2.5000, 0.0000, 56.0000, -27.0000, -3.0000, 31.9030),
        (50.0000, 2.5000, 0.0000, 58.0000, 24.0000, 15.0000, 19.4535),
        (50.0000, 2.5000, 0.0000, 50.0000, 3.1736, 0.5854, 1.0000),
        (50.0000, 2.5000, 0.0000, 50.0000, 3.2972, 0.0000, 1.0000),
        (50.0000, 2.5000, 0.0000, 50.0000, 1.8634, 0.5757, 1.0000),
        (50.0000, 2.5000, 0.0000, 50.0000, 3.2592, 0.3350, 1.0000),
        (60.2574, -34.0099, 36.2677, 60.4626, -34.1751, 39.4387, 1.2644),
        (63.0109, -31.0961, -5.8663, 62.8187, -29.7946, -4.0864, 1.2630),
        (61.2901, 3.7196, -5.3901, 61.4292, 2.2480, -4.9620, 1.8731),
        (35.0831, -44.1164, 3.7933, 35.0232, -40.0716, 1.5901, 1.8645),
        (22.7233, 20.0904, -46.6940, 23.0331, 14.9730, -42.5619, 2.0373),
        (36.4612, 47.8580, 18.3852, 36.2715, 50.5065, 21.2231, 1.4146),
        (90.8027, -2.0831, 1.4410, 91.1528, -1.6435, 0.0447, 1.4441),
        (90.9257, -0.5406, -0.9208, 88.6381, -0.8985, -0.7239, 1.5381),
        (6.7747, -0.2908, -2.4247, 5.8714, -0.0985, -2.2286, 0.6377),
        (2.0776, 0.0795, -1.1350, 0.9033, -0.0636, -0.5514, 0.9082),
    ]
)


def grey(level, size=(48, 64)):
    return np.full((*size, 3), level, np.uint8)


def whole(first, second):
    found = measure(first, second, {"whole": np.ones(first.shape[:2], bool)})["whole"]
    assert found is not None
    return found


@pytest.fixture(scope="module")
def noisy():
    """Two pictures of 8-bit noise around a common picture."""
    dice = np.random.default_rng(11)
    first = dice.integers(0, 256, (60, 90, 3), dtype=np.uint8)
    second = np.clip(first + dice.normal(0, 25, first.shape), 0, 255).astype(np.uint8)
    return first, second


# -- PSNR and SSIM -----------------------------------------------------------------------------


def test_constants_have_closed_forms():
    """Two flat pictures: SSIM is (2ab + C1) / (a^2 + b^2 + C1), for all variances are 0."""
    found = whole(grey(100), grey(110))
    assert found.psnr_db == pytest.approx(28.130804, abs=5e-7)
    c1 = (0.01 * 255) ** 2
    assert found.ssim == pytest.approx((2 * 100 * 110 + c1) / (100**2 + 110**2 + c1), abs=1e-9)
    assert found.ssim == pytest.approx(0.995476444, abs=1e-9)


@pytest.mark.parametrize(
    ("offset", "expected_db"), [(1, 48.1308), (2, 42.1102), (5, 34.1514), (16, 24.0484), (255, 0.0)]
)
def test_a_constant_offset_gives_20_log_255_over_it(offset, expected_db):
    assert whole(grey(0), grey(offset)).psnr_db == pytest.approx(expected_db, abs=5e-5)
    assert psnr_db(offset**2) == pytest.approx(20 * np.log10(255 / offset), abs=1e-9)


def test_black_against_white_is_as_unlike_as_can_be():
    assert whole(grey(0), grey(255)).ssim == pytest.approx(9.999e-5, abs=1e-9)


def test_a_photograph_moved_by_one_pixel():
    """Values computed with scikit-image 0.26 on its own test photograph, in grey."""
    photograph = np.repeat(data.camera()[..., None], 3, axis=2)
    found = whole(photograph, np.roll(photograph, 1, axis=1))
    assert found.psnr_db == pytest.approx(24.1237, abs=5e-5)
    assert found.ssim == pytest.approx(0.75712, abs=5e-6)


def test_whole_pictures_agree_with_scikit_image(noisy):
    first, second = noisy
    found = whole(first, second)
    assert found.psnr_db == pytest.approx(peak_signal_noise_ratio(first, second, data_range=255), abs=1e-9)
    weights = (0.2126, 0.7152, 0.0722)
    expected = structural_similarity(
        first @ weights, second @ weights, data_range=255,
        gaussian_weights=True, sigma=1.5, use_sample_covariance=False,
    )  # fmt: skip
    assert found.ssim == pytest.approx(expected, abs=1e-9)


def test_a_region_is_measured_by_its_own_pixels(noisy):
    first, second = noisy
    mask = np.random.default_rng(3).random(first.shape[:2]) < 0.3
    found = measure(first, second, {"part": mask})["part"]
    assert found is not None
    expected = peak_signal_noise_ratio(first[mask], second[mask], data_range=255)
    assert found.psnr_db == pytest.approx(expected, abs=1e-9)
    distance = de2000(lab_on_monitor(first[mask]), lab_on_monitor(second[mask]))
    assert found.de2000_mean == pytest.approx(distance.mean(), abs=1e-9)
    assert found.de2000_p95 == pytest.approx(np.percentile(distance, 95), abs=1e-9)
    assert found.share == pytest.approx(mask.mean())


# -- CIEDE2000 ---------------------------------------------------------------------------------


def test_published_ciede2000_pairs():
    """All 34, to the four digits printed; each way round."""
    first, second, expected = SHARMA[:, :3], SHARMA[:, 3:6], SHARMA[:, 6]
    np.testing.assert_allclose(de2000(first, second), expected, atol=5.1e-5)
    np.testing.assert_allclose(de2000(second, first), expected, atol=5.1e-5)
    np.testing.assert_allclose(colour.difference.delta_E_CIE2000(first, second), expected, atol=5.1e-5)


def test_the_matrix_is_that_of_bt709_primaries():
    theirs = colour.RGB_COLOURSPACES["ITU-R BT.709"]
    derived = colour.normalised_primary_matrix(theirs.primaries, theirs.whitepoint)
    np.testing.assert_allclose(_XYZ_FROM_BT709, derived, atol=1e-9)


def test_colours_on_the_monitor_agree_with_colour_science(noisy):
    """Their BT.1886 display, BT.709 and CIELAB. 2e-3: scikit-image's CIELAB has rounded constants."""
    code = noisy[0].reshape(-1, 3)
    theirs = colour.RGB_COLOURSPACES["ITU-R BT.709"]
    light = colour.models.eotf_BT1886(code / 255, L_B=0, L_W=1)
    xyz = light @ colour.normalised_primary_matrix(theirs.primaries, theirs.whitepoint).T
    np.testing.assert_allclose(lab_on_monitor(code), colour.XYZ_to_Lab(xyz, theirs.whitepoint), atol=2e-3)


def test_colour_distance_of_pictures_agrees_with_colour_science(noisy):
    first, second = noisy
    theirs = colour.RGB_COLOURSPACES["ITU-R BT.709"]
    matrix = colour.normalised_primary_matrix(theirs.primaries, theirs.whitepoint)

    def lab(code):
        return colour.XYZ_to_Lab(colour.models.eotf_BT1886(code / 255, 0, 1) @ matrix.T, theirs.whitepoint)

    expected = colour.difference.delta_E_CIE2000(lab(first), lab(second))
    np.testing.assert_allclose(de2000_map(first, second), expected, atol=2e-3)


def test_greys_have_no_colour_and_white_is_100():
    ramp = np.repeat(np.arange(256, dtype=np.uint8)[:, None], 3, axis=1)
    lab = lab_on_monitor(ramp)
    np.testing.assert_allclose(lab[:, 1:], 0, atol=1e-9)
    assert lab[[0, 255], 0] == pytest.approx([0, 100], abs=1e-6)
    assert (np.diff(lab[:, 0]) > 0).all()


def test_the_display_curve_is_no_camera_curve():
    """Half signal is 18.9 % of white's light on a BT.1886 display (BT.709's own inverse would say 26 %)."""
    # Luma 127.5 is no code: the two codes beside it hold the value between them.
    lightness = lab_on_monitor(np.array([[127] * 3, [128] * 3], np.uint8))[:, 0]
    expected = 116 * np.cbrt(0.189465) - 16
    assert lightness[0] < expected < lightness[1]
