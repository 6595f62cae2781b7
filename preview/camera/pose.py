"""Where a camera is and where it looks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation

from preview.conventions import Array


@dataclass(frozen=True)
class Pose:
    """Sensor position (stage metres) and pan, tilt, roll (degrees).

    Source: SMPTE RIS OSVP OpenTrackIO, protocol 1.0.1: Z up, intrinsic Z-X-Y, right-handed; the
    origin is the centre of the active sensor.
    """

    position_m: tuple[float, float, float]
    pan_deg: float = 0.0
    tilt_deg: float = 0.0
    roll_deg: float = 0.0

    @property
    def rotation(self) -> Array:
        """(3, 3) stage_from_body: columns are right, forward and up in stage axes.

        >>> Pose((0, 0, 0), pan_deg=30, tilt_deg=20, roll_deg=10).rotation[:, 1].round(6).tolist()
        [-0.469846, 0.813798, 0.34202]
        """
        angles = [self.pan_deg, self.tilt_deg, self.roll_deg]
        return Rotation.from_euler("ZXY", angles, degrees=True).as_matrix()

    @property
    def stage_from_body(self) -> Array:
        """(4, 4) body axes (X right, Y forward, Z up; metres) to stage."""
        matrix = np.eye(4)
        matrix[:3, :3] = self.rotation
        matrix[:3, 3] = self.position_m
        return matrix

    @classmethod
    def looking_at(
        cls,
        position_m: tuple[float, float, float],
        target_m: tuple[float, float, float],
        roll_deg: float = 0.0,
    ) -> Pose:
        """Pose at ``position_m`` whose optical axis passes through ``target_m`` (stage metres).

        Raises
        ------
        ValueError : the target is at the position, so there is no direction.
        """
        right, forward, up = np.subtract(target_m, position_m)
        level = float(np.hypot(right, forward))
        if level == 0.0 and up == 0.0:
            raise ValueError(f"cannot look at {target_m} from the same point")
        x, y, z = (float(value) for value in position_m)
        pan = float(np.degrees(np.arctan2(-right, forward))) if level else 0.0
        return cls((x, y, z), pan, float(np.degrees(np.arctan2(up, level))), roll_deg)
