"""Frame rates as exact fractions."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from math import floor

HALF = Fraction(1, 2)


@dataclass(frozen=True)
class Rate:
    """A frame rate, written as in a show file: ``Rate("25")``, ``Rate("30000/1001")``.

    Raises
    ------
    ValueError : ``text`` is not a positive whole number or fraction.

    >>> Rate("30000/1001").nominal, Rate("30000/1001").drop_frame_possible
    (30, True)
    """

    text: str

    def __post_init__(self) -> None:
        try:
            positive = Fraction(self.text) > 0
        except (ValueError, ZeroDivisionError):
            positive = False
        if not positive:
            raise ValueError(f'{self.text!r} is not a frame rate; write one like "25" or "30000/1001"')

    @cached_property
    def fps(self) -> Fraction:
        """Frames per second, exact."""
        return Fraction(self.text)

    @cached_property
    def nominal(self) -> int:
        """Frame labels in one timecode second: the whole number next to ``fps``."""
        return round(self.fps)

    @cached_property
    def drop_frame_possible(self) -> bool:
        """True at 30000/1001 and 60000/1001, where timecode has a drop-frame count.

        Source: SMPTE ST 12-1 (29.97) and its doubling for 59.94; rule from public explanations.
        """
        return self.fps in (Fraction(30000, 1001), Fraction(60000, 1001))

    def seconds(self, frame: int) -> Fraction:
        """Exact seconds from frame 0 to ``frame``."""
        return frame / self.fps

    def nearest_frame(self, seconds: float | Fraction) -> int:
        """The frame nearest to ``seconds``; halves go up.

        A float counts as the decimal it prints as, so 0.3 s at 25 frames per second is 7.5 frames
        exactly and not a hair less.
        """
        exact = seconds if isinstance(seconds, Fraction) else Fraction(repr(float(seconds)))
        return floor(exact * self.fps + HALF)

    def __str__(self) -> str:
        return self.text
