"""Shot sheets, from a show to files: one PDF a camera, and each of its pages as PNG."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from preview.errors import FrameFailed, PreviewError
from preview.frame import Studio, Wanted
from preview.review.atomic import output_folder, write_bytes
from preview.review.manifest import FileEntry, Manifest, RunEntry
from preview.review.stills import names_for_files
from preview.sheets.findings import SheetWarning
from preview.sheets.page import Stills, sheet_pages
from preview.sheets.paper import MM_PER_IN, PAPERS, PNG_DPI, Paper, as_pdf
from preview.sheets.resolve import shot_sheet
from preview.sheets.values import ShotSheet
from preview.sheets.words import cautions
from preview.show.load import Show
from preview.timeline.timeline import Timeline

STILL_WIDTH_PX = 640
"""Printed 60 to 70 mm wide this is 230 to 270 to the inch."""
NO_PICTURES = "no pictures drawn"

OnStep = Callable[[str, int, int], None]
"""Told what is being done, how much of it is done, and how much there is."""


@dataclass(frozen=True)
class SheetsReport:
    """What was written: the folder, its files, and everything on the sheets as JSON types."""

    folder: Path
    files: tuple[FileEntry, ...]
    data: dict[str, Any]


def write_sheets(
    show: Show,
    folder: Path,
    cameras: Sequence[str] | None = None,
    paper: str = "a4",
    command: str = "",
    warnings: Sequence[SheetWarning] = (),
    checked: str = "",
    open_studio: Callable[[Show, tuple[int, int]], Studio] = Studio,
    on_step: OnStep = lambda what, done, total: None,
) -> SheetsReport:
    """Draw and write each camera's shot sheet.

    Parameters
    ----------
    folder : where files go; made if missing, earlier files in it stay
    cameras : whose; every camera's when None
    paper : "a4" or "letter"
    command : noted in the manifest
    warnings, checked : as of ``preview.sheets.resolve.shot_sheet``
    open_studio : makes a show ready to draw at a size
    on_step : told how far it is

    Raises
    ------
    KeyError : no such camera or paper.
    OutputError, AssetError, GraphicsError, FrameFailed : as ``preview.run.render``.
    """
    timeline, size_mm = Timeline(show), PAPERS[paper]
    names = [one.name for one in show.file.cameras] if cameras is None else list(cameras)
    sheets = [shot_sheet(show, timeline, name, warnings, checked) for name in names]
    late = {sheet.camera: sheet.return_late_frames for sheet in sheets}
    asked = [(sheet.camera, one.frame) for sheet in sheets for shot in sheet.shots for one in shot.stills]
    wide, high = show.file.show.picture_size_px
    size_px = STILL_WIDTH_PX, max(16, round(STILL_WIDTH_PX * high / wide))
    with output_folder(folder):
        drawn: dict[str, dict[int, np.ndarray]] = {name: {} for name in names}
        graphics = NO_PICTURES
        if asked:
            with open_studio(show, size_px) as studio:
                graphics = studio.graphics
                for done, (name, frame) in enumerate(asked):
                    on_step("drawing returns", done, len(asked))
                    drawn[name][frame] = _return(studio, name, frame, late[name])
        writer = _Writer(show, timeline, folder, size_mm, command, graphics)
        pages = []
        for done, sheet in enumerate(sheets):
            on_step("writing sheets", done, len(sheets))
            pages.append(writer.sheet(sheet, drawn.pop(sheet.camera), paper))
        writer.finish()
    notes = (
        [f"The sheets' font has no letter for {' '.join(sorted(writer.missing))}"] if writer.missing else []
    )
    return SheetsReport(
        folder,
        tuple(writer.entries),
        {
            "show": {"title": show.file.show.title, "path": str(show.path), "sha256": show.sha256},
            "paper": paper,
            "checked": checked,
            "sheets": [
                {**asdict(sheet), "pages": count, "cautions": cautions(sheet)}
                for sheet, count in zip(sheets, pages, strict=True)
            ],
            "notes": notes,
            "folder": str(folder),
            "files": [asdict(one) for one in writer.entries],
        },
    )


def _return(studio: Studio, camera: str, frame: int, late_frames: int) -> np.ndarray:
    """The return of a frame as its camera shoots it, which arrives some frames later."""
    timeline = studio.timeline
    arrives = min(frame + late_frames, timeline.frame_count - 1)
    try:
        (picture,) = studio.pictures(arrives, Wanted(("return",), (camera,)))
    except PreviewError as error:
        error.add_note(f"while drawing {timeline.timecode(arrives)}")
        raise
    except Exception as error:
        raise FrameFailed(arrives, timeline.timecode(arrives)) from error
    return picture.code


class _Writer:
    """The files of one run, listed as they are finished."""

    def __init__(
        self,
        show: Show,
        timeline: Timeline,
        folder: Path,
        size_mm: tuple[float, float],
        command: str,
        graphics: str,
    ) -> None:
        self.entries: list[FileEntry] = []
        self.missing: set[str] = set()
        self._timeline, self._folder = timeline, folder
        self._names = names_for_files(one.name for one in show.file.cameras)
        across, down = (int(side / MM_PER_IN * PNG_DPI) for side in size_mm)
        self._size_px = across, down
        run = RunEntry(
            str(show.path), show.sha256, show.file.show.title, command, str(timeline.rate), self._size_px,
            (0, timeline.frame_count - 1), graphics, show.notes,
        )  # fmt: skip
        self._manifest = Manifest(folder, run)

    def sheet(self, sheet: ShotSheet, stills: Stills, paper: str) -> int:
        """One camera's files; returns how many pages it has."""
        pages: list[Paper] = sheet_pages(sheet, stills, paper)
        stem = f"sheet-{self._names[sheet.camera]}"
        title = f"{sheet.title}: shot sheet, camera {sheet.number} {sheet.camera}"
        subject = f"{len(sheet.shots)} shots of camera {sheet.number} {sheet.camera}"
        self._write(f"{stem}.pdf", as_pdf(pages, title, subject), sheet)
        for number, page in enumerate(pages, start=1):
            png = page.png(f"{title}, page {number} of {len(pages)}")
            self._write(f"{stem}-{number:02d}.png", png, sheet)
            self.missing |= page.missing
        return len(pages)

    def finish(self) -> None:
        """Close the manifest."""
        self._manifest.finish()

    def _write(self, name: str, data: bytes, sheet: ShotSheet) -> None:
        write_bytes(self._folder / name, data)
        frames = 0, self._timeline.frame_count - 1
        shots = tuple(shot.name for shot in sheet.shots)
        entry = FileEntry(
            name, "sheet", "shot-sheet", sheet.camera, self._size_px, *sheet.timecodes, frames, shots
        )
        self._manifest.add(entry)
        self.entries.append(entry)
