"""What a dossier's parts told, turned into the page's values. Draws and writes nothing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import isfinite
from typing import Any

import numpy as np

from preview.checks.registry import Curve
from preview.checks.result import Grade, count
from preview.page import model as page
from preview.report.telling import grades_told
from preview.show.load import Show
from preview.timeline.timecode import is_drop_frame, parse_timecode
from preview.timeline.timeline import Timeline

MOST_POINTS = 3000
"""Of a line of a plot; more are put together, worst first, so that no peak is lost."""

LABELS = {
    "as-shot": "As shot",
    "return": "Return",
    "programme": "Programme",
    "programme-as-shot": "Programme as shot",
    "wall": "LED surface",
    "house": "The studio",
    "multiview": "Multiview",
}
ORDER = ("multiview", "programme", "programme-as-shot", "return", "as-shot", "wall", "house")


def rate_of(timeline: Timeline) -> page.Rate:
    """How the page counts frames."""
    rate, first = timeline.rate, timeline.timecode(0)
    return page.Rate(
        rate.fps.numerator,
        rate.fps.denominator,
        rate.nominal,
        is_drop_frame(first),
        first,
        parse_timecode(first, rate),
    )


def label_of(show: Show, kind: str, subject: str) -> str:
    """What a crew calls a picture."""
    number = next((one.number for one in show.file.cameras if one.name == subject), None)
    if number is None:
        return f"{LABELS[kind]} {subject}".strip()
    return f"{LABELS[kind]}, camera {number} {subject}"


def shots_of(show: Show, timeline: Timeline) -> tuple[page.Shot, ...]:
    """Every shot of the rundown."""
    return tuple(
        page.Shot(
            number=shot.index + 1,
            name=shot.name,
            camera=shot.on_air,
            frames=(shot.start_frame, shot.end_frame - 1),
            timecodes=(timeline.timecode(shot.start_frame), timeline.timecode(shot.end_frame - 1)),
            start=f"mix of {count(shot.mix_frames, 'frame')}" if shot.transition == "mix" else "cut",
            framing=timeline.at((shot.start_frame + shot.end_frame - 1) // 2).camera(shot.on_air).framing,
            note=show.file.rundown[shot.index].note,
        )
        for shot in timeline.shots
    )


def cameras_of(
    show: Show, timeline: Timeline, facts: Mapping[str, Any], sheets: Mapping[str, Sequence[str]]
) -> tuple[page.Camera, ...]:
    """Every camera.

    Parameters
    ----------
    facts : of ``preview.facts.show_facts``
    sheets : by camera, the files of its shot sheet: the PDF, then a PNG a page
    """
    found = []
    for row in facts["cameras"]:
        low, high = row["lens_mm"]
        lens = f"{low:g} mm" if low == high else f"{low:g} to {high:g} mm"
        sensor = "{:g} x {:g} mm".format(*row["sensor_mm"])
        told = f"{row['mount'].capitalize()}, lens {lens}, sensor {sensor}"
        if row["operator"]:
            told += f"; operated as {row['operator']}"
        shots = tuple(one.index + 1 for one in timeline.shots if one.on_air == row["name"])
        pdf, *pages = sheets.get(row["name"], (None,))
        found.append(page.Camera(row["number"], row["name"], told, shots, pdf, _sheet(row, pages)))
    return tuple(found)


def _sheet(row: Mapping[str, Any], pages: Sequence[Any]) -> tuple[page.Figure, ...]:
    name = f"camera {row['number']} {row['name']}"
    return tuple(
        page.Figure(
            file,
            tuple(size),
            f"Shot sheet of {name}, page {number} of {len(pages)}: its shots with returns, framing, "
            "timecodes and tally, as the PDF has them in words.",
            f"Shot sheet of {name}, page {number} of {len(pages)}",
        )
        for number, (file, size) in enumerate(pages, start=1)
    )


def clips_of(show: Show, told: Mapping[str, Any], folder: str, frames: page.Frames) -> tuple[page.Clip, ...]:
    """The clips, as ``preview.dossier.pictures.write_clips`` tells them."""
    drawn = tuple(told["drawn"])
    total = frames[1] - frames[0] + 1
    clips = [
        page.Clip(
            one["kind"],
            one["subject"],
            label_of(show, one["kind"], one["subject"]),
            f"{folder}/{one['file']}",
            tuple(one["size_px"]),
            frames,
            None if len(drawn) == total else drawn,
            f"{folder}/{one['poster']}",
        )
        for one in told["clips"]
    ]
    return tuple(sorted(clips, key=lambda one: ORDER.index(one.kind)))


def stills_of(show: Show, timeline: Timeline, told: Mapping[str, Any], folder: str) -> tuple[page.Still, ...]:
    """The stills, as ``preview.dossier.pictures.write_stills`` tells them; the studio's picture left out."""
    found = []
    for one in told["stills"]:
        if one["kind"] == "house":
            continue
        moment = timeline.at(one["frame"])
        label = label_of(show, one["kind"], one["subject"])
        if one["kind"].startswith("programme"):
            label += f", {moment.on_air} on air"
        where = f"shot {moment.shot_index + 1} {moment.shot}, {moment.timecode}"
        figure = page.Figure(f"{folder}/{one['file']}", tuple(one["size_px"]), f"{label}: {where}.", "")
        found.append(page.Still(one["kind"], one["subject"], label, one["frame"], figure))
    return tuple(found)


