"""A virtual scene whose picture is known exactly: a box room painted with random colours.

Every inner side of the box is a grid of triangles with a colour at each corner, shaded straight
between them and unlit. So the colour along any direction from any point inside is one interpolation
away, with no texture filter and no light model to agree on, and a renderer that draws it must give
the same number at every pixel centre.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from preview.camera.view import CameraView
from preview.conventions import Array
from preview.raster.request import SceneImage
from preview.stage.mesh import Material, MeshPart, SceneMesh


@dataclass(frozen=True)
class PaintedRoom:
    """Box from ``centre_m - half_m`` to ``centre_m + half_m`` (stage metres), ``cells`` along each side.

    ``most`` is the greatest value of any colour channel.
    """

    centre_m: tuple[float, float, float] = (0.0, 10.0, 2.0)
    half_m: tuple[float, float, float] = (30.0, 34.0, 14.0)
    cells: int = 12
    most: float = 0.9

    def paint(self, points_m: Array) -> Array:
        """(n, 3) colours at grid corners (n, 3): a scrambled function of place, equal on shared corners."""
        keys = np.round((points_m - np.asarray(self.centre_m)) / np.asarray(self.half_m) * self.cells)
        waves = keys @ np.array(
            [[12.9898, 39.3461, 73.1563], [78.2331, 11.1357, 52.2351], [37.7195, 83.155, 9.151]]
        )
        return self.most * (0.02 + 0.98 * np.mod(np.sin(waves) * 43758.5453, 1.0))

    def light_from(self, origin_m: Array, directions: Array) -> Array:
        """(n, 3) linear colours seen from a point inside the room along directions (n, 3)."""
        centre, half = np.asarray(self.centre_m), np.asarray(self.half_m)
        with np.errstate(divide="ignore", invalid="ignore"):
            reach = (centre + np.sign(directions) * half - np.asarray(origin_m)) / directions
        reach = np.where(np.isfinite(reach), reach, np.inf)
        axis = reach.argmin(axis=1)
        rows = np.arange(len(axis))
        points = np.asarray(origin_m) + reach[rows, axis][:, None] * directions
        colors = np.empty((len(points), 3))
        for side in range(3):
            across, up = (other for other in range(3) if other != side)
            here = axis == side
            place = ((points[here] - centre) / half + 1) / 2 * self.cells
            cell = np.clip(np.floor(place), 0, self.cells - 1)
            a, b = (place - cell)[:, [across, up]].T

            def corner(
                step_a: int,
                step_b: int,
                cell: Array = cell,
                across: int = across,
                up: int = up,
                side: int = side,
                here: np.ndarray = here,
            ) -> Array:
                grid = cell.copy()
                grid[:, across] += step_a
                grid[:, up] += step_b
                grid[:, side] = np.where(directions[here][:, side] > 0, self.cells, 0)
                return self.paint(centre + (grid / self.cells * 2 - 1) * half)

            low, high = corner(0, 0), corner(1, 1)
            lower = low + a[:, None] * (corner(1, 0) - low) + b[:, None] * (high - corner(1, 0))
            upper = low + b[:, None] * (corner(0, 1) - low) + a[:, None] * (high - corner(0, 1))
            colors[here] = np.where((a >= b)[:, None], lower, upper)
        return colors

    def picture(self, view: CameraView, size_px: tuple[int, int]) -> Array:
        """(height, width, 3) straight from a camera with nothing between, lens distortion included."""
        width, height = size_px
        x, y = np.meshgrid(np.arange(width) + 0.5, np.arange(height) + 0.5)
        directions, _ = view.sightlines(np.column_stack([x.ravel(), y.ravel()]), size_px)
        return self.light_from(view.pupil_m, directions).reshape(height, width, 3)

    def image(self, image: SceneImage, size_px: tuple[int, int]) -> Array:
        """(height, width, 3) of a scene image: undistorted, with its margin."""
        width, height = size_px
        tan_x, tan_y = np.multiply(image.view.half_tangents, 1 + 2 * image.margin)
        x = ((np.arange(width) + 0.5) / width * 2 - 1) * tan_x
        z = (1 - (np.arange(height) + 0.5) / height * 2) * tan_y
        across, up = np.meshgrid(x, z)
        local = np.column_stack([across.ravel(), np.ones(across.size), up.ravel()])
        directions = local @ image.view.pose.rotation.T
        return self.light_from(image.view.pupil_m, directions).reshape(height, width, 3)

    def mesh(self) -> SceneMesh:
        """The same room as triangles with vertex colours, facing inwards."""
        centre, half, n = np.asarray(self.centre_m), np.asarray(self.half_m), self.cells
        positions: list[Array] = []
        triangles: list[np.ndarray] = []
        a, b = (grid.ravel() for grid in np.meshgrid(np.arange(n), np.arange(n), indexing="ij"))
        for side in range(3):
            across, up = (other for other in range(3) if other != side)
            for level in (0, n):
                for steps in (((0, 0), (1, 0), (1, 1)), ((0, 0), (1, 1), (0, 1))):
                    grid = np.zeros((len(a), 3, 3))
                    grid[..., side] = level
                    for corner, (step_a, step_b) in enumerate(steps):
                        grid[:, corner, across] = a + step_a
                        grid[:, corner, up] = b + step_b
                    points = centre + (grid / n * 2 - 1) * half
                    normal = np.cross(points[0, 1] - points[0, 0], points[0, 2] - points[0, 0])
                    if normal @ (centre - points[0, 0]) < 0:
                        points = points[:, ::-1]
                    first = sum(len(corners) for corners in positions)
                    positions.append(points.reshape(-1, 3))
                    triangles.append(first + np.arange(3 * len(points)).reshape(-1, 3))
        corners = np.concatenate(positions)
        colors = np.column_stack([self.paint(corners), np.ones(len(corners))])
        inward = centre - corners
        part = MeshPart(
            "room",
            corners.astype(np.float32),
            (inward / np.linalg.norm(inward, axis=1, keepdims=True)).astype(np.float32),
            None,
            None,
            colors.astype(np.float32),
            np.concatenate(triangles).astype(np.int32),
            Material(unlit=True),
        )
        return SceneMesh((part,))
