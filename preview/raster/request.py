"""What the raster is asked to draw: small frozen values that move no pixel.

These know cameras, images and stacks; they know no word of the trade such as return or programme.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from preview.camera.view import CameraView
from preview.conventions import Array


@dataclass(frozen=True)
class SceneImage:
    """The virtual scene drawn from one view, undistorted, with margin on every side.

    Attributes
    ----------
    view : CameraView it is drawn from
    margin : share of the picture added on each side (0.05 = 5 %), rounded up to whole pixels
    """

    view: CameraView
    margin: float = 0.0

    def drawn_size(self, picture_px: tuple[int, int]) -> tuple[int, int]:
        """Width and height drawn so that its pixels coincide with the picture's."""
        width, height = (side + 2 * math.ceil(self.margin * side - 1e-9) for side in picture_px)
        return width, height

    def tangents(self, picture_px: tuple[int, int]) -> tuple[float, float]:
        """Half extents at unit distance, margin included."""
        drawn = self.drawn_size(picture_px)
        tan_x, tan_y = self.view.half_tangents
        return tan_x * drawn[0] / picture_px[0], tan_y * drawn[1] / picture_px[1]

    def uv_from_stage(self, picture_px: tuple[int, int]) -> Array:
        """(4, 4): stage point to (u w, v w, -, w); u right and v down over the drawn image, 0..1."""
        tan_x, tan_y = self.tangents(picture_px)
        uv_from_gl = np.array(
            [
                [0.5 / tan_x, 0, -0.5, 0],
                [0, -0.5 / tan_y, -0.5, 0],
                [0, 0, -1, 0],
                [0, 0, -1, 0],
            ]
        )
        return uv_from_gl @ np.linalg.inv(self.view.stage_from_gl)

    def border_planes(self, picture_px: tuple[int, int]) -> Array:
        """(4, 4): left, right, top, bottom planes (unit normal, offset), positive inside, in metres."""
        tan_x, tan_y = self.tangents(picture_px)
        normals_gl = np.array([[1, 0, -tan_x], [-1, 0, -tan_x], [0, -1, -tan_y], [0, 1, -tan_y]])
        normals_gl /= np.linalg.norm(normals_gl, axis=1, keepdims=True)
        stage_from_gl = self.view.stage_from_gl
        normals = normals_gl @ stage_from_gl[:3, :3].T
        return np.concatenate([normals, -(normals @ stage_from_gl[:3, 3])[:, None]], axis=1)


@dataclass(frozen=True)
class Layer:
    """One scene image projected onto the LED surfaces from the view it was drawn from.

    Attributes
    ----------
    image : the SceneImage shown
    dim : multiplies its light (1.0 = as drawn)
    edge_rgb : linear colour of the line inside its border, or None for no line
    edge_width_m : width of that line measured on the LED surface
    """

    image: SceneImage
    dim: float = 1.0
    edge_rgb: tuple[float, float, float] | None = None
    edge_width_m: float = 0.0


Stack = tuple[Layer, ...]
"""Layers from bottom to top, over the outer image. Empty: the outer image alone."""


Ghosts = tuple[tuple[float, Stack], ...]
"""Stacks that show at other times of the same picture, each with its share of the light."""


class Body(Protocol):
    """Something on the stage that is not part of the set; two that look alike are equal."""

    def __hash__(self) -> int: ...

    def vertices(self) -> np.ndarray:
        """(3 k, 10) float32, corners of triangles: stage position, normal, linear colour and opacity 1."""
        ...


@dataclass(frozen=True)
class CameraPicture:
    """What a view sees when the LED surfaces show ``stack``, and ``ghosts`` for their shares of the time.

    ``bodies`` stand on the stage besides the set. What lies past LED surfaces and set is ``marked`` with
    stripes, or a dark hall. ``defocus`` draws what the view's lens leaves out of focus blurred; an eye
    (focal length 0) sees everything sharp.
    """

    view: CameraView
    stack: Stack
    ghosts: Ghosts = ()
    bodies: tuple[Body, ...] = ()
    marked: bool = True
    defocus: bool = False


@dataclass(frozen=True)
class CanvasPicture:
    """One LED surface unrolled, showing ``stack`` and ``ghosts``. ``surface`` is its place in the list."""

    surface: int
    stack: Stack
    ghosts: Ghosts = ()


@dataclass(frozen=True)
class OuterPicture:
    """The virtual scene all round the eye point, equirectangular, twice as wide as high."""


def stacks_of(request: object) -> tuple[Stack, ...]:
    """Every stack a request shows, its own first; none for a scene image."""
    if isinstance(request, CameraPicture | CanvasPicture):
        return (request.stack, *(stack for _, stack in request.ghosts))
    return ()


def shares_of(request: CameraPicture | CanvasPicture) -> tuple[float, ...]:
    """Share of the light of each of ``stacks_of``; they add up to 1."""
    others = tuple(share for share, _ in request.ghosts)
    return (1.0 - sum(others), *others)


Request = SceneImage | CameraPicture | CanvasPicture | OuterPicture
