"""A framing of one camera tried on a changed show: all checks that do not draw, where it is on programme."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace

from preview.checks.look import Look, Plan
from preview.checks.registry import Check, Lever
from preview.checks.result import Finding
from preview.checks.viewing_angle import ViewingAngle
from preview.checks.walk import open_plan
from preview.errors import ShowError
from preview.show.load import Show
from preview.show.model import CameraCue, Drive, Shot
from preview.suggest.mend import changed_plan
from preview.timeline.timeline import Timeline

LOOKED_AT = 11
"""Frames with the framing on programme that are looked at, evenly spread, first and last among them."""
LOOKED_AT_ELSEWHERE = 6
"""Frames in which the camera has the framing off air, or moves to or from it."""
TURNED: frozenset[Lever] = frozenset({"position", "arm", "focal length", "focus", "stop"})
"""What a suggestion turns. Checks that none of them mends must not get worse; the others have to be clean."""
Key = tuple[str, str, str]
SYNTHETIC_S = 0.4
"""Length of the shot made up for a framing that is never on programme."""


@dataclass(frozen=True)
class Verdict:
    """What checks find about one camera.

    Attributes
    ----------
    faults, compromises : of its own picture, and faults in which it is otherwise concerned, with the check
    fresh : faults in other frames that were not there before the change
    looked_at : frames looked at with the framing on programme
    elsewhere : frames looked at besides
    left_alone : what was found before too, by checks of which nothing turned here is the remedy; and LED
        floors and ceilings seen from the side, as every camera sees them
    """

    faults: tuple[tuple[str, Finding], ...]
    compromises: tuple[tuple[str, Finding], ...]
    fresh: tuple[tuple[str, Finding], ...]
    looked_at: int
    elsewhere: int
    left_alone: tuple[tuple[str, Finding], ...] = ()

    @property
    def clean(self) -> bool:
        """Whether nothing is left to say."""
        return not (self.faults or self.compromises or self.fresh)

    @property
    def order(self) -> tuple[int, int]:
        """Fewer and smaller troubles first."""
        return len(self.faults) + len(self.fresh), len(self.compromises)

    def checks(self) -> tuple[str, ...]:
        """Names of the checks that speak up."""
        return tuple(dict.fromkeys(name for name, _ in (*self.faults, *self.compromises, *self.fresh)))


@dataclass(eq=False)
class Trial:
    """What a framing is tried on.

    Attributes
    ----------
    plan : the show at hand, or with a shot made up for the framing; its sight raster is used for all tries
    camera, framing : names
    frames : of that show, with the framing on programme, spread evenly
    elsewhere : frames with the framing off air, or on the way to or from it
    synthetic : whether the shot is made up: the framing is never held on programme
    checks : those that look
    """

    plan: Plan
    camera: str
    framing: str
    frames: tuple[int, ...]
    elsewhere: tuple[int, ...]
    synthetic: bool
    checks: Sequence[type[Check]]
    _known: frozenset[Key] = frozenset()
    _left: frozenset[Key] = frozenset()

    def before(self) -> Verdict:
        """What the checks find as it is. Ask first: later tries are held against it."""
        mendable = {check.name for check in self.checks if set(check.levers) & TURNED}
        found = self._concerned(self._found(self.plan.show, self.frames))
        left = {_key(name, one) for name, one in found if name not in mendable}
        level = (one.name for one in self.plan.stage.surfaces if one.kind != "wall")
        self._left = frozenset(left | {(ViewingAngle.name, "compromise", name) for name in level})
        verdict = self.judge(self.plan.show)
        assert verdict is not None, "the show at hand can be placed"
        known = self._found(self.plan.show, self.elsewhere) if self.elsewhere else []
        self._known = frozenset(_key(name, finding) for name, finding in known)
        return replace(verdict, fresh=(), elsewhere=len(self.elsewhere))

    def judge(self, show: Show, frames: tuple[int, ...] | None = None) -> Verdict | None:
        """What the checks find on a changed show; None where its framing cannot be placed.

        Parameters
        ----------
        frames : look at these alone, and at none elsewhere; at all when None
        """
        looked = self.frames if frames is None else frames
        try:
            found = self._found(show, looked)
        except ShowError:
            return None
        told = self._concerned(found)
        left = tuple(one for one in told if _key(*one) in self._left)
        mine = [one for one in told if _key(*one) not in self._left]
        faults = tuple(one for one in mine if one[1].grade == "fault")
        compromises = tuple(one for one in mine if one[1].grade == "compromise")
        first = Verdict(faults, compromises, (), len(looked), 0, left)
        if not self.elsewhere or frames is not None or first.faults:
            return first
        fresh = tuple(
            (name, one) for name, one in self._found(show, self.elsewhere)
            if one.grade == "fault" and self.camera in one.cameras and _key(name, one) not in self._known
        )  # fmt: skip
        return replace(first, fresh=fresh, elsewhere=len(self.elsewhere))

    def _concerned(self, found: Sequence[tuple[str, Finding]]) -> list[tuple[str, Finding]]:
        """Findings in the camera's own picture, and faults in which it is otherwise concerned."""
        return [
            (name, one) for name, one in found
            if one.cameras and (one.cameras[0] == self.camera
                                or (one.grade == "fault" and self.camera in one.cameras))
        ]  # fmt: skip

    def _found(self, show: Show, frames: tuple[int, ...]) -> list[tuple[str, Finding]]:
        plan = changed_plan(self.plan, show, frames)
        checks = [check(plan) for check in self.checks]
        for frame in frames:
            look = Look(plan, frame)
            for check in checks:
                check.see(look)
        return [
            (check.name, finding)
            for check in checks
            for finding in check.result().findings
            if finding.grade != "fine"
        ]


