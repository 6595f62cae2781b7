"""The pages of a shot sheet, drawn: large numbers and timecodes, black on white, with room to write."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

import numpy as np

from preview.sheets.lettering import fitted, width_mm, wrapped
from preview.sheets.paper import PALE, PAPERS, QUIET, Group, Item, Paper, over_pages
from preview.sheets.shot_block import MARGIN, line_height, lines_item, shot_core, warning_items
from preview.sheets.values import OffAir, SheetShot, ShotSheet
from preview.sheets.words import HOW_TO_READ, PLANNING_AID, camera_facts, cautions, off_air_words

HEAD_MM, FOOT_MM, EDGE_MM = 25.0, 6.0, 8.0
WRITING_MM = 8.0
"""Between ruled lines to write on; ruled paper has 7 to 9. Common practice, no source."""
_LEAST_ROOM_MM = 26.0
"""What is left of a page from which on lines are ruled in it."""

Stills = Mapping[int, np.ndarray]
"""Return pictures by frame, (h, w, 3) uint8."""


def sheet_pages(sheet: ShotSheet, stills: Stills, paper: str) -> list[Paper]:
    """A sheet's pages.

    Parameters
    ----------
    stills : a picture for each of the frames that its shots name
    paper : "a4" or "letter"

    Raises
    ------
    KeyError : no such paper, or a picture is missing.
    """
    size = PAPERS[paper]
    wide = size[0] - 2 * MARGIN
    room = size[1] - 2 * EDGE_MM - HEAD_MM - FOOT_MM
    flow = over_pages(_groups(sheet, stills, wide), room)
    pages = []
    for number, items in enumerate(flow, start=1):
        page = Paper(size)
        _head(page, sheet, number, len(flow))
        top = EDGE_MM + HEAD_MM
        for item in items:
            item.draw(page, top)
            top += item.height_mm
        _ruled(page, top, size[1] - EDGE_MM - FOOT_MM - 2)
        _foot(page, sheet, number, len(flow))
        pages.append(page)
    return pages


def _groups(sheet: ShotSheet, stills: Stills, wide: float) -> list[Group]:
    groups = [Group(tuple(_facts(sheet, wide)))]
    if not sheet.shots:
        groups.append(Group((_no_shots(wide),)))
    fps = float(Fraction(sheet.frame_rate))
    for part in sheet.parts:
        if isinstance(part, SheetShot):
            groups.append(_shot(part, stills, wide, fps))
        else:
            groups.append(_off_air(part, wide))
    if sheet.warnings:
        heading = _heading("Over the whole rundown")
        items = (heading, *(item for one in sheet.warnings for item in warning_items(one, wide)))
        groups.append(Group(items, lambda: _heading("Over the whole rundown, continued")))
    reading = [_heading("How to read this"), *lines_item(wrapped(HOW_TO_READ, wide, 9), 9)]
    groups.append(Group(tuple(reading)))
    return groups


def _shot(shot: SheetShot, stills: Stills, wide: float, fps: float) -> Group:
    items = [shot_core(shot, stills, wide, fps)]
    if shot.note:
        items += _noted(shot.note, wide)
    for one in shot.warnings:
        items += warning_items(one, wide)
    items.append(Item(3.0, lambda page, top: None))
    return Group(tuple(items), lambda: _heading(f"Shot {shot.number} {shot.name}, continued"))


def _off_air(part: OffAir, wide: float) -> Group:
    when = "OFF AIR  no time between"
    if part.timecodes is not None:
        when = f"OFF AIR  {part.timecodes[0]} to {part.timecodes[1]}, {part.seconds:.1f} s"
    items = [_heading(when)]
    for cue in part.cues:
        head = f"{cue.timecode}  shot {cue.shot_number}"
        indent = width_mm(f"{head}   ", 10.5, bold=True)
        lines = wrapped(off_air_words(cue), wide - indent, 10)
        items += lines_item(lines, 10, head, indent, 10.5)
        if cue.note:
            items += _noted(cue.note, wide)
    if not part.cues:
        items += lines_item(["No cue: hold what you have, or as directed."], 10)
    for one in part.warnings:
        items += warning_items(one, wide)
    items.append(Item(3.0, lambda page, top: None))
    return Group(tuple(items), lambda: _heading(f"{when}, continued"))


def _noted(note: str, wide: float) -> list[Item]:
    indent = width_mm("Note   ", 10.5, bold=True)
    return lines_item(wrapped(note, wide - indent, 10.5), 10.5, "Note", indent, 10.5)


def _heading(words: str) -> Item:
    def draw(page: Paper, top: float) -> None:
        page.rule(MARGIN, top + 1.0, page.width_mm - MARGIN, top + 1.0, 0.6, dashes=(4, 2))
        told, size = fitted(words, page.width_mm - 2 * MARGIN, 11, 8, bold=True)
        page.text(MARGIN, top + 6.2, told, size, bold=True)

    return Item(8.0, draw)


def _no_shots(wide: float) -> Item:
    def draw(page: Paper, top: float) -> None:
        page.rule(MARGIN, top + 1, MARGIN + wide, top + 1, 2.0)
        page.text(MARGIN, top + 12, "No shots", 24, bold=True)
        page.text(MARGIN, top + 19, "This camera is not on programme in this rundown.", 12)

    return Item(24.0, draw)


def _facts(sheet: ShotSheet, wide: float) -> list[Item]:
    """What the camera is and what to be careful with, above the first shot."""
    items = [
        item for fact in camera_facts(sheet) for item in lines_item(wrapped(fact, wide, 9.5), 9.5, after=0.6)
    ]
    inner = wide - 8
    lines = [line for one in cautions(sheet) for line in wrapped(one, inner, 9)]
    high = 9.0 + len(lines) * line_height(9)

    def draw(page: Paper, top: float) -> None:
        page.box(MARGIN, top + 1, wide, high - 1.5, 1.6)
        page.text(MARGIN + 4, top + 6.2, "CAUTION", 10, bold=True)
        for place, line in enumerate(lines):
            page.text(MARGIN + 4, top + 10.6 + place * line_height(9), line, 9)

    return [*items, Item(high + 3.0, draw)]


def _head(page: Paper, sheet: ShotSheet, number: int, of: int) -> None:
    top, right = EDGE_MM, page.width_mm - MARGIN
    digits = str(sheet.number)
    box = max(17.0, width_mm(digits, 38, bold=True) + 6)
    page.box(MARGIN, top, box, 17, 2.2)
    page.text(MARGIN + box / 2, top + 13.4, digits, 38, bold=True, across="center")
    left = MARGIN + box + 5
    place = f"page {number} of {of}"
    room = right - left - 62
    name, size = fitted(sheet.camera, room, 24, 12, bold=True)
    page.text(left, top + 8.6, name, size, bold=True)
    told = f"Operator: {sheet.operator}" if sheet.operator else f"camera {sheet.number}"
    told, size = fitted(told, room, 11, 8)
    page.text(left, top + 15.6, told, size)
    title, size = fitted(sheet.title, 60, 11, 7.5, bold=True)
    page.text(right, top + 4.6, title, size, bold=True, across="right")
    page.text(right, top + 10, "Shot sheet", 10, across="right")
    page.text(right, top + 16.2, place, 12, bold=True, across="right")
    page.rule(MARGIN, top + 20, right, top + 20, 0.8)


def _foot(page: Paper, sheet: ShotSheet, number: int, of: int) -> None:
    y = page.height_mm - EDGE_MM
    page.rule(MARGIN, y - 4.4, page.width_mm - MARGIN, y - 4.4, 0.4)
    caution = width_mm(PLANNING_AID, 8)
    told = f"page {number} of {of}  ·  camera {sheet.number} {sheet.camera}  ·  {sheet.title}"
    told, size = fitted(told, page.width_mm - 2 * MARGIN - caution - 6, 8, 6.5)
    page.text(MARGIN, y - 0.6, told, size, color=QUIET)
    page.text(page.width_mm - MARGIN, y - 0.6, PLANNING_AID, 8, across="right", color=QUIET)


def _ruled(page: Paper, top: float, bottom: float) -> None:
    """Lines to write on in what is left of a page."""
    if bottom - top < _LEAST_ROOM_MM:
        return
    page.text(MARGIN, top + 5, "notes", 8, color=QUIET)
    y = top + 5 + WRITING_MM
    while y <= bottom:
        page.rule(MARGIN, y, page.width_mm - MARGIN, y, 0.35, PALE)
        y += WRITING_MM
