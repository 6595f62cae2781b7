"""Paper to draw on, in millimetres from its top left corner, and what flows over several sheets of it."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from preview.sheets.lettering import FONT, missing_letters

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from matplotlib.image import AxesImage

PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height, mm. Source: ISO 216:2007, A4; ASME Y14.1 (US letter, 8.5 x 11 in), from memory."""
PNG_DPI = 150
MM_PER_IN = 25.4
INK, QUIET, PALE = "#000000", "#444444", "#9a9a9a"
"""Blacks and greys only: a sheet is read on a monochrome print, by a torch."""
MOST_WASTE = 0.45
"""Share of a page that may stay empty so that what belongs together stays together."""
REPLACEMENT = "\N{REPLACEMENT CHARACTER}"
"""Stands for a letter that the font has not."""

Across = Literal["left", "center", "right"]


class Paper:
    """One page while it is drawn.

    Parameters
    ----------
    size_mm : width and height

    Attributes
    ----------
    missing : letters asked for that the font has not
    """

    def __init__(self, size_mm: tuple[float, float]) -> None:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        self.width_mm, self.height_mm = size_mm
        self.missing: set[str] = set()
        inches = self.width_mm / MM_PER_IN, self.height_mm / MM_PER_IN
        with _lettering():
            self.figure: Figure = Figure(figsize=inches, dpi=PNG_DPI, facecolor="white")
        FigureCanvasAgg(self.figure)
        self._images: list[AxesImage] = []

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size_pt: float,
        bold: bool = False,
        across: Across = "left",
        color: str = INK,
    ) -> None:
        """One line of text with its base line at ``y``."""
        lost = missing_letters(words, bold)
        self.missing |= lost
        for letter in lost:
            words = words.replace(letter, REPLACEMENT)
        self.figure.text(
            x / self.width_mm, 1 - y / self.height_mm, words, fontsize=size_pt, color=color, ha=across,
            va="baseline", fontweight="bold" if bold else "normal", fontfamily=FONT, parse_math=False,
        )  # fmt: skip

    def rule(
        self, x: float, y: float, to_x: float, to_y: float, points: float = 0.6, color: str = INK,
        dashes: tuple[float, float] | None = None,
    ) -> None:  # fmt: skip
        """A straight line, so many points wide."""
        from matplotlib.lines import Line2D

        line = Line2D(
            [x / self.width_mm, to_x / self.width_mm], [1 - y / self.height_mm, 1 - to_y / self.height_mm],
            color=color, linewidth=points, linestyle=(0, dashes) if dashes else "-", solid_capstyle="butt",
            transform=self.figure.transFigure,
        )  # fmt: skip
        self.figure.add_artist(line)

    def box(
        self, x: float, y: float, wide: float, high: float, points: float = 0.8, fill: str | None = None,
        dashes: tuple[float, float] | None = None,
    ) -> None:  # fmt: skip
        """A rectangle from its top left corner."""
        from matplotlib.patches import Rectangle

        look: dict[str, Any] = {"facecolor": fill or "none", "edgecolor": INK, "linewidth": points}
        corner = (x / self.width_mm, 1 - (y + high) / self.height_mm)
        patch = Rectangle(
            corner, wide / self.width_mm, high / self.height_mm, transform=self.figure.transFigure,
            linestyle=(0, dashes) if dashes else "-", joinstyle="miter", **look,
        )  # fmt: skip
        self.figure.add_artist(patch)

    def picture(self, x: float, y: float, wide: float, high: float, code: np.ndarray) -> None:
        """A picture, (h, w, 3) uint8, with a thin frame."""
        place = (
            x / self.width_mm, 1 - (y + high) / self.height_mm, wide / self.width_mm, high / self.height_mm,
        )  # fmt: skip
        axes = self.figure.add_axes(place)
        self._images.append(axes.imshow(code, aspect="auto"))
        axes.set_axis_off()
        self.box(x, y, wide, high, 0.5)

    def png(self, title: str) -> bytes:
        """The page as PNG; the same bytes for the same page."""
        for image in self._images:
            image.set_interpolation("antialiased")
        data = io.BytesIO()
        with _lettering():
            self.figure.savefig(
                data,
                format="png",
                dpi=PNG_DPI,
                metadata={"Title": title, "Software": None},
                pil_kwargs={"compress_level": 1},
            )
        return data.getvalue()

    def for_pdf(self) -> Figure:
        """The page with every pixel of its pictures, for a PDF."""
        for image in self._images:
            image.set_interpolation("none")
        return self.figure


def as_pdf(papers: Sequence[Paper], title: str, subject: str) -> bytes:
    """Pages as one PDF with its fonts embedded and its words as text; the same bytes for the same pages.

    Source: ISO 32000-1:2008, 9.6.3 (TrueType fonts keep their outlines: type 42 in the library's words).
    """
    from matplotlib.backends.backend_pdf import PdfPages

    data = io.BytesIO()
    about = {"Title": title, "Subject": subject, "Creator": None, "CreationDate": None}
    with _lettering(), PdfPages(data, metadata=about) as pdf:
        for paper in papers:
            pdf.savefig(paper.for_pdf())
    return data.getvalue()


@contextmanager
def _lettering() -> Iterator[None]:
    """This project's lettering, whatever the machine's own settings say."""
    from matplotlib import rc_context

    with rc_context(
        {
            "font.family": FONT,
            "pdf.fonttype": 42,
            "pdf.compression": 6,
            "pdf.use14corefonts": False,
            "text.hinting": "none",
        }
    ):
        yield


@dataclass(frozen=True)
class Item:
    """Something of a height that is drawn in one piece: ``draw`` gets the page and the top edge, mm."""

    height_mm: float
    draw: Callable[[Paper, float], None]


@dataclass(frozen=True)
class Group:
    """Items that belong together; ``again`` heads a page on which they go on, "" for none."""

    items: tuple[Item, ...]
    again: Callable[[], Item] | None = None

    @property
    def height_mm(self) -> float:
        """All of them together."""
        return sum(item.height_mm for item in self.items)


def over_pages(groups: Sequence[Group], room_mm: float) -> list[list[Item]]:
    """Items page by page, none outside its room.

    A group that what is left of a page cannot hold goes onto the next one, unless that wastes much of the
    page or no page can hold it: then it is parted between items.

    Raises
    ------
    ValueError : one item is higher than a page.
    """
    pages: list[list[Item]] = [[]]
    left = room_mm
    for group in groups:
        start = sum(item.height_mm for item in group.items[:2])  # a heading does not stand alone
        if pages[-1] and group.height_mm > left and (left < MOST_WASTE * room_mm or left < start <= room_mm):
            pages.append([])
            left = room_mm
        for place, item in enumerate(group.items):
            if item.height_mm > room_mm:
                raise ValueError(
                    f"an item of {item.height_mm:.0f} mm does not fit a page of {room_mm:.0f} mm"
                )
            if item.height_mm > left:
                pages.append([])
                left = room_mm
                if place and group.again is not None:
                    head = group.again()
                    if head.height_mm + item.height_mm <= room_mm:
                        pages[-1].append(head)
                        left -= head.height_mm
            pages[-1].append(item)
            left -= item.height_mm
    return pages
