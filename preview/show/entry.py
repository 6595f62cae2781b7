"""Tables of a show file as written, before anybody knows whether their values make sense.

Checks across tables (does the shot's camera exist?) run on these, not on the validated model: a
model that fails on one key never gets as far, and the user would meet the problems in two rounds.
Every getter answers None for a value of the wrong type; that value has its own problem already.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from preview.errors import Problem
from preview.show.document import Document
from preview.show.positions import KeyPath


@dataclass(frozen=True)
class Entry:
    """One table: where it is and what is written in it."""

    path: KeyPath
    data: dict[str, Any]

    def has(self, key: str) -> bool:
        return key in self.data

    def at(self, *keys: str | int) -> KeyPath:
        """Path of a key in this table."""
        return (*self.path, *keys)

    def text(self, key: str) -> str | None:
        value = self.data.get(key)
        return value if isinstance(value, str) else None

    def number(self, key: str) -> float | None:
        return _number(self.data.get(key))

    def whole(self, key: str) -> int | None:
        value = self.data.get(key)
        return value if isinstance(value, int) and not isinstance(value, bool) else None

    def numbers(self, key: str) -> tuple[float, ...] | None:
        """A list in which every item is a finite number."""
        value = self.data.get(key)
        if not isinstance(value, list):
            return None
        found = [_number(item) for item in value]
        kept = tuple(item for item in found if item is not None)
        return kept if len(kept) == len(found) else None

    def point(self, key: str) -> tuple[float, float, float] | None:
        found = self.numbers(key)
        return (found[0], found[1], found[2]) if found is not None and len(found) == 3 else None

    def table(self, key: str) -> Entry:
        """The table under ``key``; an empty one when nothing (or no table) is written."""
        value = self.data.get(key)
        return Entry(self.at(key), value if isinstance(value, dict) else {})

    def tables(self, key: str) -> Iterator[Entry]:
        """The tables listed under ``key``."""
        value = self.data.get(key)
        for index, item in enumerate(value if isinstance(value, list) else []):
            if isinstance(item, dict):
                yield Entry(self.at(key, index), item)

    def named_tables(self, key: str) -> Iterator[tuple[str, Entry]]:
        """The tables of the table under ``key``, by name."""
        inside = self.table(key)
        for name, value in inside.data.items():
            if isinstance(value, dict):
                yield name, Entry(inside.at(name), value)


class Findings:
    """Problems and notes about one document. One problem a key: the first one found."""

    def __init__(self, document: Document, problems: list[Problem] | None = None):
        self.document = document
        self.problems = list(problems or [])
        self.notes: list[str] = []
        self._taken: set[KeyPath] = set()

    @property
    def top(self) -> Entry:
        """The document's top table."""
        return Entry((), self.document.data)

    def add(self, path: KeyPath, found: str, fix: str, at: KeyPath | None = None) -> None:
        """Note a problem with ``path``; ``at`` points elsewhere for its line."""
        if path in self._taken:
            return
        self._taken.add(path)
        self.problems.append(self.document.problem(path, found, fix, at))

    def clean(self, path: KeyPath) -> bool:
        """True when nothing at or below ``path`` has a problem."""
        return not any(taken[: len(path)] == path for taken in self._taken)

    def ordered(self) -> list[Problem]:
        """Problems from the file's top to its bottom."""
        return sorted(self.problems, key=lambda problem: (problem.line, problem.column))


def _number(value: Any) -> float | None:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    try:
        number = float(value)
    except OverflowError:
        return None
    return number if math.isfinite(number) else None
