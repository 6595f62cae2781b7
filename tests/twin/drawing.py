"""A raster for an oracle stage, and the measure of how far its pictures are from the oracle's."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from preview.camera.view import CameraView
from preview.conventions import Array
from preview.picture.display import Display
from preview.raster.raster import Raster
from preview.raster.request import CameraPicture, Stack
from tests.twin import oracle
from tests.twin.oracle import OracleStage
from tests.twin.room import PaintedRoom
from tests.twin.stages import set_mesh

SIZE = (320, 180)
MARGINS = (0.0, 0.05, 0.1, 0.2)
"""Margins that are whole pixels of SIZE on both axes; others are rounded up to whole pixels."""


def raster_of(stage: OracleStage, room: PaintedRoom, display: Display | None = None) -> Raster:
    """The product's raster on the same stage, with the painted room as its virtual scene."""
    return Raster(
        surfaces=stage.surfaces,
        headroom=stage.headroom,
        stage_set=set_mesh(stage),
        virtual=room.mesh(),
        outer_eye_m=np.array(stage.eye_point_m),
        display=display or Display(),
        picture_px=SIZE,
        outer_face_px=512,
    )


@dataclass(frozen=True, eq=False)
class Comparison:
    """Linear error per pixel where a comparison is fair, and how much of the picture that is."""

    error: Array
    compared: float

    def assert_close(self, slack: float = 1.0, least_compared: float = 0.4) -> None:
        """Agreement as close as the two ways of sampling allow.

        The room's paint changes by up to about 0.02 a pixel. Half-float images hold 0.0005 of 1.0; a
        picture drawn with four samples a pixel and looked up between pixels differs from one point
        sample only on creases of the paint and where a mipmap step sets in, by a share of one pixel's
        change. A third of a pixel out of place is already too far (a test says so). ``slack`` 3 is for
        the outer image, which is looked up with a filter as wide as a footprint's longer side. A few
        single pixels may be further out: a border just outside the picture smooths into its last row.
        """
        assert self.compared > least_compared, f"only {self.compared:.0%} of the picture could be compared"
        assert self.error.mean() < 0.0015 * slack, f"mean error {self.error.mean():.5f}"
        assert np.percentile(self.error, 99) < 0.012 * slack, (
            f"99 % error {np.percentile(self.error, 99):.4f}"
        )
        far_out = (self.error > 0.05 * slack).mean()
        assert far_out < 0.001, f"{far_out:.2%} of the pixels have a large error"


def near_borders(labels: np.ndarray, reach_px: int = 1) -> np.ndarray:
    """(height, width) bool: a pixel with another label lies within ``reach_px``."""
    changes = np.zeros(labels.shape, dtype=np.uint8)
    across, down = labels[:, 1:] != labels[:, :-1], labels[1:] != labels[:-1]
    changes[:, 1:] |= across
    changes[:, :-1] |= across
    changes[1:] |= down
    changes[:-1] |= down
    return cv2.dilate(changes, np.ones((2 * reach_px - 1,) * 2, np.uint8)).astype(bool)


def images_of(stack: Stack, room: PaintedRoom) -> dict:
    """Every layer's scene image in closed form, at the size the product draws it."""
    return {layer.image: room.image(layer.image, layer.image.drawn_size(SIZE)) for layer in stack}


def expected(
    view: CameraView, stack: Stack, stage: OracleStage, room: PaintedRoom
) -> tuple[Array, np.ndarray]:
    """The oracle's picture and labels."""
    eye = np.asarray(stage.eye_point_m)
    return oracle.composite(
        view, SIZE, stage, stack, images_of(stack, room), lambda directions: room.light_from(eye, directions)
    )


def compare(drawn: Array, picture: Array, labels: np.ndarray, reach_px: int = 2) -> Comparison:
    """Error away from borders between things (both sides smooth those, each in its way) and off the wall."""
    fair = ~near_borders(labels, reach_px) & ((labels > 0) | (labels < oracle.OFF_WALL))
    return Comparison(np.abs(drawn - picture)[fair].max(axis=1), float(fair.mean()))


def check(
    raster: Raster,
    view: CameraView,
    stack: Stack,
    stage: OracleStage,
    room: PaintedRoom,
    least_compared: float = 0.4,
) -> None:
    """Draw one camera picture both ways and compare light, and the share that sees nothing lit."""
    drawn = raster.draw([CameraPicture(view, stack)], linear=True)[0]
    picture, labels = expected(view, stack, stage, room)
    shows_outer = ((labels > 0) & (labels % 1000 == 999)).mean() > 0.005
    reach_px = 3 if view.distortion else 2  # undoing a lens smooths borders by a pixel more
    slack = 3.0 if shows_outer else 1.0
    compare(drawn.pixels, picture, labels, reach_px).assert_close(slack, least_compared)
    assert abs(drawn.off_wall - (labels == oracle.OFF_WALL).mean()) < 0.01
