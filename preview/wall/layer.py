"""A camera's frustum layer: its inner image, projected on the wall from where it was drawn."""

from __future__ import annotations

from preview.camera.extent import undistorted_extent
from preview.raster.request import Layer, SceneImage
from preview.timeline.moment import CameraMoment


def inner_image(camera: CameraMoment) -> SceneImage:
    """The virtual scene from the camera's layer view, wide enough for its lens and its overscan.

    The image is undistorted: the lens adds its distortion when it looks at the wall. Overscan is added
    to what the lens sees, so a barrel lens needs a wider image than its focal length says.
    """
    view = camera.layer_view
    reach = undistorted_extent(view).tangents
    widest = max(seen / pinhole for seen, pinhole in zip(reach, view.half_tangents, strict=True))
    return SceneImage(view=view, margin=(widest * (1 + 2 * camera.overscan) - 1) / 2)


def frustum_layer(camera: CameraMoment) -> Layer:
    """The camera's layer as it stands alone: full light, no edge line."""
    return Layer(image=inner_image(camera))
