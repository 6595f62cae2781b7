"""The measuring transform: it finds waves that were put in, and nothing else."""

import numpy as np
import pytest

from preview.moire.measure import strongest_near


def waves(*parts, size=64):
    y, x = np.mgrid[0:size, 0:size] + 0.5
    picture = np.ones((size, size))
    for fx, fy, contrast, phase in parts:
        picture += contrast * np.cos(2 * np.pi * (fx * x + fy * y) + phase)
    return picture


@pytest.mark.parametrize(("fx", "fy"), [(0.11, 0.0), (0.0, 0.2), (-0.13, 0.21), (0.07, -0.05)])
def test_a_wave_is_found_with_its_contrast(fx, fy):
    found = strongest_near(5.0 * waves((fx, fy, 0.08, 1.0)), (fx * 1.1, fy * 1.1))
    assert found.frequency == pytest.approx((fx, fy), abs=0.002)
    assert found.contrast == pytest.approx(0.08, rel=0.02)


def test_a_stronger_wave_elsewhere_is_passed_over():
    picture = waves((0.1, 0.0, 0.05, 0.0), (0.0, 0.35, 0.4, 0.0))
    found = strongest_near(picture, (0.1, 0.0))
    assert found.frequency == pytest.approx((0.1, 0.0), abs=0.003)
    assert found.contrast == pytest.approx(0.05, rel=0.05)


def test_the_answer_points_the_way_that_was_expected():
    """A wave and its negative are the same wave."""
    picture = waves((0.1, 0.05, 0.1, 0.3))
    assert strongest_near(picture, (-0.1, -0.05)).frequency == pytest.approx((-0.1, -0.05), abs=0.002)


def test_an_even_picture_has_no_wave():
    assert strongest_near(np.full((32, 32), 0.4), (0.1, 0.1)).contrast == pytest.approx(0.0, abs=1e-12)


def test_a_dark_picture_is_refused():
    with pytest.raises(ValueError, match="dark"):
        strongest_near(np.zeros((16, 16)), (0.1, 0.0))
