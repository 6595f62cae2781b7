"""Proof by drawing: programme against programme as shot, pixel by pixel, beside what the timeline says."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from preview.checks.cut import ProgrammeFrame, State, programme_frame
from preview.frame import Studio, Wanted

SAME_CODE = 1
"""Largest difference, in 8-bit code values, between pictures that count as equal: the two are composited
from the same layers and rounded once."""

Verdict = Literal["as told", "not visible", "differs otherwise"]
"""as told: alike where the timeline says own background, different where it does not. not visible: the
background is another camera's, but no pixel shows it. differs otherwise: the background is right and the
pictures still differ (an edge line, crosstalk, an image that does not reach)."""


@dataclass(frozen=True)
class FrameProof:
    """One frame, drawn both ways.

    Attributes
    ----------
    frame, timecode : which
    state : what the timeline says of it
    largest_difference : between the two pictures, in 8-bit code values
    differing_share : share of pixels, 0..1, that differ by more than SAME_CODE in some channel
    """

    frame: int
    timecode: str
    state: State
    largest_difference: int
    differing_share: float

    @property
    def alike(self) -> bool:
        return self.largest_difference <= SAME_CODE

    @property
    def verdict(self) -> Verdict:
        if self.alike == (self.state == "own"):
            return "as told"
        return "not visible" if self.alike else "differs otherwise"


@dataclass(frozen=True, eq=False)
class DrawnFrame:
    """A frame's proof with the pictures behind it: (h, w, 3) uint8; ``wall`` by surface name."""

    told: ProgrammeFrame
    proof: FrameProof
    programme: np.ndarray
    as_shot: np.ndarray
    wall: dict[str, np.ndarray]


def draw(
    studio: Studio,
    frames: Iterable[int],
    wall: bool = False,
    on_frame: Callable[[], None] = lambda: None,
) -> Iterator[DrawnFrame]:
    """Draw frames both ways and compare.

    Parameters
    ----------
    studio : the show, ready to draw
    frames : in running order, which is quickest
    wall : also draw every LED surface unrolled
    on_frame : told after each frame
    """
    kinds = ("programme", "programme-as-shot", *(("wall",) if wall else ()))
    for frame in frames:
        pictures = list(studio.pictures(frame, Wanted(kinds)))
        code = {picture.kind: picture.code for picture in pictures}
        told = programme_frame(studio.timeline.at(frame), studio.show.file.drive)
        largest, share = difference(code["programme"], code["programme-as-shot"])
        proof = FrameProof(frame, told.timecode, told.state, largest, share)
        walls = {picture.subject: picture.code for picture in pictures if picture.kind == "wall"}
        yield DrawnFrame(told, proof, code["programme"], code["programme-as-shot"], walls)
        on_frame()


def difference(one: np.ndarray, other: np.ndarray) -> tuple[int, float]:
    """Largest difference of two (h, w, 3) uint8 pictures in code values, and the share of pixels that
    differ by more than SAME_CODE in some channel."""
    apart = np.abs(one.astype(np.int16) - other).max(axis=2)
    return int(apart.max()), float((apart > SAME_CODE).mean())
