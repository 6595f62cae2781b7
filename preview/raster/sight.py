"""What a picture's sightlines meet, on a coarse grid and without colour: LED surfaces, set, equipment.

``Raster.sightlines`` answers the same for every pixel of a drawn picture. This one needs no virtual scene,
names what stands in front, keeps what it drew, and takes things that move from frame to frame.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Literal, NamedTuple, Protocol

import numpy as np
import numpy.typing as npt

from preview.camera.distortion import Distortion
from preview.camera.extent import may_see, undistorted_extent
from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.conventions import Array
from preview.raster.gl.numbers import NumberPictures
from preview.raster.gl.scene import Eye
from preview.raster.gl.stage import eye_of
from preview.stage.mesh import SceneMesh
from preview.stage.surface import LedSurface

SIGHT_PX = (192, 108)
"""Sightlines across and down: one is 0.005 % of the picture."""
NEAR_M = 0.05
"""Equipment nearer than this to a lens is inside it."""
KEPT_VIEWS = 24

Bools = npt.NDArray[np.bool_]
ThingKind = Literal["set", "person", "camera", "arm", "stand", "operator"]


@dataclass(frozen=True)
class Thing:
    """Something that can stand in front of an LED surface.

    Attributes
    ----------
    name : as a crew calls it
    kind : set or person of the show file, or a camera's equipment
    camera : whose equipment, "" for set and people
    """

    name: str
    kind: ThingKind
    camera: str = ""


class Moving(Protocol):
    """Equipment that may stand in front of an LED surface, somewhere else in the next frame."""

    @property
    def name(self) -> str:
        """As of ``Thing``."""
        ...

    @property
    def kind(self) -> ThingKind:
        """As of ``Thing``."""
        ...

    @property
    def camera(self) -> str:
        """As of ``Thing``."""
        ...

    def mesh(self) -> tuple[Array, npt.NDArray[np.int32]]:
        """(n, 3) stage metres and (m, 3) triangles."""
        ...


@dataclass(frozen=True, eq=False)
class Sight:
    """What the middles of a grid of equal fields of a picture see.

    Attributes
    ----------
    view : whose picture
    surface : (h, w) int16, LED surface met first with set, people and equipment taken away: its place in
        the stage's list, -1 for none, -2 for the back of one
    canvas : (h, w, 2) float32 canvas coordinates there, LED pixels; 0 where none
    points : (h, w, 3) stage metres of that wall point; NaN where none
    distance_m : (h, w) float32 from the entrance pupil to it, or to the back of one; inf where none
    facing : (h, w) float32 cosine between the sightline and the surface's normal; 0 where none
    thing : (h, w) int16, nearest thing in front of that wall point, or of nothing: its place in ``things``,
        -1 for none
    thing_m : (h, w) float32 distance of that thing; inf where none
    things : what ``thing`` counts; of equipment, only what may be in the picture
    facet : (h, w) int32, triangle of that LED surface; -1 where none
    """

    view: CameraView
    surface: npt.NDArray[np.int16]
    canvas: npt.NDArray[np.float32]
    points: Array
    distance_m: npt.NDArray[np.float32]
    facing: npt.NDArray[np.float32]
    thing: npt.NDArray[np.int16]
    thing_m: npt.NDArray[np.float32]
    things: tuple[Thing, ...]
    facet: npt.NDArray[np.int32]

    @cached_property
    def lit(self) -> Bools:
        """(h, w) sightlines that meet the lit side of an LED surface, things taken away."""
        return self.surface >= 0

    @cached_property
    def wall_seen(self) -> Bools:
        """(h, w) sightlines that end on the lit side of an LED surface."""
        return self.lit & (self.thing < 0)

    @cached_property
    def off_wall(self) -> Bools:
        """(h, w) sightlines that meet neither an LED surface's lit side nor a thing."""
        return ~self.lit & (self.thing < 0)

    def of_kind(self, *kinds: ThingKind) -> Bools:
        """(h, w) sightlines that end on a thing of one of these kinds."""
        numbers = [number for number, thing in enumerate(self.things) if thing.kind in kinds]
        return np.isin(self.thing, numbers)


