"""Textures and render targets. Every image is stored with its top row first."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from preview.errors import GraphicsError
from preview.raster.gl.context import GL
from preview.stage.mesh import Texture

_WRAP = {"repeat": GL.GL_REPEAT, "clamp": GL.GL_CLAMP_TO_EDGE, "mirror": GL.GL_MIRRORED_REPEAT}


_EDIT_UNIT = 15


def edit(target: int, texture: int) -> None:
    """Bind a texture in order to change it, on a unit no shader samples from."""
    GL.glActiveTexture(GL.GL_TEXTURE0 + _EDIT_UNIT)
    GL.glBindTexture(target, texture)


def roomy(size: tuple[int, int], limit: int) -> tuple[int, int]:
    """A size that fits and that nearby sizes share, so that a zoom does not allocate at every frame."""
    width, height = (min(limit, -(-side // 64) * 64) for side in size)
    return max(width, size[0]), max(height, size[1])


def level_count(width: int, height: int) -> int:
    """Levels of a full mipmap chain."""
    return max(width, height).bit_length()


def _filtering(target: int, magnify: int, minify: int, wrap: tuple[int, int]) -> None:
    GL.glTexParameteri(target, GL.GL_TEXTURE_MAG_FILTER, magnify)
    GL.glTexParameteri(target, GL.GL_TEXTURE_MIN_FILTER, minify)
    GL.glTexParameteri(target, GL.GL_TEXTURE_WRAP_S, wrap[0])
    GL.glTexParameteri(target, GL.GL_TEXTURE_WRAP_T, wrap[1])


def upload_image(image: np.ndarray, srgb: bool) -> int:
    """A clamped, mipmapped texture of an (h, w, 3 or 4) uint8 image; replace it with ``update_image``."""
    height, width, _ = image.shape
    texture = GL.glGenTextures(1)
    edit(GL.GL_TEXTURE_2D, texture)
    storage = GL.GL_SRGB8_ALPHA8 if srgb else GL.GL_RGBA8
    GL.glTexStorage2D(GL.GL_TEXTURE_2D, level_count(width, height), storage, width, height)
    _filtering(
        GL.GL_TEXTURE_2D,
        GL.GL_LINEAR,
        GL.GL_LINEAR_MIPMAP_LINEAR,
        (GL.GL_CLAMP_TO_EDGE, GL.GL_CLAMP_TO_EDGE),
    )
    update_image(texture, image)
    return int(texture)


def update_image(texture: int, image: np.ndarray) -> None:
    """Put new pixels of the same size into a texture from ``upload_image``."""
    height, width, channels = image.shape
    form = GL.GL_RGBA if channels == 4 else GL.GL_RGB
    edit(GL.GL_TEXTURE_2D, texture)
    GL.glTexSubImage2D(
        GL.GL_TEXTURE_2D, 0, 0, 0, width, height, form, GL.GL_UNSIGNED_BYTE, np.ascontiguousarray(image)
    )
    GL.glGenerateMipmap(GL.GL_TEXTURE_2D)


def upload_texture(source: Texture) -> int:
    """A mesh's texture with its own wrapping and filtering."""
    texture = upload_image(source.image, source.srgb)
    magnify = GL.GL_NEAREST if source.nearest else GL.GL_LINEAR
    _filtering(
        GL.GL_TEXTURE_2D,
        magnify,
        GL.GL_LINEAR_MIPMAP_LINEAR,
        (_WRAP[source.wrap_s], _WRAP[source.wrap_t]),
    )
    return texture


def upload_radiance(image: np.ndarray) -> int:
    """A mipmapped half-float texture of an (h, w, 3) float32 equirectangular image."""
    height, width, _ = image.shape
    texture = GL.glGenTextures(1)
    edit(GL.GL_TEXTURE_2D, texture)
    GL.glTexStorage2D(GL.GL_TEXTURE_2D, level_count(width, height), GL.GL_RGB16F, width, height)
    data = np.ascontiguousarray(np.minimum(image, 6e4), dtype=np.float32)
    GL.glTexSubImage2D(GL.GL_TEXTURE_2D, 0, 0, 0, width, height, GL.GL_RGB, GL.GL_FLOAT, data)
    GL.glGenerateMipmap(GL.GL_TEXTURE_2D)
    _filtering(
        GL.GL_TEXTURE_2D, GL.GL_LINEAR, GL.GL_LINEAR_MIPMAP_LINEAR, (GL.GL_REPEAT, GL.GL_CLAMP_TO_EDGE)
    )
    return int(texture)


def empty_texture(
    width: int, height: int, storage: int, *, levels: int = 1, linear: bool = True
) -> int:
    """An uninitialised 2-D texture."""
    texture = GL.glGenTextures(1)
    edit(GL.GL_TEXTURE_2D, texture)
    GL.glTexStorage2D(GL.GL_TEXTURE_2D, levels, storage, width, height)
    magnify = GL.GL_LINEAR if linear else GL.GL_NEAREST
    minify = GL.GL_LINEAR_MIPMAP_LINEAR if levels > 1 else magnify
    _filtering(GL.GL_TEXTURE_2D, magnify, minify, (GL.GL_CLAMP_TO_EDGE, GL.GL_CLAMP_TO_EDGE))
    return int(texture)


def empty_cube(size: int, storage: int) -> int:
    """An uninitialised mipmapped cube texture."""
    texture = GL.glGenTextures(1)
    edit(GL.GL_TEXTURE_CUBE_MAP, texture)
    GL.glTexStorage2D(GL.GL_TEXTURE_CUBE_MAP, level_count(size, size), storage, size, size)
    _filtering(
        GL.GL_TEXTURE_CUBE_MAP,
        GL.GL_LINEAR,
        GL.GL_LINEAR_MIPMAP_LINEAR,
        (GL.GL_CLAMP_TO_EDGE, GL.GL_CLAMP_TO_EDGE),
    )
    GL.glTexParameteri(GL.GL_TEXTURE_CUBE_MAP, GL.GL_TEXTURE_WRAP_R, GL.GL_CLAMP_TO_EDGE)
    return int(texture)


