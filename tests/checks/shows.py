"""Small shows for the checks: the starter's garden room, changed key by key."""

from __future__ import annotations

import atexit
import shutil
import tempfile
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

from preview.show.load import Show, load_show
from preview.show.model import Shot
from tests.starter_show import starter_path

WHIP = """
[[cameras.framings]]
name = "left of wall"
pan_deg = 28
tilt_deg = 1
focal_length_mm = 16

[[cameras.framings]]
name = "right of wall"
pan_deg = 8
tilt_deg = 1
focal_length_mm = 16

[[cameras.moves]]
name = "whip"
start = "left of wall"
end = "right of wall"
duration_s = 0.6
"""
RUNDOWN = """
[[rundown]]
name = "Wide"
on_air = "CAM1"
duration = 1
cameras.CAM2 = { framing = "left of wall" }

[[rundown]]
name = "Whip pan"
on_air = "CAM2"
duration = 2
cameras.CAM2 = { move = "whip", after_s = 0.6 }

[[rundown]]
name = "Wide again"
on_air = "CAM1"
transition = "mix"
mix_frames = 6
duration = 1
"""


@cache
def whip_show() -> Show:
    """Three shots at 25: frames 0-24 CAM1, 25-74 CAM2 with a 20 degree whip pan on air, 75-99 CAM1 (mix of
    6). Pictures are 640 x 360; the wall is switched and nothing is late."""
    folder = Path(tempfile.mkdtemp(prefix="whip-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    shutil.copytree(starter_path().parent, folder, dirs_exist_ok=True)
    text = starter_path().read_text(encoding="utf-8")
    for old, new in (("[1280, 720]", "[640, 360]"), ('name = "push in"', 'name = "push"')):
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    text = text[: text.index("[[rundown]]")]
    moves = text.index("[[cameras.moves]]")
    drive = text.index("[drive]")
    plain = text[:moves] + WHIP + "\n" + text[drive:] + RUNDOWN
    (folder / "show.toml").write_text(plain, encoding="utf-8")
    return load_show(folder / "show.toml")


def changed(
    show: Show, cameras: dict[str, dict[str, Any]] | None = None, /, **tables: dict[str, Any]
) -> Show:
    """The show with keys of its tables (``delays={...}``, ``drive={...}``) or cameras changed."""
    file = show.file
    update: dict[str, Any] = {
        name: getattr(file, name).model_copy(update=keys) for name, keys in tables.items()
    }
    update["cameras"] = tuple(
        camera.model_copy(update=(cameras or {}).get(camera.name, {})) for camera in file.cameras
    )
    return replace(show, file=file.model_copy(update=update))


def with_rundown(show: Show, /, *shots: dict[str, Any], **tables: dict[str, Any]) -> Show:
    """The show with another running order, and tables changed as in ``changed``."""
    file = show.file.model_copy(update={"rundown": tuple(Shot(**shot) for shot in shots)})
    return changed(replace(show, file=file), **tables)
