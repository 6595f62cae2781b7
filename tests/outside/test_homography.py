"""A flat wall seen by two cameras: their pictures are joined by one 3x3 matrix.

Source: R. Hartley, A. Zisserman, "Multiple View Geometry in Computer Vision", 2nd edition, Cambridge
University Press, 2004, Result 13.1: for P = K[I | 0], P' = K'[R | t] and the plane n . X + d = 0,
H = K' (R - t n^T / d) K^-1. The formula is quoted from memory; the numbers below were computed from
it and agree with OpenCV's projectPoints to 2e-13 pixels.
"""

from __future__ import annotations

import cv2
import numpy as np
from scipy.spatial.transform import Rotation

from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.raster.request import CameraPicture, Layer, SceneImage
from tests.twin import drawing
from tests.twin.oracle import OracleStage
from tests.twin.room import PaintedRoom
from tests.twin.stages import EYE_POINT_M, faceted_wall

SIZE = (1920, 1080)
STAGE_FROM_CV = np.array([[1.0, 0, 0], [0, 0, 1], [0, -1, 0]])
"""OpenCV camera axes (x right, y down, z forward) of a camera with zero pan, tilt and roll, to stage."""

ROTATION_VECTOR, TRANSLATION = (0.05, -0.2, 0.03), np.array([0.4, -0.1, 0.2])
PLANE_DISTANCE_M = 5.0
H_PUBLISHED = np.array(
    [
        [1.490148986, -0.013565261, -547.247385658],
        [0.116081989, 1.389126838, -381.926362497],
        [0.000151941, 0.000035564, 1.0],
    ]
)


def first_view() -> CameraView:
    """K f = 1500 px at 1920x1080, at the origin, looking along +Y."""
    return CameraView(Pose((0.0, 0.0, 0.0)), (19.2, 10.8), 15.0)


def second_view() -> CameraView:
    """K' f = 1800 px, X' = R X + t in OpenCV axes."""
    rotation = cv2.Rodrigues(np.array(ROTATION_VECTOR))[0]
    position = STAGE_FROM_CV @ (-rotation.T @ TRANSLATION)
    right, down, forward = (STAGE_FROM_CV @ row for row in rotation)
    stage_from_body = np.column_stack([right, forward, -down])
    pan, tilt, roll = Rotation.from_matrix(stage_from_body).as_euler("ZXY", degrees=True)
    return CameraView(Pose(tuple(position), pan, tilt, roll), (19.2, 10.8), 18.0)


def homography(
    source: CameraView, target: CameraView, plane: np.ndarray, size_px: tuple[int, int]
) -> np.ndarray:
    """Result 13.1 for two of our cameras and the stage plane ``plane[:3] . X + plane[3] = 0``.

    Pixels count from the picture's edges in both.
    """
    body_from_cv = np.array([[1.0, 0, 0], [0, 0, 1], [0, -1, 0]])
    source_axes = source.pose.rotation @ body_from_cv
    target_axes = target.pose.rotation @ body_from_cv
    rotation = target_axes.T @ source_axes
    translation = target_axes.T @ (source.pupil_m - target.pupil_m)
    normal = source_axes.T @ plane[:3]
    distance = plane[:3] @ source.pupil_m + plane[3]
    to_edges = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])
    k_source, k_target = (to_edges @ view.opencv_matrix(size_px) for view in (source, target))
    return k_target @ (rotation - np.outer(translation, normal) / distance) @ np.linalg.inv(k_source)


def through_the_wall(pixels: np.ndarray) -> np.ndarray:
    """Pixels of the first camera, out along their sightlines to Y = 5 m, into the second camera."""
    directions, valid = first_view().sightlines(pixels, SIZE)
    assert valid.all()
    points = directions * (PLANE_DISTANCE_M / directions[:, 1:2])
    projected, seen = second_view().project(points, SIZE)
    assert seen.all()
    return projected


def test_published_points_pass_through_both_cameras():
    got = through_the_wall(np.array([[360.0, 240.0], [1050.0, 600.0]]))
    np.testing.assert_allclose(got, [[-13.213846984, -6.345173602], [854.67859198, 485.601849774]], atol=1e-6)


def test_published_matrix_is_fitted_by_opencv_to_our_points():
    x, y = np.meshgrid(np.linspace(50, 1850, 9), np.linspace(40, 1040, 7))
    pixels = np.column_stack([x.ravel(), y.ravel()])
    fitted, _ = cv2.findHomography(pixels, through_the_wall(pixels))
    # findHomography refines in float; its entries are good to 4e-5 of the published ones.
    np.testing.assert_allclose(fitted, H_PUBLISHED, rtol=5e-5, atol=5e-4)
    mapped = cv2.perspectiveTransform(pixels[None], H_PUBLISHED)[0]
    np.testing.assert_allclose(mapped, through_the_wall(pixels), atol=2e-4)


def test_formula_gives_the_published_matrix_for_our_cameras():
    got = homography(first_view(), second_view(), np.array([0.0, 1.0, 0.0, -PLANE_DISTANCE_M]), SIZE)
    np.testing.assert_allclose(got / got[2, 2], H_PUBLISHED, atol=2e-9)


def test_flat_walls_return_is_the_layers_image_warped_by_opencv():
    """The layer was drawn from the first camera; the second sees it on a flat wall at Y = 5 m."""
    room, size = PaintedRoom(), drawing.SIZE
    wall = faceted_wall(columns=1, tile_m=(24.0, 16.0), joint_deg=0.0, distance_m=5.0, bottom_m=-8.0)
    image = SceneImage(first_view())
    plane = np.array([0.0, 1.0, 0.0, -PLANE_DISTANCE_M])
    matrix = homography(first_view(), second_view(), plane, size)
    from_centres = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])  # OpenCV's whole numbers to our halves
    opencv_matrix = np.linalg.inv(from_centres) @ matrix @ from_centres
    flat = room.image(image, size).astype(np.float32)
    warped = cv2.warpPerspective(flat, opencv_matrix, size, flags=cv2.INTER_LINEAR)
    covered = cv2.warpPerspective(np.ones(flat.shape[:2], np.float32), opencv_matrix, size) == 1.0
    assert 0.3 < covered.mean() < 0.98
    with drawing.raster_of(OracleStage((wall,), (10.0,), EYE_POINT_M), room) as raster:
        picture = CameraPicture(second_view(), (Layer(image),))
        drawn = raster.draw([picture], linear=True)[0].pixels
    labels = np.where(covered, 1000, 999)
    error = drawing.compare(drawn, np.where(covered[..., None], warped, drawn), labels)
    error.assert_close()
    mirrored = drawing.compare(drawn, np.where(covered[..., None], warped[:, ::-1], drawn), labels)
    assert mirrored.error.mean() > 0.05
