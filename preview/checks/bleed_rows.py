"""What the bleed check keeps of a rundown, and its table."""

from __future__ import annotations

from array import array
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import prod
from typing import overload

import numpy as np
import numpy.typing as npt

from preview.checks.look import Plan
from preview.checks.result import Value

NEITHER, OWN_SLOTS = -1, -2
_TOP_WORDS = {NEITHER: "neither", OWN_SLOTS: "own slots"}

Floats = npt.NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class BleedState:
    """Numbers of a moment; they hold until something changes. All float32.

    Attributes
    ----------
    inside, shown : (c, c) shares of the viewer's picture, viewer first: inside the source's frustum, and
        showing it as the wall is driven
    ghost : (c, c) share of the light that leaks into the viewer's slot from the source's
    own_m2 : (c,) square metres that each frustum covers
    overlap_m2 : (p, s) square metres shared, by pair and surface
    on_top : (p,) place of the camera whose frustum covers the other's, NEITHER or OWN_SLOTS
    """

    inside: Floats
    shown: Floats
    ghost: Floats
    own_m2: Floats
    overlap_m2: Floats
    on_top: Floats


class BleedRecord:
    """Which state held in which frame, and who was on programme: a few bytes a frame, some hundred a state.

    Parameters
    ----------
    cameras, pairs, surfaces : how many
    """

    def __init__(self, cameras: int, pairs: int, surfaces: int) -> None:
        square = (cameras, cameras)
        self._shapes = {
            "inside": square, "shown": square, "ghost": square, "own_m2": (cameras,),
            "overlap_m2": (pairs, surfaces), "on_top": (pairs,),
        }  # fmt: skip
        self._ends = np.cumsum([0, *(prod(shape) for shape in self._shapes.values())]).tolist()
        self._values = array("f")
        self.frames, self.state_of = array("l"), array("l")
        self._first, self._second = array("h"), array("h")
        self.last: BleedState | None = None

    @property
    def state_count(self) -> int:
        """How many states there were."""
        return len(self._values) // self._ends[-1]

    def change(self, state: BleedState) -> None:
        """From the next frame on this state holds."""
        self.last = state
        for name in self._shapes:
            self._values.frombytes(np.ascontiguousarray(getattr(state, name), dtype=np.float32).tobytes())

    def add(self, frame: int, on_air: tuple[int, ...]) -> None:
        """The last state holds in this frame; cameras on programme by place, two in a mix."""
        self.frames.append(frame)
        self.state_of.append(self.state_count - 1)
        self._first.append(on_air[0])
        self._second.append(on_air[-1])

    def state(self, number: int) -> BleedState:
        """One of the states, by its place."""
        size = self._ends[-1]
        values = np.array(self._values[number * size : (number + 1) * size], dtype=np.float32)
        parts = zip(self._shapes.items(), pairwise(self._ends), strict=True)
        return BleedState(**{name: values[a:b].reshape(shape) for (name, shape), (a, b) in parts})

    def over_frames(self, name: str) -> Floats:
        """(f, ...) one of the states' arrays, frame by frame."""
        start, end = list(pairwise(self._ends))[list(self._shapes).index(name)]
        values = np.array(self._values, dtype=np.float32).reshape(-1, self._ends[-1])[:, start:end]
        return values[np.asarray(self.state_of)].reshape(-1, *self._shapes[name])

    def on_programme(self, cameras: int) -> npt.NDArray[np.bool_]:
        """(f, c) whether each camera is on programme."""
        numbers = np.arange(cameras)
        first, second = np.asarray(self._first)[:, None], np.asarray(self._second)[:, None]
        on: npt.NDArray[np.bool_] = (first == numbers) | (second == numbers)
        return on


class BleedRows(Sequence[Mapping[str, Value]]):
    """Rows of the table, each made when it is asked for."""

    def __init__(
        self, cameras: Sequence[str], pairs: Sequence[tuple[int, int]], plan: Plan, record: BleedRecord
    ) -> None:
        self._cameras, self._plan, self._record = cameras, plan, record
        size = range(len(cameras))
        self._ordered = [(viewer, source) for viewer in size for source in size if viewer != source]
        self._pair = {pair: place for place, pair in enumerate(pairs)}

    def __len__(self) -> int:
        return len(self._record.frames) * len(self._ordered)

    def __iter__(self) -> Iterator[Mapping[str, Value]]:
        return (self[place] for place in range(len(self)))

    @overload
    def __getitem__(self, place: int) -> Mapping[str, Value]: ...
    @overload
    def __getitem__(self, place: slice) -> Sequence[Mapping[str, Value]]: ...
    def __getitem__(self, place: int | slice) -> Mapping[str, Value] | Sequence[Mapping[str, Value]]:
        if isinstance(place, slice):
            return [self[at] for at in range(*place.indices(len(self)))]
        if not -len(self) <= place < len(self):
            raise IndexError(place)
        number, which = divmod(place % len(self), len(self._ordered))
        viewer, source = self._ordered[which]
        pair = self._pair[min(viewer, source), max(viewer, source)]
        frame = self._record.frames[number]
        state = self._record.state(self._record.state_of[number])
        surfaces = self._plan.stage.surfaces
        top = int(state.on_top[pair])
        total = float(state.overlap_m2[pair].sum())
        own, other = float(state.own_m2[viewer]), float(state.own_m2[source])
        return {
            "frame": frame,
            "timecode": self._plan.timeline.timecode(frame),
            "viewer": self._cameras[viewer],
            "source": self._cameras[source],
            "inside_percent": round(100 * float(state.inside[viewer, source]), 3),
            "shown_percent": round(100 * float(state.shown[viewer, source]), 3),
            "ghost_light_percent": round(100 * float(state.ghost[viewer, source]), 4),
            "overlap_m2": round(total, 4),
            "overlap_share_of_viewer_percent": round(100 * total / own, 3) if own else None,
            "overlap_share_of_source_percent": round(100 * total / other, 3) if other else None,
            **{
                f"overlap_m2 {surface.name}": round(float(m2), 4)
                for surface, m2 in zip(surfaces, state.overlap_m2[pair], strict=True)
            },
            "on_top": _TOP_WORDS.get(top) or self._cameras[top],
        }
