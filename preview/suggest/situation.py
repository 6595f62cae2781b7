"""What a lever is tried on: one finding, the cameras in it, and the framings they have in its frames."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from preview.checks.look import Plan
from preview.checks.registry import Lever
from preview.checks.result import Finding
from preview.show import model
from preview.show.load import Show
from preview.timeline.framing import PlacedFraming, aim_points_m, place_framing

LOOKED_AT = 12
"""Frames of a finding that a remedy has to leave clean, besides its worst."""
SETTLED_FRAMES = 12
"""Frames after a finding in which a remedy that moves a cut has to be clean too."""


@dataclass(frozen=True, eq=False)
class Try:
    """One changed show.

    Attributes
    ----------
    lever : what was turned
    show : the changed show
    words : what is changed, without a verb: 'lens of left to 31 mm in "MS guest"'
    key : what to write in the show file
    cost : what it costs, a few words; "" for nothing worth saying
    size : how large the change is, to choose between ladders of one lever
    """

    lever: Lever
    show: Show
    words: str
    key: str
    cost: str
    size: float


Ladder = tuple[Try, ...]
"""Tries of one kind, from the smallest change up; where one helps, larger ones are taken to help too, and
what is suggested is tried itself."""


@dataclass(frozen=True, eq=False)
class Situation:
    """A finding to mend.

    Attributes
    ----------
    plan : the show at hand, as it was checked
    finding : with ``worst_frame`` among its measures
    """

    plan: Plan
    finding: Finding

    @property
    def show(self) -> Show:
        """The show at hand."""
        return self.plan.show

    @property
    def worst_frame(self) -> int:
        """The finding's worst frame."""
        return int(self.finding.measures["worst_frame"])  # type: ignore[arg-type]

    @cached_property
    def frames(self) -> tuple[int, ...]:
        """Worst frame first, then up to LOOKED_AT others of the finding, evenly spread."""
        first, last = self.finding.frames
        steps = min(LOOKED_AT, last - first + 1)
        spread = {first + round(step * (last - first) / max(1, steps - 1)) for step in range(steps)}
        return (self.worst_frame, *sorted(spread - {self.worst_frame}))

    @property
    def seer(self) -> str:
        """The camera whose picture the finding is about."""
        return self.finding.cameras[0]

    @property
    def others(self) -> tuple[str, ...]:
        """Cameras that are in the way of that picture."""
        names = [camera.name for camera in self.show.file.cameras]
        whose = [str(self.finding.measures.get("whose", ""))]
        return tuple(n for n in dict.fromkeys((*whose, *self.finding.cameras[1:])) if n in names)

    def framings(self, camera: str) -> tuple[str, ...]:
        """Framings a camera has in the finding's frames, both of a move."""
        found: dict[str, None] = {}
        for frame in self.frames:
            for name in self.plan.timeline.at(frame).camera(camera).framing.split(" > "):
                found[name] = None
        return tuple(found)

    def placed(self, camera: str) -> Iterator[tuple[model.Framing, PlacedFraming]]:
        """Each of those framings, as written and worked out on the stage."""
        settings, aims = self.plan.camera(camera), aim_points_m(self.show.file)
        names = self.framings(camera)
        for framing in settings.framings:
            if framing.name in names:
                yield framing, place_framing(settings, framing, aims)


def quoted(names: tuple[str, ...]) -> str:
    """Framing names for sentences.

    >>> quoted(("MS guest", "MCU guest"))
    '"MS guest" and "MCU guest"'
    """
    return " and ".join(f'"{name}"' for name in names)
