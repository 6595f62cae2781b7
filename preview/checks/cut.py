"""Cuts: on which frames programme as shot carries another camera's background.

Worked out from the timeline alone; ``preview.checks.proof`` draws the same frames and compares.

In a switched set-up the background changes on the cut, with no delay seen on programme, when the chain
is compensated; when it is not, programme shows the incoming camera before the wall follows, or the
outgoing camera after the wall has gone. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise
from typing import Literal, Protocol

from preview.checks.look import Look, Plan
from preview.checks.registry import Check, register
from preview.checks.result import CheckResult, Finding, capital, count, span
from preview.show.model import Drive, ShowFile
from preview.timeline.delay import camera_delay
from preview.timeline.moment import Moment
from preview.timeline.timeline import Timeline

NAME = "cuts"
QUESTION = "On which frames does programme as shot carry another camera's background?"
ASSUMPTIONS = (
    "Pictures, wall and programme are labelled by the frame on which they are exposed.",
    "In a switched set-up the background changes on the cut, with no delay seen on programme, when the "
    "chain is compensated (common practice, no source).",
    "In shared drive the frustum of the camera that the wall follows lies on top: the same rule. "
    "In interleaved drive each camera has its own slot, so switching is never wrong.",
)

State = Literal["own", "mix", "wrong"]
"""own: every camera on programme has its own background. mix: two cameras are mixed and the wall serves
one of them, as it must. wrong: no camera on programme has its own."""


class HasShowFile(Protocol):
    """What the check needs of a show: its file, with catalogue names already looked up."""

    @property
    def file(self) -> ShowFile: ...


@dataclass(frozen=True)
class ProgrammeFrame:
    """Who is on programme in one frame, and whose background the wall shows.

    Attributes
    ----------
    frame, timecode : which frame
    cameras : each camera on programme with its share of the picture; two in a mix, outgoing first
    wall_camera : whose background the wall shows; None when each camera has its own slot
    """

    frame: int
    timecode: str
    cameras: tuple[tuple[str, float], ...]
    wall_camera: str | None

    @property
    def strangers(self) -> tuple[str, ...]:
        """Cameras on programme in front of another camera's background."""
        if self.wall_camera is None:
            return ()
        return tuple(name for name, _ in self.cameras if name != self.wall_camera)

    @property
    def state(self) -> State:
        if not self.strangers:
            return "own"
        return "mix" if len(self.strangers) < len(self.cameras) else "wrong"

    @property
    def wrong_share(self) -> float:
        """Share of the picture, 0..1, that comes from cameras in front of another's background."""
        return sum(share for name, share in self.cameras if name in self.strangers)


def programme_frame(moment: Moment, drive: Drive) -> ProgrammeFrame:
    """Programme as shot at a moment, told without pixels."""
    cameras: tuple[tuple[str, float], ...] = ((moment.on_air, 1.0),)
    if moment.mix_from is not None:
        cameras = ((moment.mix_from, 1.0 - moment.mix_share), (moment.on_air, moment.mix_share))
    wall_camera = None if drive.mode == "interleaved" else moment.wall_camera
    return ProgrammeFrame(moment.frame, moment.timecode, cameras, wall_camera)


