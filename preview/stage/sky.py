"""The sky behind the virtual scene: a gradient, or an equirectangular picture.

``sky_radiance`` is the plain numpy twin of the shader ``sky.glsl`` and says what the sky looks like.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import av
import av.error
import cv2
import numpy as np
import numpy.typing as npt

from preview.colour import hex_to_linear, srgb8_to_linear
from preview.conventions import Array
from preview.errors import AssetError
from preview.show.model import SkySettings
from preview.stage.assetfile import cannot_open, first_line
from preview.stage.image import read_image
from preview.stage.mesh import FloatArray, Sky

GROUND_EDGE = 0.12
"""Sine of the angle under the horizon at which the gradient has become the ground colour."""

MOST_RADIANCE = 6.0e4
"""Brighter picture values are cut here, just under the largest half-precision number (65504)."""

LINEAR_SUFFIXES = (".hdr", ".exr")
CODED_SUFFIXES = (".png", ".jpg", ".jpeg")

_HALF, _SINGLE = np.dtype("<f2"), np.dtype("<f4")
_EXR_LAYOUTS: dict[str, tuple[np.dtype[Any], tuple[int, int, int]]] = {
    "gbrpf32le": (_SINGLE, (2, 0, 1)), "gbrapf32le": (_SINGLE, (2, 0, 1)),
    "gbrpf16le": (_HALF, (2, 0, 1)), "gbrapf16le": (_HALF, (2, 0, 1)),
    "grayf32le": (_SINGLE, (0, 0, 0)), "grayf16le": (_HALF, (0, 0, 0)),
}  # fmt: skip
"""Component type and the planes holding R, G and B, by the decoder's name for the layout."""


def sky_radiance(sky: Sky, directions: npt.ArrayLike) -> Array:
    """Linear radiance of the sky, (n, 3), seen along stage directions.

    Parameters
    ----------
    sky : gradient or picture. The gradient runs from ``horizon`` to ``zenith`` with the square root of
        the sine of the elevation, and below the horizon smoothly to ``ground``.
    directions : (n, 3), of any length but zero, Z up
    """
    way = np.asarray(directions, dtype=np.float64).reshape(-1, 3)
    way = way / np.linalg.norm(way, axis=1, keepdims=True)
    if sky.image is not None:
        return _picture_radiance(sky.image, sky.pan_deg, way)
    up = np.sqrt(np.clip(way[:, 2:], 0.0, 1.0))
    down = np.clip(-way[:, 2:] / GROUND_EDGE, 0.0, 1.0)
    down = down * down * (3 - 2 * down)
    above = (1 - up) * np.array(sky.horizon) + up * np.array(sky.zenith)
    radiance: Array = (1 - down) * above + down * np.array(sky.ground)
    return radiance


def _picture_radiance(image: FloatArray, pan_deg: float, way: Array) -> Array:
    """Bilinear lookup, repeating sideways; pixel centres at half numbers, as everywhere."""
    height, width = image.shape[:2]
    turn = np.degrees(np.arctan2(-way[:, 0], way[:, 1])) - pan_deg
    x = (0.5 - turn / 360.0) * width - 0.5
    y = np.arccos(np.clip(way[:, 2], -1.0, 1.0)) / np.pi * height - 0.5
    left, top = np.floor(x), np.floor(y)
    x_share, y_share = (x - left)[:, None], (y - top)[:, None]
    columns = [(left.astype(np.int64) + step) % width for step in (0, 1)]
    rows = [np.clip(top.astype(np.int64) + step, 0, height - 1) for step in (0, 1)]
    pixels = image.astype(np.float64)
    upper = (1 - x_share) * pixels[rows[0], columns[0]] + x_share * pixels[rows[0], columns[1]]
    lower = (1 - x_share) * pixels[rows[1], columns[0]] + x_share * pixels[rows[1], columns[1]]
    radiance: Array = (1 - y_share) * upper + y_share * lower
    return radiance


