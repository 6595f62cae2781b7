"""How late a return is against the programme, found from the pictures alone.

The return is laid over programmes of frames before and after; the offset with the largest PSNR is the answer,
if it is the only one. Only programmes that show the return's own camera alone can be the same picture.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass
from math import isclose

import cv2
import numpy as np

from preview.compare.measures import psnr_db
from preview.compare.pairs import RETURN_PROGRAMME, Compared
from preview.errors import RequestError
from preview.frame import Studio, Wanted
from preview.show.model import ShowFile
from preview.timeline.moment import Moment

SHORTEST_WINDOW = 6
LONGEST_WINDOW = 102
"""Past the longest return delay that a show may have."""


@dataclass(frozen=True)
class Offset:
    """What a search for the return's delay found.

    Attributes
    ----------
    psnr_db : by frames late (negative: early), over every frame that was compared at all offsets; ``inf``
        for equal pictures
    frames : how many returns that rests on
    late_frames : frames the return is late; None when the pictures cannot tell
    said : the result in one sentence
    """

    psnr_db: Mapping[int, float]
    frames: int
    late_frames: int | None
    said: str


def chosen_window(asked: int | None, file: ShowFile) -> int:
    """Frames searched on either side; reaches past every return delay of the show when nothing is asked.

    Raises
    ------
    RequestError : more than LONGEST_WINDOW or less than 1.
    """
    if asked is None:
        own = [camera.delays.return_frames or 0 for camera in file.cameras]
        longest = max(file.delays.return_frames, *own)
        return max(SHORTEST_WINDOW, longest + 2)
    if not 1 <= asked <= LONGEST_WINDOW:
        raise RequestError(f"--window {asked}: write a number of frames from 1 to {LONGEST_WINDOW}")
    return asked


def search_at(studio: Studio, compared: Compared, window: int) -> Offset:
    """The offset of one return, against programmes drawn for the purpose.

    Parameters
    ----------
    studio : the show, ready to draw
    compared : a return and the programme of the same frame
    window : frames searched on either side; programmes of other cameras are left out
    """
    frame, camera = compared.moment.frame, compared.camera
    squares: dict[int, float] = {}
    for late in range(-window, window + 1):
        then = frame - late
        if not 0 <= then < studio.timeline.frame_count or not _alone(studio, then, camera):
            continue
        if late == 0:
            programme = compared.second
        else:
            (picture,) = studio.pictures(then, Wanted(("programme",)))
            programme = picture.code
        squares[late] = mean_square(compared.first, programme)
    if not squares:
        said = f"{camera} is off air from {window} frames before to {window} frames after: no offset to find"
        return Offset({}, 0, None, said)
    return _judged(squares, 1, left_out=2 * window + 1 - len(squares))


def _alone(studio: Studio, frame: int, camera: str) -> bool:
    moment = studio.timeline.at(frame)
    return moment.on_air == camera and moment.mix_from is None


class OffsetSearch:
    """The offset over a run of frames, given one after the other; keeps a window of pictures at most.

    Parameters
    ----------
    window : frames searched on either side
    """

    def __init__(self, window: int) -> None:
        self._window = window
        self._programmes: deque[tuple[Moment, np.ndarray]] = deque(maxlen=2 * window + 1)
        self._returns: deque[tuple[str, np.ndarray]] = deque(maxlen=window + 1)
        self._squares = dict.fromkeys(range(-window, window + 1), 0.0)
        self._frames = 0

    def add(self, compared: Compared) -> None:
        """The return and programme of the frame after the one before."""
        if self._programmes and compared.moment.frame != self._programmes[-1][0].frame + 1:
            raise ValueError(f"frame {compared.moment.frame} does not follow {self._programmes[-1][0].frame}")
        self._programmes.append((compared.moment, compared.second))
        self._returns.append((compared.camera, compared.first))
        if len(self._programmes) < 2 * self._window + 1:
            return
        camera, returned = self._returns[0]  # of the window's middle frame
        if any(moment.on_air != camera or moment.mix_from for moment, _ in self._programmes):
            return
        self._frames += 1
        for late in self._squares:
            self._squares[late] += mean_square(returned, self._programmes[self._window - late][1])

    def result(self) -> Offset:
        """The offset with the largest PSNR over all frames whose whole window shows their camera on air."""
        if not self._frames:
            need = 2 * self._window + 1
            said = f"no {need} frames in a row have the return's camera on air alone: no offset to find"
            return Offset({}, 0, None, said)
        return _judged({late: sum_ / self._frames for late, sum_ in self._squares.items()}, self._frames)


def mean_square(first: np.ndarray, second: np.ndarray) -> float:
    """Mean square difference of two uint8 pictures' code values."""
    return float(cv2.norm(first, second, cv2.NORM_L2SQR)) / first.size


def _judged(squares: Mapping[int, float], frames: int, left_out: int = 0) -> Offset:
    ratios = {late: psnr_db(mean) for late, mean in sorted(squares.items())}
    if len(ratios) == 1:
        said = "programme shows the camera in one frame of the window only: the offset cannot be told"
        return Offset(ratios, frames, None, said)
    least = min(squares.values())
    best = [late for late in ratios if isclose(squares[late], least, rel_tol=1e-9)]
    if len(best) > 1:
        alike = "every offset looked at gives" if len(best) == len(ratios) else f"{len(best)} offsets give"
        said = f"{alike} the same picture, so the offset cannot be told (the picture stands still)"
        return Offset(ratios, frames, None, said)
    late = best[0]
    said = {0: "the return is in time with the programme"}.get(late, f"the return is {_frames(late)}")
    said += " (the pictures are identical there)" if least == 0 else f" (PSNR {ratios[late]:.2f} dB there)"
    if late in (min(ratios), max(ratios)):
        said += "; it is the last offset looked at, the true one may lie beyond"
    if left_out:
        offsets = "1 offset was" if left_out == 1 else f"{left_out} offsets were"
        said += f"; {offsets} left out: programme does not show this camera alone there"
    return Offset(ratios, frames, late, said)


def _frames(late: int) -> str:
    count = f"{abs(late)} frame{'s' if abs(late) != 1 else ''}"
    return f"{count} late" if late > 0 else f"{count} early"


def unrelated(compared: Compared) -> str | None:
    """A sentence when a return and the programme of its frame show different cameras."""
    if compared.pair != RETURN_PROGRAMME:
        return None
    tally = compared.moment.tally(compared.camera)
    if tally == "on air" and compared.moment.mix_from is None:
        return None
    if tally == "on air":
        mix = f"{compared.moment.mix_from} to {compared.moment.on_air}"
        return f"programme is in a mix from {mix}: the return of {compared.camera} is only part of it"
    return (
        f"{compared.camera} is off air: its return and the programme of {compared.moment.on_air} are two "
        "different views, so the numbers do not judge the return"
    )
