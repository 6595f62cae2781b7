"""One render order: which pictures of which frames to keep, worked out from what a user asks for."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

from preview.errors import RequestError
from preview.frame import CAMERA_KINDS, KINDS, Wanted
from preview.review.clips import BITS_PER_PIXEL, check_clip_size
from preview.review.stills import BYTES_PER_PIXEL
from preview.timeline.timecode import TimecodeError
from preview.timeline.timeline import Timeline

DEMO_SIZE_PX = (960, 540)

LARGEST_PICTURE_SIDE_PX = 8192
"""Twice the width of ultra-high definition. Drivers stop at 16384, and a frustum with its overscan is larger
than its picture."""

OWN_SIZE_KINDS = ("outer", "wall")
"""Kinds whose size follows from a canvas and not from the picture size asked for."""


@dataclass(frozen=True)
class StillFrame:
    """One frame to keep as stills: ``place`` is its place in the shot, or "at" when asked by timecode."""

    frame: int
    shot_number: int
    place: str


@dataclass(frozen=True)
class Job:
    """What to draw and keep.

    Attributes
    ----------
    wanted : kinds of pictures, and cameras
    size_px : width and height of camera pictures
    stills : frames to keep as stills
    clip : frames to keep as clips, first and last; None for no clips
    every : draw each N-th frame of the clips and hold it for N frames
    burn_in : burn timecode, shot and picture into each

    Raises
    ------
    RequestError : pictures are too large to draw, or clips have a size that video cannot have.
    """

    wanted: Wanted
    size_px: tuple[int, int]
    stills: tuple[StillFrame, ...] = ()
    clip: tuple[int, int] | None = None
    every: int = 1
    burn_in: bool = False

    def __post_init__(self) -> None:
        if max(self.size_px) > LARGEST_PICTURE_SIDE_PX:
            raise RequestError(
                "a picture cannot be {}x{}: ".format(*self.size_px)
                + f"at most {LARGEST_PICTURE_SIDE_PX} a side can be drawn; ask for less with --size"
            )
        if self.clip and not set(self.wanted.kinds) <= set(OWN_SIZE_KINDS):
            check_clip_size(self.size_px)

    @property
    def clip_frames(self) -> range:
        """Frames drawn for the clips."""
        return range(self.clip[0], self.clip[1] + 1, self.every) if self.clip else range(0)

    @property
    def frames(self) -> list[int]:
        """Every frame to draw, once each, in running order."""
        return sorted({still.frame for still in self.stills} | set(self.clip_frames))

    def estimated_bytes(self, camera_count: int, surface_count: int) -> int:
        """About what the files will take on disk."""
        of_kind = {
            **dict.fromkeys(CAMERA_KINDS, len(self.wanted.cameras) or camera_count),
            "wall": surface_count,
        }
        pictures = sum(of_kind.get(kind, 1) for kind in self.wanted.kinds)
        pixels = pictures * self.size_px[0] * self.size_px[1]
        stills = len({still.frame for still in self.stills}) * BYTES_PER_PIXEL
        clips = len(self.clip_frames) * BITS_PER_PIXEL / 8
        return int(pixels * (stills + clips))


def shot_stills(
    timeline: Timeline, first: int, last: int, places: Sequence[str] = ("start", "middle", "end")
) -> tuple[StillFrame, ...]:
    """The named places of each shot, as far as they lie between two frames (both included).

    In a shot too short to have three different frames, a frame is kept once, under its first name.

    Raises
    ------
    RequestError : none of them lies there.
    """
    found: dict[int, StillFrame] = {}
    for shot in timeline.shots:
        at = {
            "start": shot.start_frame,
            "middle": (shot.start_frame + shot.end_frame - 1) // 2,
            "end": shot.end_frame - 1,
        }
        for place in places:
            if first <= at[place] <= last:
                found.setdefault(at[place], StillFrame(at[place], shot.index + 1, place))
    if not found:
        raise RequestError(
            f"no shot has its {', '.join(places[:-1])} or {places[-1]} between {timeline.timecode(first)} "
            f"and {timeline.timecode(last)}; widen --from and --to, or name a frame with --at"
        )
    return tuple(found[frame] for frame in sorted(found))


def stills_at(timeline: Timeline, frames: Iterable[int]) -> tuple[StillFrame, ...]:
    """Stills of these very frames."""
    return tuple(StillFrame(frame, timeline.shot_at(frame).index + 1, "at") for frame in sorted(set(frames)))


def demo_jobs(timeline: Timeline) -> tuple[Job, ...]:
    """Stills that ``preview demo`` renders: every kind of picture of the first shot's middle, and the returns
    and the programme of every other shot's middle."""
    first_shot, *other_shots = shot_stills(timeline, 0, timeline.frame_count - 1, ("middle",))
    return (
        Job(Wanted(KINDS), DEMO_SIZE_PX, (first_shot,)),
        Job(Wanted(("return", "programme")), DEMO_SIZE_PX, tuple(other_shots)),
    )


