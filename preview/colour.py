"""Transfer functions: coded picture values (0..1) to linear light and back.

All are applied per channel, keep their input's shape, and answer float32 for float32 input and
float64 otherwise. Values below 0 follow the straight part, values above 1 the curve, so that a
round trip returns what went in. Whole numbers are refused: 8-bit pictures go through
``srgb8_to_linear``, where 255 means 1.0.

Sources: IEC 61966-2-1:1999 + A1:2003 (sRGB); Recommendation ITU-R BT.709-6 (06/2015), item 1.2.
"""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import numpy.typing as npt

SRGB_SLOPE = 12.92
SRGB_OFFSET = 0.055
SRGB_EXPONENT = 2.4
SRGB_KNEE_CODED = 0.04045
SRGB_KNEE_LINEAR = 0.0031308
"""IEC 61966-2-1:1999, 5.2: the straight part below the knee, the power above it."""

BT709_SLOPE = 4.5
BT709_SCALE = 1.099
BT709_OFFSET = 0.099
BT709_EXPONENT = 0.45
BT709_KNEE_LINEAR = 0.018
"""ITU-R BT.709-6, item 1.2: V = 1.099 L^0.45 - 0.099 for 1 >= L >= 0.018, V = 4.500 L below."""

BT709_KNEE_CODED = BT709_SCALE * BT709_KNEE_LINEAR**BT709_EXPONENT - BT709_OFFSET
"""Coded value at the knee, 0.08125. The straight part ends a little lower (0.081): the standard's
rounded numbers leave a step of 0.00025, a quarter of one 10-bit level."""

FloatAny = npt.NDArray[np.floating[Any]]


def _as_float(values: npt.ArrayLike) -> FloatAny:
    array = np.asarray(values)
    if array.dtype.kind in "iub" and array.ndim:
        raise TypeError(f"coded and linear values are fractions of 1, not whole numbers ({array.dtype})")
    if array.dtype != np.float32:
        array = array.astype(np.float64, copy=False)
    return array


def srgb_to_linear(coded: npt.ArrayLike) -> FloatAny:
    """Linear light of sRGB-coded values.

    Raises
    ------
    TypeError : ``coded`` holds whole numbers.

    Source: IEC 61966-2-1:1999, 5.2.

    >>> round(float(srgb_to_linear(0.5)), 6)
    0.214041
    """
    values = _as_float(coded)
    curve = ((np.maximum(values, SRGB_KNEE_CODED) + SRGB_OFFSET) / (1 + SRGB_OFFSET)) ** SRGB_EXPONENT
    return np.where(values <= SRGB_KNEE_CODED, values / SRGB_SLOPE, curve).astype(values.dtype, copy=False)


def linear_to_srgb(linear: npt.ArrayLike) -> FloatAny:
    """sRGB-coded values of linear light; the inverse of ``srgb_to_linear``.

    Raises
    ------
    TypeError : ``linear`` holds whole numbers.

    Source: IEC 61966-2-1:1999, 5.3.

    >>> round(float(linear_to_srgb(0.18)), 6)
    0.461356
    """
    values = _as_float(linear)
    curve = (1 + SRGB_OFFSET) * np.maximum(values, SRGB_KNEE_LINEAR) ** (1 / SRGB_EXPONENT) - SRGB_OFFSET
    return np.where(values <= SRGB_KNEE_LINEAR, values * SRGB_SLOPE, curve).astype(values.dtype, copy=False)


def bt709_oetf(linear: npt.ArrayLike) -> FloatAny:
    """BT.709-coded values (camera signal, E') of linear light.

    Raises
    ------
    TypeError : ``linear`` holds whole numbers.

    Source: ITU-R BT.709-6, item 1.2.

    >>> round(float(bt709_oetf(0.18)), 6)
    0.409008
    """
    values = _as_float(linear)
    curve = BT709_SCALE * np.maximum(values, BT709_KNEE_LINEAR) ** BT709_EXPONENT - BT709_OFFSET
    straight = values * BT709_SLOPE
    return np.where(values < BT709_KNEE_LINEAR, straight, curve).astype(values.dtype, copy=False)


def bt709_oetf_inverse(coded: npt.ArrayLike) -> FloatAny:
    """Linear light of BT.709-coded values; the inverse of ``bt709_oetf``.

    No light is coded inside the step at the knee (0.081 to 0.08125); coded values there give the
    knee's own light, so that more signal never means less light.

    Raises
    ------
    TypeError : ``coded`` holds whole numbers.

    Source: ITU-R BT.709-6, item 1.2, solved for L.

    >>> round(float(bt709_oetf_inverse(0.409008)), 6)
    0.18
    """
    values = _as_float(coded)
    base = (np.maximum(values, BT709_KNEE_CODED) + BT709_OFFSET) / BT709_SCALE
    straight = np.minimum(values / BT709_SLOPE, BT709_KNEE_LINEAR)
    curve = base ** (1 / BT709_EXPONENT)
    return np.where(values < BT709_KNEE_CODED, straight, curve).astype(values.dtype, copy=False)


_SRGB8_LINEAR = srgb_to_linear(np.arange(256) / 255.0).astype(np.float32)


def srgb8_to_linear(picture: npt.NDArray[np.uint8]) -> npt.NDArray[np.float32]:
    """Linear light of an 8-bit sRGB-coded picture of any shape; 255 is 1.0.

    Raises
    ------
    TypeError : ``picture`` is not uint8.
    """
    if picture.dtype != np.uint8:
        raise TypeError(f"an 8-bit picture is expected (uint8), not {picture.dtype}")
    linear: npt.NDArray[np.float32] = _SRGB8_LINEAR[picture]
    return linear


def hex_to_linear(color: str) -> tuple[float, float, float]:
    """Linear R, G, B of an sRGB colour written ``#rrggbb``.

    Raises
    ------
    ValueError : ``color`` is not six hexadecimal digits after ``#``.

    >>> [round(value, 4) for value in hex_to_linear("#ff8000")]
    [1.0, 0.2159, 0.0]
    """
    if not re.fullmatch(r"#[0-9a-fA-F]{6}", color):
        raise ValueError(f"colour {color!r} is not written #rrggbb, for example #cfe0ee")
    coded = np.array([int(color[start : start + 2], 16) for start in (1, 3, 5)]) / 255.0
    red, green, blue = (float(value) for value in srgb_to_linear(coded))
    return red, green, blue
