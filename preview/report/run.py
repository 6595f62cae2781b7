"""The report on checks, from a show to files: the page to read first.

Every check looks at the rundown once. Then remedies are tried, then the worst frames are drawn; what is
written is written as it comes, so memory does not grow with the rundown.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import asdict, dataclass
from pathlib import Path
from time import perf_counter
from typing import Any, ClassVar, Protocol, runtime_checkable

import numpy as np

from preview.checks.look import Look, Plan
from preview.checks.registry import Check, Curve
from preview.checks.result import CheckResult, table_csv
from preview.checks.walk import open_plan, walk
from preview.errors import RequestError, of_frame
from preview.frame import Studio, Wanted
from preview.report import telling
from preview.report.annotated import annotated_page, drawn_size
from preview.report.caption import Caption
from preview.report.remedies import Mender, Tried, with_remedies
from preview.report.rundown_page import CameraLane, CheckRow, RundownPage, ShotBox, draw_rundown, tick_frames
from preview.report.timeline_plot import curves_png
from preview.report.worst import Shown, drawn_order, shown_findings, tally_words
from preview.review.atomic import output_folder, replacing, write_bytes, writing
from preview.review.manifest import FileEntry, Manifest, RunEntry
from preview.review.stills import names_for_files, write_still
from preview.review.wall_map import Mapped, wall_map_png
from preview.show.load import Show

SMALL_WIDTH_PX = 192
"""Width of the pictures that checks are given which judge what is drawn."""

OnStep = Callable[[str, int, int], None]
"""Told what is being done, how much of it is done, and how much there is."""


@dataclass(frozen=True)
class Asked:
    """What a report is to hold.

    Attributes
    ----------
    name : stem of its files: "checks", or a check's own name
    checks : those that look
    known : every check there is, to say which did not look
    frames : first and last frame looked at; all when None
    every : look at each n-th of them
    pictures : draw: checks that judge pictures, stills, plots
    command : noted in the manifest
    """

    name: str
    checks: tuple[type[Check], ...]
    known: tuple[type[Check], ...]
    frames: tuple[int, int] | None = None
    every: int = 1
    pictures: bool = True
    command: str = ""


@dataclass(frozen=True)
class CheckReport:
    """What was found and written.

    Attributes
    ----------
    folder, files : the files
    data : everything, as JSON types; what the report's JSON file holds, and its files
    curves : by check, what it plots
    stills : check and place of the finding in its result, and the name of the still that shows it
    """

    folder: Path
    files: tuple[FileEntry, ...]
    data: dict[str, Any]
    curves: Mapping[str, tuple[Curve, ...]]
    stills: Mapping[tuple[str, int], str]


def report_checks(
    show: Show,
    folder: Path,
    asked: Asked,
    mend: Mender | None = None,
    on_step: OnStep = lambda what, done, total: None,
    open_studio: Callable[[Show, tuple[int, int]], Studio] = Studio,
) -> CheckReport:
    """Look at the rundown, try remedies, and write what was found.

    Parameters
    ----------
    show : the show
    folder : where files go
    asked : what to look at and to write
    mend : tries remedies; None for none
    on_step : told how far it is
    open_studio : makes a show ready to draw at a size

    Raises
    ------
    RequestError : no check is left that could look without pictures.
    OutputError, AssetError, GraphicsError, FrameFailed : as ``preview.run.render``.
    """
    started = perf_counter()
    first, last = asked.frames or (0, None)
    classes = [check for check in asked.checks if asked.pictures or not check.draws]
    if not classes:
        names = ", ".join(check.name for check in asked.checks)
        raise RequestError(f"--no-pictures leaves nothing to look at: {names} needs pictures; leave it out")
    with output_folder(folder), open_plan(show, first, last, asked.every) as plan:
        checks = [check(plan) for check in classes]
        small = _small_studio(show, classes, open_studio)
        with small as studio:
            walk(plan, checks, studio, lambda done, total: on_step("looking", done, total))
            results = [check.result() for check in checks]
            shown: list[Shown] = []
            for check, result in zip(checks, results, strict=True) if asked.pictures else ():
                shown += shown_findings(plan, check, result, studio)
        tried: list[Tried] = []
        if mend is not None:
            by_name = {check.name: check for check in classes}
            tell = lambda done, total: on_step("trying remedies", done, total)  # noqa: E731
            results, tried = with_remedies(plan, results, by_name, mend, tell)
        writer = _Writer(folder, plan, asked)
        with _still_studio(show, bool(shown), open_studio) as studio:
            writer.open_manifest(studio)
            for done, one in enumerate(drawn_order(shown)):
                on_step("drawing", done, len(shown))
                assert studio is not None
                writer.still(studio, one, results)
        seconds = perf_counter() - started
        data = _data(plan, asked, checks, results, tried, seconds)
        if asked.pictures:
            writer.plots(checks, results, data["verdict"])
        writer.tables(checks, results)
        writer.finish(data)
    files = tuple(writer.entries)
    return CheckReport(
        folder,
        files,
        {**data, "folder": str(folder), "files": [asdict(one) for one in files]},
        {check.name: _curves(check) for check in checks},
        {(one.check, one.finding_place): still_name(one) for one in shown},
    )


def still_name(shown: Shown) -> str:
    """Name of the file of one outlined still."""
    return f"check-{shown.check}-{shown.number:02d}.png"


def _curves(check: Check) -> tuple[Curve, ...]:
    return tuple(curve for curve in check.curves() if len(curve.frames) and curve.values)


def _small_studio(
    show: Show, checks: Sequence[type[Check]], open_studio: Callable[[Show, tuple[int, int]], Studio]
) -> AbstractContextManager[Studio | None]:
    if not any(check.draws for check in checks):
        return nullcontext()
    width, height = show.file.show.picture_size_px
    return open_studio(show, (SMALL_WIDTH_PX, max(16, round(SMALL_WIDTH_PX * height / width))))


def _still_studio(
    show: Show, wanted: bool, open_studio: Callable[[Show, tuple[int, int]], Studio]
) -> AbstractContextManager[Studio | None]:
    return open_studio(show, drawn_size(show.file.show.picture_size_px)) if wanted else nullcontext()


def _data(
    plan: Plan,
    asked: Asked,
    checks: Sequence[Check],
    results: Sequence[CheckResult],
    tried: Sequence[Tried],
    seconds: float,
) -> dict[str, Any]:
    looked = telling.looked_data(plan, [type(check) for check in checks])
    cautions = dict.fromkeys(check.caution for check in checks if check.caution)
    return {
        "show": telling.show_data(plan.show, plan.timeline),
        "verdict": telling.verdict(results, looked, seconds),
        "looked_at": looked,
        "checks": [telling.check_data(check, result) for check, result in zip(checks, results, strict=True)],
        "remedies_tried": [one.data() for one in tried],
        "not_looked_at": telling.left_out(asked.known, asked.checks, asked.pictures),
        "limits": telling.LIMITS_NOTE,
        "thresholds": plan.thresholds.model_dump(mode="json"),
        "cautions": [*cautions, telling.CAUTION],
        "notes": list(plan.show.notes),
        "seconds": round(seconds, 2),
    }


@runtime_checkable
class _MapsWalls(Protocol):
    """A check that also tells of places on the LED surfaces."""

    name: ClassVar[str]

    def wall_maps(self) -> Sequence[Mapped]:
        """One map a surface."""
        ...


class _Writer:
    """The files of one report, listed as they are finished."""

    def __init__(self, folder: Path, plan: Plan, asked: Asked) -> None:
        self.entries: list[FileEntry] = []
        self._folder, self._plan, self._asked = folder, plan, asked
        self._timeline, self._title = plan.timeline, plan.show.file.show.title
        self._frames = plan.frames[0], plan.frames[-1]
        self._size_px = drawn_size(plan.show.file.show.picture_size_px)
        self._shots = tuple(
            ShotBox(shot.index + 1, shot.name, shot.start_frame, shot.end_frame - 1)
            for shot in self._timeline.shots
        )

    def open_manifest(self, studio: Studio | None) -> None:
        """Name this run in the folder's manifest."""
        show = self._plan.show
        graphics = studio.graphics if studio else "no picture in colour was drawn"
        run = RunEntry(
            str(show.path), show.sha256, self._title, self._asked.command, str(self._timeline.rate),
            self._size_px, self._frames, graphics, studio.notes if studio else show.notes,
        )  # fmt: skip
        self._manifest = Manifest(self._folder, run)

    def still(self, studio: Studio, shown: Shown, results: Sequence[CheckResult]) -> None:
        """Draw and write one outlined still."""
        timecode = self._timeline.timecode(shown.frame)
        result = next(result for result in results if result.check == shown.check)
        with of_frame(shown.frame, timecode):
            # With nothing to outline, what went out tells more than one camera of a mix.
            look = Look(self._plan, shown.frame)
            aired = not shown.marks and shown.camera in dict(look.on_programme)
            kind = "programme-as-shot" if aired else "as-shot"
            (picture,) = studio.pictures(shown.frame, Wanted((kind,), (shown.camera,)))
            page = annotated_page(picture.code, shown.marks, self._caption(shown, result, look, aired))
        name = still_name(shown)
        title = f"{self._title}: {shown.check}, {shown.camera}"
        write_still(self._folder / name, page, {"Title": title, "Timecode": timecode})
        frames = (shown.frame, shown.frame)
        self._list(name, "still", shown.check, page.shape[1::-1], frames, shown.camera, "at")

    def _caption(self, shown: Shown, result: CheckResult, look: Look, aired: bool) -> Caption:
        finding = result.findings[shown.finding_place]
        shot = self._timeline.shot_at(shown.frame)
        where = f"shot {shot.index + 1} {shot.name}"
        if finding.shot != shot.name:
            where = f"worst in {where}"
        tally = tally_words(look, shown.camera)
        others = [name for name in finding.cameras if name != shown.camera]
        cameras = [f"{shown.camera} ({tally})", *others]
        foot = "Programme as shot" if aired else f"Picture of {shown.camera} as shot"
        across, down = self._plan.sights.size_px
        foot += ", worst frame. "
        foot += f"Outlined on {across} x {down} sightlines." if shown.marks else "Nothing in it to outline."
        return Caption(
            finding.grade, shown.check, look.moment.timecode,
            telling.place(cameras, where, finding.timecodes),
            finding.sentence, finding.remedy, foot,
        )  # fmt: skip

    def plots(self, checks: Sequence[Check], results: Sequence[CheckResult], verdict: str) -> None:
        """Write the rundown's page, and each check's curves."""
        rate = self._timeline.rate
        frames = tick_frames(*self._frames, float(rate.fps))
        ticks = tuple((frame, self._timeline.timecode(frame)) for frame in frames)
        rows = [CheckRow(r.check, telling.summary(r), r.grade, r.findings) for r in results]
        left_out = telling.left_out(self._asked.known, self._asked.checks, self._asked.pictures)
        what = {"checks": "what the checks found"}.get(self._asked.name, self._asked.name)
        if self._asked.name == "checks":
            rows += [CheckRow(one["check"], "not looked at", None, ()) for one in left_out]
        page = RundownPage(
            f"{self._title}: {what}", verdict, self._frames, ticks, self._shots,
            programme_lanes(self._plan), tuple(rows),
        )  # fmt: skip
        drawn = draw_rundown(page)
        name = f"{self._asked.name}-timeline.png"
        write_still(self._folder / name, drawn, {"Title": page.title})
        self._list(name, "plot", self._asked.name, drawn.shape[1::-1])
        for check in checks:
            if isinstance(check, _MapsWalls):
                self._wall_maps(check)
            curves = _curves(check)
            if not curves:
                continue
            title = f"{self._title}: {check.name}"
            cameras = [camera.name for camera in self._plan.show.file.cameras]
            png = curves_png(curves, self._shots, self._frames, ticks, title, cameras)
            write_bytes(self._folder / f"check-{check.name}.png", png)
            self._list(f"check-{check.name}.png", "plot", check.name, _png_size(png))

    def _wall_maps(self, check: _MapsWalls) -> None:
        maps = check.wall_maps()
        names = names_for_files(one.surface for one in maps)
        for one in maps:
            png = wall_map_png(one, self._title)
            name = f"check-{check.name}-on-{names[one.surface]}.png"
            write_bytes(self._folder / name, png)
            self._list(name, "plot", check.name, _png_size(png), subject=one.surface)

    def tables(self, checks: Sequence[Check], results: Sequence[CheckResult]) -> None:
        """Write the table of findings, and each check's own tables."""
        own = {stem: (check.name, rows) for check in checks for stem, rows in check.tables().items() if rows}
        name = self._asked.name if self._asked.name not in own else f"{self._asked.name}-findings"
        self._write(f"{name}.csv", "table", self._asked.name, table_csv(results))
        for stem, (check, rows) in own.items():
            path = self._folder / f"{stem}.csv"
            with (
                replacing(path) as temp,
                writing(path),
                open(temp, "w", newline="", encoding="utf-8") as text,
            ):
                telling.write_rows(rows, text)
            self._list(path.name, "table", check, self._plan.sights.size_px)

    def finish(self, data: Mapping[str, Any]) -> None:
        """Write the data, and close the manifest."""
        text = json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
        self._write(f"{self._asked.name}.json", "data", self._asked.name, text)
        self._manifest.finish()

    def _write(self, name: str, media: str, kind: str, text: str) -> None:
        write_bytes(self._folder / name, text.encode())
        self._list(name, media, kind, self._plan.sights.size_px)

    def _list(
        self,
        name: str,
        media: str,
        kind: str,
        size_px: Sequence[int],
        frames: tuple[int, int] | None = None,
        subject: str = "",
        place: str | None = None,
    ) -> None:
        first, last = frames or self._frames
        labels = self._timeline.timecode(first), self._timeline.timecode(last)
        shots = tuple(shot.name for shot in self._shots if shot.first <= last and shot.last >= first)
        entry = FileEntry(
            name, media, kind, subject, (size_px[0], size_px[1]), *labels, (first, last), shots, place,
            every=1 if frames else self._plan.every,
        )  # fmt: skip
        self._manifest.add(entry)
        self.entries.append(entry)


def _png_size(png: bytes) -> tuple[int, int]:
    """Width and height from a PNG's header (ISO/IEC 15948, 11.2.2 IHDR)."""
    width, height = np.frombuffer(png[16:24], dtype=">u4")
    return int(width), int(height)


def programme_lanes(plan: Plan) -> tuple[CameraLane, ...]:
    """When each camera is on programme, mixes counted for both cameras, cuts held back as the mixer does."""
    timeline, cameras = plan.timeline, plan.show.file.cameras
    stretches: dict[str, list[tuple[int, int]]] = {camera.name: [] for camera in cameras}
    taken = [(shot.start_frame + (timeline.held_back(shot.on_air) if shot.index else 0), shot)
             for shot in timeline.shots]  # fmt: skip
    for place, (start, shot) in enumerate(taken):
        after = taken[place + 1] if place + 1 < len(taken) else None
        end = timeline.frame_count if after is None else after[0] + after[1].mix_frames
        end = min(end, timeline.frame_count)
        if start < end:
            stretches[shot.on_air].append((start, end - 1))
    return tuple(CameraLane(f"{c.number} {c.name}", tuple(stretches[c.name])) for c in cameras)
