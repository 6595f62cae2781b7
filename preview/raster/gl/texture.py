"""Textures. Every image is stored with its top row first."""

from __future__ import annotations

import numpy as np

from preview.raster.gl.context import GL
from preview.stage.mesh import Texture

_WRAP = {"repeat": GL.GL_REPEAT, "clamp": GL.GL_CLAMP_TO_EDGE, "mirror": GL.GL_MIRRORED_REPEAT}


_EDIT_UNIT = 31
"""OpenGL 4.1 has at least 48 units, of which a fragment shader samples 16."""


def edit(target: int, texture: int) -> None:
    """Bind a texture in order to change it, on a unit no shader samples from."""
    GL.glActiveTexture(GL.GL_TEXTURE0 + _EDIT_UNIT)
    GL.glBindTexture(target, texture)


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


def empty_texture(width: int, height: int, storage: int, *, levels: int = 1, linear: bool = True) -> int:
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
    GL.glTexImage2DMultisample(GL.GL_TEXTURE_2D_MULTISAMPLE, samples, storage, width, height, GL.GL_TRUE)
    return int(texture)


def delete_textures(*textures: int) -> None:
    """Free textures; zeros are ignored."""
    for texture in textures:
        if texture:
            GL.glDeleteTextures([texture])
