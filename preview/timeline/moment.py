"""One frame's whole state of the stage: an immutable value."""

from __future__ import annotations

from dataclasses import dataclass

from preview.camera.view import CameraView


@dataclass(frozen=True)
class CameraMoment:
    """One camera at one frame.

    Attributes
    ----------
    name, number : from the show file
    view : where it is now
    layer_view : the view its frustum layer was drawn from (the same when nothing is delayed)
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


@dataclass(frozen=True)
class Moment:
    """The stage at one frame of the rundown. Delays are already resolved.

    Attributes
    ----------
    frame : frames since the rundown's first frame
    seconds : exact time of the frame since the rundown's start, as float
    timecode : label of the frame
    shot : name of the shot on air; ``shot_index`` its place in the rundown
    cameras : every camera, in show order
    on_air : name of the camera on air (the incoming one during a mix)
    mix_from, mix_share : outgoing camera and the share (0..1) of the incoming one; None, 1.0 outside
        a mix
    wall_camera : name of the camera whose frustum the switched wall shows
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

    def camera(self, name: str) -> CameraMoment:
        """The camera called ``name``; KeyError if the show has none."""
        for camera in self.cameras:
            if camera.name == name:
                return camera
        raise KeyError(name)
