"""Sharpness of a thin lens: depth of field, and how large a disc a point out of focus becomes.

All distances are millimetres in front of the lens (its entrance pupil), along the optical axis. A zoom lens
is no thin lens: its formulas hold for distances much longer than the lens is.

Sources: encyclopaedic articles "Circle of confusion", "Hyperfocal distance" and "Depth of field" (their exact
thin-lens forms).
"""

from __future__ import annotations

from math import inf

import numpy as np
import numpy.typing as npt

from preview.conventions import Array


def blur_disc_mm(
    focal_length_mm: float, f_number: float, focus_mm: float, distance_mm: npt.ArrayLike
) -> Array:
    """Diameter, on the sensor, of the disc that a point becomes.

    Parameters
    ----------
    focus_mm : distance in focus
    distance_mm : distances of the points, any shape, above 0

    Raises
    ------
    ValueError : the f-number is not positive, or focus is not beyond the focal length.

    Source: c = |S2 - S1| / S2 * f^2 / (N (S1 - f)), encyclopaedic article "Circle of confusion".

    >>> round(float(blur_disc_mm(50, 2.8, 3000, 6000)), 6)
    0.151332
    """
    _checked(focal_length_mm, f_number)
    if not focus_mm > focal_length_mm:
        raise ValueError(
            f"focus at {focus_mm} mm is not beyond the focal length of {focal_length_mm} mm; focus farther"
        )
    distance = np.asarray(distance_mm, dtype=np.float64)
    off = np.abs(distance - focus_mm) / distance
    return np.asarray(off * (focal_length_mm**2 / (f_number * (focus_mm - focal_length_mm))))


def hyperfocal_mm(focal_length_mm: float, f_number: float, blur_mm: float) -> float:
    """Nearest focus with which points at infinity are blurred over ``blur_mm`` at most.

    Raises
    ------
    ValueError : a value is not positive.

    Source: H = f^2 / (N c) + f, encyclopaedic article "Hyperfocal distance".

    >>> round(hyperfocal_mm(50, 8, 0.03))
    10467
    """
    _checked(focal_length_mm, f_number)
    if not blur_mm > 0:
        raise ValueError(f"a blur of {blur_mm} mm; write one above 0")
    return focal_length_mm**2 / (f_number * blur_mm) + focal_length_mm


def depth_of_field_mm(
    focal_length_mm: float, f_number: float, focus_mm: float, blur_mm: float
) -> tuple[float, float]:
    """Nearest and farthest distance that is blurred over ``blur_mm`` at most; the farthest may be inf.

    Raises
    ------
    ValueError : as ``hyperfocal_mm``, or focus is not beyond the focal length.

    Source: s (H - f) / (H + s - 2 f) and s (H - f) / (H - s), encyclopaedic article "Depth of field".
    """
    hyperfocal = hyperfocal_mm(focal_length_mm, f_number, blur_mm)
    if not focus_mm > focal_length_mm:
        raise ValueError(
            f"focus at {focus_mm} mm is not beyond the focal length of {focal_length_mm} mm; focus farther"
        )
    reach = focus_mm * (hyperfocal - focal_length_mm)
    near = reach / (hyperfocal + focus_mm - 2 * focal_length_mm)
    return near, reach / (hyperfocal - focus_mm) if focus_mm < hyperfocal else inf


def _checked(focal_length_mm: float, f_number: float) -> None:
    for name, value in (("focal length", focal_length_mm), ("f-number", f_number)):
        if not value > 0:
            raise ValueError(f"{name} {value} is not positive; write one above 0")
