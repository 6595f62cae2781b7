"""One frame as a check sees it: the moment, what the wall shows, and what every camera's sightlines meet."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from functools import cached_property
from typing import TypeVar

from preview.frame import Studio
from preview.raster.sight import Sight, SightRaster
from preview.show import model
from preview.show.load import Show
from preview.show.thresholds import Checks
from preview.stage.appearance import equipment_at
from preview.stage.build import Stage
from preview.stage.equipment import Solid
from preview.timeline.moment import CameraMoment, Moment
from preview.timeline.rundown import ResolvedShot
from preview.timeline.timeline import Timeline
from preview.wall.drive import WallState, drive

KEPT = 64
"""Values kept of each kind in ``Plan.once``."""

Kept = TypeVar("Kept")


@dataclass(eq=False)
class Plan:
    """What is checked: a show made ready, and the frames looked at.

    Attributes
    ----------
    show, timeline, stage : the show and what was made of it
    sights : draws what sightlines meet
    frames : frames looked at, rising
    every : the step between them
    """

    show: Show
    timeline: Timeline
    stage: Stage
    sights: SightRaster
    frames: tuple[int, ...]
    every: int = 1
    _kept: dict[str, dict[Hashable, object]] = field(default_factory=dict, repr=False)

    @property
    def thresholds(self) -> Checks:
        """From where on checks speak up."""
        return self.show.file.checks

    def camera(self, name: str) -> model.Camera:
        """A camera of the show file; KeyError if it has none of that name."""
        for camera in self.show.file.cameras:
            if camera.name == name:
                return camera
        raise KeyError(name)

    def once(self, kind: str, key: Hashable, make: Callable[[], Kept]) -> Kept:
        """``make()``, made once for each key while it is among the last KEPT used of its kind."""
        kept = self._kept.setdefault(kind, {})
        if key in kept:
            value = kept.pop(key)
        else:
            value = make()
            if len(kept) >= KEPT:
                del kept[next(iter(kept))]
        kept[key] = value
        return value  # type: ignore[return-value]


@dataclass(eq=False)
class Look:
    """One frame of a plan.

    Attributes
    ----------
    plan : what is checked
    frame : which frame
    studio : draws colour pictures; None where none are drawn
    """

    plan: Plan
    frame: int
    studio: Studio | None = None

    @cached_property
    def moment(self) -> Moment:
        """The stage at this frame."""
        return self.plan.timeline.at(self.frame)

    @cached_property
    def wall(self) -> WallState:
        """What the wall is told to show."""
        return drive(self.moment, self.plan.show.file.drive)

    @property
    def on_programme(self) -> tuple[tuple[str, float], ...]:
        """Cameras on programme with their shares of the picture; two in a mix, outgoing first."""
        moment = self.moment
        if moment.mix_from is None:
            return ((moment.on_air, 1.0),)
        return ((moment.mix_from, 1.0 - moment.mix_share), (moment.on_air, moment.mix_share))

    def shot_of(self, camera: str) -> ResolvedShot:
        """The shot a camera is on programme in: while it is mixed or held out, the one that took it."""
        shots, index = self.plan.timeline.shots, self.moment.shot_index
        return next((shots[at] for at in range(index, -1, -1) if shots[at].on_air == camera), shots[index])

    def bare(self, camera: str) -> Sight:
        """What a camera's sightlines meet of LED surfaces, set and people, equipment taken away."""
        return self.plan.sights.look(self.moment.camera(camera).view)

    def sight(self, camera: str) -> Sight:
        """What a camera's sightlines meet, the other cameras' equipment included."""
        others = [solid for c in self.moment.cameras if c.name != camera for solid in self.solids(c.name)]
        return self.plan.sights.look(self.moment.camera(camera).view, tuple(others))

    def solids(self, camera: str) -> tuple[Solid, ...]:
        """A camera's equipment where it is now: body, stand, arm, operator."""
        return solids_at(self.plan, self.moment.camera(camera))


def solids_at(plan: Plan, camera: CameraMoment) -> tuple[Solid, ...]:
    """The equipment of a camera at a moment; the same objects for the same view."""

    return plan.once(
        "solids",
        (camera.name, camera.view),
        lambda: equipment_at(plan.camera(camera.name), camera.view),
    )
