"""One frame's whole state of the stage: an immutable value."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from preview.camera.view import CameraView


@dataclass(frozen=True)
class CameraMoment:
    """One camera at one frame.

    Attributes
    ----------
    name, number : from the show file
    view : where it is now
    layer_view : the view its frustum layer was drawn from (the same when tracking is not late)
    return_view, return_layer_view : both as they were when the return that arrives now was drawn
    overscan : share of the picture added on each side of its inner frustum image
    framing : framing name, or "start > end" during a move
    moving : True while a move is under way
    """

    name: str
    number: int
    view: CameraView
    layer_view: CameraView
    overscan: float
    framing: str
    moving: bool = False
    return_view: CameraView | None = None
    return_layer_view: CameraView | None = None

    @property
    def returned(self) -> CameraMoment:
        """The camera as the return that reaches its operator now shows it."""
        view, layer = self.return_view or self.view, self.return_layer_view or self.layer_view
        return replace(self, view=view, layer_view=layer, return_view=None, return_layer_view=None)


@dataclass(frozen=True)
class Moment:
    """The stage at one frame of the rundown. Delays are already resolved.

    Attributes
    ----------
    frame : frames since the rundown's first frame
    seconds : exact time of the frame since the rundown's start, as float
    timecode : label of the frame
    shot : name of the shot cued last; ``shot_index`` its place in the rundown
    cameras : every camera, in show order
    on_air : name of the camera on programme (the incoming one during a mix)
    mix_from, mix_share : outgoing camera and the share (0..1) of the incoming one; None, 1.0 outside
        a mix
    wall_camera : name of the camera whose frustum the switched wall shows
    next_camera : name of the camera that the next shot puts on air; None in the last shot
    """

    frame: int
    seconds: float
    timecode: str
    shot: str
    shot_index: int
    cameras: tuple[CameraMoment, ...]
    on_air: str
    mix_from: str | None
    mix_share: float
    wall_camera: str
    next_camera: str | None = None

    def camera(self, name: str) -> CameraMoment:
        """The camera called ``name``; KeyError if the show has none."""
        for camera in self.cameras:
            if camera.name == name:
                return camera
        raise KeyError(name)

    def tally(self, name: str) -> Literal["on air", "next", "off"]:
        """A camera's tally: both cameras of a mix are on air; "next" is the one the next shot takes."""
        if name in (self.on_air, self.mix_from):
            return "on air"
        return "next" if name == self.next_camera else "off"
