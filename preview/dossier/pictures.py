"""The pictures of a dossier: clips of every camera and of the multiview, drawn in one go, and stills."""

from __future__ import annotations

import io
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import asdict, dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from PIL import Image

from preview.dossier.asked import Asked, fitted, frames_to_draw
from preview.errors import of_frame
from preview.frame import Studio, Wanted
from preview.multiview.run import CAUTION, Multiview
from preview.review.atomic import output_folder, write_bytes
from preview.review.clips import Clip, open_clip
from preview.review.manifest import FileEntry, Manifest, RunEntry
from preview.review.stills import names_for_files, picture_name
from preview.timeline.timeline import Timeline

KINDS = ("wall", "as-shot", "return", "programme", "programme-as-shot")
STILL_KINDS = ("return", "programme", "programme-as-shot")
WALL_PX = (1280, 720)
"""Most that a clip of an LED surface takes."""
JPEG_QUALITY = 90
CLIP_CRF = 21
"""Two thirds of the bytes of clips for judging pictures: a page is carried on phones."""

Key = tuple[str, str]
OnFrame = Callable[[int, int], None]
Told = tuple[dict[str, Any], list[str]]
"""What a part tells, and its files."""


@dataclass(frozen=True)
class Count:
    """Pictures shown, and how many of them were not drawn for it."""

    pictures: int = 0
    reused: int = 0

    def and_(self, other: Count) -> Count:
        """Both together."""
        return Count(self.pictures + other.pictures, self.reused + other.reused)


def write_clips(studio: Studio, folder: Path, asked: Asked, on_frame: OnFrame) -> Told:
    """Draw the clips' frames once each, and write a clip of every picture and one of the multiview.

    A held picture is one long frame of its clip, which seeks by time as if it were many.

    Returns
    -------
    (data, files) : ``data["clips"]`` a row a clip, ``data["drawn"]`` the frames drawn, ``data["count"]``
    """
    timeline, last = studio.timeline, asked.frames[1]
    drawn = frames_to_draw(timeline, asked.frames, asked.every)
    multiview = Multiview(studio, asked.multiview_px, asked.every)
    wanted, total = Wanted(KINDS), Count()
    with output_folder(folder), ExitStack() as clips:
        writer = _Clips(studio, folder, asked, clips)
        on_frame(0, len(drawn))
        for done, (frame, following) in enumerate(pairwise((*drawn, last + 1)), start=1):
            with of_frame(frame, timeline.timecode(frame)):
                pictures = {}
                for one in studio.pictures(frame, wanted):
                    pictures[one.kind, one.subject] = one.code
                    total = total.and_(Count(1, int(one.reused)))
                for key, code in pictures.items():
                    writer.add(key, code, following - frame)
                writer.add(("multiview", ""), multiview.frame(frame, pictures), following - frame)
            on_frame(done, len(drawn))
        clips.close()
        entries = writer.listed()
    data = {
        "clips": [
            {"kind": one.kind, "subject": one.subject, "file": one.name, "size_px": list(one.size_px),
             "poster": _poster(one.name)}
            for one in entries if one.media == "clip"
        ],
        "drawn": list(drawn),
        "count": asdict(total),
    }  # fmt: skip
    return data, [str(one.name) for one in entries]