@contextmanager
def open_trial(show: Show, camera: str, framing: str, checks: Sequence[type[Check]]) -> Iterator[Trial]:
    """What a framing can be tried on; checks that draw are left out.

    Raises
    ------
    ShowError, AssetError, GraphicsError : as ``preview.checks.walk.open_plan``.
    """
    timeline = Timeline(show)
    held, elsewhere, first_held = _frames(timeline, camera, framing)
    synthetic = not held
    if synthetic:
        show = with_made_up_shot(show, camera, framing, first_held or 0)
        held, elsewhere = list(range(Timeline(show).frame_count)), []
    quiet = tuple(check for check in checks if not check.draws)
    with open_plan(show, 0, 0) as plan:
        yield Trial(
            plan,
            camera,
            framing,
            spread(held, LOOKED_AT),
            spread(elsewhere, LOOKED_AT_ELSEWHERE),
            synthetic,
            quiet,
        )


def with_made_up_shot(show: Show, camera: str, framing: str, frame: int) -> Show:
    """The show with one shot alone: a camera on a framing, the others on what they have at a frame.

    The wall shows that camera; a camera that moves at that frame is taken where its move begins.
    """
    cues = {
        one.name: CameraCue(framing=one.framing.split(" > ")[0]) for one in Timeline(show).at(frame).cameras
    }
    cues[camera] = CameraCue(framing=framing)
    shot = Shot(name="Made up", on_air=camera, duration=SYNTHETIC_S, cameras=cues)
    drive: Drive = show.file.drive
    return replace(show, file=show.file.model_copy(update={"rundown": (shot,), "drive": drive}))


def spread(frames: Sequence[int], most: int) -> tuple[int, ...]:
    """At most so many of rising frames, evenly spread, the first and the last among them.

    >>> spread([3, 4, 5, 9], 2)
    (3, 9)
    """
    if len(frames) <= most:
        return tuple(frames)
    return tuple(sorted({frames[round(step * (len(frames) - 1) / (most - 1))] for step in range(most)}))


def _frames(timeline: Timeline, camera: str, framing: str) -> tuple[list[int], list[int], int | None]:
    """Frames with the framing held on programme; those with it otherwise; the first with it at all."""
    held: list[int] = []
    elsewhere: list[int] = []
    for frame in range(timeline.frame_count):
        moment = timeline.at(frame)
        now = moment.camera(camera).framing
        if framing not in now.split(" > "):
            continue
        on_programme = camera in (moment.on_air, moment.mix_from)
        (held if on_programme and now == framing else elsewhere).append(frame)
    return held, elsewhere, min((*held[:1], *elsewhere[:1]), default=None)


def _key(check: str, finding: Finding) -> Key:
    """What stays the same when only numbers change. Cameras do not: some checks group them by settings."""
    return check, finding.grade, str(finding.measures.get("surface", ""))
