"""The studio floor as a grid of places, and which of them are no places for a camera."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from preview.conventions import Array
from preview.floor.options import FloorOptions
from preview.floor.polygons import Polygons
from preview.floor.result import Bools
from preview.show.model import Point
from preview.stage.surface import LedSurface

MARGIN_M = 1.0
"""Floor round what stands on it that the map takes in."""
MOST_PLACES = 1_000_000


@dataclass(frozen=True, eq=False)
class FloorGrid:
    """Places side by side.

    Attributes
    ----------
    x_m, y_m : (nx,) and (ny,), stage metres, rising: whole multiples of the step
    """

    x_m: Array
    y_m: Array

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return len(self.y_m), len(self.x_m)

    @property
    def places(self) -> tuple[Array, Array]:
        """(ny * nx,) x and y of every place, row by row."""
        x, y = np.meshgrid(self.x_m, self.y_m)
        return x.ravel(), y.ravel()


def floor_grid(
    surfaces: Sequence[LedSurface], standing_m: Sequence[Point], options: FloorOptions
) -> FloorGrid:
    """The floor that LED surfaces and what stands on the studio floor span, MARGIN_M round it; or the area
    asked for.

    Parameters
    ----------
    standing_m : stage points of cameras and of what they look at

    Raises
    ------
    ValueError : the area has more than MOST_PLACES places; says so.
    """
    area = options.area_m
    if area is None:
        points = np.concatenate([*(s.positions[:, :2] for s in surfaces), np.array(standing_m)[:, :2]])
        low, high = points.min(axis=0) - MARGIN_M, points.max(axis=0) + MARGIN_M
        area = (float(low[0]), float(high[0])), (float(low[1]), float(high[1]))
    lines = []
    for low_m, high_m in area:
        first, last = np.ceil(low_m / options.step_m - 1e-9), np.floor(high_m / options.step_m + 1e-9)
        lines.append(np.arange(first, max(last, first) + 1) * options.step_m)
    places = len(lines[0]) * len(lines[1])
    if places > MOST_PLACES:
        raise ValueError(
            f"{places} places of {options.step_m:g} m; ask for a smaller area or a larger step, "
            f"up to {MOST_PLACES}"
        )
    return FloorGrid(*lines)


def behind_walls(polygons: Polygons, position_m: Array) -> Bools:
    """(n,) stage points (n, 3) from which the nearest LED wall shows its back.

    Points above or below all walls are taken at their upper or lower edge.
    """
    walls = polygons.corners_m[polygons.wall]
    behind = np.zeros(len(position_m), dtype=bool)
    if not len(walls):
        return behind
    beside = np.array(position_m, dtype=np.float64)
    beside[:, 2] = np.clip(np.nan_to_num(beside[:, 2]), walls[..., 2].min(), walls[..., 2].max())
    nearest = np.full(len(beside), np.inf)
    for corners, normal in zip(walls, polygons.facets.rows[polygons.wall, 6:], strict=True):
        height = (beside - corners[0]) @ normal
        away = _squares_to(corners, normal, beside, height)
        closer = away < nearest - 1e-12
        nearest = np.where(closer, away, nearest)
        behind = np.where(closer, height < 0.0, behind)
    return behind


def _squares_to(corners: Array, normal: Array, points: Array, height: Array) -> Array:
    """(n,) squared distances of points (n, 3) to a flat convex polygon (e, 3) over whose plane they are so
    high."""
    over = np.ones(len(points), dtype=bool)
    least = np.full(len(points), np.inf)
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        way, offset = end - start, points - start
        length = float(way @ way)
        if length < 1e-18:
            continue
        over &= offset @ np.cross(normal, way) >= 0.0
        share = np.clip(offset @ way / length, 0.0, 1.0)
        left = offset - share[:, None] * way
        least = np.minimum(least, np.einsum("nx,nx->n", left, left))
    return np.where(over, height * height, least)


def on_led_floor(polygons: Polygons, surfaces: Sequence[LedSurface], x_m: Array, y_m: Array) -> Bools:
    """(n,) places straight above a surface of kind floor."""
    found = np.zeros(len(x_m), dtype=bool)
    floors = [place for place, surface in enumerate(surfaces) if surface.kind == "floor"]
    for corners in polygons.corners_m[np.isin(polygons.surface, floors)]:
        start, after = corners[:, :2], np.roll(corners, -1, axis=0)[:, :2]
        way, x, y = after - start, x_m[:, None] - start[:, 0], y_m[:, None] - start[:, 1]
        turn = way[:, 0] * y - way[:, 1] * x
        found |= (turn >= -1e-9).all(axis=1) | (turn <= 1e-9).all(axis=1)
    return found
