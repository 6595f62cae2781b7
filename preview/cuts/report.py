"""The report, from a show to files: the page to read first.

Suggestions come as new shows; each starts again at the top, with a timeline and a studio of its own.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from time import perf_counter
from typing import Any

from preview.checks.coverage import coverage_over, coverage_result
from preview.checks.cut import Cut, cut_result, cuts_of, proof_frames
from preview.checks.edge_lines import edge_line_result
from preview.checks.result import CheckResult, count, table_csv
from preview.cuts.drawing import OnPixels, Rounds, draw_cuts, main_wall, prove_on_pixels
from preview.cuts.telling import advice, delay_data, frames_data, show_data, with_proofs
from preview.frame import Studio
from preview.review.atomic import output_folder, write_bytes
from preview.review.film_strip import film_strip_pages
from preview.review.manifest import FileEntry, Manifest, RunEntry
from preview.review.stills import write_still
from preview.show.load import Show
from preview.stage.build import build_stage
from preview.suggest.overscan import suggest_overscan
from preview.suggest.picture_delay import suggest_picture_delay
from preview.timeline.timeline import Timeline

DRAWN_WIDTH_PX = 320
"""Width of the pictures compared when none is asked for: a strip's column is narrower, and alike is alike
at any size."""

Told = Callable[[int, int], None]


@dataclass(frozen=True)
class CutReport:
    """What was found, suggested, proved and written.

    Attributes
    ----------
    folder, files : the files
    data : everything, as JSON types; what ``cuts.json`` holds
    """

    folder: Path
    files: tuple[FileEntry, ...]
    data: dict[str, Any]


def drawn_size(show: Show) -> tuple[int, int]:
    """Size to compare pictures at when none is asked for: the show's shape, DRAWN_WIDTH_PX wide."""
    width, height = show.file.show.picture_size_px
    if width <= DRAWN_WIDTH_PX:
        return width, height
    return DRAWN_WIDTH_PX, max(16, round(DRAWN_WIDTH_PX * height / width))


def report_cuts(
    show: Show,
    folder: Path,
    size_px: tuple[int, int] | None = None,
    frames: tuple[int, int] | None = None,
    pictures: bool = True,
    command: str = "",
    on_frame: Told = lambda done, total: None,
    open_studio: Callable[[Show, tuple[int, int]], Studio] = Studio,
) -> CutReport:
    """Check every change of camera, suggest what makes it clean, and write what was found.

    Suggestions are for the whole rundown, whatever part of it is reported.

    Parameters
    ----------
    show : the show
    folder : where ``cuts.json``, ``cuts.csv`` and the film strips go
    size_px : size at which programme and programme as shot are drawn and compared
    frames : first and last frame of the part reported; a cut is in it when its cue is. All when None
    pictures : draw: film strips, and every claim proved pixel by pixel
    command : noted in the manifest
    on_frame : told frames drawn and frames to draw
    open_studio : makes a show ready to draw at a size

    Raises
    ------
    OutputError, AssetError, GraphicsError, FrameFailed : as ``preview.run.render``.
    """
    started = perf_counter()
    timeline, size_px = Timeline(show), size_px or drawn_size(show)
    first, last = frames or (0, timeline.frame_count - 1)
    surfaces = build_stage(show).surfaces
    cuts = _within(cuts_of(show, timeline), first, last)
    delay = suggest_picture_delay(show)
    changed = _within(cuts_of(delay.show), first, last) if delay.changes else ()
    covered = coverage_over(show, timeline, surfaces)
    # Held back, cuts show each camera in other frames: overscan is for the rundown as suggested.
    later = coverage_over(delay.show, surfaces=surfaces) if delay.changes else covered
    overscan = suggest_overscan(delay.show, later)
    covered = tuple(one for one in covered if first <= one.frame <= last)
    with output_folder(folder):
        as_set = suggested = Rounds({}, ())
        counted = OnPixels(overscan)
        if pictures:
            total = sum(len(proof_frames(cut, timeline.frame_count)) for cut in (*cuts, *changed))
            tell = _Counter(on_frame, total)
            wall = main_wall(surfaces)
            with open_studio(show, size_px) as studio:
                as_set = draw_cuts(studio, cuts, wall.name, tell)
            if changed:
                with open_studio(delay.show, size_px) as studio:
                    suggested = draw_cuts(studio, changed, wall.name, tell)
            if show.file.drive.mode == "shared" or any(one.needed_percent for one in overscan):
                with open_studio(show, show.file.show.picture_size_px) as studio:
                    counted = prove_on_pixels(
                        studio, delay.show, cuts, overscan, later, surfaces, (first, last)
                    )
        results = [
            with_proofs(cut_result(cuts, timeline), cuts, as_set.proofs, delay, timeline.frame_count),
            coverage_result(covered, timeline),
        ]
        if show.file.drive.mode == "shared" and pictures:
            remedies = {one.camera: one.sentence for one in counted.remedies}
            size = show.file.show.picture_size_px
            results.append(edge_line_result(counted.lines, timeline, size, remedies))
        data = {
            "show": show_data(show, timeline),
            "checks": [result.data() for result in results],
            "frames": frames_data(cuts, as_set.proofs, timeline.frame_count),
            "picture_delay": delay_data(delay, changed, suggested, timeline.frame_count),
            "overscan": [{**asdict(one), "enough": one.enough} for one in counted.overscan],
            "advice": advice(delay, suggested, counted),
            "edge_line_remedies": [{**asdict(one), "sentence": one.sentence} for one in counted.remedies],
            "edge_line_frames": list(counted.looked_at),
            "drawn_size_px": list(size_px) if pictures else None,
            "graphics": as_set.graphics,
            "notes": list(show.notes),
        }
        files = _write(
            folder, show, timeline, size_px, (first, last), command, data, results, as_set, suggested
        )
    data = {**data, "folder": str(folder), "files": [asdict(entry) for entry in files]}
    return CutReport(folder, files, {**data, "seconds": round(perf_counter() - started, 2)})