def load_sky(settings: SkySettings, root: Path, exposure: float = 1.0) -> Sky:
    """The sky a show file describes.

    Parameters
    ----------
    settings : colours or picture
    root : folder that the picture's name is relative to
    exposure : multiplies the light (1.0 leaves it as it is)

    Raises
    ------
    AssetError : the picture cannot be read, or holds values that are no light.
    """
    gain = settings.level * exposure
    zenith, horizon, ground = (
        _scaled(hex_to_linear(color), gain)
        for color in (settings.zenith_color, settings.horizon_color, settings.ground_color)
    )
    image = None
    if settings.image is not None:
        light = read_radiance(root / settings.image)
        image = np.minimum(light * np.float32(gain), np.float32(MOST_RADIANCE))
    return Sky(zenith, horizon, ground, image, settings.pan_deg, settings.ambient_level)


def read_radiance(path: Path) -> FloatArray:
    """(h, w, 3) float32 linear light of a picture file; negative values become 0.

    PNG and JPEG are decoded from sRGB; HDR and EXR hold linear light already.

    Raises
    ------
    AssetError : no such file, not a picture of these kinds, damaged, or values that are not finite.
    """
    suffix = path.suffix.lower()
    if suffix in CODED_SUFFIXES:
        return srgb8_to_linear(read_image(path)[..., :3])
    if suffix not in LINEAR_SUFFIXES:
        known = ", ".join((*CODED_SUFFIXES, *LINEAR_SUFFIXES))
        found = f"is a {suffix or 'nameless'} file, not one of {known}"
        raise AssetError(path, found, "save it as one of those")
    try:
        with path.open("rb"):
            pass
    except OSError as error:
        raise AssetError(path, cannot_open(error), "check the name and the folder") from error
    light = _read_exr(path) if suffix == ".exr" else _read_hdr(path)
    if not np.all(np.isfinite(light)):
        count = int(np.count_nonzero(~np.isfinite(light).all(axis=2)))
        found = f"has {count} pixels that are not finite numbers"
        raise AssetError(path, found, "repair them and save it again")
    return np.maximum(light, np.float32(0))


def _read_hdr(path: Path) -> FloatArray:
    try:
        light = cv2.imread(str(path), cv2.IMREAD_UNCHANGED)
    except cv2.error as error:
        raise AssetError(path, f"is damaged ({first_line(error)})", "save it again") from error
    if light is None or light.dtype != np.float32 or light.ndim != 3:
        raise AssetError(path, "is not a Radiance HDR picture", "save it again as .hdr")
    return np.ascontiguousarray(light[..., 2::-1], dtype=np.float32)


def _read_exr(path: Path) -> FloatArray:
    """OpenCV comes without OpenEXR in recent builds; PyAV reads EXR and is here for clips anyway.

    Planes are taken as they are: PyAV's own conversion cuts half-precision values at 1.
    """
    try:
        with av.open(str(path)) as container:
            frame = next(container.decode(video=0))
    except (av.error.FFmpegError, StopIteration, IndexError, ValueError) as error:
        found = f"cannot be read as EXR ({first_line(error)})"
        raise AssetError(path, found, "save it again, uncompressed") from error
    layout = _EXR_LAYOUTS.get(frame.format.name)
    if layout is None:
        raise AssetError(path, "has no R, G, B or grey channels", "save it again with R, G and B")
    dtype, order = layout
    planes = []
    for number in order:
        plane = frame.planes[number]
        row = plane.line_size // dtype.itemsize
        planes.append(
            np.frombuffer(bytes(plane), dtype=dtype).reshape(-1, row)[: frame.height, : frame.width]
        )
    return np.stack(planes, axis=-1).astype(np.float32)


def _scaled(color: tuple[float, float, float], gain: float) -> tuple[float, float, float]:
    return color[0] * gain, color[1] * gain, color[2] * gain
