"""Placing things on the stage: matrices from a file's axes and units, and the common turns.

A file's own axes are first brought to stage axes (Z up, +Y away from the cameras), then scaled,
turned about Z and moved. With pan 0 a Y-up file keeps +X to the right and its -Z (into the screen)
becomes +Y; a Z-up file keeps its axes.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from scipy.spatial.transform import Rotation

from preview.conventions import STAGE_FROM_Y_UP, Array

METRES_PER_UNIT: dict[str, float] = {"m": 1.0, "cm": 0.01, "mm": 0.001, "in": 0.0254, "ft": 0.3048}
"""Metres in one unit. Source: international yard and pound agreement of 1959 (inch 25.4 mm, exact)."""

_Y_UP_SUFFIXES = (".gltf", ".glb")


def default_up(path: str) -> Literal["y", "z"]:
    """Up axis of a mesh file whose table does not say: y for glTF, z for every other format.

    Source: glTF 2.0, 3.4 "Coordinate System and Units" (+Y up); OBJ, PLY and STL define none.
    """
    return "y" if path.lower().endswith(_Y_UP_SUFFIXES) else "z"


def placement_matrix(
    position_m: tuple[float, float, float] = (0.0, 0.0, 0.0),
    pan_deg: float = 0.0,
    scale: float = 1.0,
    units: str = "m",
    up: Literal["y", "z"] = "z",
) -> Array:
    """(4, 4) stage_from_file: a file's coordinates (its own units and axes) to stage metres.

    Parameters
    ----------
    position_m : where the file's origin comes to stand
    pan_deg : turn about stage Z, positive to the left (anticlockwise seen from above)
    scale : multiplies the size, after the units
    units : length unit of the file, a key of ``METRES_PER_UNIT``
    up : up axis of the file

    Raises
    ------
    ValueError : unknown unit or up axis.

    >>> placement_matrix((1, 2, 0), up="y") @ [0, 0, -1, 1]
    array([1., 3., 0., 1.])
    """
    if units not in METRES_PER_UNIT:
        raise ValueError(f"unit {units!r} is not one of {', '.join(METRES_PER_UNIT)}")
    if up not in ("y", "z"):
        raise ValueError(f"up axis {up!r} is neither y nor z")
    axes = STAGE_FROM_Y_UP if up == "y" else np.eye(4)
    shrink = METRES_PER_UNIT[units] * scale
    matrix = np.eye(4)
    matrix[:3, :3] = turn_about_z(pan_deg) @ axes[:3, :3] * shrink
    matrix[:3, 3] = position_m
    return matrix


def turn_about_z(angle_deg: float) -> Array:
    """(3, 3) turn about stage Z, positive anticlockwise seen from above."""
    return Rotation.from_euler("Z", angle_deg, degrees=True).as_matrix()


def turn_about_x(angle_deg: float) -> Array:
    """(3, 3) turn about stage X, positive taking +Y towards +Z."""
    return Rotation.from_euler("X", angle_deg, degrees=True).as_matrix()
