"""Writing the review page: one HTML file that holds its data, style and script, beside clips and pictures."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path, PurePosixPath

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape

from preview.errors import OutputError
from preview.page import labels, lanes, numbers
from preview.page.document import page_document
from preview.page.model import Figure, Finding, PageData, Shot, Still
from preview.page.moment import moment_of, opening, pictures_of
from preview.review.atomic import write_bytes
from preview.review.manifest import FileEntry

SCRIPTS = (
    "timecode.js",
    "state.js",
    "pane.js",
    "viewer.js",
    "controls.js",
    "timeline.js",
    "findings.js",
    "plots.js",
    "theme.js",
    "main.js",
)
"""In the order in which they are inlined, all inside one function."""

STYLES = ("base.css", "layout.css", "tables.css", "viewer.css", "timeline.css", "figures.css", "print.css")
"""In the order in which they are inlined; a later one wins."""

MOST_WORST, LEAST_WORST = 6, 3
"""Findings told in the summary: faults up to the first number, and compromises until there is the second."""

_HERE = Path(__file__).parent
_VENDOR = _HERE / "vendor" / "uplot"


def write_page(data: PageData, folder: Path, name: str = "index.html") -> FileEntry:
    """Write the page for ``data`` into ``folder``, whole or not at all; the same data gives the same bytes.

    Parameters
    ----------
    data : what it shows; every file that it names lies in ``folder`` already
    folder : where the clips and pictures are
    name : of the page's file

    Returns
    -------
    FileEntry : for the folder's manifest, ``media`` "page"

    Raises
    ------
    OutputError : a file that the page names is missing, empty or outside ``folder``, or the disk refuses.
    """
    _check_files(data, folder)
    write_bytes(folder / name, page_html(data).encode("utf-8"))
    first, last = data.frames
    return FileEntry(
        name=name,
        media="page",
        kind="review-page",
        subject="",
        size_px=(0, 0),
        start_timecode=labels.timecode(first, data.rate),
        end_timecode=labels.timecode(last, data.rate),
        frame_range=data.frames,
        shots=tuple(shot.name for shot in data.shots),
    )


def page_html(data: PageData) -> str:
    """The page's text. Every word of ``data`` is shown as text, whatever characters it holds."""
    environment = Environment(
        loader=PackageLoader("preview.page"),
        autoescape=select_autoescape(default=True, default_for_string=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.policies["json.dumps_kwargs"] = {
        "sort_keys": True,
        "allow_nan": False,
        "separators": (",", ":"),
    }
    environment.filters.update(address=labels.address, count=labels.count)
    data = replace(data, findings=_in_order(data))
    there = pictures_of(data)
    names = labels.camera_names(data.cameras)
    return environment.get_template("page.html.j2").render(
        data=data,
        document=page_document(data),
        style=_style(),
        script=_script(),
        plot_library=_text(_VENDOR / "uPlot.iife.min.js") if data.plots else "",
        line=lanes.time_line(data),
        moments=[moment_of(finding, there) for finding in data.findings],
        opening=opening(data),
        worst=_worst(data),
        grades={
            grade: sum(finding.grade == grade for finding in data.findings) for grade in labels.GRADE_ORDER
        },
        checked={grade: sum(check.grade == grade for check in data.checks) for grade in labels.GRADE_ORDER},
        idle=sum(bool(check.not_looked) for check in data.checks),
        stills=_stills_by_shot(data),
        findings_of_shot=_findings_by_shot(data),
        number_tables=[numbers.number_table(plot) for plot in data.plots],
        plot_documents=[numbers.plot_document(plot) for plot in data.plots],
        camera_name=lambda name: names.get(name, name),
        timecode=lambda frame: labels.timecode(frame, data.rate),
        length=lambda frames: labels.length(frames[1] - frames[0] + 1, data.rate),
        bar_words=lanes.bar_words,
        words=labels.GRADE_WORD,
        means=labels.GRADE_MEANS,
        order=labels.GRADE_ORDER,
    )


def _findings_by_shot(data: PageData) -> dict[str, list[Finding]]:
    """What is not fine, by the name of its shot."""
    found: dict[str, list[Finding]] = {shot.name: [] for shot in data.shots}
    for finding in data.findings:
        if finding.grade != "fine":
            found.setdefault(finding.shot, []).append(finding)
    return found


def _in_order(data: PageData) -> tuple[Finding, ...]:
    """Findings by grade, each grade in running order; those on the whole rundown come last in theirs."""
    return tuple(
        sorted(data.findings, key=lambda one: (labels.GRADE_ORDER.index(one.grade), not one.shot, one.frames))
    )


def _worst(data: PageData) -> list[tuple[int, Finding]]:
    """The findings to look at first: faults, then compromises; with a picture first; one a check and shot."""
    told = [(index, finding) for index, finding in enumerate(data.findings) if finding.grade != "fine"]
    told.sort(key=lambda entry: (labels.GRADE_ORDER.index(entry[1].grade), entry[1].figure is None, entry[0]))
    chosen: list[tuple[int, Finding]] = []
    seen = set()
    for index, finding in told:
        key = (finding.grade, finding.check, finding.shot)
        room = MOST_WORST if finding.grade == "fault" else LEAST_WORST
        if key not in seen and len(chosen) < room:
            seen.add(key)
            chosen.append((index, finding))
    return chosen


def _stills_by_shot(data: PageData) -> list[tuple[Shot | None, list[Still]]]:
    """Shots that have stills, each with them in running order; stills of no shot come last under None."""
    mine: dict[int, list[Still]] = {}
    other: list[Still] = []
    starts = [shot.frames[0] for shot in data.shots]
    for still in sorted(data.stills, key=lambda still: still.frame):
        place = bisect_right(starts, still.frame) - 1
        inside = place >= 0 and still.frame <= data.shots[place].frames[1]
        (mine.setdefault(place, []) if inside else other).append(still)
    groups: list[tuple[Shot | None, list[Still]]] = [
        (data.shots[place], mine[place]) for place in sorted(mine)
    ]
    return [*groups, (None, other)] if other else groups


def _style() -> str:
    text = "\n".join((_text(_VENDOR / "uPlot.min.css"), *(_text(_HERE / "styles" / name) for name in STYLES)))
    if "</style" in text.lower():
        raise ValueError("a style sheet of the page would end its own element")
    return text


def _script() -> str:
    text = "\n".join(_text(_HERE / "scripts" / name) for name in SCRIPTS)
    if "</script" in text.lower() or "<!--" in text:
        raise ValueError("a script of the page would end its own element")
    return text


def _text(path: Path) -> str:
    return path.read_text(encoding="utf-8")


def _figures(data: PageData) -> Iterator[Figure]:
    yield from (still.figure for still in data.stills)
    yield from (finding.figure for finding in data.findings if finding.figure)
    for camera in data.cameras:
        yield from camera.sheet
    yield from (*data.wall_maps, *data.floor_maps, *data.plans)


def _named_files(data: PageData) -> Iterator[str]:
    yield from (figure.file for figure in _figures(data))
    for clip in data.clips:
        yield clip.file
        if clip.poster:
            yield clip.poster
    yield from (camera.sheet_pdf for camera in data.cameras if camera.sheet_pdf)
    yield from (download.file for download in data.downloads)


def _check_files(data: PageData, folder: Path) -> None:
    """Every file that the page names lies in its folder. Raises OutputError."""
    missing = []
    for file in sorted(set(_named_files(data))):
        parts = PurePosixPath(file)
        if not file or parts.is_absolute() or ".." in parts.parts or "\\" in file:
            raise OutputError(
                folder / file,
                "the review page cannot show a file outside its own folder",
                "write it into the page's folder and name it from there",
            )
        path = folder / file
        if not path.is_file() or path.stat().st_size == 0:
            missing.append(file)
    if missing:
        more = f" and {len(missing) - 3} more" if len(missing) > 3 else ""
        names = ", ".join(missing[:3])
        raise OutputError(
            folder,
            f"the review page shows {names}{more}, but there is no such file",
            "write these files before the page, or leave them out of it",
        )
