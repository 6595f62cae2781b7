"""Files that a show names: each one is there, under exactly that name."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from preview.show.entry import Entry, Findings
from preview.show.wording import listed, nearest


def check_files(findings: Findings, root: Path) -> None:
    """Note a problem for every named file that is missing below ``root``, the show file's folder."""
    for entry, key in _named_files(findings.top):
        name = entry.text(key)
        if name is None:
            continue
        try:
            missing = _missing(root, name)
        except (OSError, ValueError):  # a name no file system takes
            missing = (f"{name!r} cannot be a file name", "write a path relative to the show file")
        if missing:
            findings.add(entry.at(key), *missing)
    virtual = findings.top.table("virtual")
    for screen in virtual.tables("screens"):
        if screen.has("picture") and screen.has("clip"):
            fix = "keep picture for a still or clip for a moving one"
            findings.add(screen.at("clip"), "picture and clip are both written", fix)
        elif not screen.has("picture") and not screen.has("clip"):
            name = screen.text("name") or "this screen"
            fix = 'add picture = "guest.png" or clip = "guest.mp4"'
            findings.add(screen.path, f"{name!r} has nothing to show", fix)


def _named_files(top: Entry) -> Iterator[tuple[Entry, str]]:
    yield top, "catalogue"
    stage, virtual = top.table("stage"), top.table("virtual")
    for table in (*stage.tables("surfaces"), *stage.tables("set"), virtual):
        yield table, "mesh"
    yield virtual.table("sky"), "image"
    for screen in virtual.tables("screens"):
        yield screen, "picture"
        yield screen, "clip"


def _missing(root: Path, name: str) -> tuple[str, str] | None:
    """What is wrong with a file name and the fix; None when it names a file."""
    if not name.strip():
        return "file name is empty", "write a path relative to the show file"
    path = root / name
    if path.is_file():
        return None
    if path.is_dir():
        return f"{name!r} is a folder", f"name a file in it: {listed(_inside(path, files=True), 6)}"
    if "\\" in name and (root / name.replace("\\", "/")).is_file():
        return f"no such file: {name!r}", f'write "/" between folders: {name.replace(chr(92), "/")!r}'
    folder = path.parent
    if folder.is_dir():
        files = _inside(folder, files=True)
        close = nearest(path.name, files)
        if close:
            # The folder part stays as the user wrote it; only the last part was wrong.
            meant = name[: len(name) - len(path.name)] + close if name.endswith(path.name) else close
            return f"no such file: {name!r}", f"did you mean {meant!r}?"
        return f"no such file: {name!r}", f"files in {_shown(folder, root)}: {listed(files, 6)}"
    while not folder.is_dir() and folder != folder.parent:
        missing, folder = folder.name, folder.parent
    folders = _inside(folder, files=False)
    close = nearest(missing, folders)
    fix = f"did you mean {close!r}?" if close else f"folders in {_shown(folder, root)}: {listed(folders, 6)}"
    return f"no such file: {name!r} (there is no folder {missing!r})", fix


def _inside(folder: Path, files: bool) -> list[str]:
    return sorted(
        item.name
        for item in folder.iterdir()
        if not item.name.startswith(".") and (item.is_file() if files else item.is_dir())
    )


def _shown(folder: Path, root: Path) -> str:
    if folder == root:
        return "the show file's folder"
    return repr(str(folder.relative_to(root) if folder.is_relative_to(root) else folder))
