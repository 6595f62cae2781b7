"""A part of a dossier that is made anew only when what it is made from has changed.

Each part has a folder of its own. When it is whole, a file there says what it was made from, what it told,
and the digest of every file. A run that was killed leaves no such file, and a file that was changed or lost
afterwards is noticed: the part is then made again.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from preview.kept.digest import digest, file_digest
from preview.review.atomic import output_folder, write_bytes
from preview.review.manifest import NAME as MANIFEST
from preview.show.load import Show

STAMP = "made-from.json"
FORMAT = 1


@dataclass(frozen=True)
class Made:
    """What a part told, its files' names in its folder, and whether it was there already."""

    data: dict[str, Any]
    files: tuple[str, ...]
    reused: bool


def part(folder: Path, made_from: str, make: Callable[[], tuple[dict[str, Any], Sequence[str]]]) -> Made:
    """Make a part, or take it as it lies there.

    Parameters
    ----------
    folder : the part's own
    made_from : digest of everything that it depends on, hexadecimal
    make : writes its files into the folder; hands back what it tells, as JSON types, and the files' names

    Returns
    -------
    Made

    Raises
    ------
    OutputError : the folder cannot be written. What ``make`` raises passes through.
    """
    earlier = _stamp(folder)
    if earlier.get("made_from") == made_from and _is_whole(folder, earlier["files"]):
        return Made(earlier["data"], tuple(earlier["files"]), True)
    with output_folder(folder):
        (folder / STAMP).unlink(missing_ok=True)
    data, files = make()
    stamp = {
        "format": FORMAT,
        "made_from": made_from,
        "data": data,
        "files": {name: file_digest(folder / name).hex() for name in sorted(files)},
    }
    text = json.dumps(stamp, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    write_bytes(folder / STAMP, text.encode())
    for name in set(earlier.get("files", ())) - set(files) - {STAMP, MANIFEST}:  # nothing shows them any more
        (folder / name).unlink(missing_ok=True)
    return Made(json.loads(text)["data"], tuple(sorted(files)), False)


def made_from(show: Show, scene: bytes, *options: Any) -> str:
    """Digest of a show, of all that it shows, of this program, and of options.

    Parameters
    ----------
    scene : of stage, set and virtual scene as they were loaded (``preview.frame.Studio.scene_digest``)
    options : plain values (see ``preview.kept.digest``)
    """
    virtual = show.file.virtual
    screens = [name for one in virtual.screens for name in (one.picture, one.clip) if name is not None]
    played = tuple((name, file_digest(show.asset(name))) for name in screens)
    return digest((_program(), show.file.model_dump_json(), scene, played, options)).hex()


def _stamp(folder: Path) -> dict[str, Any]:
    """What a part was made from, what it told and its files; empty where that is not there, or not whole."""
    try:
        stamp = json.loads((folder / STAMP).read_text(encoding="utf-8"))
        if stamp["format"] != FORMAT:
            return {}
        files = {str(name): str(known) for name, known in stamp["files"].items()}
        if any(Path(name).name != name for name in files):
            return {}
        return {"made_from": stamp["made_from"], "data": dict(stamp["data"]), "files": files}
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return {}


def _is_whole(folder: Path, files: Mapping[str, str]) -> bool:
    try:
        return all(file_digest(folder / name).hex() == known for name, known in files.items())
    except OSError:
        return False


@cache
def _program() -> bytes:
    """Digest of this package's files."""
    home = Path(__file__).resolve().parent.parent
    files = sorted(path for path in home.rglob("*") if path.is_file() and path.suffix not in (".pyc", ".pyo"))
    return digest(tuple((path.relative_to(home).as_posix(), file_digest(path)) for path in files))
