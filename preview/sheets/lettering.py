"""Measuring and breaking text for sheets, in millimetres of paper, with the font that they are set in."""

from __future__ import annotations

from functools import lru_cache

from preview.review.lettering import font

MM_PER_PT = 25.4 / 72
"""The point of desktop publishing: 72 to the inch. Source: ISO 32000-1:2008, 8.3.2.3 (default user space)."""
FONT = "DejaVu Sans"
_MEASURED_PX = 200
"""Size at which letters are measured: large, so that hinting does not round their widths."""


def width_mm(text: str, size_pt: float, bold: bool = False) -> float:
    """Width of one line of text."""
    return font(_MEASURED_PX, bold).getlength(text) / _MEASURED_PX * size_pt * MM_PER_PT


def fitted(
    text: str, room_mm: float, size_pt: float, least_pt: float, bold: bool = False
) -> tuple[str, float]:
    """Text and the size, from ``size_pt`` down to ``least_pt``, at which it takes no more than its room.

    What is too wide at the least size loses its end, marked with an ellipsis.
    """
    wide = width_mm(text, 1.0, bold)
    size = min(size_pt, max(least_pt, room_mm / wide if wide else size_pt))
    if wide * size <= room_mm + 1e-6:
        return text, size
    while text and width_mm(text + "…", size, bold) > room_mm:
        text = text[:-1]
    return text.rstrip() + "…", size


def wrapped(text: str, room_mm: float, size_pt: float, bold: bool = False) -> list[str]:
    """Text in lines no wider than its room; line ends of the text stay, a word that is wider is broken.

    >>> wrapped("one two", 1000, 10)
    ['one two']
    """
    lines: list[str] = []
    for paragraph in text.splitlines() or [""]:
        line = ""
        for word in paragraph.split():
            longer = f"{line} {word}".strip()
            if width_mm(longer, size_pt, bold) <= room_mm:
                line = longer
                continue
            if line:
                lines.append(line)
            while width_mm(word, size_pt, bold) > room_mm and len(word) > 1:
                most = next(
                    n
                    for n in range(len(word) - 1, 0, -1)
                    if n == 1 or width_mm(word[:n], size_pt, bold) <= room_mm
                )
                lines.append(word[:most])
                word = word[most:]
            line = word
        if line:
            lines.append(line)
    return lines


@lru_cache(maxsize=4)
def _letters(bold: bool) -> frozenset[int]:
    from matplotlib.ft2font import FT2Font

    return frozenset(FT2Font(str(font(_MEASURED_PX, bold).path)).get_charmap())


def missing_letters(text: str, bold: bool = False) -> set[str]:
    """Letters that the sheets' font has not."""
    return {letter for letter in text if ord(letter) not in _letters(bold) and not letter.isspace()}
