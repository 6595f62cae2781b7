"""What the wall is told to show at a moment: an ordered stack of frustum layers over the outer image."""

from __future__ import annotations

from dataclasses import replace

from preview.colour import hex_to_linear
from preview.raster.request import Layer, Stack
from preview.show.model import Drive
from preview.timeline.moment import CameraMoment, Moment
from preview.wall.layer import frustum_layer


def drive(moment: Moment, settings: Drive) -> Stack:
    """The wall state of a drive mode.

    *switched*: only the frustum of the camera the wall follows, changed at each cut.
    *shared*: every camera's frustum at once, that camera's on top at full light, the others under it in
    ``settings.order``, dimmed, with edge lines.

    Parameters
    ----------
    moment : the stage at one frame
    settings : the show's drive table

    Returns
    -------
    layers from bottom to top
    """
    match settings.mode:
        case "switched":
            return (frustum_layer(moment.camera(moment.wall_camera)),)
        case "shared":
            return _shared(moment, settings)


def _shared(moment: Moment, settings: Drive) -> Stack:
    others = [camera for camera in moment.cameras if camera.name != moment.wall_camera]
    places = {name: place for place, name in enumerate(settings.order)}
    others.sort(key=lambda camera: places.get(camera.name, -1))
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
