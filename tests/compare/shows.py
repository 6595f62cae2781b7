"""The starter show with other delays or another drive, without a file of its own."""

from __future__ import annotations

from dataclasses import replace

from preview.show.load import Show
from tests.starter_show import starter_show


def starter_with(drive: dict | None = None, **delays: float) -> Show:
    """The starter show; ``drive`` and ``delays`` replace single keys of those tables."""
    show = starter_show()
    file = show.file
    changed = file.model_copy(
        update={
            "delays": file.delays.model_copy(update=delays),
            "drive": file.drive.model_copy(update=drive or {}),
        }
    )
    return replace(show, file=changed)
