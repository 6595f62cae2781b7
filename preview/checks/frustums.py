"""Frustums of all cameras at a moment: where they fall on the wall, and which sightlines end inside which."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from preview.camera.view import CameraView
from preview.checks.look import Look, Plan
from preview.checks.overlap import Footprint, WallFacets, footprint
from preview.conventions import Array
from preview.raster.request import SceneImage
from preview.raster.sight import Sight
from preview.timeline.moment import CameraMoment
from preview.wall.layer import inner_image

Mask = npt.NDArray[np.bool_]


class Frustums:
    """Frustums and masks of the moment at hand; what has not changed since the last one is kept.

    Parameters
    ----------
    plan : what is checked

    Attributes
    ----------
    names : of the cameras, in show order; all else counts them in it
    facets : of the LED surfaces
    picture_px : size whose whole pixels the images' margins are rounded up to
    images : (c,) each camera's inner image as drawn
    prints : (c,) where it falls on the LED surfaces
    inside : ``inside[viewer][source]`` (n,) which of the viewer's sightlines that end on the lit side of an
        LED surface meet it inside the source's frustum
    """

    def __init__(self, plan: Plan) -> None:
        self.names = tuple(camera.name for camera in plan.show.file.cameras)
        self.facets = WallFacets(plan.stage.surfaces)
        self.picture_px = plan.show.file.show.picture_size_px
        self.images: list[SceneImage] = []
        self.prints: list[Footprint] = []
        self.inside: list[list[Mask]] = []
        self._now: list[tuple[CameraView, CameraView, float]] = []
        self._wall_camera = ""
        self._seen: list[Mask] = []
        self._points: list[Array] = []

    def arrange(self, look: Look) -> bool:
        """Bring everything to a frame; whether anything that a picture shows of frustums has changed."""
        cameras = look.moment.cameras
        now = [(one.view, one.layer_view, one.overscan) for one in cameras]
        was, every = self._now, range(len(now))
        seen = [i for i in every if not was or now[i][0] != was[i][0]]
        drawn = [i for i in every if not was or now[i][1:] != was[i][1:]]
        wall_changed = look.moment.wall_camera != self._wall_camera
        self._now, self._wall_camera = now, look.moment.wall_camera
        images = {i: inner_image(cameras[i]) for i in drawn}
        prints = {i: footprint(self.facets, image, self.picture_px) for i, image in images.items()}
        self.images = [images[i] if i in images else self.images[i] for i in every]
        self.prints = [prints[i] if i in prints else self.prints[i] for i in every]
        sights = {i: look.bare(cameras[i].name) for i in seen}
        self._seen = [sights[i].wall_seen if i in sights else self._seen[i] for i in every]
        self._points = [_ends(sights[i]) if i in sights else self._points[i] for i in every]
        self.inside = [
            [
                self._within(viewer, source, cameras[viewer])
                if viewer in seen or source in drawn
                else self.inside[viewer][source]
                for source in every
            ]
            for viewer in every
        ]
        return bool(seen or drawn or wall_changed)

    def _within(self, viewer: int, source: int, camera: CameraMoment) -> Mask:
        points = self._points[viewer]
        if viewer == source and camera.layer_view == camera.view:
            return np.ones(points.shape[1], dtype=bool)  # the image holds the picture, by its making
        # Not the linear algebra library: its threads cost more than they save on four rows.
        height = np.einsum("pk,kn->pn", self.prints[source].planes, points)
        within: Mask = (height >= -1e-9).all(axis=0)
        return within

    def share(self, mask: Mask) -> float:
        """Share of a picture, 0..1, of a mask (n,) over its sightlines."""
        return float(np.count_nonzero(mask)) / self._seen[0].size

    def picture(self, viewer: int, mask: Mask) -> Mask:
        """(h, w) the same on the whole picture."""
        whole = np.zeros_like(self._seen[viewer])
        whole[self._seen[viewer]] = mask
        return whole

    def order(self, images: Sequence[SceneImage], viewer: int) -> list[int]:
        """Whose images these are, by place; the viewer's own where two cameras share one view."""
        found: list[int] = []
        for image in reversed(images):
            alike = [i for i, own in enumerate(self.images) if own == image and i not in found]
            found.append(viewer if viewer in alike else alike[-1])
        return found[::-1]

    def shown(self, viewer: int, order: Sequence[int]) -> dict[int, Mask]:
        """By camera, which of the viewer's sightlines show its frustum when they lie from bottom to top."""
        left = np.ones(self._points[viewer].shape[1], dtype=bool)
        found = {}
        for source in reversed(order):
            found[source] = left & self.inside[viewer][source]
            left = left & ~self.inside[viewer][source]
        return found


def _ends(sight: Sight) -> Array:
    """(4, n) where the sightlines end that see a lit LED surface, stage metres and a 1."""
    points = sight.points[sight.wall_seen]
    return np.vstack([points.T, np.ones(len(points))])
