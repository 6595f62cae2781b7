"""Text on picture sheets: one font, measured, never drawn past its room."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

Color = tuple[int, int, int]

PAPER: Color = (24, 26, 29)
BAND: Color = (38, 41, 46)
INK: Color = (240, 241, 243)
QUIET: Color = (176, 181, 188)
"""Near neutral, so that a sheet does not colour the eye's judgement of the pictures on it."""


@lru_cache(maxsize=32)
def font(size_px: int, bold: bool = False) -> ImageFont.FreeTypeFont:
    """The sheet's font at a size; the one that the plots use, with letters for most languages."""
    import matplotlib

    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    return ImageFont.truetype(str(Path(matplotlib.get_data_path()) / "fonts" / "ttf" / name), size_px)


def fitted(text: str, room_px: float, size_px: int, bold: bool = False) -> str:
    """``text``, with its end cut off and marked where it is wider than ``room_px``."""
    face = font(size_px, bold)
    if face.getlength(text) <= room_px:
        return text
    while text and face.getlength(text + "…") > room_px:
        text = text[:-1]
    return text.rstrip() + "…"


def wrapped(text: str, room_px: float, size_px: int, bold: bool = False) -> list[str]:
    """Text in lines no wider than ``room_px``; a single word that is wider is cut off and marked.

    >>> wrapped("one two three", 1e6, 19)
    ['one two three']
    """
    face, lines = font(size_px, bold), [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if face.getlength(longer) <= room_px:
            lines[-1] = longer
        elif lines[-1]:
            lines.append(fitted(word, room_px, size_px, bold))
        else:
            lines[-1] = fitted(word, room_px, size_px, bold)
    return lines


def write(
    sheet: Image.Image,
    text: str,
    at: tuple[float, float],
    size_px: int,
    *,
    room_px: float,
    bold: bool = False,
    color: Color = INK,
    anchor: str = "ls",
) -> float:
    """Write one line; returns its width in pixels.

    Parameters
    ----------
    at : where its anchor goes, from the sheet's left and top edges
    room_px : most it may take; a longer line is cut off and marked
    anchor : as in Pillow: l, m or r across, then s for the base line, m for the middle
    """
    text = fitted(text, room_px, size_px, bold)
    face = font(size_px, bold)
    ImageDraw.Draw(sheet).text(at, text, font=face, fill=color, anchor=anchor)
    return face.getlength(text)
