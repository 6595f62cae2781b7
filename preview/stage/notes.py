"""One-sentence facts a loader collects for the user, each said once."""

from __future__ import annotations


class Notes:
    """Notes about one file. ``str`` values come out as ``"name: note"``."""

    def __init__(self, name: str):
        self._name = name
        self._texts: dict[str, None] = {}

    def add(self, text: str) -> None:
        """Keep ``text`` unless it was said before."""
        self._texts.setdefault(text)

    def sentences(self) -> tuple[str, ...]:
        """All notes in the order they came up, with the file's name in front."""
        return tuple(f"{self._name}: {text}" for text in self._texts)