class SightRaster:
    """Draws sights of one stage. Owns an OpenGL context; use it in one thread.

    Parameters
    ----------
    surfaces : LED surfaces
    stage_set : set and people; parts with see-through (blended) material are left out, those with cut-out
        textures count as closed
    people : names of the parts that are people
    size_px : sightlines across and down
    """

    def __init__(
        self,
        surfaces: Sequence[LedSurface],
        stage_set: SceneMesh,
        people: Sequence[str] = (),
        size_px: tuple[int, int] = SIGHT_PX,
    ) -> None:
        self.size_px = size_px
        parts = [part for part in stage_set.parts if part.material.alpha_mode != "blend"]
        names = list(dict.fromkeys(part.name for part in parts))
        self._things = tuple(Thing(name, "person" if name in people else "set") for name in names)
        corners = [part.positions[part.triangles].astype(np.float64) for part in parts]
        numbers = [np.full(len(part.triangles), names.index(part.name), dtype=np.int32) for part in parts]
        facets = np.concatenate([s.positions[s.triangles] for s in surfaces])
        self._planes = np.concatenate([surface.planes for surface in surfaces])
        self._canvas = np.concatenate([surface.canvas_from_stage for surface in surfaces])
        counts = [len(surface.triangles) for surface in surfaces]
        self._surface_of = np.repeat(np.arange(len(surfaces), dtype=np.int16), counts)
        self._facet_of = np.concatenate([np.arange(count, dtype=np.int32) for count in counts])
        self._pictures = NumberPictures(
            facets,
            np.concatenate(corners) if corners else np.zeros((0, 3, 3)),
            np.concatenate(numbers) if numbers else np.zeros(0, dtype=np.int32),
        )
        self._kept: OrderedDict[Hashable, Sight] = OrderedDict()
        self.drawn = 0

    def __enter__(self) -> SightRaster:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def look(self, view: CameraView, solids: Sequence[Moving] = ()) -> Sight:
        """What the picture of ``view`` meets; the same object while it is kept and nothing seen moves.

        Parameters
        ----------
        solids : equipment to be seen too, hashable; the view's own is not to be among it
        """
        solids = tuple(solid for solid in solids if may_see(view, solid.mesh()[0]))
        key = (view, solids)
        if key in self._kept:
            self._kept.move_to_end(key)
            return self._kept[key]
        sight = self._bare(view) if not solids else self._with(self.look(view), solids)
        while len(self._kept) >= KEPT_VIEWS:
            self._kept.popitem(last=False)
        self._kept[key] = sight
        return sight

    def _bare(self, view: CameraView) -> Sight:
        self.drawn += 1
        grid = _Grid(view, self.size_px)
        drawn = self._pictures.draw(grid.eye, grid.drawn_px)
        facet, facet_depth, thing, depth = (grid.picked(array) for array in drawn)
        height, width = facet.shape
        rays = grid.rays
        points = np.full((height, width, 3), np.nan)
        canvas = np.zeros((height, width, 2), dtype=np.float32)
        distance = np.full((height, width), np.inf, dtype=np.float32)
        facing = np.zeros((height, width), dtype=np.float32)
        surface = np.where(facet < 0, -2, -1).astype(np.int16)
        lit = facet > 0
        number = facet[lit] - 1
        plane = self._planes[number]
        slope = np.einsum("nx,nx->n", plane[:, :3], rays[lit])
        height_m = plane[:, :3] @ view.pupil_m + plane[:, 3]
        reach = -height_m / slope
        at = view.pupil_m + rays[lit] * reach[:, None]
        points[lit], distance[lit], facing[lit] = at, reach, np.abs(slope)
        back = facet < 0
        distance[back] = grid.metres(facet_depth)[back]
        surface[lit] = self._surface_of[number]
        triangle = np.full((height, width), -1, dtype=np.int32)
        triangle[lit] = self._facet_of[number]
        ends = np.concatenate([at, np.ones((len(at), 1))], axis=1)
        canvas[lit] = np.einsum("ncx,nx->nc", self._canvas[number], ends)
        sight = Sight(
            view, surface, canvas, points, distance, facing,
            np.full((height, width), -1, dtype=np.int16),
            np.full((height, width), np.inf, dtype=np.float32), self._things, triangle,
        )  # fmt: skip
        return _in_front(sight, thing, grid.metres(depth))

    def _with(self, sight: Sight, solids: Sequence[Moving]) -> Sight:
        corners, numbers, things = [], [], list(sight.things)
        for solid in solids:
            positions, triangles = solid.mesh()
            corners.append(positions[triangles])
            numbers.append(np.full(len(triangles), len(things), dtype=np.int32))
            things.append(Thing(solid.name, solid.kind, solid.camera))
        grid = _Grid(sight.view, self.size_px)
        triangles_m = np.concatenate(corners)
        sight = replace(sight, things=tuple(things))
        self.drawn += 1
        drawn = self._pictures.draw_moving(grid.eye, grid.drawn_px, triangles_m, np.concatenate(numbers))
        thing, depth = (grid.picked(array) for array in drawn)
        return _in_front(sight, thing, grid.metres(depth))

    def close(self) -> None:
        """Free everything on the graphics side; the raster cannot be used afterwards."""
        self._kept.clear()
        self._pictures.close()


