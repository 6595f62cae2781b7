"""A TOML file as written: its values, its text and where each key stands in it."""

from __future__ import annotations

import hashlib
import re
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from preview.errors import Problem, ShowError
from preview.show.positions import KeyPath, KeyPositions, Repeat, scan_positions
from preview.show.wording import listed, nearest

_PLACE = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$")
_NUMBER_WITH_UNIT = re.compile(r"=\s*([-+]?[0-9][0-9_]*(?:\.[0-9]+)?)\s*([A-Za-z%°\"]+)\s*(?:#.*)?$")
_BARE_WORD = re.compile(r"=\s*([A-Za-z][^#\n]*?)\s*(?:#.*)?$")
_BARE_TIMECODE = re.compile(r"=\s*([0-9]{1,2}:[0-9]{1,2}:[0-9]{1,2}[:;.][0-9]{1,2})")

_UTF16 = (b"\xff\xfe", b"\xfe\xff")
"""Heads of text saved as UTF-16."""


@dataclass(frozen=True)
class Document:
    """One TOML file.

    Attributes
    ----------
    path : as the caller gave it; starts every problem's sentence
    sha256 : hexadecimal digest of the file's bytes
    data : the values as ``tomllib`` reads them
    positions : where each key stands
    """

    path: str
    sha256: str
    data: dict[str, Any]
    positions: KeyPositions

    def problem(self, path: KeyPath, found: str, fix: str, at: KeyPath | None = None) -> Problem:
        """A ``Problem`` with ``path``, placed at the written key nearest to it (or to ``at``)."""
        line, column = self.positions.nearest(path if at is None else at)
        return Problem(self.path, line, column, dotted(path), found, fix)


def dotted(path: KeyPath) -> str:
    """A key path as users read it.

    >>> dotted(("cameras", 0, "framings", 2, "look_at"))
    'cameras[0].framings[2].look_at'
    """
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part}]"
            continue
        bare = re.fullmatch(r"[A-Za-z0-9_-]+", part)
        text += ("." if text else "") + (part if bare else f'"{part}"')
    return text


def key_path(key: str) -> KeyPath:
    """``dotted`` undone.

    >>> key_path('rundown[1].cameras."CAM 2".move')
    ('rundown', 1, 'cameras', 'CAM 2', 'move')
    """
    parts = re.findall(r'\[(\d+)\]|"([^"]*)"|([^.\[\]"]+)', key)
    return tuple(int(index) if index else quoted or bare for index, quoted, bare in parts)


def read_document(path: str | Path) -> tuple[Document, list[Problem]]:
    """Read a TOML file.

    A key written twice does not stop the reading: it is returned as a problem, the first value
    counts, and the rest of the file can still be checked.

    Raises
    ------
    ShowError : no such file, not text, or not TOML
    """
    name = str(path)
    try:
        raw = Path(path).read_bytes()
    except (OSError, ValueError) as error:
        found = _unread(error)
        raise ShowError([Problem(name, 0, 0, "", found, _other_file(Path(path)))]) from error
    try:
        text = raw.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        if b"\0" in raw[:4096] and raw[:2] not in _UTF16:
            fix = _other_file(Path(path))
            raise ShowError([Problem(name, 0, 0, "", "is not a text file", fix)]) from error
        line = raw.count(b"\n", 0, error.start) + 1
        found = f"byte 0x{raw[error.start]:02x} is not UTF-8 text"
        raise ShowError([Problem(name, line, 1, "", found, "save the file as UTF-8")]) from error
    positions = scan_positions(text)
    data, problems = _parse(name, text, positions)
    return Document(name, hashlib.sha256(raw).hexdigest(), data, positions), problems


def _unread(error: OSError | ValueError) -> str:
    """Why a show file cannot be read."""
    if isinstance(error, FileNotFoundError):
        return "no such file"
    if isinstance(error, IsADirectoryError):
        return "is a folder"
    return f"cannot be read ({getattr(error, 'strerror', None) or error})"


