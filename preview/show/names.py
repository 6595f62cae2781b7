"""Names in a show file: each one given once, and every use of one leads to something."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from preview.show.catalogue import Catalogue
from preview.show.document import dotted
from preview.show.entry import Entry, Findings
from preview.show.positions import KeyPath
from preview.show.wording import suggestion


@dataclass(frozen=True)
class Names:
    """Names given to a list of tables.

    ``complete`` is False when some table has no readable name: then an unknown name may well be
    that table's, and saying so would send the user to the wrong place.
    """

    names: tuple[str, ...]
    complete: bool = True

    def __add__(self, other: Names) -> Names:
        return Names(self.names + other.names, self.complete and other.complete)


def names_in(entry: Entry, key: str) -> Names:
    """Names of the tables listed under ``key``."""
    value = entry.data.get(key, [])
    tables = list(entry.tables(key))
    names = [table.text("name") for table in tables]
    # A name written twice has a problem of its own, and one of the two was meant to be another.
    readable = None not in names and isinstance(value, list) and len(set(names)) == len(value)
    if key == "cameras" and not names:
        readable = False  # a show without cameras is one problem, not one for each name
    return Names(tuple(dict.fromkeys(name for name in names if name is not None)), readable)


def check_known(findings: Findings, path: KeyPath, name: str | None, known: Names, what: str) -> bool:
    """Note a problem when ``name`` is given and no ``what`` has it; True when it is known."""
    if name is None or name in known.names:
        return name is not None
    if known.complete:
        findings.add(path, f"no {what} is called {name!r}", suggestion(name, known.names))
    return False


def check_names(findings: Findings, catalogue: Catalogue | None) -> None:
    """Duplicate names everywhere, and names used outside the rundown.

    ``catalogue`` is None when the show's own catalogue could not be read.
    """
    top = findings.top
    stage, virtual = top.table("stage"), top.table("virtual")
    cameras = list(top.tables("cameras"))
    _check_once(findings, cameras, "camera")
    _check_once(findings, cameras, "camera", "number")
    for camera in cameras:
        _check_once(findings, camera.tables("framings"), "framing of this camera")
        _check_once(findings, camera.tables("moves"), "move of this camera")
    _check_once(findings, stage.tables("surfaces"), "surface")
    _check_once(findings, [*stage.tables("people"), *stage.tables("set")], "person or set piece")
    _check_once(findings, virtual.tables("screens"), "screen")
    _check_once(findings, virtual.tables("lights"), "light")
    _check_once(findings, top.tables("rundown"), "shot")
    _check_order(findings, names_in(top, "cameras"))
    aims = names_in(stage, "people") + names_in(stage, "set")
    for camera in cameras:
        framings = names_in(camera, "framings")
        for framing in camera.tables("framings"):
            check_known(findings, framing.at("look_at"), framing.text("look_at"), aims, "person or set piece")
        for move in camera.tables("moves"):
            for end in ("start", "end"):
                what = f"framing of {camera.text('name') or 'this camera'}"
                check_known(findings, move.at(end), move.text(end), framings, what)
    if catalogue is not None:
        _check_catalogue_names(findings, catalogue)


def _check_once(findings: Findings, tables: Iterable[Entry], what: str, key: str = "name") -> None:
    first: dict[object, Entry] = {}
    for table in tables:
        name = table.text(key) if key == "name" else table.whole(key)
        if name is None:
            continue
        other = first.setdefault(name, table)
        if other is not table:
            line = findings.document.positions.nearest(other.at(key))[0]
            findings.add(
                table.at(key),
                f"another {what} has the {key} {name!r} ({dotted(other.path)}, line {line})",
                f"give each {what} a {key} of its own",
            )


def _check_order(findings: Findings, cameras: Names) -> None:
    drive = findings.top.table("drive")
    order = drive.data.get("order")
    seen: set[str] = set()
    for index, name in enumerate(order if isinstance(order, list) else []):
        if not isinstance(name, str):
            continue
        if check_known(findings, drive.at("order", index), name, cameras, "camera") and name in seen:
            findings.add(drive.at("order", index), f"{name!r} is listed twice", "list each camera once")
        seen.add(name)


def _check_catalogue_names(findings: Findings, catalogue: Catalogue) -> None:
    for surface in findings.top.table("stage").tables("surfaces"):
        tiles = Names(tuple(catalogue.tiles))
        check_known(findings, surface.at("tile"), surface.text("tile"), tiles, "tile in the catalogue")
    for camera in findings.top.tables("cameras"):
        for key, entries in (("sensor", catalogue.sensors), ("lens", catalogue.lenses)):
            known = Names(tuple(entries))
            check_known(findings, camera.at(key), camera.text(key), known, f"{key} in the catalogue")
