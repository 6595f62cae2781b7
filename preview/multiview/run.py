"""Multiviews from a studio: frame by frame for who draws the pictures anyway, or a stretch as a clip."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from time import perf_counter

from preview.errors import FrameFailed, PreviewError
from preview.frame import Studio, Wanted
from preview.multiview.floor_plan import FloorPlan
from preview.multiview.frame import Pictures, base_picture, compose
from preview.multiview.layout import Layout, lay_out
from preview.multiview.upcoming import Strip, changes
from preview.multiview.words import drive_words, surface_words, words_at
from preview.review.atomic import output_folder
from preview.review.clips import BITS_PER_PIXEL, check_clip_size, open_clip
from preview.review.manifest import FileEntry, Manifest, RunEntry
from preview.review.plate import Pixels
from preview.review.stills import timecode_in_name
from preview.show import model
from preview.show.model import ShowFile
from preview.timeline.timeline import Timeline

SIZE_PX = (1920, 1080)
KIND = "multiview"
WANTED = Wanted(("wall", "return", "programme", "programme-as-shot"))
CAUTION = (
    "A planning aid: nothing in it shows clearances, loads or exclusion zones. Jib arms, rigging, bright "
    "walls and flashing pictures are for trained and licensed people under local codes; they decide."
)
"""Told with every multiview."""


@dataclass(frozen=True)
class MultiviewResult:
    """What was written.

    Attributes
    ----------
    folder, files : the folder, and its new files
    drawn : frames that were drawn, rising; each is held until the next
    seconds, graphics, notes : as ``preview.run.Summary``
    """

    folder: Path
    files: tuple[FileEntry, ...]
    drawn: tuple[int, ...]
    seconds: float
    graphics: str
    notes: tuple[str, ...]


class Multiview:
    """A show's multiview, frame by frame.

    Parameters
    ----------
    studio : the show, ready to draw; pictures may come from another studio of the same show
    size_px : width and height of the multiview
    every : what is said of held frames in the header; 1 for none

    Raises
    ------
    RequestError : the show does not fit that size legibly.
    """

    wanted = WANTED
    """Pictures that ``frame`` needs."""

    def __init__(self, studio: Studio, size_px: tuple[int, int] = SIZE_PX, every: int = 1) -> None:
        self._file, self._timeline = studio.show.file, studio.timeline
        self.layout = layout_of(self._file, size_px)
        plan = self.layout.plan.picture
        self._plan = FloorPlan(
            studio.show, studio.stage, studio.timeline, (plan.width, plan.height), self.layout.text.small
        )
        self._strip = Strip(studio.timeline, self._file.cameras)
        how = drive_words(self._file) + (f"; each {ordinal(every)} frame drawn" if every > 1 else "")
        self._surfaces = tuple(surface.name for surface in self._file.stage.surfaces)
        self._base = base_picture(
            self.layout, self._file.show.title, how, self._surfaces, surface_words(self._file)
        )

    @property
    def tile_px(self) -> tuple[int, int]:
        """Picture size of a studio that draws no more than is shown; other sizes are fitted in."""
        return self.layout.tile_px

    def frame(self, frame: int, pictures: Pictures) -> Pixels:
        """The multiview of one frame.

        Parameters
        ----------
        pictures : code values (h, w, 3) of ``wanted`` at that frame, by (kind, subject)

        Returns
        -------
        (h, w, 3) uint8

        Raises
        ------
        KeyError : a picture is missing.
        ValueError : no such frame.
        """
        moment = self._timeline.at(frame)
        words = words_at(self._file, moment, self._strip.at(frame))
        return compose(self.layout, self._base, words, self._surfaces, self._plan.at(moment), pictures)


def layout_of(file: ShowFile, size_px: tuple[int, int] = SIZE_PX) -> Layout:
    """A show's multiview layout, known before anything is built; RequestError when it does not fit."""
    width, height = file.show.picture_size_px
    aspects = [_aspect(surface) for surface in file.stage.surfaces]
    return lay_out(len(file.cameras), aspects, size_px, width / height)


def drawn_frames(timeline: Timeline, first: int, last: int, every: int) -> list[int]:
    """Each N-th frame of a stretch, and all on which something changes at once, so that no cut comes late.

    Raises
    ------
    ValueError : ``every`` is below 1, or the stretch is empty or outside the rundown.
    """
    if every < 1 or not 0 <= first <= last < timeline.frame_count:
        raise ValueError(f"each {every}th of frames {first} to {last} of {timeline.frame_count}")
    if every == 1:
        return list(range(first, last + 1))
    return sorted({*range(first, last + 1, every), *changes(timeline, first, last)})


