"""What may be asked of a floor map."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class FloorOptions:
    """How a floor map is made.

    Attributes
    ----------
    step_m : distance of neighbouring places
    height_m : of the sensor; None for the framing's own. On a jib: the height to come nearest to
    zoom : "hold" the subject's size in the picture, or the framing's focal length "fixed"
    focus : on the "subject" (a framing's own offset from it kept), or "fixed" at the framing's distance
    area_m : ((x from, x to), (y from, y to)), stage metres; None for the studio floor as the stage and its
        cameras span it
    others_frame : frame of the rundown at which the other cameras are taken; None for the first one in which
        this camera has the framing on programme, else in which it has it at all, else the rundown's first
    sightlines : across and down a picture

    Raises
    ------
    ValueError : a number is out of range; says which.
    """

    step_m: float = 0.10
    height_m: float | None = None
    zoom: Literal["hold", "fixed"] = "hold"
    focus: Literal["subject", "fixed"] = "subject"
    area_m: tuple[tuple[float, float], tuple[float, float]] | None = None
    others_frame: int | None = None
    sightlines: tuple[int, int] = (32, 18)

    def __post_init__(self) -> None:
        if not 0.01 <= self.step_m <= 5.0:
            raise ValueError(f"a step of {self.step_m:g} m; write one from 0.01 to 5")
        if self.height_m is not None and not 0.0 < self.height_m <= 30.0:
            raise ValueError(f"a height of {self.height_m:g} m; write one above 0 and up to 30")
        if min(self.sightlines) < 4 or max(self.sightlines) > 400:
            raise ValueError(f"{self.sightlines} sightlines; write from 4 to 400 each way")
        if self.area_m is not None and any(not low < high for low, high in self.area_m):
            raise ValueError(f"the area {self.area_m} is empty; write ((x from, x to), (y from, y to))")
