"""What a picture is drawn from, as one digest: the request, and all that stands behind it.

A request (``preview.raster.request``) holds what changes from frame to frame: views, stacks of layers,
equipment. Behind it stand the virtual scene with what its screens show, the LED surfaces, the set, and the
program that draws. Of these a key takes only what that kind of request can show, so a desk that was moved
leaves the inner images alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import numpy as np

from preview.kept.digest import Digester, digest, file_digest
from preview.raster.request import CameraPicture, CanvasPicture, OuterPicture, Request

DRAWING_PARTS = ("camera", "kept", "picture", "raster", "show", "stage", "timeline", "wall")
DRAWING_FILES = ("colour.py", "conventions.py", "frame.py")
"""Folders and files of this package that have a hand in what a request becomes: pictures drawn by another
version of them are not used. A test holds them against the import statements."""

DRAWING_LIBRARIES = (
    "av",
    "numpy",
    "opencv-python",
    "opencv-python-headless",
    "PyOpenGL",
    "pyrender",
    "scipy",
    "trimesh",
)
"""Libraries that have a hand in it."""

Screens = Mapping[str, np.ndarray]
"""What each screen of the virtual scene shows, by its name: (h, w, 3) uint8."""


class PictureKeys:
    """Keys of one show's pictures, drawn at one size by one driver.

    Parameters
    ----------
    drawing : all that every picture depends on: size, samples, display transform, driver
    scene : the virtual scene
    eye : where the outer image is drawn from
    surfaces : LED surfaces with their headroom
    stage_set : set and people with the light on them
    """

    def __init__(self, drawing: Any, scene: Any, eye: Any, surfaces: Any, stage_set: Any) -> None:
        digester = Digester()
        self._scene = (_program(), digester.of(drawing), digester.of(scene))
        self._outer = (*self._scene, digester.of(eye))
        self._wall = (*self._outer, digester.of(surfaces))
        self._stage = (*self._wall, digester.of(stage_set))
        self._shown: dict[str, tuple[np.ndarray, bytes]] = {}

    def of(self, requests: Sequence[Request], screens: Screens) -> list[bytes]:
        """The key of each request while the screens show that."""
        shown = {name: self._of_screen(name, frame) for name, frame in screens.items()}
        digester = Digester()
        return [digest((self._behind(request), shown, digester.of(request))) for request in requests]

    def _behind(self, request: Request) -> tuple[bytes, ...]:
        match request:
            case CameraPicture():
                return self._stage
            case CanvasPicture():
                return self._wall
            case OuterPicture():
                return self._outer
            case _:
                return self._scene

    def _of_screen(self, name: str, frame: np.ndarray) -> bytes:
        known = self._shown.get(name)
        if known is None or known[0] is not frame:
            known = (frame, digest(frame))
            self._shown[name] = known
        return known[1]


@lru_cache(maxsize=1)
def _program() -> bytes:
    """Digest of the program's own files and of the libraries it draws with."""
    package = Path(__file__).resolve().parent.parent
    paths = [package / name for name in DRAWING_FILES]
    for part in DRAWING_PARTS:
        paths += [path for path in (package / part).rglob("*") if path.is_file() and path.suffix != ".pyc"]
    sources = {path.relative_to(package).as_posix(): file_digest(path) for path in paths}
    return digest((sources, {name: _version(name) for name in DRAWING_LIBRARIES}))


def _version(library: str) -> str | None:
    try:
        return version(library)
    except PackageNotFoundError:
        return None
