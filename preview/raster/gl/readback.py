"""Pixels back from the graphics side, without waiting for each picture in turn."""

from __future__ import annotations

import ctypes
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import cv2
import numpy as np

from preview.errors import GraphicsError
from preview.raster.gl.context import GL, pointer
from preview.raster.gl.target import Target

_FORMS = {
    "code": (GL.GL_RGBA, GL.GL_UNSIGNED_BYTE, np.uint8, 4),
    "linear": (GL.GL_RGBA, GL.GL_FLOAT, np.float32, 4),
    "integer": (GL.GL_RG_INTEGER, GL.GL_INT, np.int32, 2),
    "depth": (GL.GL_DEPTH_COMPONENT, GL.GL_FLOAT, np.float32, 1),
}


@dataclass
class Pending:
    """A read that the driver may still be working on; taking it waits for it and frees its buffer."""

    buffer: int
    shape: tuple[int, int, int]
    dtype: type

    @contextmanager
    def _pixels(self) -> Iterator[np.ndarray]:
        """The driver's own memory as an (h, w, c) array, top row first; gone when the block ends."""
        size = int(np.prod(self.shape)) * np.dtype(self.dtype).itemsize
        GL.glBindBuffer(GL.GL_PIXEL_PACK_BUFFER, self.buffer)
        mapped = GL.glMapBufferRange(GL.GL_PIXEL_PACK_BUFFER, 0, size, GL.GL_MAP_READ_BIT)
        if not mapped:
            raise GraphicsError("the OpenGL driver could not hand a picture back; memory is short")
        memory = np.ctypeslib.as_array((ctypes.c_uint8 * size).from_address(mapped))
        try:
            yield memory.view(self.dtype).reshape(self.shape)
        finally:
            GL.glUnmapBuffer(GL.GL_PIXEL_PACK_BUFFER)
            GL.glBindBuffer(GL.GL_PIXEL_PACK_BUFFER, 0)
            GL.glDeleteBuffers(1, [self.buffer])

    def array(self) -> np.ndarray:
        """(h, w, c) pixels, top row first."""
        with self._pixels() as pixels:
            return pixels.copy()

    def picture(self) -> tuple[np.ndarray, float]:
        """(h, w, 3) read-only picture, top row first, and the mean of its fourth channel (0..1)."""
        with self._pixels() as pixels:
            scale = 255.0 if self.dtype is np.uint8 else 1.0
            picture = cv2.cvtColor(pixels, cv2.COLOR_RGBA2RGB)
            picture.flags.writeable = False  # pictures are kept and handed out again
            return picture, cv2.mean(pixels)[3] / scale


def start_read(target: Target, attachment: int, form: str) -> Pending:
    """Begin reading one attachment: "code" (uint8), "linear" (float32), "integer" or "depth" (float32)."""
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
