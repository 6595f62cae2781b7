"""A whole dossier, from a show to a page: each part made if what it is made from has changed."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from time import perf_counter
from typing import Any

from preview.dossier import values
from preview.dossier.asked import Asked, fitted
from preview.dossier.pictures import Count, write_clips, write_stills
from preview.dossier.stage import Made, made_from, part
from preview.dossier.tables import tables_of
from preview.facts import show_facts
from preview.floor.floor_map import CAUTION as FLOOR_CAUTION
from preview.floor.options import FloorOptions
from preview.frame import Studio
from preview.kept.pictures import PictureStore
from preview.page.model import Download, Figure, PageData
from preview.page.write import write_page
from preview.plan.asked import chosen_framing
from preview.plan.run import PlanReport, stem_of, write_floor, write_plan
from preview.report.remedies import Mender
from preview.report.run import Asked as AskedChecks
from preview.report.run import CheckReport, report_checks
from preview.review.atomic import output_folder
from preview.review.manifest import Manifest, RunEntry, versions
from preview.review.stills import names_for_files
from preview.sheets.findings import checked_words, warnings_of
from preview.sheets.run import write_sheets
from preview.show.load import Show
from preview.timeline.timeline import Timeline

PAGE = "index.html"
OnStep = Callable[[str, int, int], None]


@dataclass(frozen=True)
class DossierReport:
    """What was made.

    Attributes
    ----------
    folder : where it lies
    page : the page
    data : verdict, parts with what was reused, and files, as JSON types
    """

    folder: Path
    page: Path
    data: dict[str, Any]


def write_dossier(
    show: Show,
    folder: Path,
    asked: Asked,
    kept: PictureStore | None = None,
    mend: Mender | None = None,
    on_step: OnStep = lambda what, done, total: None,
) -> DossierReport:
    """Make every part of a dossier, and its page.

    Parts that were made from the very same are left as they are; in the others, pictures drawn from the very
    same are taken from where they are kept. A run that was killed goes on in the same way.

    Parameters
    ----------
    show : the show
    folder : where everything goes; other files in it stay
    asked : what it is to hold
    kept : where drawn pictures are kept; None draws all
    mend : tries remedies; None for none
    on_step : told what is done, how much of it, and how much there is

    Raises
    ------
    RequestError, OutputError, AssetError, GraphicsError, FrameFailed : as ``preview.run.render`` and the
        parts' own commands.
    """
    started = perf_counter()
    with output_folder(folder):
        manifest = Manifest(folder, _run_entry(show, asked))
        dossier = _Dossier(show, folder, asked, kept, mend, on_step)
        parts = dossier.parts()
        on_step("writing the page", 0, 1)
        entry = write_page(dossier.page(parts, perf_counter() - started), folder, PAGE)
        manifest.add(entry)
        manifest.finish()
        on_step("writing the page", 1, 1)
    report = parts["checks"].data
    return DossierReport(
        folder,
        folder / PAGE,
        {
            "folder": str(folder),
            "page": str(folder / PAGE),
            "verdict": report["verdict"],
            "grade": values.worst_grade(report),
            "parts": [
                {"name": name, "reused": made.reused, "files": len(made.files), **_count(made)}
                for name, made in parts.items()
            ],
            "reuse": _reuse_words(parts),
            "notes": list(dict.fromkeys([*show.notes, *(kept.notes if kept else ())])),
            "seconds": round(perf_counter() - started, 2),
            "files": [asdict(entry)],
        },
    )


class _Dossier:
    """One run: its parts in the order in which they are made."""

    def __init__(
        self,
        show: Show,
        folder: Path,
        asked: Asked,
        kept: PictureStore | None,
        mend: Mender | None,
        on_step: OnStep,
    ) -> None:
        self._show, self._folder, self._asked = show, folder, asked
        self._mend, self._on_step = mend, on_step
        self._timeline = Timeline(show)
        self._names = names_for_files(camera.name for camera in show.file.cameras)
        width, height = show.file.show.picture_size_px
        self._aspect = width / height
        self._open = partial(Studio, kept=kept)

    def parts(self) -> dict[str, Made]:
        """Every part, made or taken as it lies there."""
        asked, show = self._asked, self._show
        clip_px, still_px = (fitted(size, self._aspect) for size in (asked.clip_px, asked.still_px))
        with self._open(show, clip_px) as studio:
            scene = studio.scene_digest
            options = asked.frames, asked.every, clip_px, asked.multiview_px
            clips = self._part(
                "clips", made_from(show, scene, options),
                lambda folder: write_clips(studio, folder, asked, partial(self._on_step, "drawing clips")),
            )  # fmt: skip

        def draw_stills(folder: Path) -> tuple[dict[str, Any], Sequence[str]]:
            with self._open(show, still_px) as studio:
                return write_stills(studio, folder, asked, partial(self._on_step, "drawing stills"))

        found = {
            "clips": clips,
            "stills": self._part("stills", made_from(show, scene, asked.frames, still_px), draw_stills),
            "checks": self._part("checks", made_from(show, scene, *self._check_options()), self._checks),
        }
        report = found["checks"].data
        found["sheets"] = self._part(
            "sheets", made_from(show, scene, asked.paper, *self._check_options()),
            lambda folder: self._sheets(folder, report),
        )  # fmt: skip
        found["plan"] = self._part("plan", made_from(show, scene, asked.frames[0]), self._plan)
        if asked.floor_step_m is not None:
            for camera in self._on_air():
                found[f"floor-{self._names[camera]}"] = self._part(
                    f"floor-{self._names[camera]}", made_from(show, scene, camera, asked.floor_step_m),
                    partial(self._floor, camera),
                )  # fmt: skip
        return found

    def page(self, parts: Mapping[str, Made], seconds: float) -> PageData:
        """The page's values, from what the parts told."""
        show, timeline, asked = self._show, self._timeline, self._asked
        report, facts = parts["checks"].data, show_facts(show)
        looked, clips, stills = report["looked_at"], parts["clips"].data, parts["stills"].data
        sizes = {one["name"]: tuple(one["size_px"]) for one in report["files"]}
        floors = [made for name, made in parts.items() if name.startswith("floor-")]
        return PageData(
            title=show.file.show.title,
            rate=values.rate_of(timeline),
            frames=asked.frames,
            frame_count=timeline.frame_count,
            verdict=values.verdict_of(report),
            verdict_grade=values.worst_grade(report),
            told=(_looked_told(looked), _clips_told(clips, asked), report["limits"]),
            cameras=values.cameras_of(show, timeline, facts, parts["sheets"].data["sheets"]),
            shots=values.shots_of(show, timeline),
            clips=values.clips_of(show, clips, "clips", asked.frames),
            stills=values.stills_of(show, timeline, stills, "stills"),
            checks=values.checked_of(report),
            findings=values.findings_of(report, "checks", sizes),
            plots=values.plots_of(timeline, report["curves"]),
            wall_maps=values.wall_maps_of(report, "checks"),
            floor_maps=tuple(Figure(**one) for made in floors for one in made.data["figures"]),
            plans=(
                *values.house_of(timeline, stills, "stills"),
                *(Figure(**one) for one in parts["plan"].data["figures"]),
            ),
            tables=tables_of(show, facts),
            downloads=self._downloads(parts),
            cautions=tuple(dict.fromkeys([*report["cautions"], FLOOR_CAUTION])),
            provenance=self._provenance(parts, seconds),
        )

    def _part(
        self, name: str, made_from: str, make: Callable[[Path], tuple[dict[str, Any], Sequence[str]]]
    ) -> Made:
        return part(self._folder / name, made_from, lambda: make(self._folder / name))

    def _check_options(self) -> tuple[Any, ...]:
        asked = self._asked
        names = tuple(check.name for check in asked.checks)
        return asked.frames, asked.check_every, names, self._mend is not None

    def _checks(self, folder: Path) -> tuple[dict[str, Any], Sequence[str]]:
        asked = self._asked
        words = AskedChecks(
            "checks", asked.checks, asked.known, asked.frames, asked.check_every, True, asked.command
        )
        report = report_checks(self._show, folder, words, self._mend, self._on_step, self._open)
        return _check_data(report), [one.name for one in report.files]

    def _sheets(self, folder: Path, report: Mapping[str, Any]) -> tuple[dict[str, Any], Sequence[str]]:
        asked = self._asked
        made = write_sheets(
            self._show, folder, None, asked.paper, asked.command, warnings_of(report), checked_words(report),
            self._open, self._on_step,
        )  # fmt: skip
        sheets: dict[str, list[Any]] = {}
        for one in made.files:
            own = sheets.setdefault(one.subject, [])
            name = f"sheets/{one.name}"
            own.append(name if name.endswith(".pdf") else [name, list(one.size_px)])
        return {"sheets": sheets}, [one.name for one in made.files]

    def _plan(self, folder: Path) -> tuple[dict[str, Any], Sequence[str]]:
        made = write_plan(self._show, self._asked.frames[0], folder, self._asked.command)
        words = f"The studio from above at {made.data['timecode']}, to scale. {made.data['told']}"
        return _plan_data(made, "plan", made.files[0].name, words)

    def _floor(self, camera: str, folder: Path) -> tuple[dict[str, Any], Sequence[str]]:
        framing = chosen_framing(self._show, camera, None, self._timeline)
        assert self._asked.floor_step_m is not None
        made = write_floor(
            self._show, camera, framing, folder, FloorOptions(step_m=self._asked.floor_step_m), None,
            self._asked.command, partial(self._on_step, f"floor map of {camera}"),
            only_overview=True,
        )  # fmt: skip
        overview = f"{stem_of(self._show, camera, framing, 'floor')}.png"
        words = f"Where camera {camera} may stand for {framing}. {made.data['told']}"
        return _plan_data(made, folder.name, overview, words)

    def _on_air(self) -> tuple[str, ...]:
        """Cameras that come on programme, in show order."""
        seen = {shot.on_air for shot in self._timeline.shots}
        return tuple(one.name for one in self._show.file.cameras if one.name in seen)

    def _downloads(self, parts: Mapping[str, Made]) -> tuple[Download, ...]:
        told = {
            "checks/checks.csv": "All findings, a row each (CSV)",
            "checks/checks.json": "Everything that the checks found (JSON)",
        }
        for name, made in parts.items():
            for file in made.files:
                path = f"{name}/{file}"
                if file.endswith(".csv") and path not in told:
                    what = "places of the floor map" if name.startswith("floor-") else "frames"
                    told[path] = f"{file.removesuffix('.csv')}: a row for each of its {what} (CSV)"
                elif file.endswith(".svg"):
                    told[path] = f"{file.removesuffix('.svg')}: to print at any size (SVG)"
        whole = {f"{name}/{file}" for name, made in parts.items() for file in made.files}
        return tuple(Download(file, words) for file, words in told.items() if file in whole)

    def _provenance(self, parts: Mapping[str, Made], seconds: float) -> tuple[str, ...]:
        known = versions()
        return (
            f"Show file {self._show.path.name}, SHA-256 {self._show.sha256}",
            f"Made in {seconds:.0f} s by this program's version {known['preview']}, Python {known['python']}",
            _reuse_words(parts),
        )


