"""What the bleed check says: one case, and the sentence and remedy for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from preview.checks.result import count, span
from preview.checks.where import MOST

Cause = Literal["late wall", "early wall", "own image", "mix", "off air", "crosstalk"]
"""Why a picture shows another camera's frustum. late wall, early wall: on programme while the wall still, or
already, serves another camera. own image: its own frustum is on top and does not reach there. mix: the wall
serves the other camera of the mix. off air: the wall serves who is on programme. crosstalk: light of the
other slots of an interleaved wall."""


@dataclass
class BleedCase:
    """One thing to tell, while frames come in.

    Attributes
    ----------
    viewer, cause : whose picture, and why
    first, last : frames it was met in
    looked_at, frames : how many of them, and how many of the rundown they stand for
    share : largest share of the picture, 0..1; what follows held in that frame
    sources : whose frustums, the most seen first
    worst, shot, where : frame, name of its shot, place in the picture
    ghost : share of the light there that leaks from another slot
    wall_camera : whom the wall served
    source_on_air : whether the first source was on programme
    overlap_m2 : what the first source's frustum and the viewer's shared on the wall
    shots : names of all shots it was met in
    """

    viewer: int
    cause: Cause
    first: int
    last: int = 0
    looked_at: int = 0
    frames: int = 0
    share: float = 0.0
    sources: tuple[int, ...] = ()
    worst: int = 0
    shot: str = ""
    where: str = ""
    ghost: float = 0.0
    wall_camera: str = ""
    source_on_air: bool = False
    overlap_m2: float = 0.0
    shots: set[str] = field(default_factory=set)


def whose(names: Sequence[str]) -> str:
    """Names as owners.

    >>> whose(["left", "jib"])
    "left's and jib's"
    """
    return " and ".join(f"{name}'s" for name in names)


def bleed_words(
    case: BleedCase,
    viewer: str,
    sources: Sequence[str],
    labels: tuple[str, str],
    worst: str,
    seconds: float,
    every: int,
) -> tuple[str, str]:
    """Sentence and remedy of a case.

    Parameters
    ----------
    viewer, sources : names of the cameras
    labels, worst : timecodes of the first, last and worst frame
    seconds : of the rundown
    every : step between frames looked at
    """
    source = sources[0]
    most = f"{100 * case.share:.2g} %" if case.share < 0.0995 else f"{100 * case.share:.0f} %"
    looked_at = " looked at" if every > 1 else ""
    lasts = f"for {count(case.looked_at, 'frame')}{looked_at} ({span(*labels)})"
    place = f" ({case.where})" if case.where and case.share <= MOST else ""
    wrong = f"{lasts} up to {most} of {viewer}'s picture{place} shows {whose(sources)} "
    wrong += "background" if len(sources) == 1 else "backgrounds"
    lasting = f"{seconds:.0f} s" if seconds >= 100 else f"{seconds:.3g} s"
    delay = "see the cuts check for the delay that mends it"
    match case.cause:
        case "late wall":
            told = f"{viewer} is on programme before the wall follows: {wrong}. The wall's change is late."
            return told, f"Hold the picture back until the wall has changed (delays.picture_frames); {delay}."
        case "early wall":
            told = f"The wall goes to {case.wall_camera} while {viewer} is still on programme: {wrong}. "
            told += "The cut of the picture is late."
            return told, f"Hold the picture back for fewer frames (delays.picture_frames); {delay}."
        case "own image":
            told = f"{viewer} is on programme and its own image does not fill its picture: {wrong}."
            return told, f"More overscan for {viewer}, or tracking that is less late."
        case "mix":
            told = f"{viewer} is in a mix while the wall serves {case.wall_camera}, the mix's other camera: "
            told += f"{wrong}."
            return told, "Cut instead of mixing, or drive the wall interleaved; nothing else avoids it."
        case "crosstalk":
            told = (
                f"Up to {most} of {viewer}'s picture on programme{place} lies inside {source}'s frustum and "
            )
            told += f"takes {100 * case.ghost:.2g} % of its light there from {source}'s slot, "
            told += f"in {lasting} of the rundown, most at {worst}."
            return told, "Measure what the slots leak, with the shutters as short as the light allows."
    while_on = f"While {source} is on air" if case.source_on_air else f"While {viewer} is off air"
    told = f"{while_on}, up to {most} of {viewer}'s picture{place} shows {source}'s background. "
    told += f"Most at {worst} ({case.shot}); {lasting} of the rundown in all."
    return told, f"Work by the return: it shows {viewer}'s own background."
