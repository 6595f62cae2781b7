"""Disc diameters in pictures against rays traced through a thin lens.

Source: the paraxial thin lens bends a ray that meets it at height h by h / f towards the axis (Hecht,
"Optics", the thin-lens equation; value from memory). Nothing here uses the blur formula.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.raster.blur import blur_of
from tests.raster.lens_stage import SENSOR_MM, SIZE, WALL_M, draw, lens, stage, window


def traced_mm(
    focal_mm: float, stop: float, focus_mm: float, distance_mm: float, count: int = 20000
) -> np.ndarray:
    """(count, 2) places on the sensor, about their mean, of rays from a point a little off the axis through
    random places of the pupil; the sensor stands where rays from ``focus_mm`` meet."""
    rng = np.random.default_rng(7)
    angle, share = rng.uniform(0, 2 * np.pi, count), np.sqrt(rng.uniform(0, 1, count))
    height = focal_mm / stop / 2 * share[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    point = np.array([0.03, -0.02]) * distance_mm
    slope = (height - point) / distance_mm - height / focal_mm
    sensor_mm = focal_mm * focus_mm / (focus_mm - focal_mm)
    places = height + slope * sensor_mm
    return np.asarray(places - places.mean(axis=0))


@given(st.floats(8, 150), st.floats(1.4, 11), st.floats(1.5, 12), st.floats(0.8, 40), st.floats(0, 0.3))
def test_diameters_are_those_of_traced_rays(
    focal_mm: float, stop: float, focus_m: float, axial_m: float, offset_m: float
) -> None:
    view = CameraView(
        Pose((0.0, 0.0, 0.0)),
        SENSOR_MM,
        focal_mm,
        offset_m,
        focal_length_mm=focal_mm,
        focus_m=focus_m,
        t_stop=stop,
    )
    blur = blur_of(view, SIZE)
    assert blur is not None
    places = traced_mm(focal_mm, stop, 1000 * (focus_m - offset_m), 1000 * axial_m)
    widest_px = 2 * np.linalg.norm(places, axis=1).max() / SENSOR_MM[0] * SIZE[0]
    signed = float(blur.signed_px(axial_m))
    # 20000 rays come within one in a thousand of the rim, whose middle they know that well.
    assert abs(signed) == pytest.approx(widest_px, rel=0.03, abs=1e-6)
    assert (signed < 0) == (axial_m < focus_m - offset_m)


def test_focus_is_counted_from_the_sensor() -> None:
    """A lens whose pupil lies 0.3 m before the sensor, its scale at 3 m, is sharp 2.7 m before the pupil."""
    blur = blur_of(replace(lens(3.0, 20.0), entrance_pupil_offset_m=0.3), SIZE)
    assert blur is not None
    assert float(blur.signed_px(2.7)) == pytest.approx(0.0, abs=1e-9)


def test_an_eye_has_none() -> None:
    assert blur_of(replace(lens(3.0, 20.0), focal_length_mm=0.0), SIZE) is None


@pytest.mark.parametrize(("focus_m", "wide_px"), [(4.0, 12.0), (4.0, 30.0), (2.0, 30.0), (20.0, 12.0)])
def test_a_point_of_the_wall_is_drawn_as_wide_as_its_rays_land(focus_m: float, wide_px: float) -> None:
    view = lens(focus_m, wide_px)
    places = traced_mm(view.focal_length_mm, view.t_stop, 1000 * focus_m, 1000 * WALL_M)
    traced_px = places.std(axis=0) / SENSOR_MM[0] * SIZE[0]
    spot = [((-9.0, 9.0), (-9.0, 9.0), (0.0, 0.0, 0.0)), ((-0.1, 0.1), (-0.1, 0.1), (10.0, 10.0, 10.0))]
    with stage(window(spot)) as raster:
        blurred, sharp = draw(raster, view)[..., 0], draw(raster, view, False)[..., 0]
    for axis, across in enumerate((np.arange(SIZE[0]), np.arange(SIZE[1])[:, None])):
        variances = []
        for picture in (blurred, sharp):
            middle = (picture * across).sum() / picture.sum()
            variances.append((picture * (across - middle) ** 2).sum() / picture.sum())
        assert np.sqrt(variances[0] - variances[1]) == pytest.approx(traced_px[axis], rel=0.03)
