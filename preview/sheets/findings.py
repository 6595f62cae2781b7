"""What the checks say of a camera in a shot, as it comes onto its sheet."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, get_args

from preview.checks.result import Grade
from preview.errors import RequestError
from preview.show.load import Show
from preview.timeline.timeline import Timeline


@dataclass(frozen=True)
class SheetWarning:
    """Something to look out for.

    Attributes
    ----------
    camera : whose sheet it belongs on
    shot : number (from 1 on) or name of the shot; 0 or "" for the whole rundown
    grade : how bad it is
    sentence : what is seen; of a fault its remedy too
    check : who says so, "" for nobody in particular
    """

    camera: str
    shot: int | str
    grade: Grade
    sentence: str
    check: str = ""


def of_shots(warnings: Iterable[SheetWarning], timeline: Timeline) -> dict[int, list[SheetWarning]]:
    """Warnings by the number of their shot, 0 for the whole rundown; faults first, each once.

    Raises
    ------
    ValueError : a shot that the rundown has not.
    """
    found: dict[int, list[SheetWarning]] = {}
    numbers = range(1, len(timeline.shots) + 1)
    for one in sorted(dict.fromkeys(warnings), key=lambda one: get_args(Grade).index(one.grade)):
        if not one.shot:
            places = [0]
        elif isinstance(one.shot, int):
            places = [one.shot] if one.shot in numbers else []
        else:
            places = [shot.index + 1 for shot in timeline.shots if shot.name == one.shot]
        if not places:
            raise ValueError(f"a warning is about shot {one.shot!r}, which the rundown has not")
        for place in places:
            found.setdefault(place, []).append(one)
    return found


def warnings_of(data: Mapping[str, Any]) -> tuple[SheetWarning, ...]:
    """Faults and compromises of a report on checks, one for each camera that they concern.

    A finding on bleed concerns the camera in whose picture it is, not those whose frustums are seen. One on
    crossing concerns the camera that is seen as well. Remedies come with faults alone: a compromise cannot be
    avoided at the camera.

    Parameters
    ----------
    data : of ``preview.report.run.CheckReport``, as it is or read back from its JSON file

    Raises
    ------
    ValueError : it is not of that shape.
    """
    try:
        shots = [(one["first_frame"], one["last_frame"], one["number"]) for one in data["show"]["shots"]]
        cameras = {one["name"] for one in data["show"]["cameras"]}
        found: list[SheetWarning] = []
        for check in data["checks"]:
            for finding in check["findings"]:
                if finding["grade"] not in get_args(Grade):
                    raise ValueError(finding["grade"])
                if finding["grade"] == "fine":
                    continue
                number = _shot_number(finding, shots)
                sentence = str(finding["sentence"])
                if finding["grade"] == "fault" and finding["remedy"]:
                    sentence += f" Remedy: {finding['remedy']}"
                for camera in _concerned(check["check"], finding, cameras):
                    found.append(SheetWarning(camera, number, finding["grade"], sentence, check["check"]))
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise ValueError(f"not the data of a report on checks: {error!r}") from error
    return tuple(found)


def checked_words(data: Mapping[str, Any]) -> str:
    """What a report on checks looked at, one sentence: silence on a sheet means no more than that.

    Raises
    ------
    ValueError : it is not of that shape.
    """
    try:
        looked = data["looked_at"]
        frames = f"{looked['frames']} of {looked['frames_in_range']} frames"
        if looked["frames"] == looked["frames_in_range"]:
            frames = "every frame"
        words = f"{frames} from {looked['first_timecode']} to {looked['last_timecode']}"
        left = [one["check"] for one in data["not_looked_at"]]
        names = [one["check"] for one in data["checks"]]
    except (KeyError, TypeError) as error:
        raise ValueError(f"not the data of a report on checks: {error!r}") from error
    missing = f"; not looked at: {', '.join(left)}" if left else ""
    return f"Warnings are those of {', '.join(names)}, which looked at {words}{missing}."


def read_checks(path: Path, show: Show) -> tuple[tuple[SheetWarning, ...], str]:
    """Warnings, and what was looked at, from the JSON file that a check of this very show wrote.

    Raises
    ------
    RequestError : it cannot be read, is no such file, or is of another show file.
    """
    again = f'write it with "preview check {show.path} --out DIR" and name DIR/checks.json'
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        digest, title = data["show"]["sha256"], data["show"]["title"]
        found = warnings_of(data), checked_words(data)
    except OSError as error:
        raise RequestError(f"--checks: {path} cannot be read: {error.strerror}; {again}") from error
    except (ValueError, KeyError, TypeError) as error:
        raise RequestError(f"--checks: {path} is no report of preview check; {again}") from error
    if digest != show.sha256:
        other = (
            "an earlier or later version of this show file"
            if title == show.file.show.title
            else f'another show, "{title}"'
        )
        raise RequestError(f"--checks: {path} is of {other}; {again}")
    return found


def _shot_number(finding: Mapping[str, Any], shots: list[tuple[int, int, int]]) -> int:
    """0 where the finding is not of one shot. Names may come twice; its frames tell which is meant."""
    if not finding["shot"]:
        return 0
    worst = finding["measures"].get("worst_frame")
    frame = worst if isinstance(worst, int) else finding["frames"][0]
    return next(number for first, last, number in shots if first <= frame <= last)


def _concerned(check: str, finding: Mapping[str, Any], cameras: set[str]) -> list[str]:
    named = list(finding["cameras"])
    if check == "bleed":
        named = named[:1]
    if check == "crossing":
        named.append(finding["measures"].get("whose"))
    return [name for name in dict.fromkeys(named) if name in cameras]
