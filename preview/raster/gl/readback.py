"""Pixels back from the graphics side, without waiting for each picture in turn."""

from __future__ import annotations

import ctypes
from dataclasses import dataclass

import numpy as np

from preview.errors import GraphicsError
from preview.raster.gl.context import GL, pointer
from preview.raster.gl.target import Target

_FORMS = {
    "code": (GL.GL_RGBA, GL.GL_UNSIGNED_BYTE, np.uint8, 4),
    "linear": (GL.GL_RGBA, GL.GL_FLOAT, np.float32, 4),
    "integer": (GL.GL_RG_INTEGER, GL.GL_INT, np.int32, 2),
}


@dataclass
class Pending:
    """A read that the driver may still be working on; ``array`` waits for it and frees its buffer."""

    buffer: int
    shape: tuple[int, int, int]
    dtype: type

    def array(self) -> np.ndarray:
        """(h, w, c) pixels, top row first, writable."""
        out: np.ndarray = np.empty(self.shape, dtype=self.dtype)
        GL.glBindBuffer(GL.GL_PIXEL_PACK_BUFFER, self.buffer)
        mapped = GL.glMapBufferRange(GL.GL_PIXEL_PACK_BUFFER, 0, out.nbytes, GL.GL_MAP_READ_BIT)
        if not mapped:
            raise GraphicsError("the OpenGL driver could not hand a picture back; memory is short")
        ctypes.memmove(out.ctypes.data, mapped, out.nbytes)
        GL.glUnmapBuffer(GL.GL_PIXEL_PACK_BUFFER)
        GL.glBindBuffer(GL.GL_PIXEL_PACK_BUFFER, 0)
        GL.glDeleteBuffers(1, [self.buffer])
        return out


def start_read(target: Target, attachment: int, form: str) -> Pending:
    """Begin reading one colour attachment: "code" (uint8), "linear" (float32) or "integer"."""
    layout, kind, dtype, channels = _FORMS[form]
    shape = (target.height, target.width, channels)
    size = int(np.prod(shape)) * np.dtype(dtype).itemsize
    buffer = int(GL.glGenBuffers(1))
    GL.glBindBuffer(GL.GL_PIXEL_PACK_BUFFER, buffer)
    GL.glBufferData(GL.GL_PIXEL_PACK_BUFFER, size, None, GL.GL_STREAM_READ)
    GL.glBindFramebuffer(GL.GL_READ_FRAMEBUFFER, target.framebuffer)
    GL.glReadBuffer(GL.GL_COLOR_ATTACHMENT0 + attachment)
    GL.glReadPixels(0, 0, target.width, target.height, layout, kind, pointer(0))
    GL.glBindBuffer(GL.GL_PIXEL_PACK_BUFFER, 0)
    return Pending(buffer, shape, dtype)
