"""Stills: one PNG a picture, with its timecode and kind in the name and in the file."""

from __future__ import annotations

import io
import re
from collections.abc import Iterable, Mapping
from pathlib import Path

import numpy as np
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from preview.review.atomic import write_bytes

BYTES_PER_PIXEL = 1.6
"""Size guess for a still of a rendered stage; measured on the demo show (see DEVELOPERS.md)."""


def write_still(path: Path, code: np.ndarray, text: Mapping[str, str]) -> None:
    """One picture as an 8-bit RGB PNG that holds exactly the code values given.

    Parameters
    ----------
    path : the PNG to write; an earlier one stays until the new one is complete
    code : (h, w, 3) uint8, BT.709-coded R'G'B', full range
    text : what the file says about itself, as PNG text chunks (keyword to text)

    Raises
    ------
    OutputError : it cannot be written.
    """
    info = PngInfo()
    for keyword, value in text.items():
        info.add_itxt(keyword, value)
    buffer = io.BytesIO()
    # Level 1: a third the time of the default for a few per cent more bytes (1080p: 0.10 s, not 0.42 s).
    Image.fromarray(code, "RGB").save(buffer, "PNG", pnginfo=info, compress_level=1)
    write_bytes(path, buffer.getvalue())


def still_name(shot_number: int, place: str, timecode: str, kind: str, subject: str = "") -> str:
    """File name of a still; names sort in running order.

    >>> still_name(3, "middle", "10:00:04:12", "return", "CAM2")
    '003-middle_10-00-04-12_return_CAM2.png'
    """
    return f"{shot_number:03d}-{place}_{timecode_in_name(timecode)}_{picture_name(kind, subject)}.png"


def picture_name(kind: str, subject: str) -> str:
    """Kind and subject as part of a file name.

    >>> picture_name("return", "CAM2"), picture_name("programme", "")
    ('return_CAM2', 'programme')
    """
    return f"{kind}_{subject}" if subject else kind


def timecode_in_name(timecode: str) -> str:
    """A timecode without the colons that some file systems refuse."""
    return re.sub("[:;]", "-", timecode)


def names_for_files(subjects: Iterable[str]) -> dict[str, str]:
    """A file-name form for each camera or surface name: no spaces, and no two alike.

    Two names may differ only by case or by a space; on some disks their files would then be one, so
    the later one gets a number.

    >>> names_for_files(["CAM 1", "cam-1", "Floor"])
    {'CAM 1': 'CAM-1', 'cam-1': 'cam-1~2', 'Floor': 'Floor'}
    """
    taken: set[str] = set()
    names: dict[str, str] = {}
    for subject in subjects:
        if subject in names:
            continue
        plain = re.sub(r"[^A-Za-z0-9.-]+", "-", subject)
        name, number = plain, 2
        while name.casefold() in taken:
            name, number = f"{plain}~{number}", number + 1
        taken.add(name.casefold())
        names[subject] = name
    return names
