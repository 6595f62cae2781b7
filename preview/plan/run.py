"""Plans, from a show to files: a moment of the studio, and a floor map with its numbers."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from preview.floor.floor_map import CAUTION, floor_map, others_frame
from preview.floor.options import FloorOptions
from preview.floor.result import FloorMap
from preview.plan.floor import floor_csv, floor_data, floor_sheet, floor_words, here_is_clear
from preview.plan.studio import moment_plan, studio_plan
from preview.review.atomic import output_folder, write_bytes
from preview.review.manifest import FileEntry, Manifest, RunEntry
from preview.review.plan import StudioPlan, Tally
from preview.review.plan_sheet import as_png, as_svg, drawn, layer_sheet, moment_sheet, overview_sheet
from preview.review.stills import names_for_files, timecode_in_name, write_still
from preview.show.load import Show
from preview.stage.build import Stage, build_stage
from preview.timeline.timeline import Timeline

if TYPE_CHECKING:
    from matplotlib.figure import Figure

NO_GRAPHICS = "drawn as a plan, without graphics"


@dataclass(frozen=True)
class PlanReport:
    """What was written: the folder, its files, and everything as JSON types."""

    folder: Path
    files: tuple[FileEntry, ...]
    data: dict[str, Any]


def write_plan(show: Show, frame: int, folder: Path, command: str = "") -> PlanReport:
    """Draw the studio at one frame of the rundown: every camera with its wedge.

    Raises
    ------
    ShowError, AssetError, OutputError : the show, a mesh or the folder cannot be used.
    """
    timeline, stage = Timeline(show), build_stage(show)
    moment = timeline.at(frame)
    plan, shot = moment_plan(show, stage, moment), timeline.shot_at(frame)
    title = f"{show.file.show.title}: {moment.timecode}, shot {shot.index + 1} {shot.name}"
    on_air = [one for one in moment.cameras if moment.tally(one.name) == "on air"]
    names = " and ".join(f"{one.number} {one.name} ({one.framing})" for one in on_air)
    told = f"On programme: {names}."
    facts = [
        f"{one.number} {one.name}, {one.framing}: {one.view.focal_length_mm:.1f} mm, "
        f"{one.view.horizontal_angle_deg:.1f} degrees across, focus {one.view.focus_m:.2f} m, "
        f"sensor {one.view.pose.position_m[2]:.2f} m high."
        for one in moment.cameras
    ]
    facts.append("Wedges are the level angle of view, to the wall; tilt and roll are left out.")
    words = f"Plan of the studio from above, cameras at the bottom, LED wall at the top. {told}"
    with output_folder(folder):
        writer = PlanWriter(folder, show, timeline, (frame, frame), command, "plan")
        stem = f"plan_{timecode_in_name(moment.timecode)}"
        writer.sheet(stem, drawn(lambda: moment_sheet(plan, title, told, facts)), title, words)
        writer.finish()
    cameras = [
        {"camera": one.name, "tally": moment.tally(one.name), "framing": one.framing,
         "pupil_m": [round(float(value), 4) for value in one.view.pupil_m], "pan_deg": one.view.pose.pan_deg,
         "horizontal_angle_deg": one.view.horizontal_angle_deg}
        for one in moment.cameras
    ]  # fmt: skip
    return writer.report({"timecode": moment.timecode, "shot": shot.name, "told": told, "cameras": cameras})


def write_floor(
    show: Show,
    camera: str,
    framing: str,
    folder: Path,
    options: FloorOptions | None = None,
    layers: tuple[str, ...] | None = None,
    command: str = "",
    on_place: Callable[[int, int], None] = lambda done, total: None,
    only_overview: bool = False,
) -> PlanReport:
    """Work out a floor map, draw it, and write its numbers.

    Parameters
    ----------
    layers : draw these layers alone; None for an overview and every layer
    on_place : told places done and places to do
    only_overview : draw the overview and no layer alone

    Raises
    ------
    RequestError : no such camera or framing, or too many places.
    ShowError, AssetError, OutputError : the show, a mesh or the folder cannot be used.
    """
    timeline, stage = Timeline(show), build_stage(show)
    options = options or FloorOptions()
    frame = others_frame(timeline, camera, framing, options)
    with output_folder(folder):
        floor = floor_map(show, camera, framing, options, stage, timeline, on_place)
        plan = framing_plan(show, stage, timeline, camera, framing, frame, floor.subject_m)
        writer = PlanWriter(folder, show, timeline, (frame, frame), command, "floor", camera)
        files = _write_floor(
            writer, show, floor, plan, timeline.timecode(frame), () if only_overview else layers
        )
        writer.finish()
    return writer.report({**files, "caution": CAUTION})


def framing_plan(
    show: Show,
    stage: Stage,
    timeline: Timeline,
    camera: str,
    framing: str,
    frame: int,
    subject_m: Sequence[float],
) -> StudioPlan:
    """The studio with one camera in a framing, the others as at a frame; only its own wedge."""
    views = {one.name: one.view for one in timeline.at(frame).cameras}
    views[camera] = timeline.framing_view(camera, framing)
    tally: dict[str, Tally] = {camera: "on air"}
    return studio_plan(show, stage, views, tally, [camera], (subject_m[0], subject_m[1]))


def stem_of(show: Show, camera: str, framing: str, head: str) -> str:
    """Start of the names of a framing's files.

    Cameras and framings whose names differ only by what a file name cannot hold are told apart.
    """
    cameras = names_for_files(one.name for one in show.file.cameras)
    own = next(one for one in show.file.cameras if one.name == camera)
    framings = names_for_files(one.name for one in own.framings)
    return f"{head}-{cameras[camera]}-{framings[framing]}"


def _write_floor(
    writer: PlanWriter,
    show: Show,
    floor: FloorMap,
    plan: StudioPlan,
    timecode: str,
    layers: tuple[str, ...] | None,
) -> dict[str, Any]:
    others = f"Other cameras where they are at {timecode}."
    sheet = floor_sheet(floor, plan, show, (others,))
    stem, words = stem_of(show, floor.camera, floor.framing, "floor"), floor_words(floor)
    if not layers:
        writer.sheet(stem, drawn(lambda: overview_sheet(sheet)), sheet.title, words)
    for one in sheet.layers:
        if (layers is None or one.name in layers) and np.isfinite(one.values).any():
            title = f"{sheet.title}: {one.title}"
            figure = drawn(lambda one=one: layer_sheet(sheet, one))  # type: ignore[misc]
            writer.sheet(f"{stem}-{one.name}", figure, title, f"{words} {one.note}")
    writer.text(f"{stem}.csv", "table", floor_csv(floor))
    data = {**floor_data(floor), "others_at": timecode, "stands_clear": here_is_clear(floor)}
    writer.json(f"{stem}.json", {**data, "caution": CAUTION})
    return data


class PlanWriter:
    """The files of one run in a folder held by ``output_folder``, listed as they are finished.

    Parameters
    ----------
    frames : first and last frame of the rundown that they are about
    kind, subject : as of ``preview.review.manifest.FileEntry``
    """

    def __init__(
        self,
        folder: Path,
        show: Show,
        timeline: Timeline,
        frames: tuple[int, int],
        command: str,
        kind: str,
        subject: str = "",
    ) -> None:
        self._folder, self._timeline, self._frames = folder, timeline, frames
        self._kind, self._subject = kind, subject
        self._size_px = show.file.show.picture_size_px
        self._files: list[FileEntry] = []
        run = RunEntry(
            str(show.path), show.sha256, show.file.show.title, command, str(timeline.rate), self._size_px,
            frames, NO_GRAPHICS, show.notes,
        )  # fmt: skip
        self._manifest = Manifest(folder, run)

    def sheet(self, stem: str, figure: Figure, title: str, words: str) -> None:
        """A drawing as PNG and SVG; ``words`` describe it to those who cannot see it."""
        png = as_png(figure, title)
        write_bytes(self._folder / f"{stem}.png", png)
        wide, high = (int(side) for side in np.frombuffer(png[16:24], dtype=">u4"))  # ISO/IEC 15948, IHDR
        self._list(f"{stem}.png", "plot", (wide, high))
        write_bytes(self._folder / f"{stem}.svg", as_svg(figure, title, words))
        self._list(f"{stem}.svg", "plot", (wide, high))

    def picture(self, name: str, code: np.ndarray, title: str) -> None:
        """A page of pictures, (h, w, 3) uint8."""
        write_still(self._folder / name, code, {"Title": title})
        self._list(name, "plot", (code.shape[1], code.shape[0]))

    def text(self, name: str, media: str, text: str) -> None:
        """A text file."""
        write_bytes(self._folder / name, text.encode())
        self._list(name, media, self._size_px)

    def json(self, name: str, data: dict[str, Any]) -> None:
        """A JSON file."""
        self.text(name, "data", json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n")

    def finish(self) -> None:
        """Close the manifest."""
        self._manifest.finish()

    def report(self, data: dict[str, Any]) -> PlanReport:
        """What was written."""
        files = tuple(self._files)
        listed = {"folder": str(self._folder), "files": [asdict(one) for one in files]}
        return PlanReport(self._folder, files, {**data, **listed})

    def _list(self, name: str, media: str, size_px: tuple[int, int]) -> None:
        first, last = self._frames
        labels = self._timeline.timecode(first), self._timeline.timecode(last)
        shots = (self._timeline.shot_at(first).name,)
        entry = FileEntry(name, media, self._kind, self._subject, size_px, *labels, self._frames, shots)
        self._files.append(entry)
        self._manifest.add(entry)
