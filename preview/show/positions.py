"""Line and column of every key written in a TOML text.

``tomllib`` reads values but keeps no positions, so this walks the same text once more and only
notes where keys, table headers and list items start. It follows the grammar of TOML 1.0.0
(toml.io/en/v1.0.0) far enough to step over any value, and stops quietly at text it cannot follow:
by then ``tomllib`` has refused the file too.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from contextlib import suppress
from dataclasses import dataclass, field

KeyPath = tuple[str | int, ...]
"""Keys and list positions from the file's top, e.g. ``("cameras", 0, "name")``."""

_BLANK = re.compile(r"(?:[ \t\n]|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_REST_OF_LINE = re.compile(r"[ \t]*(?:#[^\n]*)?(?:\n|\Z)")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_STRING = re.compile(
    r'"""(?:\\[\s\S]|[^\\])*?"{3,5}'
    r"|'''[\s\S]*?'{3,5}"
    r'|"(?:\\[^\n]|[^"\\\n])*"'
    r"|'[^'\n]*'"
)
_PLAIN = re.compile(r"\d{4}-\d\d-\d\d[ Tt]\d[^\s,\]}#]*|[^\s,\]}#]+")


@dataclass(frozen=True)
class Repeat:
    """A key written a second time: its path, the text it spans, and where it was written first."""

    path: KeyPath
    start: int
    end: int
    first: int


@dataclass
class KeyPositions:
    """Where each key path starts in ``text``, as character offsets."""

    text: str
    offsets: dict[KeyPath, int] = field(default_factory=dict)
    repeats: list[Repeat] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._lines = [0, *(match.end() for match in re.finditer("\n", self.text))]

    def line_column(self, offset: int) -> tuple[int, int]:
        """1-based line and column of a character offset."""
        line = bisect_right(self._lines, offset)
        return line, offset - self._lines[line - 1] + 1

    def nearest(self, path: KeyPath) -> tuple[int, int]:
        """Line and column of the written key nearest to ``path``, going up; the file's top at last."""
        for length in range(len(path), 0, -1):
            offset = self.offsets.get(path[:length])
            if offset is not None:
                return self.line_column(offset)
        return 1, 1


class _Lost(Exception):
    """The text stopped following the grammar."""


def scan_positions(text: str) -> KeyPositions:
    """Positions of all keys up to the first place that is not TOML.

    >>> scan_positions('a = 1\\n[[b]]\\nc = {d = 2}').nearest(("b", 0, "c", "d"))
    (3, 6)
    """
    scanner = _Scanner(text)
    with suppress(_Lost, RecursionError):
        scanner.scan()
    return scanner.positions


class _Scanner:
    def __init__(self, text: str):
        self.text = text
        self.at = 0
        self.positions = KeyPositions(text)
        self.lengths: dict[KeyPath, int] = {}  # arrays of tables and how many tables each has so far
        self.values: dict[KeyPath, int] = {}

    def scan(self) -> None:
        table: KeyPath = ()
        while True:
            self._skip(_BLANK)
            if self.at == len(self.text):
                return
            if self.text.startswith("[[", self.at):
                table = self._header("[[", "]]")
            elif self.text[self.at] == "[":
                table = self._header("[", "]")
            else:
                self._key_value(table)
            if not self._skip(_REST_OF_LINE):
                raise _Lost

    def _header(self, opening: str, closing: str) -> KeyPath:
        self._expect(opening)
        parts = self._dotted_key()
        self._expect(closing)
        path = self._note((), parts[:-1])
        name, offset = parts[-1]
        path = (*path, name)
        self.positions.offsets.setdefault(path, offset)
        if closing == "]]":
            count = self.lengths.get(path, 0)
            self.lengths[path] = count + 1
            path = (*path, count)
            self.positions.offsets[path] = offset
        return path

    def _key_value(self, table: KeyPath) -> None:
        start = self.at
        parts = self._dotted_key()
        self._expect("=")
        self._skip(_SPACE)
        path = (*self._note(table, parts[:-1]), parts[-1][0])
        first = self.values.setdefault(path, parts[-1][1])
        if first == parts[-1][1]:
            self.positions.offsets.setdefault(path, first)
            self._value(path)
        else:
            self._value((*path, "written again"))
            self.positions.repeats.append(Repeat(path, start, self.at, first))

    def _note(self, path: KeyPath, parts: list[tuple[str, int]]) -> KeyPath:
        """Walk down ``parts`` from ``path``, into the newest table of an array of tables."""
        for name, offset in parts:
            path = (*path, name)
            self.positions.offsets.setdefault(path, offset)
            if path in self.lengths:
                path = (*path, self.lengths[path] - 1)
        return path

    def _dotted_key(self) -> list[tuple[str, int]]:
        parts = []
        while True:
            self._skip(_SPACE)
            offset = self.at
            match = _BARE_KEY.match(self.text, offset) or _STRING.match(self.text, offset)
            if not match:
                raise _Lost
            self.at = match.end()
            parts.append((_decoded(match[0]), offset))
            self._skip(_SPACE)
            if not self.text.startswith(".", self.at):
                return parts
            self.at += 1

    def _value(self, path: KeyPath) -> None:
        opening = self.text[self.at : self.at + 1]
        if opening == "[":
            self._list(path)
        elif opening == "{":
            self._inline_table(path)
        elif not (self._skip(_STRING) or self._skip(_PLAIN)):
            raise _Lost

    def _list(self, path: KeyPath) -> None:
        self.at += 1
        count = 0
        while True:
            self._skip(_BLANK)
            if self.text.startswith("]", self.at):
                self.at += 1
                return
            self.positions.offsets[(*path, count)] = self.at
            self._value((*path, count))
            count += 1
            self._skip(_BLANK)
            if not self.text.startswith("]", self.at):
                self._expect(",")

    def _inline_table(self, path: KeyPath) -> None:
        self.at += 1
        self._skip(_SPACE)
        while not self.text.startswith("}", self.at):
            self._key_value(path)
            self._skip(_SPACE)
            if not self.text.startswith("}", self.at):
                self._expect(",")
                self._skip(_SPACE)
        self.at += 1

    def _expect(self, token: str) -> None:
        if not self.text.startswith(token, self.at):
            raise _Lost
        self.at += len(token)

    def _skip(self, pattern: re.Pattern[str]) -> bool:
        match = pattern.match(self.text, self.at)
        if match:
            self.at = match.end()
        return match is not None


def _decoded(key: str) -> str:
    """A key as ``tomllib`` reads it: quotes and escapes undone."""
    if key[0] not in "\"'":
        return key
    try:
        return next(iter(tomllib.loads(f"{key} = 0")))
    except tomllib.TOMLDecodeError as error:
        raise _Lost from error
