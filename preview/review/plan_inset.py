"""A studio from above as a small dark picture that is drawn again every frame.

The same plan as ``preview.review.plan`` draws on sheets, in pixels: walls, floors, set and people are drawn
once, cameras with their wedges over them in about a millisecond.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import cos, radians, sin

import cv2
import numpy as np
import numpy.typing as npt

from preview.conventions import Array
from preview.review.lettering import INK, QUIET, Color
from preview.review.plan import PlanCamera, StudioPlan, Tally
from preview.review.plate import Pixels, plate, put

GROUND: Color = (15, 17, 20)
FLOOR: Color = (34, 44, 52)
SET: Color = (104, 92, 68)
WALL: Color = (110, 178, 224)
PERSON: Color = (222, 208, 182)
PART_COLORS: dict[str, Color] = {
    "stand": (58, 63, 70), "operator": (88, 94, 102), "arm": (132, 139, 148), "camera": (214, 218, 224),
}  # fmt: skip
FILLED: dict[Tally, float] = {"on air": 0.38, "next": 0.16, "off": 0.0}
"""How much a wedge covers what lies under it; one that is off has its edges alone."""

_SHIFT = 4
"""Binary places of a pixel that lines are drawn to."""


@dataclass(frozen=True)
class InsetScale:
    """Where stage metres come to lie in a picture: both axes alike, +Y up.

    Attributes
    ----------
    size_px : width and height of the picture
    left_m, top_m : stage X and Y of its upper left corner
    px_per_m : pixels to the metre
    """

    size_px: tuple[int, int]
    left_m: float
    top_m: float
    px_per_m: float

    @classmethod
    def fitting(cls, bounds_m: tuple[float, float, float, float], size_px: tuple[int, int]) -> InsetScale:
        """All of (left, right, bottom, top) at the top of a picture, in the middle, as large as it goes."""
        left, right, bottom, top = bounds_m
        scale = min(size_px[0] / (right - left), size_px[1] / (top - bottom))
        return cls(size_px, (left + right) / 2 - size_px[0] / 2 / scale, top, scale)

    def pixels(self, points_m: Array) -> Array:
        """(..., 2) pixel coordinates of stage points (..., 2)."""
        points = np.asarray(points_m, dtype=np.float64)
        return (points - (self.left_m, self.top_m)) * (self.px_per_m, -self.px_per_m)


def ground_picture(plan: StudioPlan, scale: InsetScale, text_px: int) -> Pixels:
    """What stands still: LED floors, set, walls with their lit side, people; and a ruler's two metres.

    Returns
    -------
    (h, w, 3) uint8
    """
    wide, high = scale.size_px
    picture = np.full((high, wide, 3), GROUND, dtype=np.uint8)
    for area in plan.floors:
        for outline in area.outlines:
            _fill(picture, scale.pixels(outline), FLOOR)
            _line(picture, scale.pixels(outline), WALL, 1, closed=True)
    for piece in plan.pieces:
        for outline in piece.outlines:
            _fill(picture, scale.pixels(outline), SET)
    thick = max(2, round(text_px / 7))
    for wall in plan.walls:
        _lines(picture, scale.pixels(wall.lines), WALL, thick)
    for person in plan.people:
        _person(picture, scale, person.at_m, person.facing_deg)
    _ruler(picture, scale, text_px)
    return picture


def draw_cameras(
    picture: Pixels,
    cameras: Sequence[PlanCamera],
    scale: InsetScale,
    colors: Mapping[Tally, Color],
    text_px: int,
) -> None:
    """Cameras over the ground: wedges, stands, arms, operators, and each one's number in a disc.

    Who is on air lies on top, in a filled wedge; who is off has a wedge of thin lines.
    """
    order: dict[Tally, int] = {"off": 0, "next": 1, "on air": 2}
    ranked = sorted(cameras, key=lambda camera: order[camera.tally])
    for camera in ranked:
        if len(camera.wedge):
            _wedge(picture, scale.pixels(camera.wedge), colors[camera.tally], FILLED[camera.tally], text_px)
        if len(camera.on_wall):
            width = max(2, text_px // 5) + order[camera.tally]
            _lines(picture, scale.pixels(camera.on_wall), colors[camera.tally], width)
    kinds = list(PART_COLORS)
    for camera in ranked:
        for kind, outline in sorted(camera.parts, key=lambda part: kinds.index(part[0])):
            _fill(picture, scale.pixels(outline), PART_COLORS[kind])
    for camera in ranked:
        _number(picture, camera, scale, colors[camera.tally], text_px)


def _wedge(picture: Pixels, outline: Array, color: Color, share: float, text_px: int) -> None:
    if share:
        low = np.maximum(np.floor(outline.min(axis=0)).astype(int) - 1, 0)
        high = np.ceil(outline.max(axis=0)).astype(int) + 2
        part = picture[low[1] : max(high[1], 0), low[0] : max(high[0], 0)]
        if part.size:
            over = part.copy()
            _fill(over, outline - low, color)
            cv2.addWeighted(over, share, part, 1.0 - share, 0.0, dst=part)
    sides = np.array([outline[1], outline[0], outline[-1]])
    _line(picture, sides, color, max(1, round(text_px / 10)) if share else 1)


def _number(picture: Pixels, camera: PlanCamera, scale: InsetScale, color: Color, text_px: int) -> None:
    """The number behind the camera, in a disc: filled on air, a ring otherwise."""
    turn = radians(camera.pan_deg)
    behind = np.array([sin(turn), cos(turn)])  # in pixels, Y down
    radius = round(text_px * 0.78)
    middle = scale.pixels(np.array([camera.at_m]))[0] + 0.3 * radius * behind
    wide, high = scale.size_px
    x = int(min(max(middle[0], radius + 1), wide - radius - 2))
    y = int(min(max(middle[1], radius + 1), high - radius - 2))
    filled = camera.tally == "on air"
    ground = color if filled else GROUND
    cv2.circle(picture, (x, y), radius, ground, -1, cv2.LINE_AA)
    cv2.circle(picture, (x, y), radius, INK if filled else color, 2, cv2.LINE_AA)
    words = plate(str(camera.number), round(text_px * 0.95), INK, ground, True)
    inset = (words.shape[0] - round(text_px * 0.74)) // 2
    words = words[inset : words.shape[0] - inset]
    put(picture, words, x - words.shape[1] // 2, y - words.shape[0] // 2)


def _person(picture: Pixels, scale: InsetScale, at_m: tuple[float, float], facing_deg: float) -> None:
    """Shoulders and a nose: which way somebody faces."""
    turn = radians(facing_deg)
    across, ahead = np.array([cos(turn), sin(turn)]), np.array([-sin(turn), cos(turn)])
    angle = np.linspace(0.0, 2 * np.pi, 25)
    body = np.asarray(at_m) + 0.26 * np.cos(angle)[:, None] * across + 0.15 * np.sin(angle)[:, None] * ahead
    nose = np.asarray(at_m) + np.array([0.10 * across, 0.38 * ahead, -0.10 * across])
    _fill(picture, scale.pixels(nose), PERSON)
    _fill(picture, scale.pixels(body), PERSON)


def _ruler(picture: Pixels, scale: InsetScale, text_px: int) -> None:
    long, pad = round(2 * scale.px_per_m), text_px // 2
    y = picture.shape[0] - pad
    _line(picture, np.array([[pad, y], [pad + long, y]], dtype=np.float64), QUIET, 2)
    for x in (pad, pad + long):
        _line(picture, np.array([[x, y - 5], [x, y]], dtype=np.float64), QUIET, 2)
    words = plate("2 m", text_px, QUIET, GROUND)
    put(picture, words, pad + long + pad, y - round(words.shape[0] * 0.75))


def _lines(picture: Pixels, lines: Array, color: Color, width: int) -> None:
    """Lines (k, 2, 2) of their own."""
    paths = list(np.asarray(np.round(lines * (1 << _SHIFT)), dtype=np.int32))
    cv2.polylines(picture, paths, False, color, width, cv2.LINE_AA, _SHIFT)


def _fixed(points: Array) -> npt.NDArray[np.int32]:
    return np.asarray(np.round(points * (1 << _SHIFT)), dtype=np.int32).reshape(-1, 1, 2)


def _fill(picture: Pixels, points: Array, color: Color) -> None:
    cv2.fillPoly(picture, [_fixed(points)], color, cv2.LINE_AA, _SHIFT)


def _line(picture: Pixels, points: Array, color: Color, width: int, closed: bool = False) -> None:
    cv2.polylines(picture, [_fixed(points)], closed, color, width, cv2.LINE_AA, _SHIFT)
