"""A studio that draws nothing: flat pictures whose grey level is the frame number.

Tests of order, files and messages use it; tests of pictures use the real one.
"""

from __future__ import annotations

import weakref
from collections.abc import Callable
from types import SimpleNamespace

import numpy as np

from preview.frame import KINDS, Picture, Wanted
from preview.show.load import Show
from preview.timeline.timeline import Timeline

CANVAS_PX = (75, 33)


class FakeStudio:
    """The door of ``preview.frame.Studio``, with a record of what was asked.

    ``before`` is called with the frame and kind before each picture, and may raise; ``skip`` says
    which (frame, kind) not to give.
    """

    def __init__(
        self,
        show: Show,
        size_px: tuple[int, int] = (64, 36),
        before: Callable[[int, str], None] = lambda frame, kind: None,
        skip: Callable[[int, str], bool] = lambda frame, kind: False,
    ):
        self.show, self.size_px, self.timeline = show, size_px, Timeline(show)
        self.stage = SimpleNamespace(
            surfaces=[SimpleNamespace(name=s.name) for s in show.file.stage.surfaces]
        )
        self.notes = ("a note of the show",)
        self.graphics = "a fake"
        self.asked: list[int] = []
        self.alive: weakref.WeakSet[Picture] = weakref.WeakSet()
        self.most_alive = 0
        self.closed = False
        self._before, self._skip = before, skip
        self.raster = SimpleNamespace(sightlines=self._all_wall)

    def _all_wall(self, view: object) -> SimpleNamespace:
        shape = (self.size_px[1], self.size_px[0])
        return SimpleNamespace(surface=np.zeros(shape, np.int32), set_cover=np.zeros(shape, np.float32))

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.closed = True

    def pictures(self, frame: int, wanted: Wanted):
        self.asked.append(frame)
        cameras = wanted.cameras or [camera.name for camera in self.show.file.cameras]
        for kind in (kind for kind in KINDS if kind in wanted.kinds):
            subjects = {
                "wall": [surface.name for surface in self.stage.surfaces],
                **dict.fromkeys(("inner", "as-shot", "return"), cameras),
            }.get(kind, [""])
            for subject in subjects:
                self._before(frame, kind)
                if self._skip(frame, kind):
                    continue
                width, height = CANVAS_PX if kind == "wall" else self.size_px
                code = np.full((height, width, 3), frame % 256, np.uint8)
                is_camera = kind not in ("inner", "outer", "wall")
                light = (code / 255.0).astype(np.float32) if wanted.linear else None
                picture = Picture(kind, subject, code, light, frame / 1000 if is_camera else None)
                self.alive.add(picture)
                self.most_alive = max(self.most_alive, len(self.alive))
                yield picture
                del picture


def replace_studio(monkeypatch):
    """Commands open fake studios from here on; a list of those opened, whose ``before`` each of them runs."""

    class Made(list):
        before = staticmethod(lambda frame, kind: None)

    made = Made()

    def open_studio(show, size_px=None):
        made.append(FakeStudio(show, size_px or show.file.show.picture_size_px, made.before))
        return made[-1]

    monkeypatch.setattr("preview.frame.Studio", open_studio)
    return made
