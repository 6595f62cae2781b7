"""What the numbers do at their ends: equal pictures, empty regions, regions at the border."""

from math import inf

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from preview.compare.measures import SSIM_BORDER_PX, de2000_map, measure, ssim_map

CODES = arrays(np.uint8, (13, 17, 3), elements=st.integers(0, 255))
EVERYWHERE = np.ones((13, 17), bool)


def picture(seed=0, size=(40, 60)):
    return np.random.default_rng(seed).integers(0, 256, (*size, 3), dtype=np.uint8)


def mask(rows, columns, size=(40, 60)):
    found = np.zeros(size, bool)
    found[rows, columns] = True
    return found


@given(CODES)
def test_a_picture_is_identical_with_itself(code):
    found = measure(code, code.copy(), {"whole": EVERYWHERE})["whole"]
    assert found.identical
    assert (found.psnr_db, found.de2000_mean, found.de2000_p95) == (inf, 0, 0)
    assert found.ssim == pytest.approx(1, abs=1e-12)


@given(CODES, CODES)
def test_no_number_depends_on_which_picture_is_first(first, second):
    there = measure(first, second, {"whole": EVERYWHERE})["whole"]
    back = measure(second, first, {"whole": EVERYWHERE})["whole"]
    assert there.psnr_db == back.psnr_db
    assert there.ssim == pytest.approx(back.ssim, abs=1e-9)
    assert there.de2000_mean == pytest.approx(back.de2000_mean, abs=1e-9)


def test_one_code_in_one_channel_is_no_longer_identical():
    first = np.full((40, 60, 3), 90, np.uint8)
    second = first.copy()
    second[20, 30, 2] += 1
    found = measure(first, second, {"whole": np.ones((40, 60), bool)})["whole"]
    assert not found.identical
    assert found.psnr_db == pytest.approx(10 * np.log10(255**2 * 40 * 60 * 3))
    assert found.de2000_p95 == 0 < found.de2000_mean


def test_what_changes_outside_a_region_is_nothing_to_it():
    first = picture()
    second = first.copy()
    second[:, 40:] = 255 - second[:, 40:]
    masks = {"left": mask(slice(None), slice(0, 30)), "right": mask(slice(None), slice(40, None))}
    found = measure(first, second, masks)
    assert found["left"].identical
    assert found["left"].ssim == pytest.approx(1, abs=1e-12), "30 is farther from 40 than SSIM reaches"
    assert found["right"].psnr_db < 12
    assert found["left"].share == 0.5


def test_a_region_without_pixels_has_no_numbers_and_not_zero():
    found = measure(
        picture(), picture(1), {"whole": np.ones((40, 60), bool), "set": np.zeros((40, 60), bool)}
    )
    assert found["set"] is None
    assert list(found) == ["whole", "set"]


def test_a_region_in_the_outermost_pixels_has_no_ssim_but_all_else():
    found = measure(picture(), picture(1), {"edge": mask(slice(0, SSIM_BORDER_PX), slice(None))})["edge"]
    assert found.ssim is None
    assert 0 < found.psnr_db < 20
    assert found.de2000_mean > 0


def test_no_number_is_ever_not_a_number():
    masks = {"one": mask(20, 30), "corner": mask(0, 0), "all": np.ones((40, 60), bool)}
    for found in measure(picture(), picture(1), masks).values():
        values = [found.share, found.psnr_db, found.de2000_mean, found.de2000_p95]
        assert np.isfinite(values).all()
        assert found.ssim is None or np.isfinite(found.ssim)


def test_large_pictures_are_worked_out_in_parts(monkeypatch):
    first, second = picture(), picture(1)
    second[5:9] = first[5:9]
    at_once = de2000_map(first, second)
    monkeypatch.setattr("preview.compare.measures._AT_ONCE", 101)
    np.testing.assert_allclose(de2000_map(first, second), at_once, atol=1e-12)
    assert (at_once[5:9] == 0).all() and at_once[:5].min() > 0


def test_a_picture_too_small_for_ssim_has_none():
    small = picture(size=(10, 60))
    assert np.isnan(ssim_map(small, picture(1, (10, 60)))).all()
    assert measure(small, small, {"whole": np.ones((10, 60), bool)})["whole"].ssim is None


@pytest.mark.parametrize(
    ("second", "part"),
    [
        (np.zeros((40, 61, 3), np.uint8), "cannot be compared"),
        (np.zeros((40, 60), np.uint8), "cannot be compared"),
        (np.zeros((40, 60, 3), np.float32), "8-bit"),
    ],
)
def test_pictures_that_are_not_alike_are_refused(second, part):
    with pytest.raises(ValueError, match=part):
        measure(picture(), second, {})


def test_masks_of_another_size_are_refused():
    with pytest.raises(ValueError, match="region 'wall'"):
        measure(picture(), picture(), {"wall": np.ones((40, 59), bool)})