def house_of(timeline: Timeline, told: Mapping[str, Any], folder: str) -> tuple[page.Figure, ...]:
    """The studio as a person on its floor sees it."""
    return tuple(
        page.Figure(
            f"{folder}/{one['file']}",
            tuple(one["size_px"]),
            f"The whole studio at {timeline.timecode(one['frame'])}: LED surfaces as they are driven, set, "
            "people, cameras with their operators.",
            f"The studio at {timeline.timecode(one['frame'])}, with what the LED surfaces show",
        )
        for one in told["stills"]
        if one["kind"] == "house"
    )


def findings_of(
    report: Mapping[str, Any], folder: str, sizes: Mapping[str, tuple[int, int]]
) -> tuple[page.Finding, ...]:
    """Every finding, in the report's order.

    Parameters
    ----------
    report : as ``preview.dossier.run`` keeps a check report: its data, and ``stills`` rows
    sizes : of pictures, by file name in the report's folder
    """
    shown = {(one["check"], one["finding"]): one["file"] for one in report["stills"]}
    found = []
    for check in report["checks"]:
        for place, one in enumerate(check["findings"]):
            worst = one["measures"].get("worst_frame")
            file = shown.get((check["check"], place))
            figure = (
                None
                if file is None
                else page.Figure(
                    f"{folder}/{file}",
                    sizes[file],
                    f"The worst frame, with what is meant outlined: {one['sentence']}",
                    f"{check['check']}: the worst frame, "
                    f"{one['measures'].get('worst_timecode', one['timecodes'][0])}",
                )
            )
            found.append(
                page.Finding(
                    check["check"],
                    one["grade"],
                    one["shot"],
                    tuple(one["cameras"]),
                    tuple(one["frames"]),
                    tuple(one["timecodes"]),
                    worst if isinstance(worst, int) else one["frames"][0],
                    one["sentence"],
                    one["remedy"],
                    figure,
                )
            )
    return tuple(found)


def checked_of(report: Mapping[str, Any]) -> tuple[page.Checked, ...]:
    """Every check, those that did not look last."""
    looked = [
        page.Checked(
            one["check"],
            one["question"],
            one["grade"],
            grades_told([found["grade"] for found in one["findings"]]),
            tuple(one["assumptions"]),
            "",
        )
        for one in report["checks"]
    ]
    others = [
        page.Checked(one["check"], one["question"], None, "not looked at", (), one["why"])
        for one in report["not_looked_at"]
    ]
    return (*looked, *others)


