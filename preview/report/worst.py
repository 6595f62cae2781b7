"""Which findings get a still, and what is outlined in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from preview.checks.look import Look, Plan
from preview.checks.registry import Check, Mark
from preview.checks.result import CheckResult, Finding
from preview.errors import of_frame
from preview.frame import Studio

STILLS_A_CHECK = 3
CONSIDERED_A_CHECK = 12
"""Findings of a check whose marks are compared; in a crew's hands the longest come first."""


@dataclass(frozen=True, eq=False)
class Shown:
    """A finding that gets a still.

    Attributes
    ----------
    check : name of the check
    number : 1 for the check's worst
    finding_place : place of the finding in the check's result
    frame, camera : whose picture of which frame
    marks : what to outline in it
    """

    check: str
    number: int
    finding_place: int
    frame: int
    camera: str
    marks: tuple[Mark, ...]


def worst_frame(finding: Finding) -> int:
    """The frame that shows a finding best: its worst; its first where the check does not say."""
    frame = finding.measures.get("worst_frame")
    return frame if isinstance(frame, int) else finding.frames[0]


def shown_findings(plan: Plan, check: Check, result: CheckResult, studio: Studio | None) -> tuple[Shown, ...]:
    """A check's findings that get stills, worst first, one for each camera and shot.

    Faults come before compromises, then what covers most of its picture.

    Parameters
    ----------
    studio : the one the check drew with, None if it drew nothing

    Raises
    ------
    FrameFailed : the check cannot say what to outline; names the frame.
    """
    told = [(place, one) for place, one in enumerate(result.findings) if one.grade != "fine"]
    told.sort(key=lambda item: (item[1].grade != "fault", item[1].frames[0] - item[1].frames[1]))
    chosen = {(one.shot, one.cameras): (place, one) for place, one in reversed(told)}
    kept = [item for item in told if chosen[item[1].shot, item[1].cameras] == item][:CONSIDERED_A_CHECK]
    ranked = []
    for place, finding in kept:
        frame = worst_frame(finding)
        camera, marks = _outlines(Look(plan, frame, studio), check, finding)
        share = max((float(mark.mask.mean()) for mark in marks), default=0.0)
        ranked.append((finding.grade != "fault", -share, place, frame, camera, marks))
    ranked.sort(key=lambda item: item[:3])
    return tuple(
        Shown(check.name, number, place, frame, camera, marks)
        for number, (_, _, place, frame, camera, marks) in enumerate(ranked[:STILLS_A_CHECK], 1)
    )


def _outlines(look: Look, check: Check, finding: Finding) -> tuple[str, tuple[Mark, ...]]:
    """Whose picture shows the finding, and the marks in it."""
    with of_frame(look.frame, look.plan.timeline.timecode(look.frame), "outlining"):
        marks = check.marks(look, finding)
        names = list(dict.fromkeys(mark.camera for mark in marks if mark.mask.any()))
    if not names:
        on_programme = [name for name, _ in look.on_programme]
        own = [name for name in finding.cameras if name in on_programme]
        return (own or list(finding.cameras) or on_programme)[-1], ()
    largest = max(names, key=lambda name: max(float(m.mask.mean()) for m in marks if m.camera == name))
    return largest, tuple(mark for mark in marks if mark.camera == largest and mark.mask.any())


def tally_words(look: Look, camera: str) -> str:
    """Whether a camera is on programme, in words."""
    share = dict(look.on_programme).get(camera)
    if share is None:
        return "off air"
    return "on air" if share == 1.0 else f"on air, {100 * share:.0f} % of a mix"


def drawn_order(shown: Sequence[Shown]) -> list[Shown]:
    """Stills in running order: what a frame needs is drawn once."""
    return sorted(shown, key=lambda one: (one.frame, one.camera, one.check, one.number))
