"""View: what is in front, overscan, and the picture's own coordinates."""

from __future__ import annotations

import numpy as np
import pytest

from preview.camera.pose import Pose
from preview.camera.view import CameraView

SIZE = (1920, 1080)


def view(**changes: object) -> CameraView:
    settings = {"pose": Pose((0, 0, 0)), "sensor_mm": (16.0, 9.0), "projection_mm": 8.0, **changes}
    return CameraView(**settings)  # type: ignore[arg-type]


def test_picture_corners_by_hand() -> None:
    # 16 x 9 mm at 8 mm: at 10 m the picture is 20 m wide and 11.25 m high.
    points = np.array([[-10, 10, 5.625], [10, 10, 5.625], [10, 10, -5.625], [0, 10, 0]])
    pixels, valid = view().project(points, SIZE)
    assert valid.all()
    np.testing.assert_allclose(pixels, [[0, 0], [1920, 0], [1920, 1080], [960, 540]], atol=1e-9)


def test_points_behind_the_entrance_pupil_are_not_seen() -> None:
    pixels, valid = view(entrance_pupil_offset_m=0.2).project(
        np.array([[0, 0.1, 0], [0, -3.0, 0], [0, 0.3, 0]]), SIZE
    )
    assert valid.tolist() == [False, False, True]
    assert np.isnan(pixels[:2]).all()
    np.testing.assert_allclose(pixels[2], (960, 540))


def test_sightlines_start_at_the_entrance_pupil() -> None:
    turned = view(pose=Pose((1, 2, 3), pan_deg=90), entrance_pupil_offset_m=0.2)
    np.testing.assert_allclose(turned.pupil_m, (0.8, 2, 3), atol=1e-12)
    directions, valid = turned.sightlines(np.array([[960.0, 540.0]]), SIZE)
    assert valid.all()
    np.testing.assert_allclose(directions[0], (-1, 0, 0), atol=1e-12)


@pytest.mark.parametrize("overscan", [0.0, 0.05, 0.5])
def test_overscan_adds_its_share_on_each_side(overscan: float) -> None:
    # A point on the picture's right edge: half the picture from its middle, of (1 + 2 o) / 2.
    clip = view().clip_from_stage(0.1, 100.0, overscan) @ [10, 10, 5.625, 1]
    np.testing.assert_allclose(clip[:2] / clip[3], 1 / (1 + 2 * overscan))


def test_near_and_far_planes_land_on_the_clip_cube() -> None:
    matrix = view().clip_from_stage(0.5, 40.0)
    for distance, depth in ((0.5, -1.0), (40.0, 1.0)):
        clip = matrix @ [0, distance, 0, 1]
        assert clip[2] / clip[3] == pytest.approx(depth)
