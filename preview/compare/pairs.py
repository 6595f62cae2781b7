"""Which two pictures are compared, and what the two have to do with each other.

return:as-shot                what an operator ought to see, and what the camera really shoots
return:programme              an operator's return, and what goes out
programme:programme-as-shot   the programme as it ought to be, and with the wall as it is driven
"""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches

import numpy as np

from preview.camera.view import CameraView
from preview.errors import RequestError
from preview.frame import CAMERA_KINDS, Studio, Wanted
from preview.timeline.moment import Moment


@dataclass(frozen=True)
class Pair:
    """Two kinds of picture; ``of_camera`` when the first is one camera's own."""

    first: str
    second: str
    of_camera: bool

    @property
    def name(self) -> str:
        """As it is asked for."""
        return f"{self.first}:{self.second}"

    @property
    def file_name(self) -> str:
        """As part of a file name."""
        return f"{self.first}-against-{self.second}"


RETURN_AS_SHOT = Pair("return", "as-shot", True)
RETURN_PROGRAMME = Pair("return", "programme", True)
PROGRAMME_AS_SHOT = Pair("programme", "programme-as-shot", False)
PAIRS = {pair.name: pair for pair in (RETURN_AS_SHOT, RETURN_PROGRAMME, PROGRAMME_AS_SHOT)}


@dataclass(frozen=True, eq=False)
class Compared:
    """Two pictures of one frame.

    Attributes
    ----------
    pair, moment : what is compared, and when
    camera : whose return; for a pair of programmes the camera on air
    first, second : (h, w, 3) uint8 code values
    views : every view that had a part in either picture
    """

    pair: Pair
    moment: Moment
    camera: str
    first: np.ndarray
    second: np.ndarray
    views: tuple[CameraView, ...]

    @property
    def labels(self) -> tuple[str, str]:
        """What to call the two pictures, camera included."""
        on_air = self._numbered(self.moment.on_air)
        if self.moment.mix_from:
            on_air = f"{self._numbered(self.moment.mix_from)} into {on_air}"
        own = self._numbered(self.camera)
        first, second = (
            f"{kind} of {own if kind in CAMERA_KINDS else on_air}"
            for kind in (self.pair.first, self.pair.second)
        )
        return first, second

    def _numbered(self, camera: str) -> str:
        return f"camera {self.moment.camera(camera).number} {camera}"


def chosen_pair(asked: str) -> Pair:
    """The pair called ``asked``.

    Raises
    ------
    RequestError : there is no such pair; names the nearest.
    """
    name = asked.strip()
    if name in PAIRS:
        return PAIRS[name]
    turned = ":".join(reversed(name.split(":")))
    near = [turned] if turned in PAIRS else get_close_matches(name, PAIRS, n=1, cutoff=0.4)
    hint = f"did you mean {near[0]!r}? There are" if near else "there are"
    raise RequestError(f"--against: {asked!r} is no pair of pictures; {hint} {', '.join(PAIRS)}")


def chosen_camera(asked: str | None, pair: Pair, cameras: tuple[str, ...]) -> str | None:
    """The camera whose pictures are compared; None for the one on air at each frame.

    Raises
    ------
    RequestError : the show has no such camera, or the pair is none of one camera.
    """
    if asked is None or (asked.strip() == "on air" and "on air" not in cameras):
        return None
    if not pair.of_camera:
        raise RequestError(
            f"--camera: {pair.name} is always of the camera on air; leave --camera out, "
            f"or compare {RETURN_AS_SHOT.name}"
        )
    if asked.strip() not in cameras:
        near = get_close_matches(asked, cameras, n=1, cutoff=0.5)
        hint = f"did you mean {near[0]!r}? There are" if near else "there are"
        raise RequestError(f"--camera: {asked!r} is no camera of this show; {hint} {', '.join(cameras)}")
    return asked.strip()


def draw_pair(studio: Studio, frame: int, pair: Pair, camera: str | None = None) -> Compared:
    """Draw both pictures of a pair at one frame.

    Parameters
    ----------
    studio : the show, ready to draw
    frame : from the rundown's start
    pair : what to compare
    camera : whose return; None for the camera on air (the incoming one during a mix)
    """
    moment = studio.timeline.at(frame)
    name = camera if camera is not None and pair.of_camera else moment.on_air
    wanted = Wanted((pair.first, pair.second), (name,))
    drawn = {picture.kind: picture.code for picture in studio.pictures(frame, wanted)}
    views = (*_views(pair.first, moment, name), *_views(pair.second, moment, name))
    return Compared(pair, moment, name, drawn[pair.first], drawn[pair.second], tuple(dict.fromkeys(views)))


def _views(kind: str, moment: Moment, camera: str) -> list[CameraView]:
    """Every view whose light is in a picture of this kind."""
    if kind == "return":
        return [moment.camera(camera).returned.view]
    if kind == "as-shot":
        return [moment.camera(camera).view]
    return [moment.camera(name).view for name in (moment.mix_from, moment.on_air) if name]