def write_stills(studio: Studio, folder: Path, asked: Asked, on_frame: OnFrame) -> Told:
    """Returns of every camera and programme in the middle of each shot, as JPEG; the studio in its first.

    Returns
    -------
    (data, files) : ``data["stills"]`` a row a still, ``data["count"]``
    """
    timeline, (first, last) = studio.timeline, asked.frames
    frames = []
    for shot in timeline.shots:
        start, end = max(first, shot.start_frame), min(last, shot.end_frame - 1)
        if start <= end:
            frames.append((start + end) // 2)
    rows, total = [], Count()
    names = names_for_files(camera.name for camera in studio.show.file.cameras)
    with output_folder(folder):
        manifest = Manifest(folder, _run_entry(studio, asked))
        for done, frame in enumerate(frames):
            on_frame(done, len(frames))
            kinds = ("house", *STILL_KINDS) if not done else STILL_KINDS
            with of_frame(frame, timeline.timecode(frame)):
                for one in studio.pictures(frame, Wanted(kinds)):
                    subject = names.get(one.subject, one.subject)
                    name = f"{done + 1:03d}_{picture_name(one.kind, subject)}.jpg"
                    write_bytes(folder / name, as_jpeg(one.code))
                    total = total.and_(Count(1, int(one.reused)))
                    rows.append({"kind": one.kind, "subject": one.subject, "file": name, "frame": frame,
                                 "size_px": [one.code.shape[1], one.code.shape[0]]})  # fmt: skip
                    manifest.add(
                        _entry(timeline, name, "still", one.kind, one.subject, one.code, (frame, frame))
                    )
        on_frame(len(frames), len(frames))
        manifest.finish()
    return {"stills": rows, "count": asdict(total)}, [str(row["file"]) for row in rows]


def as_jpeg(code: np.ndarray) -> bytes:
    """(h, w, 3) uint8 as JPEG, colours at full resolution: stills of a page are looked at on phones."""
    data = io.BytesIO()
    Image.fromarray(code).save(data, "JPEG", quality=JPEG_QUALITY, subsampling=0)
    return data.getvalue()


class _Clips:
    """Open clips of one run."""

    def __init__(self, studio: Studio, folder: Path, asked: Asked, clips: ExitStack) -> None:
        self._studio, self._folder, self._asked, self._open = studio, folder, asked, clips
        subjects = [camera.name for camera in studio.show.file.cameras]
        subjects += [surface.name for surface in studio.stage.surfaces]
        self._names = names_for_files(subjects)
        self._clips: dict[Key, tuple[Clip, FileEntry]] = {}
        self._posters: list[FileEntry] = []
        self._manifest = Manifest(folder, _run_entry(studio, asked))

    def add(self, key: Key, code: np.ndarray, frames: int) -> None:
        """Append a picture to its clip; the first one is its poster too."""
        kind, subject = key
        if kind == "wall":
            size_px = fitted(WALL_PX, code.shape[1] / code.shape[0])
            code = cv2.resize(code, size_px, interpolation=cv2.INTER_AREA)
        if key not in self._clips:
            self._clips[key] = self._begin(kind, subject, code)
        self._clips[key][0].write(code, frames)

    def listed(self) -> list[FileEntry]:
        """Every file, now that all are whole."""
        entries = [entry for _, entry in self._clips.values()] + self._posters
        self._manifest.add(*entries)
        self._manifest.finish()
        return entries

    def _begin(self, kind: str, subject: str, code: np.ndarray) -> tuple[Clip, FileEntry]:
        timeline = self._studio.timeline
        name = f"{picture_name(kind, self._names.get(subject, subject))}.mp4"
        entry = _entry(timeline, name, "clip", kind, subject, code, self._asked.frames)
        title = f"{self._studio.show.file.show.title}: {kind} {subject}".strip()
        comment = f"{entry.start_timecode} to {entry.end_timecode}. {CAUTION}"
        clip = self._open.enter_context(
            open_clip(
                self._folder / name, entry.size_px, timeline.rate.fps, entry.start_timecode,
                {"title": title, "comment": comment}, long_frames=True, crf=CLIP_CRF,
            )
        )  # fmt: skip
        write_bytes(self._folder / _poster(name), as_jpeg(code))
        first = self._asked.frames[0]
        self._posters.append(_entry(timeline, _poster(name), "still", kind, subject, code, (first, first)))
        return clip, replace(entry, every=self._asked.every)


def _poster(clip: str) -> str:
    return clip.removesuffix(".mp4") + ".jpg"


def _entry(
    timeline: Timeline,
    name: str,
    media: str,
    kind: str,
    subject: str,
    code: np.ndarray,
    frames: tuple[int, int],
) -> FileEntry:
    first, last = frames
    shots = tuple(one.name for one in timeline.shots if one.start_frame <= last and one.end_frame > first)
    return FileEntry(
        name, media, kind, subject, (code.shape[1], code.shape[0]), timeline.timecode(first),
        timeline.timecode(last), frames, shots, place="middle" if media == "still" else None,
    )  # fmt: skip


def _run_entry(studio: Studio, asked: Asked) -> RunEntry:
    show = studio.show
    return RunEntry(
        str(show.path), show.sha256, show.file.show.title, asked.command, str(studio.timeline.rate),
        studio.size_px, asked.frames, studio.graphics, tuple(studio.notes),
    )  # fmt: skip