def _other_file(path: Path) -> str:
    """Fix for a show file that cannot be read."""
    folder = path if path.is_dir() else path.parent
    files = sorted(item.name for item in folder.glob("*.toml")) if folder.is_dir() else []
    close = nearest(path.name, files)
    if close and not path.is_dir():
        return f"did you mean {str(path.with_name(close))!r}?"
    there = f"; there are: {listed(files, 6)}" if files else ""
    return f"give the path of a show file (TOML){there}"


def _parse(name: str, text: str, positions: KeyPositions) -> tuple[dict[str, Any], list[Problem]]:
    """Values of the text; keys written twice are taken out, kept apart as problems."""
    problems = []
    for repeat in positions.repeats:
        line, column = positions.line_column(repeat.start)
        first = positions.line_column(repeat.first)[0]
        key = dotted(repeat.path)
        found = f"key is written twice (first on line {first})"
        problems.append(Problem(name, line, column, key, found, "delete one of the two"))
    try:
        return tomllib.loads(_without(text, positions.repeats)), problems
    except (ValueError, RecursionError) as error:
        problems.append(_syntax_problem(name, text, str(error), positions))
        raise ShowError(sorted(problems, key=lambda problem: problem.line)) from error


def _without(text: str, repeats: list[Repeat]) -> str:
    """The text with repeated keys blanked out, so that every other key keeps its place."""
    for repeat in repeats:
        span = text[repeat.start : repeat.end]
        blank = re.sub(r"[^\n]", " ", span)
        after = text[repeat.end :]
        # In an inline table the comma that follows (or, for the last key, precedes) goes too.
        if re.match(r"[ \t]*,", after):
            after = after.replace(",", " ", 1)
            text = text[: repeat.start] + blank + after
        elif re.match(r"[ \t]*}", after) and (comma := text.rfind(",", 0, repeat.start)) >= 0:
            text = text[:comma] + " " + text[comma + 1 : repeat.start] + blank + after
        else:
            text = text[: repeat.start] + blank + after
    return text


def _syntax_problem(name: str, text: str, message: str, positions: KeyPositions) -> Problem:
    """tomllib's sentence, with its place taken out of the text and a fix added where one is known."""
    place = _PLACE.search(message)
    if place and place[1]:
        line, column = int(place[1]), int(place[2])
    else:
        line, column = positions.line_column(len(text.rstrip()))
    written = [*text.split("\n"), ""][line - 1]
    said = _PLACE.sub("", message)
    found = f"not valid TOML: {said[:1].lower()}{said[1:]}"
    if declared := re.match(r"Cannot declare \((.*?),?\) twice", said):
        header = ".".join(re.findall(r"'([^']*)'", declared[1]))
        first = positions.nearest(tuple(header.split(".")))[0]
        return Problem(
            name,
            line,
            1,
            header,
            f"table [{header}] is written twice (first on line {first})",
            f"put its keys under one header, or write [[{header}]] if it is a list",
        )
    if "overwrite a value" in said or "immutable namespace" in said:
        found, fix = "not valid TOML: this name already holds something else", "give it another name"
    elif unit := _NUMBER_WITH_UNIT.search(written):
        found = f"not valid TOML: {unit[1]}{unit[2]} is not a number"
        fix = f"write {unit[1]} alone: the unit is in the key's name"
    elif timecode := _BARE_TIMECODE.search(written):
        found = f"not valid TOML: timecode {timecode[1]} is not in quotes"
        fix = f'write "{timecode[1]}"'
    elif written.count('"') % 2 and '"""' not in written:
        fix = "close the quotes on this line"
    elif "\\" in written and "scape" in message:
        fix = 'write "/" between folders, or put the text in single quotes'
    elif (word := _BARE_WORD.search(written)) and "value" in message:
        lower = word[1].lower()
        fix = f"write {lower}" if lower in ("true", "false") else f'put the text in quotes: "{word[1]}"'
    elif "Unclosed array" in message or re.search(r"=\s*\[[^\]]*$", written):
        fix = 'close the list with "]" and put commas between its items'
    elif written.lstrip().startswith("["):
        fix = "write [table] for one table, [[table]] for one more of a list"
    else:
        fix = 'write one "key = value" on a line'
    return Problem(name, line, column, "", found, fix)
