"""What a dossier is asked to hold."""

from __future__ import annotations

from dataclasses import dataclass

from preview.checks.flashing import Flashing
from preview.checks.registry import Check, all_checks
from preview.errors import RequestError
from preview.multiview.run import drawn_frames
from preview.review.clips import check_clip_size
from preview.timeline.timeline import Timeline

CLIP_PX = (640, 360)
STILL_PX = (1280, 720)
MULTIVIEW_PX = (1920, 1080)
NEAR_CUT_S = 0.04
"""Drawn frame by frame this long either side of every cut, however few others are drawn."""


@dataclass(frozen=True)
class Asked:
    """What to draw and to look at.

    Attributes
    ----------
    frames : first and last frame of the clips and checks, both included
    every : draw each N-th frame of the clips and hold it; frames near a cut are all drawn
    check_every : look at each N-th frame
    checks, known : checks to make, and all there are
    floor_step_m : distance of neighbouring places of floor maps; None for no floor maps
    paper : of the shot sheets, "a4" or "letter"
    clip_px, still_px, multiview_px : sizes of pictures
    command : noted in the manifests

    Raises
    ------
    RequestError : a size that clips cannot have.
    """

    frames: tuple[int, int]
    checks: tuple[type[Check], ...]
    known: tuple[type[Check], ...]
    every: int = 1
    check_every: int = 1
    floor_step_m: float | None = 0.25
    paper: str = "a4"
    clip_px: tuple[int, int] = CLIP_PX
    still_px: tuple[int, int] = STILL_PX
    multiview_px: tuple[int, int] = MULTIVIEW_PX
    command: str = ""

    def __post_init__(self) -> None:
        check_clip_size(self.clip_px)
        check_clip_size(self.multiview_px)
        if self.every < 1 or self.check_every < 1:
            raise RequestError("each N-th frame: write 1 or more")


def demo_asked(timeline: Timeline, still_px: tuple[int, int], command: str) -> Asked:
    """What ``preview demo`` puts on its page: a frame every two seconds, and all checks but the one on
    flashing, which has to see every frame.

    Parameters
    ----------
    still_px : of stills that are drawn already
    """
    known = all_checks()
    step = 2 * timeline.rate.nominal
    checks = tuple(check for check in known if check is not Flashing)
    return Asked(
        (0, timeline.frame_count - 1), checks, known, every=step, check_every=step, floor_step_m=0.5,
        still_px=still_px, command=command,
    )  # fmt: skip


def fitted(size_px: tuple[int, int], aspect: float) -> tuple[int, int]:
    """The largest even size of an aspect inside a size.

    >>> fitted((640, 360), 16 / 9), fitted((640, 360), 4 / 3), fitted((640, 360), 2.39)
    ((640, 360), (480, 360), (640, 268))
    """
    width, height = size_px
    across = min(width, 2 * int(height * aspect / 2 + 0.25))
    return across, min(height, 2 * int(across / aspect / 2 + 0.25))


def frames_to_draw(timeline: Timeline, frames: tuple[int, int], every: int) -> tuple[int, ...]:
    """Frames of the clips that are drawn, rising: each N-th, all near a cut, and all on which a multiview
    changes at once."""
    first, last = frames
    drawn = set(drawn_frames(timeline, first, last, every))
    near = timeline.rate.nearest_frame(NEAR_CUT_S)
    for before, shot in zip(timeline.shots, timeline.shots[1:], strict=False):
        if shot.on_air == before.on_air:
            continue
        end = shot.start_frame + shot.mix_frames
        drawn |= {frame for frame in range(shot.start_frame - near, end + near) if first <= frame <= last}
    return tuple(sorted(drawn))