def _in_front(sight: Sight, thing: np.ndarray, metres: np.ndarray) -> Sight:
    """A sight with more things in it, where they are nearer than what it met before."""
    nearest = np.minimum(sight.thing_m, sight.distance_m)
    closer = (thing >= 0) & (metres < nearest)
    return replace(
        sight,
        thing=np.where(closer, thing, sight.thing).astype(np.int16),
        thing_m=np.where(closer, metres, sight.thing_m).astype(np.float32),
    )


class _Grid:
    """The middles of a picture's fields, and the undistorted picture they are picked from."""

    def __init__(self, view: CameraView, size_px: tuple[int, int]) -> None:
        lens = _through_lens(view.sensor_mm, view.projection_mm, view.distortion, size_px)
        self.drawn_px, self._pick, self._ahead = lens.drawn_px, lens.pick, lens.rays[..., 1]
        self.rays = lens.rays @ view.pose.rotation.T
        self._far = float(np.abs(view.pupil_m).max()) * 2 + 200.0
        self.eye: Eye = eye_of(view.stage_from_gl, lens.tangents, NEAR_M, self._far)

    def picked(self, array: np.ndarray) -> np.ndarray:
        """(h, w) of the picture, from an array over the undistorted one."""
        return array if self._pick is None else array[self._pick]

    def metres(self, depth: np.ndarray) -> np.ndarray:
        """(h, w) float64 distance along each sightline from OpenGL depth 0..1; inf at 1."""
        near, far = NEAR_M, self._far
        with np.errstate(divide="ignore"):
            ahead = 2 * near * far / (far + near - (2 * depth.astype(np.float64) - 1) * (far - near))
        return np.where(depth < 1.0, ahead / self._ahead, np.inf)


class _ThroughLens(NamedTuple):
    """What a grid is for one lens setting, wherever the camera stands."""

    rays: Array  # (h, w, 3) unit directions, camera axes
    tangents: tuple[float, float]
    drawn_px: tuple[int, int]
    pick: tuple[np.ndarray, np.ndarray] | None


@lru_cache(maxsize=32)
def _through_lens(
    sensor_mm: tuple[float, float], projection_mm: float, distortion: Distortion, size_px: tuple[int, int]
) -> _ThroughLens:
    view = CameraView(Pose((0.0, 0.0, 0.0)), sensor_mm, projection_mm, distortion=distortion)
    width, height = size_px
    x, y = np.meshgrid(np.arange(width) + 0.5, np.arange(height) + 0.5)
    rays, _ = view.sightlines(np.column_stack([x.ravel(), y.ravel()]), size_px)
    grid = rays.reshape(height, width, 3)
    if not view.distortion:
        return _ThroughLens(grid, view.half_tangents, size_px, None)
    extent = undistorted_extent(view)
    sides = zip(size_px, extent.tangents, view.half_tangents, extent.finest_step, strict=True)
    wide, high = (
        int(np.ceil(side * reach / tan / min(1.0, step) / 8)) * 8 for side, reach, tan, step in sides
    )
    u = (rays[:, 0] / rays[:, 1] / extent.tangents[0] * 0.5 + 0.5) * wide
    v = (-rays[:, 2] / rays[:, 1] / extent.tangents[1] * 0.5 + 0.5) * high
    columns = np.clip(u.astype(np.int64), 0, wide - 1).reshape(height, width)
    rows = np.clip(v.astype(np.int64), 0, high - 1).reshape(height, width)
    return _ThroughLens(grid, extent.tangents, (wide, high), (rows, columns))
