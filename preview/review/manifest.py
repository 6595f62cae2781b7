"""manifest.json: what each file in an output folder is, and from which show, command and versions.

One folder may be written to by many runs. Each run adds itself to ``runs``; each file names the run
that made it. A file made again moves to the newer run; a file that is no longer there is dropped.

    {"format": 1,
     "runs":  [{"run": 1, "show": {...}, "command": "...", "versions": {...}, "finished": true, ...}],
     "files": [{"name": "001-start_10-00-00-00_programme.png", "run": 1, "kind": "programme", ...}]}
"""

from __future__ import annotations

import hashlib
import json
import platform
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

from preview import __version__
from preview.errors import OutputError
from preview.review.atomic import write_bytes

NAME = "manifest.json"
FORMAT = 1
PACKAGES = (
    "av",
    "jinja2",
    "matplotlib",
    "numpy",
    "opencv-python",
    "pillow",
    "pydantic",
    "PyOpenGL",
    "pyrender",
    "scikit-image",
    "scipy",
    "trimesh",
)


@dataclass(frozen=True)
class FileEntry:
    """One written file.

    Attributes
    ----------
    name : file name inside the output folder
    media : "still" or "clip"; of a comparison also "data" (JSON), "table" (CSV) or "plot";
        "sheet" for a page or pages to print (PDF, PNG), "page" for the review page
    kind, subject : which picture; subject is a camera's or surface's name, "" otherwise
    size_px : width and height
    start_timecode, end_timecode : first and last frame in it (the same for a still)
    frame_range : the same as frame numbers from the rundown's start, last one included
    shots : names of the shots it shows
    place : "start", "middle", "end" or "at" for a still
    every : 1, or N when a clip holds each Nth frame for N frames
    off_wall : share of a camera picture past the LED; for a clip the largest, and in which frame
    burn_in : timecode, shot and camera are burnt into the picture
    """

    name: str
    media: str
    kind: str
    subject: str
    size_px: tuple[int, int]
    start_timecode: str
    end_timecode: str
    frame_range: tuple[int, int]
    shots: tuple[str, ...]
    place: str | None = None
    every: int = 1
    off_wall: float | None = None
    off_wall_timecode: str | None = None
    burn_in: bool = False


@dataclass(frozen=True)
class RunEntry:
    """What one run was asked, and what it ran on."""

    show_path: str
    show_sha256: str
    show_title: str
    command: str
    frame_rate: str
    size_px: tuple[int, int]
    frame_range: tuple[int, int]
    graphics: str
    notes: tuple[str, ...] = ()


@dataclass
class Manifest:
    """The manifest of one folder while a run adds to it. Every change is written at once."""

    folder: Path
    run: RunEntry
    _earlier: dict[str, Any] = field(default_factory=dict)
    _files: dict[str, dict[str, Any]] = field(default_factory=dict)
    _started: str = ""

    def __post_init__(self) -> None:
        self._earlier = _read(self.folder / NAME)
        self._started = _now()
        self._write(finished=False)

    def add(self, *entries: FileEntry) -> None:
        """List files that this run has finished writing. Raises OutputError."""
        for entry in entries:
            path = self.folder / entry.name
            self._files[entry.name] = {
                **asdict(entry),
                "bytes": path.stat().st_size,
                "sha256": _sha256(path),
            }
        self._write(finished=False)

    def finish(self) -> None:
        """Say that everything asked for is there. Raises OutputError."""
        self._write(finished=True)

    def _write(self, finished: bool) -> None:
        old_runs = {run["run"]: run for run in self._earlier.get("runs", ())}
        number = max(old_runs, default=0) + 1
        kept = [
            entry
            for entry in self._earlier.get("files", ())
            if entry["name"] not in self._files and (self.folder / entry["name"]).is_file()
        ]
        still_needed = {entry["run"] for entry in kept}
        this_run = {
            "run": number,
            "finished": finished,
            "started": self._started,
            "ended": _now() if finished else None,
            "show": {
                "path": self.run.show_path,
                "sha256": self.run.show_sha256,
                "title": self.run.show_title,
            },
            "command": self.run.command,
            "frame_rate": self.run.frame_rate,
            "size_px": self.run.size_px,
            "frame_range": self.run.frame_range,
            "graphics": self.run.graphics,
            "versions": versions(),
            "notes": self.run.notes,
        }
        document = {
            "format": FORMAT,
            "runs": [run for key, run in old_runs.items() if key in still_needed] + [this_run],
            "files": sorted(
                kept + [{**entry, "run": number} for entry in self._files.values()],
                key=lambda entry: entry["name"],
            ),
        }
        text = json.dumps(document, indent=2, ensure_ascii=False)
        write_bytes(self.folder / NAME, (text + "\n").encode())


def versions() -> dict[str, str]:
    """Version of this package, of Python and of every package that has a hand in the pictures."""
    found = {"preview": __version__, "python": platform.python_version()}
    for package in PACKAGES:
        for name in (package, f"{package}-headless"):
            try:
                found[name] = version(name)
            except PackageNotFoundError:
                continue
            break
    return found


def _read(path: Path) -> dict[str, Any]:
    """An earlier manifest, or an empty one when there is none."""
    if not path.exists():
        return {}
    fix = "move it away or choose another folder"
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
        if document["format"] != FORMAT:
            raise OutputError(path, f"is a manifest of format {document['format']}, this is {FORMAT}", fix)
        for run in document["runs"]:
            int(run["run"])
        for entry in document["files"]:
            if entry["name"] != Path(entry["name"]).name:
                raise ValueError(entry["name"])
            int(entry["run"])
    except (ValueError, KeyError, TypeError) as error:
        raise OutputError(path, "is not a manifest of this program", fix) from error
    except OSError as error:
        raise OutputError(path, f"cannot be read: {error.strerror}", fix) from error
    return dict(document)


def _sha256(path: Path) -> str:
    with open(path, "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
