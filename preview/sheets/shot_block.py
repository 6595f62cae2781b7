"""One shot's block on a sheet: number, timecode, tally, pictures, what to set, and room to write."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from preview.sheets.findings import SheetWarning
from preview.sheets.lettering import MM_PER_PT, fitted, width_mm, wrapped
from preview.sheets.paper import PALE, QUIET, Item, Paper
from preview.sheets.values import SheetShot
from preview.sheets.words import after_words, before_words, come_on_air, length, move_words, rows

MARGIN = 11.0
"""Left and right of everything, mm; printers leave about 5 unprinted."""
_TITLE, _STRIP, _ROW, _GAP = 19.0, 15.5, 5.6, 3.0
_PICTURE, _LONE_PICTURE, _PICTURE_HIGH, _CAPTION = 60.0, 70.0, 42.0, 5.0
_LABEL, _VALUE, _NARROW_VALUE, _LONE_VALUE, _LEAST_NOTES = 17.0, 40.0, 33.0, 46.0, 30.0
_LINES_A_PIECE = 12
PLACES = {
    "held": "held",
    "move starts": "MOVE STARTS",
    "comes on air": "ON AIR FROM",
    "goes off air": "ON AIR UNTIL",
    "move ends": "MOVE ENDS",
    "middle": "halfway",
}


def line_height(size_pt: float) -> float:
    """Distance of base lines, mm."""
    return 1.32 * size_pt * MM_PER_PT


def lines_item(
    lines: Sequence[str],
    size_pt: float,
    head: str = "",
    indent: float = 0.0,
    head_pt: float = 0.0,
    after: float = 1.0,
) -> list[Item]:
    """Lines of text as items of a few lines each; ``head`` is bold, before the first of them."""
    high = line_height(max(size_pt, head_pt))
    items = []
    for start in range(0, len(lines), _LINES_A_PIECE):
        piece = list(lines[start : start + _LINES_A_PIECE])

        def draw(page: Paper, top: float, piece: list[str] = piece, first: bool = start == 0) -> None:
            if head and first:
                page.text(MARGIN, top + 0.8 * high, head, head_pt, bold=True)
            for place, line in enumerate(piece):
                page.text(MARGIN + indent, top + (place + 0.8) * high, line, size_pt)

        items.append(Item(len(piece) * high + after, draw))
    return items


def warning_items(warning: SheetWarning, wide: float) -> list[Item]:
    """A warning: its grade in a box (black for a fault), who says so, and the sentence."""
    size, word = 9.5, warning.grade.upper()
    tag = width_mm(word, 8, bold=True) + 3
    said = f"{warning.check}: {warning.sentence}" if warning.check else warning.sentence
    indent = width_mm("COMPROMISE", 8, bold=True) + 6
    items = lines_item(wrapped(said, wide - indent, size), size, indent=indent)
    first = items[0]

    def draw(page: Paper, top: float) -> None:
        fault = warning.grade == "fault"
        page.box(MARGIN, top + 0.3, tag, 4.1, 0.8, "black" if fault else None)
        page.text(MARGIN + 1.5, top + 3.4, word, 8, bold=True, color="white" if fault else "black")
        first.draw(page, top)

    return [Item(max(first.height_mm, 5.5), draw), *items[1:]]


def shot_core(shot: SheetShot, stills: Mapping[int, np.ndarray], wide: float, fps: float) -> Item:
    """Everything of a shot but its note and its warnings, in one piece."""
    pictures = [(one, stills[one.frame]) for one in shot.stills]
    height, width = pictures[0][1].shape[:2]
    across = min(_LONE_PICTURE if len(pictures) == 1 else _PICTURE, _PICTURE_HIGH * width / height)
    high = across * height / width
    move = wrapped(move_words(shot.move, shot), wide - 16, 10) if shot.move else []
    table = _Table(shot)
    moves_high = len(move) * line_height(10) + (1.5 if move else 0.0)
    picture_high = high + (_CAPTION if len(pictures) > 1 else 0.0)
    beside = len(pictures) == 1
    body = max(picture_high, table.height_mm) if beside else picture_high + _GAP + table.height_mm
    total = _TITLE + _STRIP + moves_high + body + 2 * _GAP

    def draw(page: Paper, top: float) -> None:
        _title(page, shot, top, wide, fps)
        _strip(page, shot, top + _TITLE, wide, fps)
        y = top + _TITLE + _STRIP + _GAP
        if move:
            page.text(MARGIN, y + 3.4, "MOVE", 10, bold=True)
            for place, line in enumerate(move):
                page.text(MARGIN + 16, y + 3.4 + place * line_height(10), line, 10)
        y += moves_high
        for place, (one, code) in enumerate(pictures):
            x = MARGIN + place * (wide - across) / 2 if len(pictures) == 3 else MARGIN + place * (across + 4)
            page.picture(x, y, across, high, code)
            if len(pictures) > 1:
                page.text(x, y + high + 3.8, f"{_PICTURE_WORDS[one.place]}  {one.timecode}", 9)
        if beside:
            left = MARGIN + across + 5
        else:
            left, y = MARGIN, y + picture_high + _GAP
        table.draw(page, left, y)
        notes = left + table.width_mm + 5
        _notes(page, notes, y, MARGIN + wide - notes, table.height_mm)

    return Item(total, draw)


_PICTURE_WORDS = {"comes on air": "first", "middle": "middle", "goes off air": "last"}


def _title(page: Paper, shot: SheetShot, top: float, wide: float, fps: float) -> None:
    right = MARGIN + wide
    page.rule(MARGIN, top + 0.8, right, top + 0.8, 2.2)
    digits = str(shot.number)
    page.text(MARGIN, top + 15.2, digits, 38, bold=True)
    left = MARGIN + max(16.0, width_mm(digits, 38, bold=True)) + 4
    page.text(right, top + 10.2, shot.timecodes[0], 23, bold=True, across="right")
    clock = width_mm(shot.timecodes[0], 23, bold=True)
    frames = shot.frames[1] - shot.frames[0] + 1
    page.text(right, top + 16.6, length(frames, frames / fps), 11.5, bold=True, across="right")
    name, size = fitted(shot.name, right - left - clock - 4, 17, 10, bold=True)
    page.text(left, top + 9.6, name, size, bold=True)
    told, size = fitted(
        come_on_air(shot), right - left - width_mm(length(frames, frames / fps), 11.5, True) - 4, 10, 7
    )
    page.text(left, top + 16.2, told, size)


def _strip(page: Paper, shot: SheetShot, top: float, wide: float, fps: float) -> None:
    """Who is on air before, this camera, who is on air after: from left to right as time runs."""
    before, after = before_words(shot, fps), after_words(shot)
    middle = 64.0
    side = (wide - middle) / 2
    high = _STRIP - 2
    page.box(MARGIN, top, side, high, 0.8, dashes=(3, 2))
    page.box(MARGIN + side + middle, top, side, high, 0.8, dashes=(3, 2))
    page.box(MARGIN + side, top, middle, high, 2.6)
    for x, words in ((MARGIN, before), (MARGIN + side + middle, after)):
        for place, line in enumerate(words):
            told, size = fitted(line, side - 5, 10, 7, bold=place == 1)
            page.text(x + 2.5, top + 5.4 + place * 5.4, told, size, bold=place == 1)
    page.text(MARGIN + side + 3, top + 5.6, "ON AIR", 11, bold=True)
    page.text(MARGIN + side + 3, top + 11.2, f"{shot.timecodes[0]} to {shot.timecodes[1]}", 10.2, bold=True)


class _Table:
    """What to set, one column a setting."""

    def __init__(self, shot: SheetShot) -> None:
        self._rows = rows(shot.settings)
        self._settings = shot.settings
        moving = len(shot.settings) > 1
        self._value = _VALUE if moving else _LONE_VALUE
        if len(shot.settings) > 3:
            self._value = _NARROW_VALUE
        self._heads = []
        for one in shot.settings:
            head = [(PLACES[one.place], 8.0)] if moving else []
            head += [(one.timecode, 10.0)] if moving else []
            between = one.place in ("comes on air", "goes off air")
            names = ["on the way"] if between else wrapped(one.framing, self._value - 3, 10.5, bold=True)
            self._heads.append(head + [(line, 10.5) for line in names])
        self._head_high = max(len(head) for head in self._heads) * 4.7 + 2.2
        self.width_mm = _LABEL + self._value * len(shot.settings)
        self.height_mm = self._head_high + _ROW * len(self._rows)

    def draw(self, page: Paper, left: float, top: float) -> None:
        for place, head in enumerate(self._heads):
            x = left + _LABEL + place * self._value
            for line, (words, size) in enumerate(head):
                page.text(x, top + 3.6 + line * 4.7, words, size, bold=True)
        if len(self._heads) == 1:
            page.text(left, top + 3.6, "Framing", 9.5, color=QUIET)
        y = top + self._head_high
        for name, values in self._rows:
            page.rule(left, y, left + self.width_mm, y, 0.35, PALE)
            page.text(left, y + 4.2, name, 9.5, color=QUIET)
            for place, value in enumerate(values):
                x = left + _LABEL + place * self._value
                told, size = fitted(value, self._value - 4, 11.5, 8, bold=True)
                page.text(x, y + 4.2, told, size, bold=True)
            y += _ROW


def _notes(page: Paper, left: float, top: float, wide: float, high: float) -> None:
    """Lines to write on."""
    if wide < _LEAST_NOTES:
        return
    page.box(left, top, wide, high, 0.5)
    page.text(left + 1.5, top + 3.4, "notes", 8, color=QUIET)
    y = top + 12
    while y < top + high - 3:
        page.rule(left + 1.5, y, left + wide - 1.5, y, 0.35, PALE)
        y += 8.0
