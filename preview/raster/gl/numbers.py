"""Number pictures: which facet of an LED surface, and which thing, a coarse grid of sightlines meets."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from preview.conventions import Array
from preview.raster.gl.context import GL, Context, pointer
from preview.raster.gl.program import Program
from preview.raster.gl.readback import start_read
from preview.raster.gl.scene import Eye
from preview.raster.gl.target import Target
from preview.raster.gl.texture import delete_textures, empty_texture

Triangles = npt.NDArray[np.int32]


class NumberPictures:
    """Draws facet numbers and thing numbers, one sample a pixel, no colour.

    Parameters
    ----------
    facets : (m, 3, 3) corners of all LED facets, stage metres, counter-clockwise seen from the lit side
    things : (k, 3, 3) corners of triangles that never move
    numbers : (k,) which thing each belongs to, from 0
    """

    def __init__(self, facets: Array, things: Array, numbers: npt.NDArray[np.int32]) -> None:
        self.context = Context()
        self._facet_program = Program("facet.vert", "facet.frag")
        self._thing_program = Program("thing.vert", "thing.frag")
        self._arrays: list[int] = []
        self._buffers: list[int] = []
        self._facets, self._facet_count = self._array(3), 3 * len(facets)
        self._send(self._facets, facets.reshape(-1, 3).astype(np.float32), GL.GL_STATIC_DRAW)
        self._things, self._thing_count = self._array(4), 3 * len(things)
        self._send(self._things, numbered(things, numbers), GL.GL_STATIC_DRAW)
        self._moving = self._array(4)
        self._targets: dict[tuple[int, int], tuple[Target, list[int]]] = {}

    def draw(self, eye: Eye, size: tuple[int, int]) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """What does not move.

        Returns
        -------
        facet : (h, w) int32 number from 1, 0 for none, -1 for the back of one; things taken away
        facet_depth : (h, w) float32 of the facets, 0..1; 1 throughout where no back is seen: fronts are met
            exactly in their planes
        thing : (h, w) int32 number from 0, -1 for none; LED surfaces taken away
        depth : (h, w) float32 of the things, 0..1, 1 where there is none
        """
        self.context.make_current()
        target, _ = self._target(size)
        self._prepare(target, eye)
        facet_program = self._facet_program
        facet_program.use(clip_from_stage=eye.clip_from_stage)
        GL.glBindVertexArray(self._facets[0])
        GL.glDrawArrays(GL.GL_TRIANGLES, 0, self._facet_count)
        facet = start_read(target, 0, "integer").array()[..., 0]
        facet_depth = np.ones(facet.shape, dtype=np.float32)
        if (facet < 0).any():
            facet_depth = start_read(target, 0, "depth").array()[..., 0]
        thing, depth = self._draw_things(eye, target, self._things[0], self._thing_count)
        return facet, facet_depth, thing, depth

    def draw_moving(
        self, eye: Eye, size: tuple[int, int], corners: Array, numbers: npt.NDArray[np.int32]
    ) -> tuple[np.ndarray, np.ndarray]:
        """Things that move, alone: ``thing`` and ``depth`` as of ``draw``."""
        self.context.make_current()
        target, _ = self._target(size)
        self._send(self._moving, numbered(corners, numbers), GL.GL_STREAM_DRAW)
        return self._draw_things(eye, target, self._moving[0], 3 * len(corners))

    def _draw_things(self, eye: Eye, target: Target, array: int, count: int) -> tuple[np.ndarray, np.ndarray]:
        self._prepare(target, eye)
        self._thing_program.use(clip_from_stage=eye.clip_from_stage)
        GL.glBindVertexArray(array)
        if count:
            GL.glDrawArrays(GL.GL_TRIANGLES, 0, count)
        thing = start_read(target, 0, "integer").array()[..., 0] - 1
        return thing, start_read(target, 0, "depth").array()[..., 0]

    def _prepare(self, target: Target, eye: Eye) -> None:
        target.bind()
        GL.glDisable(GL.GL_BLEND)
        GL.glDisable(GL.GL_CULL_FACE)
        GL.glEnable(GL.GL_DEPTH_TEST)
        GL.glDepthFunc(GL.GL_LESS)
        GL.glDepthMask(GL.GL_TRUE)
        GL.glFrontFace(GL.GL_CW if eye.flipped else GL.GL_CCW)
        GL.glClearBufferiv(GL.GL_COLOR, 0, np.zeros(4, dtype=np.int32))
        GL.glClearBufferfv(GL.GL_DEPTH, 0, np.ones(1, dtype=np.float32))

    def _target(self, size: tuple[int, int]) -> tuple[Target, list[int]]:
        if size not in self._targets:
            if len(self._targets) > 8:  # a zoom through a distorting lens asks for many sizes
                for target, textures in self._targets.values():
                    target.release()
                    delete_textures(*textures)
                self._targets.clear()
            texture = empty_texture(*size, GL.GL_RG32I, linear=False)
            self._targets[size] = (
                Target.build(*size, colors=(("texture", texture),), depth=True),
                [texture],
            )
        return self._targets[size]

    def _array(self, floats: int) -> tuple[int, int]:
        array, buffer = int(GL.glGenVertexArrays(1)), int(GL.glGenBuffers(1))
        self._arrays.append(array)
        self._buffers.append(buffer)
        GL.glBindVertexArray(array)
        GL.glBindBuffer(GL.GL_ARRAY_BUFFER, buffer)
        GL.glEnableVertexAttribArray(0)
        GL.glVertexAttribPointer(0, 3, GL.GL_FLOAT, GL.GL_FALSE, 4 * floats, pointer(0))
        if floats == 4:
            GL.glEnableVertexAttribArray(1)
            GL.glVertexAttribPointer(1, 1, GL.GL_FLOAT, GL.GL_FALSE, 16, pointer(12))
        return array, buffer

    def _send(self, array: tuple[int, int], vertices: np.ndarray, use: int) -> None:
        GL.glBindBuffer(GL.GL_ARRAY_BUFFER, array[1])
        GL.glBufferData(GL.GL_ARRAY_BUFFER, vertices.nbytes, vertices, use)

    def close(self) -> None:
        """Free everything on the graphics side."""
        self.context.make_current()
        for target, textures in self._targets.values():
            target.release()
            delete_textures(*textures)
        self._targets.clear()
        GL.glDeleteVertexArrays(len(self._arrays), self._arrays)
        GL.glDeleteBuffers(len(self._buffers), self._buffers)
        self._facet_program.release()
        self._thing_program.release()
        self.context.close()


def numbered(corners: Array, numbers: Sequence[int] | npt.NDArray[np.int32]) -> np.ndarray:
    """(3 k, 4) float32 vertices of triangles (k, 3, 3) and each one's number, from 1."""
    if not len(corners):
        return np.zeros((0, 4), dtype=np.float32)
    labels = np.repeat(np.asarray(numbers, dtype=np.float32) + 1.0, 3)[:, None]
    return np.concatenate([corners.reshape(-1, 3).astype(np.float32), labels], axis=1)
