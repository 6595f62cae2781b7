"""Depth of field and blur discs against published examples.

Sources, by test: the encyclopaedic articles "Hyperfocal distance" and "Circle of confusion"; a photography
magazine's table of depth of field (50 mm at f/4); an army photography course (SS0507, hyperfocal distance in
inches); values of the blur formula worked apart from this project, one of them by a ray trace.
"""

from __future__ import annotations

from math import inf

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.camera.focus import blur_disc_mm, depth_of_field_mm, hyperfocal_mm

FOOT_MM = 304.8
INCH_MM = 25.4


def test_hyperfocal_distance_of_the_encyclopaedias_example() -> None:
    """50 mm, f/8, circle of confusion 0.03 mm: 10.467 m; focused there, sharp from 5.233 m to infinity."""
    found = hyperfocal_mm(50, 8, 0.03)
    assert found == pytest.approx(10467, abs=0.5)
    near, far = depth_of_field_mm(50, 8, found, 0.03)
    assert near == pytest.approx(5233, abs=0.5)
    assert far == inf


def test_hyperfocal_distance_in_inches() -> None:
    """2 inches, f/8, 0.002 inch: 20.8 ft (course SS0507, which leaves out the added focal length)."""
    found = hyperfocal_mm(2 * INCH_MM, 8, 0.002 * INCH_MM) - 2 * INCH_MM
    assert found / FOOT_MM == pytest.approx(20.8, abs=0.05)


@pytest.mark.parametrize(
    ("blur_mm", "near", "far"),
    # Feet and inches of a magazine's table: 50 mm, f/4, focused at 10 ft.
    [(0.03, (8, 9), (11, 8)), (0.019, (9, 2), (11, 0))],
)
def test_a_magazines_table(blur_mm: float, near: tuple[int, int], far: tuple[int, int]) -> None:
    found = depth_of_field_mm(50, 4, 10 * FOOT_MM, blur_mm)
    for got, (feet, inches) in zip(found, (near, far), strict=True):
        assert got / INCH_MM == pytest.approx(12 * feet + inches, abs=1.0)


@pytest.mark.parametrize(
    ("focal", "f_number", "focus", "distance", "blur"),
    [
        (50, 2.8, 3000, 6000, 0.151332),  # an independent ray trace gave 0.1513317
        (50, 2.8, 3000, 1500, 0.302663),
        (50, 2, 2000, 4000, 0.320513),
        (35, 2.8, 4000, 7000, 0.047289),
        (100, 4, 5000, 10000, 0.255102),
    ],
)
def test_blur_discs(focal: float, f_number: float, focus: float, distance: float, blur: float) -> None:
    assert float(blur_disc_mm(focal, f_number, focus, distance)) == pytest.approx(blur, abs=5e-7)


def test_a_blur_disc_by_similar_triangles() -> None:
    """Traced with the lens equation alone: the image of the point lies off the sensor, and the cone of light
    from the aperture to it cuts the sensor in a disc."""
    focal, f_number, focus = 40.0, 4.0, 2500.0
    for distance in (800.0, 2400.0, 9000.0):
        sensor = 1 / (1 / focal - 1 / focus)
        image = 1 / (1 / focal - 1 / distance)
        cone = focal / f_number * abs(sensor - image) / image
        assert float(blur_disc_mm(focal, f_number, focus, distance)) == pytest.approx(cone, rel=1e-12)


@given(st.floats(8, 200), st.floats(1.4, 22), st.floats(1200, 20000), st.floats(0.003, 0.05))
def test_the_blur_at_the_limits_of_depth_is_the_one_asked_for(
    focal: float, f_number: float, focus: float, blur: float
) -> None:
    near, far = depth_of_field_mm(focal, f_number, focus, blur)
    limits = [near] if far == inf else [near, far]
    assert blur_disc_mm(focal, f_number, focus, limits) == pytest.approx(blur, rel=1e-6)
    assert near < focus < far


def test_in_focus_there_is_none_and_shape_is_kept() -> None:
    found = blur_disc_mm(50, 4, 3000, np.array([[3000.0, 6000.0], [1e12, 3000.0]]))
    assert found.shape == (2, 2)
    assert found[0, 0] == found[1, 1] == 0.0
    assert found[1, 0] == pytest.approx(50**2 / (4 * 2950), rel=1e-6), "the disc of a point at infinity"
    assert found[0, 1] < found[1, 0]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((50, 4, 50, 900), "focus farther"),
        ((0, 4, 900, 900), "focal length"),
        ((50, 0, 900, 900), "f-number"),
    ],
)
def test_nonsense_is_refused(arguments: tuple[float, float, float, float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        blur_disc_mm(*arguments)
