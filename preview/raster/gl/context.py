"""One OpenGL context per process, off screen, through EGL. The only module that starts OpenGL.

pyrender is imported here and nowhere else: its import order, its viewer's dependence on X11 and its
habit of terminating the shared display (decisions in DEVELOPERS.md) are kept in this file.
"""

from __future__ import annotations

import ctypes
import os
from typing import Any

from preview.errors import GraphicsError

_INSTALL = (
    "install a driver: on Debian, apt-get install libegl1 libgl1 libgl1-mesa-dri "
    "(draws in software, needs no graphics card)"
)

os.environ["PYOPENGL_PLATFORM"] = "egl"

try:
    import pyglet

    pyglet.options["headless"] = True

    import pyrender
    from OpenGL import GL
    from pyrender.platforms.egl import EGLPlatform
except (ImportError, OSError, AttributeError) as error:
    raise GraphicsError(f"OpenGL cannot be loaded; {_INSTALL}") from error

__all__ = ["GL", "Context", "pyrender"]


class _Platform(EGLPlatform):
    """pyrender's platform, except that the end of one (``__del__`` included) leaves the shared display."""

    def delete_context(self) -> None:
        context: Any = self._egl_context
        self._egl_context: Any = None
        if context is not None:
            from OpenGL import EGL

            EGL.eglDestroyContext(self._egl_display, context)


class Context:
    """An off-screen OpenGL 4.1+ context, current in the thread that made it.

    Raises
    ------
    GraphicsError : there is no usable driver; says what to install.
    """

    def __init__(self) -> None:
        if not __debug__:
            raise GraphicsError(
                "python -O removes checks that the OpenGL platform needs; run python without -O"
            )
        self._platform: Any = None
        try:
            self._platform = _Platform(1, 1)
            self._platform.init_context()
            version = GL.glGetString(GL.GL_VERSION).decode()
        except Exception as error:  # the driver's own exceptions have no common base
            raise GraphicsError(f"no OpenGL 4.1 can be started here; {_INSTALL}") from error
        self.version: str = version
        self.renderer: str = GL.glGetString(GL.GL_RENDERER).decode()
        self.max_size: int = int(GL.glGetIntegerv(GL.GL_MAX_TEXTURE_SIZE))
        self.max_samples: int = int(GL.glGetIntegerv(GL.GL_MAX_SAMPLES))
        GL.glPixelStorei(GL.GL_PACK_ALIGNMENT, 1)
        GL.glPixelStorei(GL.GL_UNPACK_ALIGNMENT, 1)

    def make_current(self) -> None:
        """Make this the thread's context."""
        self._platform.make_current()

    def close(self) -> None:
        """Release the context. The display stays: terminating it would break other contexts."""
        if self._platform is None:
            return
        from OpenGL import EGL

        nothing = EGL.EGL_NO_SURFACE, EGL.EGL_NO_SURFACE, EGL.EGL_NO_CONTEXT
        EGL.eglMakeCurrent(self._platform._egl_display, *nothing)
        self._platform.delete_context()
        self._platform = None


def pointer(offset: int) -> ctypes.c_void_p:
    """A buffer offset as OpenGL wants it."""
    return ctypes.c_void_p(offset)