@dataclass(frozen=True)
class Cut:
    """One change of camera: a cut or a mix.

    Attributes
    ----------
    shot, shot_index : the shot it begins
    outgoing, incoming : camera names
    mix_frames : 0 for a cut
    cue_frame : when it is cued
    programme_frame : first frame on which programme shows the incoming camera; None when the next cue
        comes first
    wall_frame : first frame on which the wall shows the incoming camera's background; None likewise,
        or when every camera has its own slot
    switch_after : frames into the mix after which the wall is to change (``drive.mix_switch``)
    mode : how the wall is driven
    frames : programme as shot from the cue until picture and wall have settled, or the next cue
    """

    shot: str
    shot_index: int
    outgoing: str
    incoming: str
    mix_frames: int
    cue_frame: int
    programme_frame: int | None
    wall_frame: int | None
    switch_after: int
    mode: str
    frames: tuple[ProgrammeFrame, ...]

    @property
    def wrong_frames(self) -> tuple[int, ...]:
        """Frames on which no camera on programme has its own background."""
        return tuple(one.frame for one in self.frames if one.state == "wrong")

    @property
    def shared_frames(self) -> tuple[int, ...]:
        """Frames of a mix whose two cameras share one camera's background."""
        return tuple(one.frame for one in self.frames if one.state == "mix")

    @property
    def wall_late_frames(self) -> int | None:
        """How much later than meant the wall changes, seen from programme; negative when it is early."""
        if self.programme_frame is None or self.wall_frame is None:
            return None
        return self.wall_frame - self.programme_frame - self.switch_after

    @property
    def name(self) -> str:
        return f"{'mix' if self.mix_frames else 'cut'} to {self.incoming}"


def cuts_of(show: HasShowFile, timeline: Timeline | None = None) -> tuple[Cut, ...]:
    """Every change of camera in the rundown, in order.

    A shot that keeps the camera on air is none. A frame belongs to the last change cued, even when an
    earlier one has not reached programme or wall yet.

    Parameters
    ----------
    show : anything with ``.file``
    timeline : its Timeline, when there is one already
    """
    timeline = timeline or Timeline(show)
    changes = [shot for before, shot in pairwise(timeline.shots) if shot.on_air != before.on_air]
    picture = {c.name: camera_delay(show.file, c, timeline.rate).picture for c in show.file.cameras}
    wall = show.file.delays.wall_switch_frames
    drive, cuts = show.file.drive, []
    for place, shot in enumerate(changes):
        settled = shot.start_frame + max(wall, *picture.values()) + shot.mix_frames
        following = changes[place + 1].start_frame if place + 1 < len(changes) else timeline.frame_count
        frames = range(shot.start_frame, min(settled, following))
        over = _switch_after(drive, shot.mix_frames)
        on_programme = _moment(timeline, shot.start_frame + picture[shot.on_air])
        on_wall = _moment(timeline, shot.start_frame + wall + over)
        cuts.append(
            Cut(
                shot=shot.name,
                shot_index=shot.index,
                outgoing=timeline.shots[shot.index - 1].on_air,
                incoming=shot.on_air,
                mix_frames=shot.mix_frames,
                cue_frame=shot.start_frame,
                programme_frame=on_programme.frame
                if on_programme and on_programme.on_air == shot.on_air
                else None,
                wall_frame=on_wall.frame
                if on_wall and on_wall.wall_camera == shot.on_air and drive.mode != "interleaved"
                else None,
                switch_after=over,
                mode=drive.mode,
                frames=tuple(programme_frame(timeline.at(frame), drive) for frame in frames),
            )
        )
    return tuple(cuts)


def _moment(timeline: Timeline, frame: int) -> Moment | None:
    return timeline.at(frame) if frame < timeline.frame_count else None