def _within(cuts: Sequence[Cut], first: int, last: int) -> tuple[Cut, ...]:
    return tuple(cut for cut in cuts if first <= cut.cue_frame <= last)


class _Counter:
    """Frames done of frames to do, told on."""

    def __init__(self, on_frame: Told, total: int) -> None:
        self.done, self.total, self._on_frame = 0, total, on_frame
        on_frame(0, total)

    def __call__(self) -> None:
        self.done += 1
        self._on_frame(self.done, self.total)


def _write(
    folder: Path,
    show: Show,
    timeline: Timeline,
    size_px: tuple[int, int],
    frames: tuple[int, int],
    command: str,
    data: Mapping[str, Any],
    results: Sequence[CheckResult],
    as_set: Rounds,
    suggested: Rounds,
) -> tuple[FileEntry, ...]:
    run = RunEntry(
        str(show.path), show.sha256, show.file.show.title, command, str(timeline.rate), size_px, frames,
        as_set.graphics, show.notes,
    )  # fmt: skip
    manifest, title = Manifest(folder, run), show.file.show.title
    labels = timeline.timecode(frames[0]), timeline.timecode(frames[1])
    shots = tuple(s.name for s in timeline.shots if s.start_frame <= frames[1] and s.end_frame > frames[0])
    entries: list[FileEntry] = []

    def listed(name: str, media: str, kind: str, size: tuple[int, int]) -> None:
        entries.append(FileEntry(name, media, kind, "", size, *labels, frames, shots))
        manifest.add(entries[-1])

    wall = f"wall {count(show.file.delays.wall_switch_frames, 'frame')} after the cue"
    held = sorted(set(data["show"]["picture_frames"].values()))
    mixer = f"mixer {' or '.join(map(str, held))}"
    better = f"mixer {data['picture_delay']['suggested_frames']}"
    for kind, rounds, words in (
        ("cuts", as_set, f"cuts as set up ({wall}, {mixer})"),
        ("cuts-suggested", suggested, f"cuts as suggested ({wall}, {better})"),
    ):
        pages = film_strip_pages(rounds.strips, f"{title}: {words}", rounds.wall_name)
        for number, page in enumerate(pages, start=1):
            name = f"{kind}-{number:02d}.png"
            write_still(folder / name, page, {"Title": f"{title}: {words}, page {number}"})
            listed(name, "strip", kind, (page.shape[1], page.shape[0]))
    write_bytes(folder / "cuts.csv", table_csv(results).encode())
    listed("cuts.csv", "table", "cuts", size_px)
    text = json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    write_bytes(folder / "cuts.json", text.encode())
    listed("cuts.json", "data", "cuts", size_px)
    manifest.finish()
    return tuple(entries)