def _check_data(report: CheckReport) -> dict[str, Any]:
    """What the page takes of a check report."""
    curves = [values.plot_data(name, one) for name, made in report.curves.items() for one in made]
    stills = [
        {"check": check, "finding": place, "file": file} for (check, place), file in report.stills.items()
    ]
    return {**report.data, "curves": curves, "stills": stills}


def _plan_data(made: PlanReport, folder: str, file: str, words: str) -> tuple[dict[str, Any], Sequence[str]]:
    entry = next(one for one in made.files if one.name == file)
    figure = {"file": f"{folder}/{file}", "size_px": list(entry.size_px), "alt": words, "caption": words}
    return {"figures": [figure]}, [one.name for one in made.files]


def _looked_told(looked: Mapping[str, Any]) -> str:
    frames = f"{looked['frames']} of {looked['frames_in_range']} frames"
    if looked["frames"] == looked["frames_in_range"]:
        frames = f"every one of {looked['frames']} frames"
    return f"Checks looked at {frames} from {looked['first_timecode']} to {looked['last_timecode']}."


def _clips_told(clips: Mapping[str, Any], asked: Asked) -> str:
    total = asked.frames[1] - asked.frames[0] + 1
    if len(clips["drawn"]) == total:
        return "Clips show every frame."
    return (
        f"Clips show {len(clips['drawn'])} of {total} frames, all near a cut among them, and hold each until "
        "the next one."
    )


def _count(made: Made) -> dict[str, int]:
    told = made.data.get("count")
    return (
        {}
        if told is None or made.reused
        else {"pictures": told["pictures"], "pictures_reused": told["reused"]}
    )


def _reuse_words(parts: Mapping[str, Made]) -> str:
    """What was made and what was there already."""
    there = [name for name, made in parts.items() if made.reused]
    count = Count()
    for made in parts.values():
        if not made.reused and "count" in made.data:
            count = count.and_(Count(**made.data["count"]))
    words = f"{len(parts) - len(there)} of {len(parts)} parts made"
    if there:
        words += f", {', '.join(there)} left as they were: nothing that they are made from has changed"
    if count.pictures:
        words += f"; {count.reused} of {count.pictures} pictures of clips and stills reused"
    return words


def _run_entry(show: Show, asked: Asked) -> RunEntry:
    return RunEntry(
        str(show.path), show.sha256, show.file.show.title, asked.command, str(Timeline(show).rate),
        show.file.show.picture_size_px, asked.frames, "see the parts' own manifests", show.notes,
    )  # fmt: skip
