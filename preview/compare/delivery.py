"""The files of a comparison: named as every still is, written whole or not at all, listed in the manifest."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np

from preview.frame import Studio
from preview.review.atomic import output_folder, write_bytes
from preview.review.manifest import FileEntry, Manifest, RunEntry
from preview.review.stills import (
    BYTES_PER_PIXEL,
    names_for_files,
    picture_name,
    still_name,
    timecode_in_name,
    write_still,
)


class Delivery:
    """The output folder, ours alone, with its manifest, while a command runs.

    Parameters
    ----------
    studio : the show, ready to draw
    folder : where files go; made if missing, earlier files in it stay
    command : noted in the manifest
    frame_range : first and last frame that the files tell of
    pictures : how many pictures will be written, for an estimate of the room they take

    Attributes
    ----------
    entries : what is written and listed so far

    Raises
    ------
    OutputError : on entering, when nothing can be written there; later, when a file cannot.
    """

    def __init__(
        self, studio: Studio, folder: Path, command: str, frame_range: tuple[int, int], pictures: int
    ) -> None:
        self.entries: list[FileEntry] = []
        self._studio, self._folder = studio, folder
        width, height = studio.size_px
        self._owned = output_folder(folder, int(pictures * width * height * BYTES_PER_PIXEL))
        show = studio.show
        self._run = RunEntry(
            show_path=str(show.path),
            show_sha256=show.sha256,
            show_title=show.file.show.title,
            command=command,
            frame_rate=str(studio.timeline.rate),
            size_px=studio.size_px,
            frame_range=frame_range,
            graphics=studio.graphics,
            notes=tuple(studio.notes),
        )
        self._names = names_for_files(camera.name for camera in show.file.cameras)

    def __enter__(self) -> Delivery:
        self._owned.__enter__()
        try:
            self._manifest = Manifest(self._folder, self._run)
        except BaseException as error:
            self._owned.__exit__(type(error), error, error.__traceback__)
            raise
        return self

    def __exit__(self, *error: Any) -> None:
        try:
            if error[0] is None:
                self._manifest.finish()
        finally:
            self._owned.__exit__(*error)

    def still(
        self, frame: int, kind: str, camera: str, code: np.ndarray, off_wall: float | None = None
    ) -> None:
        """Write one picture of a frame and list it."""
        timeline, title = self._studio.timeline, self._studio.show.file.show.title
        name, timecode = self._still_name(frame, kind, camera), timeline.timecode(frame)
        text = {"Title": f"{title}: {kind} {camera}", "Timecode": timecode}
        write_still(self._folder / name, code, text)
        self._list(
            name, "still", kind, camera, range(frame, frame + 1), (code.shape[1], code.shape[0]), off_wall
        )

    def numbers(self, frame: int, kind: str, camera: str, data: dict[str, Any]) -> None:
        """Write one frame's numbers as JSON and list them."""
        name = self._still_name(frame, kind, camera).removesuffix(".png") + ".json"
        text = json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
        write_bytes(self._folder / name, text.encode())
        self._list(name, "data", kind, camera, range(frame, frame + 1), self._studio.size_px)

    def series(self, frames: range, kind: str, camera: str, data: bytes, ending: str, media: str) -> None:
        """Write what tells of a run of frames and list it."""
        write_bytes(self.run_path(frames, kind, camera, ending), data)
        self.listed(frames, kind, camera, ending, media)

    def run_path(self, frames: range, kind: str, camera: str, ending: str) -> Path:
        """Where a file on a run of frames goes."""
        timeline = self._studio.timeline
        start, end = (timecode_in_name(timeline.timecode(frame)) for frame in (frames[0], frames[-1]))
        return self._folder / f"{start}_{end}_{picture_name(kind, self._names.get(camera, camera))}{ending}"

    def listed(self, frames: range, kind: str, camera: str, ending: str, media: str) -> None:
        """List a file on a run of frames that is written."""
        name = self.run_path(frames, kind, camera, ending).name
        self._list(name, media, kind, camera, frames, self._studio.size_px)

    def _still_name(self, frame: int, kind: str, camera: str) -> str:
        timeline = self._studio.timeline
        number = timeline.shot_at(frame).index + 1
        subject = self._names.get(camera, camera)
        return still_name(number, "at", timeline.timecode(frame), kind, subject)

    def _list(
        self,
        name: str,
        media: str,
        kind: str,
        camera: str,
        frames: range,
        size_px: tuple[int, int],
        off_wall: float | None = None,
    ) -> None:
        timeline, (first, last) = self._studio.timeline, (frames[0], frames[-1])
        start, end = timeline.timecode(first), timeline.timecode(last)
        shots = [shot.name for shot in timeline.shots if shot.start_frame <= last and shot.end_frame > first]
        entry = FileEntry(
            name=name,
            media=media,
            kind=kind,
            subject=camera,
            size_px=size_px,
            start_timecode=start,
            end_timecode=end,
            frame_range=(first, last),
            shots=tuple(shots),
            place="at" if media in ("still", "data") else None,
            every=frames.step,
            off_wall=off_wall,
            off_wall_timecode=start if off_wall is not None else None,
        )
        self._manifest.add(entry)
        self.entries.append(entry)
