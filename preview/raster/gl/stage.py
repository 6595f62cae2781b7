"""What each pixel of a view meets on the physical stage: LED facet numbers, and set in front of them."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from preview.conventions import Array
from preview.raster.gl.context import GL, pointer
from preview.raster.gl.program import Program
from preview.raster.gl.scene import Eye, GlScene
from preview.raster.gl.target import SampleBuffers, Target, resolve
from preview.raster.gl.texture import delete_textures, edit, empty_multisample, empty_texture
from preview.raster.request import Body
from preview.stage.surface import LedSurface

_KEPT_VIEWS = 5
"""Foregrounds kept: at 1920x1080 one takes about 50 MB."""


@dataclass
class SoftView:
    """A view's set layer as its lens blurs it, and every pixel's disc diameters; picture size.

    Attributes
    ----------
    set_layer : texture, premultiplied radiance and coverage
    circles : texture, disc diameters (pixels) of the set, below 0 in front of the plane in focus, and of the
        wall
    set_px, wall_px : widest disc of each; 0 where there is none
    """

    set_layer: int
    circles: int
    set_px: float
    wall_px: float

    def release(self) -> None:
        """Free the textures."""
        delete_textures(self.set_layer, self.circles)


@dataclass
class Foreground:
    """A view's facet numbers (multisampled) and its set layer (premultiplied radiance, coverage)."""

    size: tuple[int, int]
    facet_ids: int
    set_layer: int
    nearest: int = 0
    """Window depth of the nearest of each pixel's samples, where asked for, until ``soft`` is known."""
    soft: SoftView | None = None
    """What is out of focus in the view, once that was found out."""

    def release(self) -> None:
        """Free the textures."""
        self.forget_depth()
        delete_textures(self.facet_ids, self.set_layer)

    def keep_soft(self, soft: SoftView) -> None:
        """Keep what is out of focus; depth has served its purpose."""
        delete_textures(self.nearest)
        self.nearest, self.soft = 0, soft

    def forget_depth(self) -> None:
        """Free what belongs to this very view's depth."""
        if self.soft is not None:
            self.soft.release()
        delete_textures(self.nearest)
        self.nearest, self.soft = 0, None


