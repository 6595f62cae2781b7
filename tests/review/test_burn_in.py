"""Burnt-in text can be read on any picture and hides little of it."""

import cv2
import numpy as np
import pytest

from preview.review.burn_in import PLATE_LEVEL, burn_in

TEXT = "10:00:04:12  003 Seed trays  return CAM2"
RNG = np.random.default_rng(7)
PICTURES = {
    "white": np.full((540, 960, 3), 255, np.uint8),
    "black": np.zeros((540, 960, 3), np.uint8),
    "noise": RNG.integers(0, 256, (540, 960, 3), dtype=np.uint8),
}


@pytest.mark.parametrize("name", PICTURES)
def test_text_stands_out_from_whatever_is_behind_it(name):
    """White text on at most 35 % of full code: 4.5:1 or more, the least that WCAG 2.2 (1.4.3) asks."""
    picture = PICTURES[name]
    before = picture.copy()
    marked = burn_in(picture, TEXT)
    np.testing.assert_array_equal(picture, before)
    text = (marked == 255).all(axis=2)
    rows, columns = np.nonzero(text & ~(picture == 255).all(axis=2) if name != "white" else text_only(marked))
    plate = marked[rows.min() : rows.max() + 1, columns.min() : columns.max() + 1]
    ground = np.percentile(plate.reshape(-1, 3).max(axis=1), 40)
    assert ground <= 255 * PLATE_LEVEL + 1
    light = (255 / 255) ** 2.4 + 0.05
    dark = (ground / 255) ** 2.4 + 0.05
    assert light / dark >= 4.5


def text_only(marked):
    """On white, the text is the white enclosed by the plate."""
    changed = (marked < 250).any(axis=2)
    rows, columns = np.nonzero(changed)
    inside = np.zeros(changed.shape, bool)
    inside[rows.min() : rows.max(), columns.min() : columns.max()] = True
    return inside & ~changed


def test_only_the_bottom_is_touched_and_the_plate_is_centred():
    picture = PICTURES["noise"]
    changed = (burn_in(picture, TEXT) != picture).any(axis=2)
    rows, columns = np.nonzero(changed)
    assert rows.min() > 0.85 * 540
    assert rows.max() < 540
    assert abs((columns.min() + columns.max() + 1) / 2 - 480) <= 4


@pytest.mark.parametrize("size", [(1920, 1080), (960, 540), (320, 180), (64, 36), (180, 320)])
def test_the_whole_line_fits_every_picture(size):
    """The text's outermost strokes lie inside the picture: nothing is cut at the sides."""
    picture = np.zeros((size[1], size[0], 3), np.uint8)
    lit = cv2.threshold(burn_in(picture, TEXT)[..., 0], 60, 255, cv2.THRESH_BINARY)[1]
    rows, columns = np.nonzero(lit)
    assert columns.min() > 0
    assert columns.max() < size[0] - 1
    assert rows.max() < size[1]


def test_capitals_are_one_thirty_second_of_the_picture_high():
    lit = burn_in(np.zeros((1080, 1920, 3), np.uint8), "H")[..., 0] > 100
    rows = np.nonzero(lit.any(axis=1))[0]
    assert rows.max() - rows.min() + 1 == pytest.approx(1080 / 32, abs=5)


def test_nothing_jumps_as_the_timecode_counts():
    """Digits of unequal width would shift plate and letters from frame to frame."""
    texts = [f"{label}  003 Seed trays" for label in ("11:11:11:11", "08:08:08:08")]
    low, high = (burn_in(PICTURES["black"], text) for text in texts)
    columns, other = (
        np.nonzero((burn_in(PICTURES["white"], text) != 255).any(axis=(0, 2)))[0] for text in texts
    )
    assert (columns[0], columns[-1]) == (other[0], other[-1]), "the plate stands still"
    name = slice((columns[0] + columns[-1]) // 2, None)
    np.testing.assert_array_equal(low[:, name], high[:, name])
    assert (low != high).any(), "the timecodes differ"
