"""The pictures of the trade, as neighbours: each is a view and a stack, and differs in one line."""

from __future__ import annotations

from preview.camera.view import CameraView
from preview.raster.request import CameraPicture, CanvasPicture, OuterPicture, SceneImage, Stack
from preview.timeline.moment import CameraMoment, Moment
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


def wall(surface: int, driven: Stack) -> CanvasPicture:
    """One LED surface's canvas, as driven."""
    return CanvasPicture(surface, driven)


def as_shot(camera: CameraMoment, driven: Stack) -> CameraPicture:
    """What the camera really sees: the wall as driven, whoever is on air."""
    return CameraPicture(camera.view, driven)


def operator_return(camera: CameraMoment) -> CameraPicture:
    """What the camera would see if it were on air: its own frustum alone."""
    return CameraPicture(camera.view, (frustum_layer(camera),))


def programme(moment: Moment) -> CameraPicture:
    """The on-air camera with the other cameras' frustums masked."""
    on_air = moment.camera(moment.on_air)
    return CameraPicture(on_air.view, (frustum_layer(on_air),))


def programme_as_shot(moment: Moment, driven: Stack) -> CameraPicture:
    """The on-air camera with the wall as driven."""
    return CameraPicture(moment.camera(moment.on_air).view, driven)


def house(viewer: CameraView, driven: Stack) -> CameraPicture:
    """A person on the floor looks at the wall as driven."""
    return CameraPicture(viewer, driven)