def chosen_kinds(asked: str) -> tuple[str, ...]:
    """Picture kinds from a list such as ``return,programme``; ``all`` is every kind.

    Raises
    ------
    RequestError : a kind that does not exist; names the nearest.
    """
    if asked.strip() == "all":
        return KINDS
    return _chosen(asked, KINDS, "--pictures", "picture kind")


def chosen_cameras(asked: str | None, cameras: Sequence[str]) -> tuple[str, ...]:
    """Camera names from a list such as ``CAM1,CAM3``; every camera when nothing is asked.

    Raises
    ------
    RequestError : the show has no such camera.
    """
    return tuple(cameras) if asked is None else _chosen(asked, cameras, "--cameras", "camera of this show")


def chosen_camera(asked: str, cameras: Sequence[str]) -> str:
    """One camera's name; RequestError when the show has none of that name."""
    return _chosen(asked, cameras, "--camera", "camera of this show")[0]


def chosen_size_px(asked: str | None, default: tuple[int, int]) -> tuple[int, int]:
    """Width and height from ``960x540``; RequestError when it is not a size.

    >>> chosen_size_px("960x540", (1920, 1080))
    (960, 540)
    """
    if asked is None:
        return default
    match = re.fullmatch(r"(\d{1,5})[xX](\d{1,5})", asked.strip())
    if not match or min(int(match[1]), int(match[2])) < 16:
        raise RequestError(f"--size: {asked!r} is not a picture size; write width x height, such as 960x540")
    return int(match[1]), int(match[2])


def chosen_frame(option: str, timecode: str | None, default: int, timeline: Timeline) -> int:
    """The frame a timecode option names; RequestError when the rundown has no such label."""
    if timecode is None:
        return default
    try:
        return timeline.frame_of(timecode)
    except TimecodeError as error:
        raise RequestError(f"{option}: {error}") from error


def chosen_range(start: str | None, end: str | None, timeline: Timeline) -> tuple[int, int]:
    """First and last frame (both included) between ``--from`` and ``--to``; the rundown's by default.

    Raises
    ------
    RequestError : a label the rundown has not, or the end before the start.
    """
    first = chosen_frame("--from", start, 0, timeline)
    last = chosen_frame("--to", end, timeline.frame_count - 1, timeline)
    if last < first:
        raise RequestError(
            f"--to {timeline.timecode(last)} is before --from {timeline.timecode(first)}; exchange them"
        )
    return first, last


def chosen_every(asked: str, clip: bool) -> int:
    """How many frames a clip holds each drawn one; RequestError when it is no count, or there is no clip."""
    text = asked.strip()
    if not re.fullmatch(r"[0-9]{1,6}", text) or int(text) < 1:
        raise RequestError(f"--every: {asked!r} is not a whole number of at least 1; write such as 5")
    if int(text) > 1 and not clip:
        raise RequestError("--every is for clips; add --clip, or leave --every out")
    return int(text)


def _chosen(asked: str, known: Sequence[str], option: str, what: str) -> tuple[str, ...]:
    names = [name.strip() for name in asked.split(",") if name.strip()]
    if not names:
        raise RequestError(f"{option}: nothing is named; write one or more of {', '.join(known)}")
    for name in names:
        if name not in known:
            near = get_close_matches(name, known, n=1, cutoff=0.5)
            hint = f"did you mean {near[0]!r}? There are" if near else "there are"
            raise RequestError(f"{option}: {name!r} is no {what}; {hint} {', '.join(known)}")
    return tuple(dict.fromkeys(names))