class GlStage:
    """Uploads LED surfaces and set, and draws foregrounds.

    Parameters
    ----------
    surfaces : LED surfaces, stage metres
    headroom : for each surface, its peak over stage white: brighter light is cut off there
    stage_set : GlScene of set and people
    buffers : what to draw in
    """

    def __init__(
        self,
        surfaces: Sequence[LedSurface],
        headroom: Sequence[float],
        stage_set: GlScene | None,
        buffers: SampleBuffers,
    ) -> None:
        self._set, self._buffers = stage_set, buffers
        self._facet_program = Program("facet.vert", "facet.frag")
        self._nearest_program = Program("screen.vert", "nearest.frag", {"SAMPLES": buffers.samples})
        self._corners = np.concatenate([s.positions[s.triangles] for s in surfaces]).astype(np.float64)
        self._planes = np.concatenate([s.planes for s in surfaces]).astype(np.float64)
        self._kept: OrderedDict[tuple[Hashable, tuple[int, int]], Foreground] = OrderedDict()
        corners = np.concatenate([s.positions[s.triangles].reshape(-1, 3) for s in surfaces])
        canvas = np.concatenate([s.canvas[s.triangles].reshape(-1, 2) for s in surfaces])
        self.facet_count = len(corners) // 3
        numbers = np.repeat(np.arange(1, self.facet_count + 1), 3)[:, None]
        vertices = np.concatenate([corners, canvas, numbers], axis=1).astype(np.float32)
        counts = [len(surface.triangles) for surface in surfaces]
        self.ranges = [(3 * sum(counts[:i]), 3 * counts[i]) for i in range(len(surfaces))]
        self.reach_m = float(np.abs(corners).max())
        self._vertex_array = int(GL.glGenVertexArrays(1))
        self._vertex_buffer = int(GL.glGenBuffers(1))
        GL.glBindVertexArray(self._vertex_array)
        GL.glBindBuffer(GL.GL_ARRAY_BUFFER, self._vertex_buffer)
        GL.glBufferData(GL.GL_ARRAY_BUFFER, vertices.nbytes, vertices, GL.GL_STATIC_DRAW)
        for index in (0, 1):
            GL.glEnableVertexAttribArray(index)
            GL.glVertexAttribPointer(index, 3, GL.GL_FLOAT, GL.GL_FALSE, 24, pointer(12 * index))
        table = np.zeros((self.facet_count, 4, 4), dtype=np.float32)
        row = 0
        for number, (surface, peak) in enumerate(zip(surfaces, headroom, strict=True)):
            rows = slice(row, row + len(surface.triangles))
            table[rows, 0] = surface.planes
            table[rows, 1:3] = surface.canvas_from_stage
            table[rows, 3, :2] = (peak, number)
            row += len(surface.triangles)
        self._table_buffer = int(GL.glGenBuffers(1))
        GL.glBindBuffer(GL.GL_TEXTURE_BUFFER, self._table_buffer)
        GL.glBufferData(GL.GL_TEXTURE_BUFFER, table.nbytes, table, GL.GL_STATIC_DRAW)
        self.facet_table = int(GL.glGenTextures(1))
        edit(GL.GL_TEXTURE_BUFFER, self.facet_table)
        GL.glTexBuffer(GL.GL_TEXTURE_BUFFER, GL.GL_RGBA32F, self._table_buffer)

    def _slot(self, size: tuple[int, int]) -> Foreground:
        """Fresh textures, or those of the view unused for longest when they are as large."""
        if len(self._kept) >= _KEPT_VIEWS:
            _, oldest = self._kept.popitem(last=False)
            if oldest.size == size:
                oldest.forget_depth()
                return oldest
            oldest.release()
        ids = empty_multisample(*size, GL.GL_R32I, self._buffers.samples)
        return Foreground(size, ids, empty_texture(*size, GL.GL_RGBA16F))

    def draw_facets(self, surface: int) -> None:
        """Draw one surface's facets with the program in use."""
        first, count = self.ranges[surface]
        GL.glBindVertexArray(self._vertex_array)
        GL.glDrawArrays(GL.GL_TRIANGLES, first, count)

    def foreground(
        self,
        key: Hashable,
        eye: Eye,
        size: tuple[int, int],
        bodies: Sequence[Body] = (),
        depth: bool = False,
    ) -> Foreground:
        """What the eye meets; kept under ``key`` (with the size) for views that come again.

        Parameters
        ----------
        bodies : stand on the stage too; the key has to tell them apart
        depth : also ask for ``nearest``, unless ``soft`` is known
        """
        kept = self._kept.get((key, size))
        if kept is not None and (kept.nearest or kept.soft is not None or not depth):
            self._kept.move_to_end((key, size))
            return kept
        foreground = kept or self._slot(size)
        (color,) = self._buffers.room(*size).renderbuffers
        colors = (("multisample", foreground.facet_ids), ("shared", color))
        target = Target.build(*size, colors=colors, depth=self._buffers.depth)
        target.bind()
        target.draw_to(0, -1)
        GL.glDisable(GL.GL_BLEND)
        GL.glEnable(GL.GL_DEPTH_TEST)
        GL.glDepthFunc(GL.GL_LESS)
        GL.glDepthMask(GL.GL_TRUE)
        GL.glDisable(GL.GL_CULL_FACE)
        GL.glFrontFace(GL.GL_CW if eye.flipped else GL.GL_CCW)
        GL.glClearBufferiv(GL.GL_COLOR, 0, np.zeros(4, dtype=np.int32))
        GL.glClear(GL.GL_DEPTH_BUFFER_BIT)
        self._facet_program.use(clip_from_stage=eye.clip_from_stage)
        GL.glBindVertexArray(self._vertex_array)
        GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3 * self.facet_count)
        target.draw_to(1)
        GL.glClearBufferfv(GL.GL_COLOR, 0, np.zeros(4, dtype=np.float32))
        if self._set is not None:
            self._set.draw(eye, target)
            if bodies:
                self._set.draw_bodies(eye, np.concatenate([body.vertices() for body in bodies]))
        resolved = Target.build(*size, colors=(("texture", foreground.set_layer),))
        resolve(target, 1, resolved)
        resolved.release()
        target.release()
        if depth:
            self._keep_nearest(foreground)
        self._kept[key, size] = foreground
        return foreground

    def _keep_nearest(self, foreground: Foreground) -> None:
        foreground.nearest = empty_texture(*foreground.size, GL.GL_R32F, linear=False)
        target = Target.build(*foreground.size, colors=(("texture", foreground.nearest),))
        target.bind()
        GL.glDisable(GL.GL_DEPTH_TEST)
        GL.glDisable(GL.GL_CULL_FACE)
        GL.glDisable(GL.GL_BLEND)
        self._nearest_program.use(depth=0.0)
        self._nearest_program.bind("depths", 0, GL.GL_TEXTURE_2D_MULTISAMPLE, self._buffers.depth)
        GL.glBindVertexArray(self._vertex_array)
        GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)
        target.release()

    def nearest_m(self, eye: Eye, ahead: Array, bodies: Sequence[Body] = ()) -> float:
        """Axial distance (metres from the eye) that nothing in the view is nearer than; below 0 where a bound
        is not to be had.

        Parameters
        ----------
        ahead : (3,) unit vector of the optical axis
        """
        found = [np.inf]
        if self._set is not None:
            found.append(self._set.nearest_m(eye, ahead))
        found += [float(((body.vertices()[:, :3] - eye.position) @ ahead).min()) for body in bodies]
        # 1 / distance of a plane is linear over the picture, so the nearest place lies in a corner; and a
        # facet is no nearer than its own nearest corner.
        corners = self._corners - eye.position
        across, up = eye.stage_from_gl[:, 0] * eye.tangents[0], eye.stage_from_gl[:, 1] * eye.tangents[1]
        ways = ahead + np.array([[a * across + b * up for a in (-1, 1) for b in (-1, 1)]])[0]
        offset = self._planes[:, :3] @ eye.position + self._planes[:, 3]
        with np.errstate(divide="ignore", invalid="ignore"):
            closeness = -(self._planes[:, :3] @ ways.T).max(axis=1) / offset
            closeness = np.maximum(closeness, -(self._planes[:, :3] @ ways.T).min(axis=1) / offset)
        by_plane = np.where(closeness > 0, 1 / np.maximum(closeness, 1e-9), np.inf)
        planes = eye.planes()
        inside: npt.NDArray[np.bool_] = (corners + eye.position) @ planes[:, :3].T + planes[:, 3] > 0
        seen = np.all(np.any(inside, axis=1), axis=1)
        nearest = np.maximum((corners @ ahead).min(axis=1), by_plane)
        return min(*found, float(nearest[seen].min(initial=np.inf)))

    def release(self) -> None:
        """Free everything on the graphics side."""
        for foreground in self._kept.values():
            foreground.release()
        self._kept.clear()
        delete_textures(self.facet_table)
        GL.glDeleteBuffers(2, [self._vertex_buffer, self._table_buffer])
        GL.glDeleteVertexArrays(1, [self._vertex_array])
        self._facet_program.release()
        self._nearest_program.release()


def eye_of(stage_from_gl: Array, tangents: tuple[float, float], near_m: float, far_m: float) -> Eye:
    """An Eye at a GL camera frame, for a target with its top row first.

    Parameters
    ----------
    stage_from_gl : (4, 4) GL camera axes to stage
    tangents : half extents at unit distance
    """
    depth = far_m - near_m
    clip_from_gl = np.array(
        [
            [1 / tangents[0], 0, 0, 0],
            [0, -1 / tangents[1], 0, 0],
            [0, 0, -(far_m + near_m) / depth, -2 * far_m * near_m / depth],
            [0, 0, -1, 0],
        ]
    )
    return Eye(
        clip_from_stage=clip_from_gl @ np.linalg.inv(stage_from_gl),
        position=stage_from_gl[:3, 3],
        stage_from_gl=stage_from_gl[:3, :3],
        tangents=tangents,
        # y runs down on the target, which mirrors; a mirrored frame (cube faces) mirrors back.
        flipped=bool(np.linalg.det(stage_from_gl[:3, :3]) > 0),
    )