def worst_grade(report: Mapping[str, Any]) -> Grade:
    """The worst that any check found."""
    grades = {one["grade"] for one in report["checks"]}
    return "fault" if "fault" in grades else "compromise" if "compromise" in grades else "fine"


def verdict_of(report: Mapping[str, Any]) -> str:
    """Whether the plan works, as a director would want to be told."""
    grades = [one["grade"] for check in report["checks"] for one in check["findings"]]
    faults, compromises = (grades.count(grade) for grade in ("fault", "compromise"))
    lived_with = f"{count(compromises, 'compromise')} to live with" if compromises else ""
    if faults:
        told = f"Not ready for air: {count(faults, 'fault')} to put right"
        told += f", {lived_with}" if lived_with else ""
    else:
        told = f"Ready for air, with {lived_with}" if lived_with else "Ready for air: nothing found"
    left_out = len(report["not_looked_at"])
    return told + (f". {count(left_out, 'check')} did not look" if left_out else "") + "."


def plot_data(check: str, curve: Curve) -> dict[str, Any]:
    """A check's curve as JSON types, no longer than a page can take."""
    frames = np.asarray(curve.frames, dtype=np.int64)
    worst = np.fmin if curve.limit_is == "above" else np.fmax
    rows = np.array([np.asarray(values, dtype=float) for values in curve.values.values()])
    if len(frames) > MOST_POINTS:
        starts = np.linspace(0, len(frames), MOST_POINTS, endpoint=False).astype(int)
        frames, rows = frames[starts], worst.reduceat(rows, starts, axis=1)
    return {
        "check": check,
        "title": curve.title,
        "unit": curve.unit,
        "limit": curve.limit,
        "limit_is": curve.limit_is,
        "frames": frames.tolist(),
        "lines": {
            name: [float(f"{value:.5g}") if isfinite(value) else None for value in row]
            for name, row in zip(curve.values, rows.tolist(), strict=True)
        },
    }


def plots_of(timeline: Timeline, rows: Iterable[Mapping[str, Any]]) -> tuple[page.Plot, ...]:
    """The curves, as ``plot_data`` keeps them."""
    found = []
    for row in rows:
        frames = tuple(row["frames"])
        lines = tuple(page.Line(name, frames, tuple(values)) for name, values in row["lines"].items())
        found.append(
            page.Plot(row["check"], row["title"], row["unit"], lines, row["limit"], _plot_told(timeline, row))
        )
    return tuple(found)


def _plot_told(timeline: Timeline, row: Mapping[str, Any]) -> str:
    """Each line's worst value and when; what the limit is."""
    above = row["limit_is"] == "above"
    told = []
    for name, values in row["lines"].items():
        known = [
            (value, frame) for value, frame in zip(values, row["frames"], strict=True) if value is not None
        ]
        if not known:
            told.append(f"{name} has no value")
            continue
        if not any(value for value, _ in known):
            told.append(f"{name} 0 throughout")
            continue
        value, frame = min(known) if above else max(known, key=lambda pair: (pair[0], -pair[1]))
        most = "at least" if above else "at most"
        told.append(f"{name} {most} {value:.3g}{_unit(row)} ({timeline.timecode(frame)})")
    limit = ""
    if row["limit"] is not None:
        limit = f" It should stay {'above' if above else 'below'} {row['limit']:g}{_unit(row)}."
    return f"{row['title']}: {'; '.join(told)}.{limit}"


def _unit(row: Mapping[str, Any]) -> str:
    return f" {row['unit']}" if row["unit"] else ""


def wall_maps_of(report: Mapping[str, Any], folder: str) -> tuple[page.Figure, ...]:
    """Where frustums overlap on each LED surface."""
    found = []
    for one in report["files"]:
        if one["kind"] == "bleed" and one["subject"] and one["media"] == "plot":
            words = f"How long each place of {one['subject']} lies in the frustums of more than one camera"
            figure = page.Figure(
                f"{folder}/{one['name']}", tuple(one["size_px"]), f"{words}, as a map of it.", words
            )
            found.append(figure)
    return tuple(found)
