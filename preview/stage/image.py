"""Still pictures from files or embedded bytes, as 8-bit RGBA, row 0 at the top."""

from __future__ import annotations

import io
import warnings
from pathlib import Path

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageOps, UnidentifiedImageError

from preview.errors import AssetError
from preview.stage.assetfile import cannot_open, first_line

MOST_PIXELS = 16384 * 16384
"""Larger pictures are refused: 1 GiB as RGBA, past what graphics drivers take as one texture."""


def read_image(path: Path, upright: bool = True) -> npt.NDArray[np.uint8]:
    """(h, w, 4) uint8 picture of a file; see ``decode_image``.

    Raises
    ------
    AssetError : no such file, or not a readable picture.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        raise AssetError(path, cannot_open(error), "check the name and the folder") from error
    return decode_image(data, path, upright)


def decode_image(data: bytes, path: str | Path, upright: bool = True) -> npt.NDArray[np.uint8]:
    """(h, w, 4) uint8 picture of an encoded file's bytes (PNG, JPEG, WebP and what Pillow reads).

    Parameters
    ----------
    data : the encoded bytes
    path : named in the error
    upright : turn the picture as its Exif orientation says (photographs; not glTF textures)

    Sixteen-bit grey is scaled to 8 bit, not cut off. Colour profiles are not applied: values count as
    sRGB-coded, as glTF 2.0 (3.8.2, "Images") demands for its textures.

    Raises
    ------
    AssetError : not a readable picture, or larger than ``MOST_PIXELS``.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(data)) as opened:
                width, height = opened.size
                if width * height > MOST_PIXELS:
                    fix = "make it 16384 x 16384 or smaller"
                    raise AssetError(path, f"is {width} x {height} pixels", fix)
                opened.load()
                picture = ImageOps.exif_transpose(opened) if upright else opened
                if picture.mode.startswith("I;16"):
                    grey = np.asarray(picture).astype(np.uint32)
                    scaled = ((grey * 255 + 32767) // 65535).astype(np.uint8)
                    picture = Image.fromarray(scaled)
                return np.array(picture.convert("RGBA"), dtype=np.uint8)
    except UnidentifiedImageError as error:
        raise AssetError(path, "is not a picture this program can read", "save it as PNG or JPEG") from error
    except (OSError, SyntaxError, ValueError, EOFError, Image.DecompressionBombError) as error:
        raise AssetError(path, f"is damaged ({first_line(error)})", "save it again as PNG or JPEG") from error
