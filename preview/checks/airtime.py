"""What checks note of the pictures on programme, by shot and camera: both cameras in a mix."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Generic, TypeVar

from preview.checks.look import Look, Plan
from preview.checks.result import Finding, Grade, Value, count, runs, span
from preview.raster.sight import Sight

Noted = TypeVar("Noted")


@dataclass(eq=False)
class Spell(Generic[Noted]):
    """One camera's time on programme in one shot, the mixes at its ends included.

    Attributes
    ----------
    shot_index, shot : place in the rundown and name of the shot that takes the camera
    camera : whose picture
    frames : frames looked at, rising
    noted : what was noted of each
    """

    shot_index: int
    shot: str
    camera: str
    frames: list[int] = field(default_factory=list)
    noted: list[Noted] = field(default_factory=list)

    def worst(self, badness: Callable[[Noted], float]) -> tuple[int, Noted]:
        """Frame and note that are worst; the first of equal ones."""
        place = max(range(len(self.noted)), key=lambda at: (badness(self.noted[at]), -at))
        return self.frames[place], self.noted[place]

    def where(self, wanted: Callable[[Noted], bool]) -> Spell[Noted]:
        """The part of it for whose notes ``wanted`` holds."""
        part: Spell[Noted] = Spell(self.shot_index, self.shot, self.camera)
        for frame, noted in zip(self.frames, self.noted, strict=True):
            if wanted(noted):
                part.frames.append(frame)
                part.noted.append(noted)
        return part


class Airtime(Generic[Noted]):
    """Notes of the pictures on programme. A picture that holds still is judged once.

    Parameters
    ----------
    plan : what is checked
    judge : says what is noted of a picture, from the look, the camera's name and its sight
    equipment : whether the sight shows the other cameras' equipment
    """

    def __init__(
        self, plan: Plan, judge: Callable[[Look, str, Sight], Noted], equipment: bool = True
    ) -> None:
        self.plan, self._judge, self._equipment = plan, judge, equipment
        self.frames: list[int] = []
        self._spells: dict[tuple[int, str], Spell[Noted]] = {}
        self._latest: dict[str, tuple[Sight, Noted]] = {}

    def see(self, look: Look) -> None:
        """Note the pictures on programme in one frame."""
        self.frames.append(look.frame)
        for camera, _ in look.on_programme:
            sight = look.sight(camera) if self._equipment else look.bare(camera)
            latest = self._latest.get(camera)
            if latest is None or latest[0] is not sight:
                latest = self._latest[camera] = sight, self._judge(look, camera, sight)
            shot = look.shot_of(camera)
            spell = self._spells.setdefault((shot.index, camera), Spell(shot.index, shot.name, camera))
            spell.frames.append(look.frame)
            spell.noted.append(latest[1])

    def __iter__(self) -> Iterator[Spell[Noted]]:
        return iter(self._spells.values())

    def by_camera(self) -> dict[str, list[Spell[Noted]]]:
        """All spells of each camera."""
        found: dict[str, list[Spell[Noted]]] = {}
        for spell in self:
            found.setdefault(spell.camera, []).append(spell)
        return found

    def lines(self, value: Callable[[Noted], float]) -> dict[str, list[float]]:
        """For each camera a value in every frame looked at; NaN while it is not on programme."""
        place = {frame: at for at, frame in enumerate(self.frames)}
        found: dict[str, list[float]] = {}
        for spell in self:
            line = found.setdefault(spell.camera, [float("nan")] * len(self.frames))
            for frame, noted in zip(spell.frames, spell.noted, strict=True):
                line[place[frame]] = value(noted)
        return found

    def finding(
        self,
        spell: Spell[Noted],
        grade: Grade,
        worst_frame: int,
        sentence: str,
        measures: Mapping[str, Value],
        remedy: str = "",
        where: str = "",
    ) -> Finding:
        """A finding over a spell's frames, first to last."""
        timecode = self.plan.timeline.timecode
        first, last = spell.frames[0], spell.frames[-1]
        return Finding(
            grade=grade,
            shot=spell.shot,
            cameras=(spell.camera,),
            frames=(first, last),
            timecodes=(timecode(first), timecode(last)),
            sentence=sentence,
            remedy=remedy,
            measures={
                "worst_frame": worst_frame,
                "worst_timecode": timecode(worst_frame),
                "where": where,
                "framing": self.plan.timeline.at(worst_frame).camera(spell.camera).framing,
                **measures,
            },
        )

    def lasts(self, spell: Spell[Noted]) -> str:
        """When a spell is, in words; how many times where frames looked at lie between that are not in it."""
        timecode = self.plan.timeline.timecode
        first, last = spell.frames[0], spell.frames[-1]
        if first == last:
            return f"at {timecode(first)}"
        looked_at = self.frames[bisect_left(self.frames, first) : bisect_right(self.frames, last)]
        place = {frame: at for at, frame in enumerate(looked_at)}
        times = len(runs([place[frame] for frame in spell.frames]))
        often = "" if times == 1 else f"{times} times "
        return f"{often}from {span(timecode(first), timecode(last))}"


def in_place(words: str) -> str:
    """Words for a place in the picture, with what goes before them.

    >>> in_place("the left edge"), in_place("the lower left"), in_place("the right side")
    ('at the left edge', 'in the lower left', 'on the right side')
    """
    if " edge" in words:
        return f"at {words}"
    return f"{'on' if words.endswith(' side') or words in ('the left', 'the right') else 'in'} {words}"


def percent(share: float) -> str:
    """A share (0..1) in percent for sentences; what is there is never called 0.

    >>> percent(0.0312), percent(0.25), percent(0.00001)
    ('3.1 %', '25 %', 'under 0.01 %')
    """
    value = 100.0 * share
    if 0.0 < value < 0.01:
        return "under 0.01 %"
    return f"{value:.0f} %" if value >= 10.0 else f"{value:.1f} %" if value >= 1.0 else f"{value:.2g} %"


def shots_told(spells: list[Spell[Noted]]) -> str:
    """How many shots, in words: its name when it is one.

    >>> shots_told([Spell(0, "Titles", "jib")])
    'in Titles'
    """
    names = [spell.shot for spell in spells]
    return f"in {names[0]}" if len(names) == 1 else f"in {count(len(names), 'shot')}"
