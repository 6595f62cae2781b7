"""A small valid show in a folder of its own, and a way to spoil it."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image

from preview.errors import Problem, ShowError
from preview.show.load import load_show

FIXTURES = Path(__file__).parent / "fixtures"


@pytest.fixture
def booth(tmp_path: Path) -> Path:
    """A valid show file with its mesh and picture files beside it."""
    for name in ("booth.toml", "bench.obj", "glasshouse.obj"):
        shutil.copy(FIXTURES / name, tmp_path)
    Image.new("RGB", (4, 4), "#356038").save(tmp_path / "caller.png")
    return tmp_path / "booth.toml"


@pytest.fixture
def edit(booth: Path) -> Callable[..., Path]:
    """Replace pieces of the valid show's text, each of which must be there."""

    def replace(*changes: tuple[str, str]) -> Path:
        text = booth.read_text(encoding="utf-8")
        for old, new in changes:
            assert old in text, old
            text = text.replace(old, new, 1)
        booth.write_text(text, encoding="utf-8")
        return booth

    return replace


@pytest.fixture
def problems_of() -> Callable[[Path], list[Problem]]:
    """The problems of a show file, which must have some."""

    def problems(path: Path) -> list[Problem]:
        with pytest.raises(ShowError) as caught:
            load_show(path)
        return caught.value.problems

    return problems
