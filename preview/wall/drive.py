"""What the wall is told to show at a moment: ordered stacks of frustum layers over the outer image."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Protocol, TypeVar

from preview.colour import hex_to_linear
from preview.raster.request import Ghosts, Layer, Stack
from preview.show.model import Drive
from preview.timeline.moment import CameraMoment, Moment
from preview.wall.layer import frustum_layer


class Named(Protocol):
    """What an order needs of a camera."""

    @property
    def name(self) -> str: ...


AnyCamera = TypeVar("AnyCamera", bound=Named)


@dataclass(frozen=True)
class WallState:
    """What the wall shows during one frame.

    Attributes
    ----------
    slots : in order of time, the camera whose shutter is open then ("" for all) and the stack shown;
        all slots are equally long
    crosstalk : share of the light in a slot that belongs to the other slots
    """

    slots: tuple[tuple[str, Stack], ...]
    crosstalk: float = 0.0

    def in_slot_of(self, camera: str) -> tuple[Stack, Ghosts]:
        """What ``camera`` exposes: its own slot, and what leaks into it from the others."""
        own = next((stack for name, stack in self.slots if name in (camera, "")), None)
        if own is None:
            raise KeyError(camera)
        others = [stack for name, stack in self.slots if name not in (camera, "")]
        if not self.crosstalk or not others:
            return own, ()
        return own, tuple((self.crosstalk / len(others), stack) for stack in others)

    def by_eye(self) -> tuple[Stack, Ghosts]:
        """What an eye sees, slower than the slots: their mean."""
        (_, first), *rest = self.slots
        return first, tuple((1.0 / len(self.slots), stack) for _, stack in rest)


def drive(moment: Moment, settings: Drive) -> WallState:
    """The wall state of a drive mode.

    *switched*: only the frustum of the camera the wall follows, changed at each cut.
    *shared*: every camera's frustum at once, that camera's on top at full light, the others under it in
    ``settings.order``, dimmed, with edge lines.
    *interleaved*: one slot a camera in ``settings.order``, each with that camera's frustum alone.

    Parameters
    ----------
    moment : the stage at one frame
    settings : the show's drive table
    """
    match settings.mode:
        case "switched":
            stack = (frustum_layer(moment.camera(moment.wall_camera)),)
            return WallState((("", stack),))
        case "shared":
            return WallState((("", _shared(moment, settings)),))
        case "interleaved":
            slots = tuple(
                (camera.name, (frustum_layer(camera),)) for camera in in_order(moment.cameras, settings)
            )
            return WallState(slots, settings.crosstalk)


def in_order(cameras: Iterable[AnyCamera], settings: Drive) -> list[AnyCamera]:
    """Cameras in ``settings.order``; those it does not name come first, in show order."""
    places = {name: place for place, name in enumerate(settings.order)}
    return sorted(cameras, key=lambda camera: places.get(camera.name, -1))


def _shared(moment: Moment, settings: Drive) -> Stack:
    others = [camera for camera in in_order(moment.cameras, settings) if camera.name != moment.wall_camera]
    stack = [
        replace(_edged(camera, settings.off_air_edge_color, settings), dim=settings.off_air_dim)
        for camera in others
    ]
    on_top = _edged(moment.camera(moment.wall_camera), settings.edge_color, settings)
    return (*stack, on_top)


def _edged(camera: CameraMoment, color: str, settings: Drive) -> Layer:
    layer = frustum_layer(camera)
    if not settings.edge_line or settings.edge_width_mm == 0:
        return layer
    red, green, blue = (float(value) for value in hex_to_linear(color))
    return replace(layer, edge_rgb=(red, green, blue), edge_width_m=settings.edge_width_mm / 1000)