def _switch_after(drive: Drive, mix_frames: int) -> int:
    """Frames into a mix at which the wall is to have the incoming camera; 0 for a cut."""
    return {"start": 0, "middle": mix_frames // 2, "end": mix_frames}[drive.mix_switch]


def cut_result(cuts: Sequence[Cut], timeline: Timeline) -> CheckResult:
    """One finding a change of camera.

    A cut with wrong frames is a fault, and so is a mix that leaves a camera alone in front of another's
    background; a mix on one wall is a compromise.
    """
    return CheckResult(NAME, QUESTION, tuple(_finding(cut, timeline) for cut in cuts), ASSUMPTIONS)


def _finding(cut: Cut, timeline: Timeline) -> Finding:
    concerned = [one.frame for one in cut.frames if one.state != "own"]
    at = cut.cue_frame if cut.programme_frame is None else cut.programme_frame
    first, last = (concerned[0], concerned[-1]) if concerned else (at, at)
    return Finding(
        grade="fault" if cut.wrong_frames else "compromise" if cut.shared_frames else "fine",
        shot=cut.shot,
        cameras=(cut.outgoing, cut.incoming),
        frames=(first, last),
        timecodes=(timeline.timecode(first), timeline.timecode(last)),
        sentence=sentence(cut, timeline),
        measures={
            "transition": cut.name.split()[0],
            "mix_frames": cut.mix_frames,
            "cue_timecode": timeline.timecode(cut.cue_frame),
            "programme_timecode": _label(cut.programme_frame, timeline),
            "wall_timecode": _label(cut.wall_frame, timeline),
            "wrong_frames": len(cut.wrong_frames),
            "shared_mix_frames": len(cut.shared_frames),
            "wall_late_frames": cut.wall_late_frames,
            "wrong_picture_frames": round(sum(one.wrong_share for one in cut.frames), 4),
        },
    )


def _label(frame: int | None, timeline: Timeline) -> str | None:
    return None if frame is None else timeline.timecode(frame)


def sentence(cut: Cut, timeline: Timeline) -> str:
    """What is seen at a cut or mix, as one would tell the director."""
    name = capital(cut.name)
    if cut.programme_frame is None:
        head = f"{name} cued at {timeline.timecode(cut.cue_frame)} never reaches programme"
    else:
        over = f" over {count(cut.mix_frames, 'frame')}" if cut.mix_frames else ""
        head = f"{name} at {timeline.timecode(cut.programme_frame)}{over}"
    parts = [_seen(cut, part) for part in _parts(cut)]
    if cut.mode == "interleaved":
        return f"{head}: clean, every camera has its own slot."
    if not parts:
        return f"{head}: clean, the background changes with the picture."
    told = f"{head}: {'; '.join(parts)}"
    late = cut.wall_late_frames
    if late and cut.mix_frames:
        side = "later" if late > 0 else "earlier"
        told += f"; the wall changes {count(abs(late), 'frame')} {side} than this mix should have it"
    elif late:
        told += (
            f"; the wall follows {count(late, 'frame')} after the cut"
            if late > 0
            else f"; the mixer cuts {count(-late, 'frame')} after the wall has changed"
        )
    return told + "."


def _parts(cut: Cut) -> list[tuple[ProgrammeFrame, ...]]:
    """Stretches of frames in which the same cameras stand before the same strange background."""
    alike = groupby(cut.frames, key=lambda one: (one.state, one.strangers, one.wall_camera))
    return [tuple(frames) for (state, _, _), frames in alike if state != "own"]


def _seen(cut: Cut, part: tuple[ProgrammeFrame, ...]) -> str:
    first, last = part[0], part[-1]
    when = f"{count(len(part), 'frame')} ({span(first.timecode, last.timecode)})"
    what = "frustum on top" if cut.mode == "shared" else "background"
    if first.state == "wrong":
        names = " and ".join(first.strangers)
        verb = "is" if len(first.strangers) == 1 else "are"
        return f"for {when} {names} {verb} on programme with {first.wall_camera}'s {what}"
    (stranger,) = first.strangers
    way = "in" if stranger == cut.incoming else "out"
    return f"for {when} {stranger} is mixed {way} over {first.wall_camera}'s {what}"


def around(cut: Cut, frame_count: int, each_side: int = 3) -> tuple[int, ...]:
    """Frames that show a cut: ``each_side`` before programme cuts, that frame, and as many after.

    Of a mix: the frame before it, its first, the two at which the wall changes, its last and the first
    after it. Frames outside the rundown are left out.
    """
    start = cut.cue_frame if cut.programme_frame is None else cut.programme_frame
    if not cut.mix_frames:
        frames = set(range(start - each_side, start + each_side + 1))
    else:
        end = start + cut.mix_frames
        over = start + cut.switch_after if cut.wall_frame is None else cut.wall_frame
        frames = {start - 1, start, over - 1, over, end - 1, end}
        quarter = (start + min(over, end)) // 2
        frames |= {quarter} if len(frames) < 2 * each_side + 1 else set()
    return tuple(frame for frame in sorted(frames) if 0 <= frame < frame_count)


def proof_frames(cut: Cut, frame_count: int) -> tuple[int, ...]:
    """``around`` the cut, and every frame from its cue until picture and wall have settled, and one more."""
    settling = {one.frame for one in cut.frames}
    edge = {max(settling, default=cut.cue_frame) + 1, cut.cue_frame - 1}
    frames = settling | edge | set(around(cut, frame_count))
    return tuple(frame for frame in sorted(frames) if 0 <= frame < frame_count)


@register
class CutCheck(Check):
    """Every change of camera whose frames are looked at, told from the timeline."""

    name = NAME
    question = QUESTION
    assumptions = (
        *ASSUMPTIONS,
        "Whether a camera's picture shows wall at all is not looked at here.",
    )
    order = 70
    levers = ("picture delay",)

    def __init__(self, plan: Plan) -> None:
        super().__init__(plan)
        self._looked: tuple[int, int] | None = None

    def see(self, look: Look) -> None:
        """Note that a frame is of the stretch looked at; cuts are told for every frame of it."""
        self._looked = (look.frame if self._looked is None else self._looked[0]), look.frame

    def result(self) -> CheckResult:
        """One finding a change that is not clean, and one for all clean ones."""
        if self._looked is None:
            return self.answer(())
        first, last = self._looked
        timeline = self.plan.timeline
        unclean: list[tuple[Cut, Finding]] = []
        clean: list[tuple[Cut, Finding]] = []
        for cut in cuts_of(self.plan.show, timeline):
            finding = _finding(cut, timeline)
            if finding.frames[0] > last or finding.frames[1] < first:
                continue
            (clean if finding.grade == "fine" else unclean).append((cut, finding))
        findings = [self._unclean(cut, finding) for cut, finding in unclean]
        if clean or not unclean:
            findings.append(self._clean([cut for cut, _ in clean], (first, last)))
        return self.answer(findings)

    def _unclean(self, cut: Cut, finding: Finding) -> Finding:
        allowed = self.plan.thresholds.cuts.wrong_frames
        bad = [one for one in cut.frames if one.state == ("wrong" if cut.wrong_frames else "mix")]
        worst = max(bad, key=lambda one: one.wrong_share)
        grade = "fault" if len(cut.wrong_frames) > allowed else "compromise"
        at = {"worst_frame": worst.frame, "worst_timecode": worst.timecode, "where": ""}
        measures = {**finding.measures, "allowed_wrong_frames": allowed, **at}
        return replace(finding, grade=grade, measures=measures)  # type: ignore[arg-type]

    def _clean(self, cuts: Sequence[Cut], frames: tuple[int, int]) -> Finding:
        mixes = sum(1 for cut in cuts if cut.mix_frames)
        parts = [count(len(cuts) - mixes, "cut")] if len(cuts) > mixes else []
        parts += [f"{mixes} mix{'es' if mixes > 1 else ''}"] if mixes else []
        why = "every camera has its own slot" if cuts and cuts[0].mode == "interleaved" else ""
        why = why or "the background changes with the picture"
        told = f"Clean: {' and '.join(parts)}; {why}." if cuts else "No change of camera in this stretch."
        timeline = self.plan.timeline
        at = cuts[0].cue_frame if cuts else frames[0]
        names = [name for cut in cuts for name in (cut.outgoing, cut.incoming)]
        return Finding(
            grade="fine",
            shot=cuts[0].shot if len(cuts) == 1 else "",
            cameras=tuple(dict.fromkeys(names)) or (timeline.at(frames[0]).on_air,),
            frames=frames,
            timecodes=(timeline.timecode(frames[0]), timeline.timecode(frames[1])),
            sentence=told,
            measures={
                "clean_changes": len(cuts),
                "worst_frame": at,
                "worst_timecode": timeline.timecode(at),
                "where": "",
            },
        )