def empty_multisample(width: int, height: int, storage: int, samples: int) -> int:
    """An uninitialised multisample texture, read sample by sample."""
    texture = GL.glGenTextures(1)
    edit(GL.GL_TEXTURE_2D_MULTISAMPLE, texture)
    GL.glTexImage2DMultisample(
        GL.GL_TEXTURE_2D_MULTISAMPLE, samples, storage, width, height, GL.GL_TRUE
    )
    return int(texture)


def delete_textures(*textures: int) -> None:
    """Free textures; zeros are ignored."""
    for texture in textures:
        if texture:
            GL.glDeleteTextures([texture])


@dataclass
class Target:
    """A framebuffer and the renderbuffers it owns (textures attached to it belong to the caller)."""

    width: int
    height: int
    framebuffer: int
    renderbuffers: list[int] = field(default_factory=list)

    @classmethod
    def build(
        cls,
        width: int,
        height: int,
        *,
        colors: tuple[tuple[str, int], ...] = (),
        samples: int = 0,
        depth: bool = False,
    ) -> Target:
        """A framebuffer with colour attachments and, if asked, 32-bit float depth.

        Parameters
        ----------
        colors : ("texture", id), ("multisample", id) or ("buffer", storage format) each
        samples : of the renderbuffers; 0 for single-sampled

        Raises
        ------
        GraphicsError : the driver cannot make it; names the size.
        """
        limit = int(GL.glGetIntegerv(GL.GL_MAX_RENDERBUFFER_SIZE))
        if max(width, height) > limit:
            raise GraphicsError(
                f"a picture of {width}x{height} is larger than this driver's limit of {limit}; "
                "ask for a smaller --size"
            )
        framebuffer = int(GL.glGenFramebuffers(1))
        target = cls(width, height, framebuffer)
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, framebuffer)
        for index, (kind, value) in enumerate(colors):
            where = GL.GL_COLOR_ATTACHMENT0 + index
            if kind == "buffer":
                target._renderbuffer(where, value, samples)
            else:
                shape = GL.GL_TEXTURE_2D if kind == "texture" else GL.GL_TEXTURE_2D_MULTISAMPLE
                GL.glFramebufferTexture2D(GL.GL_FRAMEBUFFER, where, shape, value, 0)
        if depth:
            target._renderbuffer(GL.GL_DEPTH_ATTACHMENT, GL.GL_DEPTH_COMPONENT32F, samples)
        target.draw_to(*range(len(colors)))
        if colors or depth:  # without attachments the caller adds its own and checks
            target.check()
        return target

    def _renderbuffer(self, where: int, storage: int, samples: int) -> None:
        buffer = int(GL.glGenRenderbuffers(1))
        self.renderbuffers.append(buffer)
        GL.glBindRenderbuffer(GL.GL_RENDERBUFFER, buffer)
        if samples:
            GL.glRenderbufferStorageMultisample(
                GL.GL_RENDERBUFFER, samples, storage, self.width, self.height
            )
        else:
            GL.glRenderbufferStorage(GL.GL_RENDERBUFFER, storage, self.width, self.height)
        GL.glFramebufferRenderbuffer(GL.GL_FRAMEBUFFER, where, GL.GL_RENDERBUFFER, buffer)

    def check(self) -> None:
        """Raise GraphicsError unless the driver accepts the framebuffer."""
        status = GL.glCheckFramebufferStatus(GL.GL_FRAMEBUFFER)
        if status != GL.GL_FRAMEBUFFER_COMPLETE:
            raise GraphicsError(
                f"the OpenGL driver refuses a {self.width}x{self.height} float picture "
                f"(status {int(status):#x}); it must offer OpenGL 4.1 with float render targets"
            )

    def window(self, width: int, height: int) -> Target:
        """The same framebuffer used only up to ``width`` x ``height``; not to be released."""
        return Target(width, height, self.framebuffer)

    def bind(self) -> None:
        """Draw into it, over its whole size."""
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, self.framebuffer)
        GL.glViewport(0, 0, self.width, self.height)

    def draw_to(self, *attachments: int) -> None:
        """Choose which attachments the bound framebuffer's outputs 0, 1, ... go to (-1: none)."""
        names = [GL.GL_COLOR_ATTACHMENT0 + index if index >= 0 else GL.GL_NONE for index in attachments]
        GL.glDrawBuffers(len(names) or 1, names or [GL.GL_NONE])

    def release(self) -> None:
        """Free the framebuffer and its renderbuffers."""
        if self.framebuffer:
            GL.glDeleteFramebuffers(1, [self.framebuffer])
            if self.renderbuffers:
                GL.glDeleteRenderbuffers(len(self.renderbuffers), self.renderbuffers)
            self.framebuffer, self.renderbuffers = 0, []


def resolve(source: Target, attachment: int, destination: Target) -> None:
    """Average the samples of one colour attachment into a single-sampled target of the same size."""
    GL.glBindFramebuffer(GL.GL_READ_FRAMEBUFFER, source.framebuffer)
    GL.glReadBuffer(GL.GL_COLOR_ATTACHMENT0 + attachment)
    GL.glBindFramebuffer(GL.GL_DRAW_FRAMEBUFFER, destination.framebuffer)
    box = (0, 0, source.width, source.height)
    GL.glBlitFramebuffer(*box, *box, GL.GL_COLOR_BUFFER_BIT, GL.GL_NEAREST)
