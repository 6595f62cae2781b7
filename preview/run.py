"""Many frames: which to draw, in what order, and where each picture goes.

Frames are drawn once each, in running order, whatever stills and clips they feed; a picture is written
and forgotten before the next one is drawn, so memory does not grow with the length of the job.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from time import perf_counter

import numpy as np

from preview.errors import FrameFailed, PreviewError
from preview.frame import Picture, Studio
from preview.job import Job, StillFrame
from preview.review.atomic import output_folder
from preview.review.burn_in import burn_in
from preview.review.clips import Clip, even_sides, open_clip
from preview.review.manifest import FileEntry, Manifest, RunEntry
from preview.review.stills import (
    names_for_files,
    picture_name,
    still_name,
    timecode_in_name,
    write_still,
)


@dataclass(frozen=True)
class Summary:
    """What a finished job wrote.

    ``picture_count`` pictures were shown; ``reused_count`` of them had been drawn for an earlier frame or by
    an earlier run.
    """

    folder: Path
    files: tuple[FileEntry, ...]
    frame_count: int
    picture_count: int
    reused_count: int
    seconds: float
    graphics: str
    notes: tuple[str, ...]


def render(
    studio: Studio,
    job: Job,
    folder: str | Path,
    command: str = "",
    on_frame: Callable[[int, int], None] = lambda done, total: None,
) -> Summary:
    """Draw a job's frames and write its stills, clips and manifest.

    Parameters
    ----------
    studio : the show, ready to draw
    job : what to draw and keep
    folder : where files go; made if missing, earlier files in it stay
    command : noted in the manifest
    on_frame : told frames done and frames in all, before the first and after each

    Returns
    -------
    Summary ; returning at all means that every file asked for is in place

    Raises
    ------
    OutputError : something cannot be written; files finished before stay, nothing half-written does.
    RequestError : the size cannot be a clip's.
    FrameFailed : a frame hit an error that is not the user's.
    """
    if tuple(studio.size_px) != tuple(job.size_px):
        raise ValueError(f"the studio draws {studio.size_px}, the job wants {job.size_px}")
    folder, started, frames = Path(folder), perf_counter(), job.frames
    needed = job.estimated_bytes(len(studio.show.file.cameras), len(studio.stage.surfaces))
    with output_folder(folder, needed):
        manifest = Manifest(folder, _run_entry(studio, job, command))
        with _Outputs(studio, job, folder, manifest) as outputs:
            on_frame(0, len(frames))
            for done, frame in enumerate(frames, start=1):
                outputs.draw(frame)
                on_frame(done, len(frames))
        manifest.run = replace(manifest.run, notes=(*studio.notes, *_told_of_reuse(outputs)))
        manifest.finish()
    return Summary(
        folder,
        tuple(outputs.entries),
        len(frames),
        outputs.picture_count,
        outputs.reused_count,
        perf_counter() - started,
        studio.graphics,
        tuple(studio.notes),
    )


class _Outputs:
    """The files of one job while it runs: open clips, and the entries of what is finished."""

    def __init__(self, studio: Studio, job: Job, folder: Path, manifest: Manifest):
        self.entries: list[FileEntry] = []
        self.picture_count = self.reused_count = 0
        self._studio, self._job, self._folder, self._manifest = studio, job, folder, manifest
        subjects = [camera.name for camera in studio.show.file.cameras]
        subjects += [surface.name for surface in studio.stage.surfaces]
        self._file_names = names_for_files(subjects)
        self._stills: dict[int, list[StillFrame]] = {}
        for still in job.stills:
            self._stills.setdefault(still.frame, []).append(still)
        self._clips: dict[tuple[str, str], tuple[Clip, FileEntry]] = {}
        self._open_clips = ExitStack()

    def __enter__(self) -> _Outputs:
        self._open_clips.__enter__()
        return self

    def __exit__(self, *error: object) -> None:
        # Clips take their final names here; only then may the manifest list them.
        self._open_clips.__exit__(*error)  # type: ignore[arg-type]
        if error[0] is None:
            self._list(entry for _, entry in self._clips.values())

    def draw(self, frame: int) -> None:
        """Draw one frame and hand its pictures to the stills and clips it belongs to."""
        timecode = self._studio.timeline.timecode(frame)
        entries: list[FileEntry] = []
        drawn: set[tuple[str, str]] = set()
        pictures = iter(self._studio.pictures(frame, self._job.wanted))
        while True:
            try:
                picture = next(pictures, None)
                if picture is None:
                    break
                code = self._marked(picture, frame, timecode)
            except PreviewError as error:
                error.add_note(f"while drawing {timecode}")
                raise
            except Exception as error:
                raise FrameFailed(frame, timecode) from error
            drawn.add((picture.kind, picture.subject))
            self.picture_count += 1
            self.reused_count += picture.reused
            for still in self._stills.get(frame, ()):
                entries.append(self._write_still(still, timecode, picture, code))
            if frame in self._job.clip_frames:
                self._add_to_clip(frame, timecode, picture, code)
        if self._clips and frame in self._job.clip_frames and drawn != set(self._clips):
            odd = drawn ^ set(self._clips)
            raise FrameFailed(frame, timecode) from RuntimeError(f"not in every frame of the clips: {odd}")
        self._list(entries)

    def _marked(self, picture: Picture, frame: int, timecode: str) -> np.ndarray:
        """The picture as it will be written."""
        if not self._job.burn_in:
            return picture.code
        moment = self._studio.timeline.at(frame)
        label = f"{picture.kind} {picture.subject}".strip()
        if picture.kind in ("programme", "programme-as-shot"):
            label += f" {moment.on_air}"
        elif picture.subject == moment.on_air:
            label += " (on air)"
        return burn_in(picture.code, f"{timecode}  {moment.shot_index + 1:03d} {moment.shot}  {label}")

    def _write_still(self, still: StillFrame, timecode: str, picture: Picture, code: np.ndarray) -> FileEntry:
        subject = self._file_names.get(picture.subject, picture.subject)
        name = still_name(still.shot_number, still.place, timecode, picture.kind, subject)
        write_still(self._folder / name, code, {"Title": self._title(picture), "Timecode": timecode})
        return replace(self._entry(picture, code, still.frame), name=name, media="still", place=still.place)

    def _add_to_clip(self, frame: int, timecode: str, picture: Picture, code: np.ndarray) -> None:
        code = even_sides(code)
        key = (picture.kind, picture.subject)
        if key not in self._clips:
            self._clips[key] = self._open_clip(picture, code)
        clip, entry = self._clips[key]
        last = self._job.clip[1] if self._job.clip else frame
        clip.write(code, frames=min(self._job.every, last - frame + 1))
        if picture.off_wall is not None and picture.off_wall > (entry.off_wall or -1.0):
            entry = replace(entry, off_wall=picture.off_wall, off_wall_timecode=timecode)
            self._clips[key] = (clip, entry)

    def _open_clip(self, picture: Picture, code: np.ndarray) -> tuple[Clip, FileEntry]:
        assert self._job.clip is not None
        timeline, (first, last) = self._studio.timeline, self._job.clip
        start, end = timeline.timecode(first), timeline.timecode(last)
        subject = self._file_names.get(picture.subject, picture.subject)
        name = f"{timecode_in_name(start)}_{timecode_in_name(end)}_{picture_name(picture.kind, subject)}.mp4"
        clip = self._open_clips.enter_context(
            open_clip(
                self._folder / name,
                (code.shape[1], code.shape[0]),
                timeline.rate.fps,
                start,
                {"title": self._title(picture), "comment": f"{start} to {end}"},
            )
        )
        shots = tuple(
            shot.name for shot in timeline.shots if shot.start_frame <= last and shot.end_frame > first
        )
        entry = replace(
            self._entry(picture, code, first),
            name=name,
            media="clip",
            end_timecode=end,
            frame_range=(first, last),
            shots=shots,
            every=self._job.every,
        )
        return clip, entry

    def _entry(self, picture: Picture, code: np.ndarray, frame: int) -> FileEntry:
        timeline = self._studio.timeline
        timecode = timeline.timecode(frame)
        return FileEntry(
            name="",
            media="",
            kind=picture.kind,
            subject=picture.subject,
            size_px=(code.shape[1], code.shape[0]),
            start_timecode=timecode,
            end_timecode=timecode,
            frame_range=(frame, frame),
            shots=(timeline.shot_at(frame).name,),
            off_wall=picture.off_wall,
            off_wall_timecode=None if picture.off_wall is None else timecode,
            burn_in=self._job.burn_in,
        )

    def _title(self, picture: Picture) -> str:
        return f"{self._studio.show.file.show.title}: {picture.kind} {picture.subject}".strip()

    def _list(self, entries: Iterable[FileEntry]) -> None:
        new = list(entries)
        if new:
            self._manifest.add(*new)
            self.entries += new


def _told_of_reuse(outputs: _Outputs) -> tuple[str, ...]:
    if not outputs.reused_count:
        return ()
    return (f"{outputs.reused_count} of {outputs.picture_count} pictures were kept ones, not drawn again",)


def _run_entry(studio: Studio, job: Job, command: str) -> RunEntry:
    show, frames = studio.show, job.frames
    return RunEntry(
        show_path=str(show.path),
        show_sha256=show.sha256,
        show_title=show.file.show.title,
        command=command,
        frame_rate=str(studio.timeline.rate),
        size_px=job.size_px,
        frame_range=(frames[0], max(frames[-1], job.clip[1] if job.clip else 0)),
        graphics=studio.graphics,
        notes=tuple(studio.notes),
    )
