"""One camera picture against a renderer written elsewhere.

Source: Mitsuba 3 (mitsuba-renderer.org), variant ``scalar_rgb``: a pinhole camera and an emissive
rectangle whose bitmap is the wall's picture. Mitsuba puts a bitmap's first row at the *bottom* of the
rectangle, so the texture goes in upside down; an unflipped one still has the right mean, which is why
the texture here has no symmetry and a flipped picture is shown to fail.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.conventions import Array
from preview.picture.display import Display
from preview.raster.raster import Raster
from preview.raster.request import CameraPicture, Layer, SceneImage, Stack
from preview.stage.mesh import Material, MeshPart, SceneMesh, Texture
from tests.twin.stages import EYE_POINT_M, faceted_wall

mitsuba = pytest.importorskip("mitsuba", reason="Mitsuba 3 is a test dependency; pip install mitsuba")

SIZE = (320, 180)
WALL_SIZE_M, WALL_BOTTOM_M, WALL_Y_M = (6.4, 3.6), 0.2, 4.0


def wall_texture() -> np.ndarray:
    """(90, 160, 3) uint8 linear light without any symmetry, smooth at the scale of a texel.

    Smooth, so that a difference in texture filter does not stand for a difference in geometry.
    """
    texture = np.full((90, 160, 3), (40, 50, 60), dtype=np.uint8)
    cv2.rectangle(texture, (10, 8), (40, 30), (30, 220, 60), -1)
    cv2.rectangle(texture, (118, 58), (150, 82), (60, 60, 230), -1)
    cv2.circle(texture, (78, 40), 14, (240, 130, 30), -1)
    cv2.line(texture, (20, 80), (130, 12), (210, 210, 200), 5)
    cv2.line(texture, (20, 80), (60, 74), (210, 30, 200), 5)
    return cv2.GaussianBlur(texture, (0, 0), 1.6)


def camera() -> CameraView:
    return CameraView(Pose.looking_at((2.0, -3.0, 1.2), (0.3, 4.0, 2.1), roll_deg=4.0), (9.6, 5.4), 12.0)


def by_mitsuba(texture: np.ndarray, view: CameraView, samples: int = 64) -> Array:
    """(180, 320, 3) linear picture of the glowing wall."""
    mitsuba.set_variant("scalar_rgb")
    transform = mitsuba.ScalarTransform4f
    _right, forward, up = view.pose.rotation.T
    eye = view.pupil_m
    # The rectangle spans -1..1 in its own X and Y and shines along +Z: stand it up to face -Y.
    width, height = WALL_SIZE_M
    stage_from_rectangle = np.eye(4)
    stage_from_rectangle[:3, 0] = (width / 2, 0, 0)
    stage_from_rectangle[:3, 1] = (0, 0, height / 2)
    stage_from_rectangle[:3, 2] = (0, -1, 0)
    stage_from_rectangle[:3, 3] = (0, WALL_Y_M, WALL_BOTTOM_M + height / 2)
    bitmap = mitsuba.Bitmap(np.ascontiguousarray(texture[::-1].astype(np.float32) / 255))
    scene = mitsuba.load_dict(
        {
            "type": "scene",
            "integrator": {"type": "path", "max_depth": 1},
            "sensor": {
                "type": "perspective",
                "fov": view.horizontal_angle_deg,
                "fov_axis": "x",
                "to_world": transform().look_at(eye.tolist(), (eye + forward).tolist(), up.tolist()),
                "film": {
                    "type": "hdrfilm",
                    "width": SIZE[0],
                    "height": SIZE[1],
                    "rfilter": {"type": "box"},
                    "pixel_format": "rgb",
                    "component_format": "float32",
                },
                "sampler": {"type": "multijitter", "sample_count": samples},
            },
            "wall": {
                "type": "rectangle",
                "to_world": transform(stage_from_rectangle),
                "emitter": {
                    "type": "area",
                    "radiance": {
                        "type": "bitmap",
                        "bitmap": bitmap,
                        "raw": True,
                        "filter_type": "bilinear",
                        "wrap_mode": "clamp",
                    },
                },
            },
        }
    )
    return np.array(mitsuba.render(scene, seed=1), dtype=np.float64)


def psnr_db(a: Array, b: Array) -> float:
    """Peak signal to noise ratio for a peak of 1.0. Source: its definition, 10 log10(1 / MSE)."""
    return float(-10 * np.log10(((a - b) ** 2).mean()))


def card(texture: np.ndarray) -> SceneMesh:
    """The virtual scene: one glowing card exactly where the wall stands, so that the wall, whoever's
    frustum or the outer image is on it, shows the texture in its own place."""
    x, low, high = WALL_SIZE_M[0] / 2, WALL_BOTTOM_M, WALL_BOTTOM_M + WALL_SIZE_M[1]
    positions = np.array([(-x, WALL_Y_M, high), (-x, WALL_Y_M, low), (x, WALL_Y_M, low), (x, WALL_Y_M, high)])
    alpha = np.full((*texture.shape[:2], 1), 255, dtype=np.uint8)
    image = np.concatenate([texture, alpha], axis=2)
    part = MeshPart(
        "card",
        positions.astype(np.float32),
        np.tile(np.float32([0, -1, 0]), (4, 1)),
        np.float32([(0, 0), (0, 1), (1, 1), (1, 0)]),
        None,
        None,
        np.int32([(0, 1, 2), (0, 2, 3)]),
        Material(base_color_texture=Texture(image, srgb=False, wrap_s="clamp", wrap_t="clamp"), unlit=True),
    )
    return SceneMesh((part,))


def by_product(texture: np.ndarray, stack: Stack) -> tuple[Array, np.ndarray]:
    """Linear picture of the same camera, and where it sees the wall well inside its edges."""
    wall = faceted_wall(
        columns=1, tile_m=WALL_SIZE_M, joint_deg=0.0, distance_m=WALL_Y_M, bottom_m=WALL_BOTTOM_M
    )
    raster = Raster(
        surfaces=(wall,),
        headroom=(10.0,),
        stage_set=SceneMesh(()),
        virtual=card(texture),
        outer_eye_m=np.array(EYE_POINT_M),
        display=Display(),
        picture_px=SIZE,
        outer_face_px=512,
    )
    with raster:
        drawn = raster.draw([CameraPicture(camera(), stack)], linear=True)[0].pixels
        on_wall = (raster.sightlines(camera()).surface == 0).astype(np.uint8)
    return drawn.astype(np.float64), cv2.erode(on_wall, np.ones((3, 3), np.uint8), borderValue=1) > 0


OTHER = CameraView(Pose.looking_at((-1.0, -2.0, 2.0), (0.0, 4.0, 2.0)), (9.6, 5.4), 7.0)


@pytest.fixture(scope="module")
def reference() -> Array:
    return by_mitsuba(wall_texture(), camera())


@pytest.mark.parametrize(
    "stack",
    [(Layer(SceneImage(camera(), 0.05)),), (Layer(SceneImage(OTHER, 0.1)),), ()],
    ids=["own frustum", "another camera's frustum", "outer image"],
)
def test_camera_picture_of_the_wall_is_mitsubas(reference, stack):
    picture, on_wall = by_product(wall_texture(), stack)
    assert 0.9 < on_wall.mean() < 0.99  # the camera looks past the wall's top left corner
    assert psnr_db(picture[on_wall], reference[on_wall]) > 45
    # The wall's outline: past it Mitsuba sees black.
    dark = reference.sum(axis=2) == 0
    assert not (on_wall & dark).any() and (~on_wall & ~dark).mean() < 0.02


@pytest.mark.parametrize("axis", [0, 1], ids=["upside down", "mirrored"])
def test_a_flipped_wall_would_be_found(reference, axis):
    picture, on_wall = by_product(np.flip(wall_texture(), axis), (Layer(SceneImage(camera(), 0.05)),))
    assert psnr_db(picture[on_wall], reference[on_wall]) < 25
