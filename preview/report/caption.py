"""Words on the report's pages: grades as shape, word and colour at once, and sentences in lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PIL import Image, ImageDraw

from preview.checks.result import Grade
from preview.review.film_strip import MARK_COLOR
from preview.review.lettering import BAND, INK, PAPER, QUIET, Color, wrapped, write

GRADE_COLOR: dict[Grade, Color] = {
    "fault": MARK_COLOR["wrong"],
    "compromise": MARK_COLOR["mix"],
    "fine": MARK_COLOR["own"],
}
"""The film strips' colours, apart for every kind of colour vision."""
GRADE_WORD: dict[Grade, str] = {"fault": "FAULT", "compromise": "COMPROMISE", "fine": "FINE"}
GRADE_MEANS: dict[Grade, str] = {
    "fault": "would be seen and can be put right",
    "compromise": "is seen, and this set-up cannot avoid it",
    "fine": "looked at and right",
}

_PAD, _HEAD, _TEXT, _SMALL = 22, 24, 19, 15
_LINE, _HEAD_HEIGHT, _SMALL_LINE = 26, 50, 21


@dataclass(frozen=True)
class Caption:
    """What is said below an outlined still.

    Attributes
    ----------
    grade, check : how bad, and which check says so
    timecode : of the picture
    place : camera, shot and stretch, one line
    sentence, remedy : the finding's; "" for no remedy
    foot : small print
    """

    grade: Grade
    check: str
    timecode: str
    place: str
    sentence: str
    remedy: str
    foot: str


def draw_grade(sheet: Image.Image, grade: Grade, at: tuple[float, float], size: float) -> None:
    """A grade's shape, its left at ``at`` and its middle at that height: crossed square, half disc, ring."""
    pen, color, (x, y) = ImageDraw.Draw(sheet), GRADE_COLOR[grade], at
    box = (x, y - size / 2, x + size, y + size / 2)
    if grade == "fine":
        pen.ellipse(box, outline=color, width=3)
    elif grade == "compromise":
        pen.ellipse(box, outline=color, width=2)
        pen.chord(box, 90, 270, fill=color)
    else:
        pen.rectangle(box, fill=color)
        inset = size / 4
        left, top, right, bottom = box[0] + inset, box[1] + inset, box[2] - inset, box[3] - inset
        pen.line((left, top, right, bottom), fill=PAPER, width=3)
        pen.line((left, bottom, right, top), fill=PAPER, width=3)


def caption_height(caption: Caption, width_px: int) -> int:
    """Height of the band that ``draw_caption`` fills."""
    lines = len(_lines(caption.sentence, width_px)) + len(_lines(_remedy(caption), width_px, bold=True))
    small = len(wrapped(caption.foot, width_px - 2 * _PAD, _SMALL))
    return _HEAD_HEIGHT + 42 + _LINE * lines + (10 if caption.remedy else 0) + 12 + _SMALL_LINE * small


def draw_caption(sheet: Image.Image, caption: Caption, top: int) -> None:
    """The caption across a sheet from ``top`` on."""
    width = sheet.width
    ImageDraw.Draw(sheet).rectangle((0, top, width, top + _HEAD_HEIGHT), fill=BAND)
    base = top + 34
    draw_grade(sheet, caption.grade, (_PAD, top + 25), 24)
    x = _PAD + 36.0
    color = GRADE_COLOR[caption.grade]
    x += write(sheet, GRADE_WORD[caption.grade], (x, base), _HEAD, room_px=220, bold=True, color=color) + 16
    told = write(sheet, caption.timecode, (width - _PAD, base), _HEAD, room_px=220, bold=True, anchor="rs")
    write(sheet, caption.check, (x, base), _HEAD, room_px=width - _PAD - told - 16 - x)
    room = width - 2 * _PAD
    y = top + _HEAD_HEIGHT + 28.0
    write(sheet, caption.place, (_PAD, y), _TEXT, room_px=room, color=QUIET)
    y += 4
    y = _paragraph(sheet, _lines(caption.sentence, width), y, INK, bold=False)
    if caption.remedy:
        y = _paragraph(sheet, _lines(_remedy(caption), width, bold=True), y + 10, INK, bold=True)
    for line, words in enumerate(wrapped(caption.foot, room, _SMALL), start=1):
        write(sheet, words, (_PAD, y + 8 + _SMALL_LINE * line), _SMALL, room_px=room, color=QUIET)


def _paragraph(sheet: Image.Image, lines: Sequence[str], y: float, color: Color, bold: bool) -> float:
    for words in lines:
        y += _LINE
        write(sheet, words, (_PAD, y), _TEXT, room_px=sheet.width - 2 * _PAD, bold=bold, color=color)
    return y


def _lines(text: str, width_px: int, bold: bool = False) -> list[str]:
    return wrapped(text, width_px - 2 * _PAD, _TEXT, bold) if text else []


def _remedy(caption: Caption) -> str:
    return f"Remedy: {caption.remedy}" if caption.remedy else ""
