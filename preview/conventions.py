"""Axes, units and pixel coordinates. Every module imports these; none retypes them.

Stage
    Right-handed, metres, Z up, floor at Z = 0. A camera at zero pan, tilt and roll looks along
    +Y with +X to its right. Source: SMPTE RIS OSVP OpenTrackIO (protocol 1.0.1), clip documentation.
Angles
    Degrees in files and in every public name (``_deg``). Rotations are intrinsic, about Z, X, Y in
    that order: pan, tilt, roll. +pan turns left, +tilt looks up, +roll leans the top to the right.
Matrices
    4x4 float64, column vectors, named target_from_source: ``clip_from_stage @ stage_from_camera``.
Camera body axes
    X right, Y forward, Z up (the stage's axes carried along). ``GL`` camera axes: X right, Y up,
    -Z forward.
Pictures
    Arrays are (height, width, channels); sizes are (width, height). Pixel coordinates run from the
    left and top *edges*: pixel (column i, row j) has its centre at (i + 0.5, j + 0.5), x right,
    y down. OpenCV puts pixel centres on whole numbers: subtract 0.5 to go there.
Canvas
    One LED surface unrolled: u right, v down, in LED pixels, from its top left corner as seen from
    the front.
Light
    Linear, BT.709 primaries, D65. 1.0 is *stage white*: the luminance the walls are lined up to
    (``stage.white_cd_m2``).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

BODY_FROM_GL: Array = np.array([[1, 0, 0, 0], [0, 0, -1, 0], [0, 1, 0, 0], [0, 0, 0, 1]], dtype=np.float64)
"""GL camera axes (X right, Y up, looks along -Z) to body axes (X right, Y forward, Z up)."""

STAGE_FROM_Y_UP: Array = BODY_FROM_GL.copy()
"""Y-up scene axes (glTF: +Y up, +Z towards the viewer) to stage axes (Z up, +Y away)."""

BT709_LUMINANCE: Array = np.array([0.2126, 0.7152, 0.0722])
"""Relative luminance of linear BT.709 R, G, B. Source: Rec. ITU-R BT.709-6, item 3.2 (derived)."""