def write_multiview(
    studio: Studio,
    folder: str | Path,
    frames: tuple[int, int],
    every: int = 1,
    size_px: tuple[int, int] = SIZE_PX,
    command: str = "",
    on_frame: Callable[[int, int], None] = lambda done, total: None,
) -> MultiviewResult:
    """Write the multiview clip of a stretch, at the show's rate and with its timecode.

    Parameters
    ----------
    studio : the show, ready to draw, best at ``layout_of(...).tile_px``
    frames : first and last frame, both included
    every : draw each N-th frame and hold it; frames that carry a cut are drawn all the same
    command : noted in the manifest
    on_frame : told frames done and frames to draw

    Raises
    ------
    RequestError : the size cannot be a clip's, or the show does not fit it legibly.
    OutputError : it cannot be written; an earlier clip of the same name stays.
    FrameFailed : a frame hit an error that is not the user's.
    """
    check_clip_size(size_px)
    folder, started, timeline = Path(folder), perf_counter(), studio.timeline
    first, last = frames
    drawn = drawn_frames(timeline, first, last, every)
    view = Multiview(studio, size_px, every)
    entry = _entry(timeline, first, last, every, size_px)
    needed = int(len(drawn) * size_px[0] * size_px[1] * BITS_PER_PIXEL / 8)
    with output_folder(folder, needed):
        manifest = Manifest(folder, _run_entry(studio, frames, size_px, command))
        text = {
            "title": f"{studio.show.file.show.title}: {KIND}",
            "comment": f"{entry.start_timecode} to {entry.end_timecode}. {CAUTION}",
        }
        path = folder / entry.name
        with open_clip(path, size_px, timeline.rate.fps, entry.start_timecode, text) as clip:
            on_frame(0, len(drawn))
            for done, (frame, following) in enumerate(pairwise([*drawn, last + 1]), start=1):
                clip.write(_draw(studio, view, frame), following - frame)
                on_frame(done, len(drawn))
        manifest.add(entry)
        manifest.finish()
    seconds = perf_counter() - started
    return MultiviewResult(folder, (entry,), tuple(drawn), seconds, studio.graphics, tuple(studio.notes))


def ordinal(count: int) -> str:
    """A count as it is said.

    >>> [ordinal(count) for count in (2, 3, 5, 11, 21)]
    ['2nd', '3rd', '5th', '11th', '21st']
    """
    ending = "th" if count % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(count % 10, "th")
    return f"{count}{ending}"


def _draw(studio: Studio, view: Multiview, frame: int) -> Pixels:
    timecode = studio.timeline.timecode(frame)
    try:
        pictures = {(one.kind, one.subject): one.code for one in studio.pictures(frame, view.wanted)}
        return view.frame(frame, pictures)
    except PreviewError as error:
        error.add_note(f"while drawing {timecode}")
        raise
    except Exception as error:
        raise FrameFailed(frame, timecode) from error


def _entry(timeline: Timeline, first: int, last: int, every: int, size_px: tuple[int, int]) -> FileEntry:
    start, end = timeline.timecode(first), timeline.timecode(last)
    return FileEntry(
        name=f"{timecode_in_name(start)}_{timecode_in_name(end)}_{KIND}.mp4",
        media="clip",
        kind=KIND,
        subject="",
        size_px=size_px,
        start_timecode=start,
        end_timecode=end,
        frame_range=(first, last),
        shots=_shots(timeline, first, last),
        every=every,
    )


def _shots(timeline: Timeline, first: int, last: int) -> tuple[str, ...]:
    return tuple(s.name for s in timeline.shots if s.start_frame <= last and s.end_frame > first)


def _run_entry(studio: Studio, frames: tuple[int, int], size_px: tuple[int, int], command: str) -> RunEntry:
    show = studio.show
    return RunEntry(
        show_path=str(show.path),
        show_sha256=show.sha256,
        show_title=show.file.show.title,
        command=command,
        frame_rate=str(studio.timeline.rate),
        size_px=size_px,
        frame_range=frames,
        graphics=studio.graphics,
        notes=tuple(studio.notes),
    )


def _aspect(surface: model.Surface) -> float:
    """Width over height of a surface's canvas."""
    if surface.canvas_px is not None:
        return surface.canvas_px[0] / surface.canvas_px[1]
    assert surface.columns and surface.rows and surface.tile_size_mm
    wide, high = surface.tile_size_mm
    return surface.columns * wide / (surface.rows * high)
