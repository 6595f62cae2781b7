"""Cameras before LED surfaces for tests of optics, and the sensor-to-canvas mapping of a flat one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from preview.camera.distortion import Distortion
from preview.camera.focus import blur_disc_mm
from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.optics.lattice import Facets, view_crossing
from preview.show.model import Surface
from preview.stage.surface import LedSurface, build_surface

PHOTOSITES = (1920, 1080)
SENSOR_MM = (9.5873, 5.3929)
SITE_MM = (SENSOR_MM[0] / PHOTOSITES[0], SENSOR_MM[1] / PHOTOSITES[1])


def wall(pitch_mm: float = 2.5, joint_deg: float = 0.0, columns: int = 24, rows: int = 12) -> LedSurface:
    """Tiles of 200 pixels a side, middle of the lower edge at the stage's origin, facing -Y."""
    side = 200 * pitch_mm
    return build_surface(
        Surface(
            name="Wall", kind="wall", tile_size_mm=(side, side), pixel_pitch_mm=pitch_mm, columns=columns,
            rows=rows, joint_angle_deg=joint_deg, position_m=(0.0, 0.0, 0.0),
        )
    )  # fmt: skip


def view(
    position_m: tuple[float, float, float],
    target_m: tuple[float, float, float],
    focal_mm: float = 20.0,
    roll_deg: float = 0.0,
    distortion: Distortion | None = None,
    pupil_m: float = 0.0,
    focus_m: float = 5.0,
) -> CameraView:
    """A view with a pinhole distance of its focal length."""
    return CameraView(
        Pose.looking_at(position_m, target_m, roll_deg), SENSOR_MM, focal_mm, pupil_m,
        distortion or Distortion(), focal_mm, focus_m,
    )  # fmt: skip


@dataclass(frozen=True)
class FlatPicture:
    """What a view without distortion shows of a flat wall: a homography, found from the picture's corners."""

    view: CameraView
    surface: LedSurface

    @property
    def canvas_from_sensor(self) -> np.ndarray:
        """(3, 3) from sensor places in photosites to canvas coordinates."""
        width, height = PHOTOSITES
        sensor = np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=float)
        rays, _ = self.view.sightlines(sensor, PHOTOSITES)
        normal, offset = self.surface.planes[0, :3], self.surface.planes[0, 3]
        along = -(self.view.pupil_m @ normal + offset) / (rays @ normal)
        assert (along > 0).all()
        ends = np.column_stack([self.view.pupil_m + rays * along[:, None], np.ones(4)])
        corners = ends @ self.surface.canvas_from_stage[0].T
        rows = []
        for (x, y), (u, v) in zip(sensor / 1000, corners / 1000, strict=True):
            rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        h = np.append(np.linalg.solve(rows, corners.ravel() / 1000), 1.0).reshape(3, 3)
        scale = np.diag([1000, 1000, 1.0])
        return scale @ h @ np.linalg.inv(scale)

    def canvas_at(self, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """As ``preview.optics.synthesis_core.CanvasAt``."""
        h = self.canvas_from_sensor
        below = h[2, 0] * x + h[2, 1] * y + h[2, 2]
        return (
            (h[0, 0] * x + h[0, 1] * y + h[0, 2]) / below,
            (h[1, 0] * x + h[1, 1] * y + h[1, 2]) / below,
        )

    def crossing_at(self, places: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Gradients (4, n) and metres ahead (n,) at (n, 2) sensor places, by the package."""
        tangents = (places - np.divide(PHOTOSITES, 2)) * SITE_MM / self.view.projection_mm
        return view_crossing(
            self.view, Facets.of([self.surface]), np.zeros(len(places), int), tangents, PHOTOSITES
        )

    def blur_mm(self, ahead_m: np.ndarray, f_number: float) -> np.ndarray:
        """Blur discs on the sensor, focus counted from the entrance pupil."""
        return blur_disc_mm(self.view.focal_length_mm, f_number, 1000 * self.view.focus_m, 1000 * ahead_m)
