"""Walk through a rundown once: every check sees every frame it wants, then answers."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager

from preview.checks.look import Look, Plan
from preview.checks.registry import Check
from preview.errors import of_frame
from preview.frame import Studio
from preview.raster.sight import SIGHT_PX, SightRaster
from preview.show.load import Show
from preview.stage.build import Stage, build_stage
from preview.timeline.timeline import Timeline


def sight_raster(show: Show, stage: Stage, size_px: tuple[int, int] = SIGHT_PX) -> SightRaster:
    """What draws sights of a show's stage."""
    people = [person.name for person in show.file.stage.people]
    return SightRaster(stage.surfaces, stage.set, people, size_px)


@contextmanager
def open_plan(
    show: Show,
    first: int = 0,
    last: int | None = None,
    every: int = 1,
    size_px: tuple[int, int] = SIGHT_PX,
) -> Iterator[Plan]:
    """A show made ready to be checked.

    Parameters
    ----------
    first, last : frames looked at, both included; to the rundown's end when None
    every : each n-th of them; the last one too
    size_px : sightlines across and down

    Raises
    ------
    ShowError, AssetError, GraphicsError : as ``preview.frame.Studio``.
    """
    timeline, stage = Timeline(show), build_stage(show)
    with sight_raster(show, stage, size_px) as sights:
        yield Plan(show, timeline, stage, sights, chosen_frames(timeline, first, last, every), every)


def chosen_frames(timeline: Timeline, first: int, last: int | None, every: int) -> tuple[int, ...]:
    """Each n-th frame from ``first``, and both sides of every cut and the last frame, rising.

    Raises
    ------
    ValueError : ``every`` is below 1, or the range is empty or outside the rundown.
    """
    last = timeline.frame_count - 1 if last is None else last
    if every < 1:
        raise ValueError(f"every {every} frames: write 1 or more")
    if not 0 <= first <= last < timeline.frame_count:
        raise ValueError(f"frames {first} to {last} are not of a rundown of {timeline.frame_count}")
    frames = set(range(first, last + 1, every)) | {last}
    for shot in timeline.shots:
        frames |= {frame for frame in (shot.start_frame - 1, shot.start_frame) if first <= frame <= last}
    return tuple(sorted(frames))


def walk(
    plan: Plan,
    checks: Sequence[Check],
    studio: Studio | None = None,
    on_frame: Callable[[int, int], None] = lambda done, total: None,
) -> None:
    """Show every frame of the plan to the checks; frames between them to those that want every frame.

    Parameters
    ----------
    checks : made for this plan; ask each for its result afterwards
    studio : for the checks that draw, small; without it they see nothing
    on_frame : told frames done and frames to do

    Raises
    ------
    FrameFailed : a check failed for a reason that is not the show's; names the frame.
    """
    chosen = set(plan.frames)
    patient = [check for check in checks if check.every_frame and (studio or not check.draws)]
    others = [check for check in checks if not check.every_frame and (studio or not check.draws)]
    frames = range(plan.frames[0], plan.frames[-1] + 1) if patient else plan.frames
    for done, frame in enumerate(frames):
        on_frame(done, len(frames))
        look = Look(plan, frame, studio)
        with of_frame(frame, plan.timeline.timecode(frame), "checking"):
            for check in (*others, *patient) if frame in chosen else patient:
                check.see(look)
    on_frame(len(frames), len(frames))
