"""The pictures of the trade, as neighbours: each is a view and a stack, and differs in one line."""

from __future__ import annotations

from preview.camera.view import CameraView
from preview.raster.request import CameraPicture, CanvasPicture, OuterPicture, SceneImage
from preview.timeline.moment import CameraMoment, Moment
from preview.wall.drive import WallState
from preview.wall.layer import frustum_layer, inner_image

KINDS = ("inner", "outer", "wall", "as-shot", "return", "programme", "programme-as-shot", "house")
"""Every kind of picture, in the order they are written."""

CAMERA_KINDS = ("inner", "as-shot", "return")
"""Kinds with one picture for each camera."""


def inner(camera: CameraMoment) -> SceneImage:
    """The virtual scene from the camera's (delayed) pose, overscan included."""
    return inner_image(camera)


def outer() -> OuterPicture:
    """The virtual scene in every direction from the stage eye point."""
    return OuterPicture()


def wall(surface: int, driven: WallState) -> CanvasPicture:
    """One LED surface's canvas, as driven (the mean over the slots of a frame)."""
    return CanvasPicture(surface, *driven.by_eye())


def as_shot(camera: CameraMoment, driven: WallState) -> CameraPicture:
    """What the camera really sees: the wall as driven, whoever is on air."""
    return CameraPicture(camera.view, *driven.in_slot_of(camera.name))


def operator_return(camera: CameraMoment) -> CameraPicture:
    """What the camera would see if it were on air: its own frustum alone, as late as returns arrive."""
    then = camera.returned
    return CameraPicture(then.view, (frustum_layer(then),))


def programme(moment: Moment) -> CameraPicture:
    """The on-air camera with the other cameras' frustums masked."""
    on_air = moment.camera(moment.on_air)
    return CameraPicture(on_air.view, (frustum_layer(on_air),))


def programme_as_shot(moment: Moment, driven: WallState) -> CameraPicture:
    """The on-air camera with the wall as driven."""
    return as_shot(moment.camera(moment.on_air), driven)


def house(viewer: CameraView, driven: WallState) -> CameraPicture:
    """A person on the floor looks at the wall as driven, too slowly to tell slots apart."""
    return CameraPicture(viewer, *driven.by_eye(), marked=False)
