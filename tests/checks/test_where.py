"""Words for a place in the picture."""

import numpy as np
import pytest

from preview.checks.where import where

H, W = 108, 192


def box(top, bottom, left, right):
    """Mask of a box given in shares of the picture."""
    mask = np.zeros((H, W), dtype=bool)
    mask[round(top * H) : round(bottom * H), round(left * W) : round(right * W)] = True
    return mask


@pytest.mark.parametrize(
    ("mask", "words"),
    [
        (box(0.7, 0.9, 0.05, 0.25), "the lower left"),
        (box(0.05, 0.25, 0.75, 0.9), "the upper right"),
        (box(0.4, 0.6, 0.4, 0.6), "the middle"),
        (box(0.4, 0.6, 0.7, 0.9), "the right"),
        (box(0, 1, 0, 0.03), "the left edge"),
        (box(0.95, 1, 0, 1), "the bottom edge"),
        (box(0, 0.2, 0, 0.04), "the left edge, upper"),
        (box(0, 0.03, 0.7, 0.9), "the top edge, right"),
        (box(0.7, 1, 0, 1), "the lower part"),
        (box(0, 1, 0.75, 1), "the right side"),
        (box(0, 0.8, 0, 0.9), "most of the picture"),
        (box(0, 1, 0, 1), "the whole picture"),
        (box(0, 0, 0, 0), ""),
    ],
)
def test_a_place_is_named_as_a_director_would(mask, words):
    assert where(mask) == words


def test_mirrored_masks_get_mirrored_words():
    rng = np.random.default_rng(4)
    for _ in range(50):
        left, top = rng.uniform(0, 0.8, 2)
        mask = box(top, top + 0.15, left, left + 0.15)
        swap = {"left": "right", "right": "left"}
        words = where(mask).replace(",", " ,").split()
        mirrored = " ".join(swap.get(word, word) for word in words)
        assert where(mask[:, ::-1]).replace(",", " ,") == mirrored.replace(" ,", " ,")
