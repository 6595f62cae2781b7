"""Bodies that move from frame to frame: plain matt triangles, sent anew each time they are drawn."""

from __future__ import annotations

import numpy as np

from preview.raster.gl.context import GL, pointer
from preview.stage.mesh import Material, MeshPart

FLOATS = 10
"""Of a vertex: stage position, normal, linear colour and opacity."""

_LAYOUT = ((0, 3, 0), (1, 3, 12), (4, 4, 24))
"""Attribute of scene.vert, its floats, and where they start in bytes."""


MATT_PART = MeshPart(
    name="",
    positions=np.zeros((0, 3), dtype=np.float32),
    normals=np.zeros((0, 3), dtype=np.float32),
    uv0=None,
    uv1=None,
    colors=np.zeros((0, 4), dtype=np.float32),
    triangles=np.zeros((0, 3), dtype=np.int32),
    material=Material(roughness=0.85),
)
"""What stands for bodies where a material is asked for: matt, coloured at its vertices."""


class BodyBuffer:
    """A vertex array that takes any number of triangles. Draw with the program in use."""

    def __init__(self) -> None:
        self._array, self._buffer = int(GL.glGenVertexArrays(1)), int(GL.glGenBuffers(1))
        GL.glBindVertexArray(self._array)
        GL.glBindBuffer(GL.GL_ARRAY_BUFFER, self._buffer)
        for index, floats, start in _LAYOUT:
            GL.glEnableVertexAttribArray(index)
            GL.glVertexAttribPointer(index, floats, GL.GL_FLOAT, GL.GL_FALSE, 4 * FLOATS, pointer(start))

    def draw(self, vertices: np.ndarray) -> None:
        """Draw triangles: (3 k, FLOATS) float32."""
        GL.glBindVertexArray(self._array)
        GL.glBindBuffer(GL.GL_ARRAY_BUFFER, self._buffer)
        GL.glBufferData(GL.GL_ARRAY_BUFFER, vertices.nbytes, vertices, GL.GL_STREAM_DRAW)
        GL.glDrawArrays(GL.GL_TRIANGLES, 0, len(vertices))

    def release(self) -> None:
        """Free the vertex array."""
        GL.glDeleteVertexArrays(1, [self._array])
        GL.glDeleteBuffers(1, [self._buffer])
