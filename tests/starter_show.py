"""The starter show, written once a test session, for tests that need any show at all."""

from __future__ import annotations

import atexit
import shutil
import tempfile
from functools import cache
from pathlib import Path

from preview.show.load import Show, load_show
from preview.starter import write_starter


@cache
def starter_path() -> Path:
    """Path of its show file; do not write beside it."""
    folder = Path(tempfile.mkdtemp(prefix="starter-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return write_starter(folder / "show")


@cache
def starter_show() -> Show:
    return load_show(starter_path())
