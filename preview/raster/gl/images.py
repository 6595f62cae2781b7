"""Pictures of the virtual scene alone, as textures: flat images from views, and all round the eye point.

Each is drawn once and kept; when a screen in the scene changes, only the part of it that can show the
screen is drawn again, before its next use.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from preview.conventions import Array
from preview.raster.gl.context import GL
from preview.raster.gl.scene import Box, Eye, GlScene
from preview.raster.gl.stage import eye_of
from preview.raster.gl.target import SampleBuffers, Target, resolve
from preview.raster.gl.texture import delete_textures, edit, empty_cube, empty_texture, level_count
from preview.raster.request import SceneImage
from preview.stage.mesh import SceneMesh
from preview.stage.surface import LedSurface

NEAR_M = 0.1
"""Nearest distance drawn."""

# Cube faces in GL's order: directions (stage axes) of rising s, of rising t, and of the face's middle.
_FACES = (
    ((0, 0, -1), (0, -1, 0), (1, 0, 0)),
    ((0, 0, 1), (0, -1, 0), (-1, 0, 0)),
    ((1, 0, 0), (0, 0, 1), (0, 1, 0)),
    ((1, 0, 0), (0, 0, -1), (0, -1, 0)),
    ((1, 0, 0), (0, -1, 0), (0, 0, 1)),
    ((-1, 0, 0), (0, -1, 0), (0, 0, -1)),
)


class SceneImages:
    """The virtual scene, drawn from any view and all round one point.

    Parameters
    ----------
    scene : in stage coordinates
    outer_eye : (3,) stage metres
    picture_px : size of camera pictures; scene images add their margin to it
    outer_px : side of a cube face
    buffers : what to draw in

    Attributes
    ----------
    needed : images the call at hand uses; others give way to new ones
    """

    def __init__(
        self,
        scene: SceneMesh,
        outer_eye: Array,
        picture_px: tuple[int, int],
        outer_px: int,
        buffers: SampleBuffers,
    ) -> None:
        self.outer_eye, self.outer_px, self._picture_px = outer_eye, outer_px, picture_px
        self.needed: set[SceneImage] = set()
        self._scene, self._buffers = GlScene(scene, backdrop=True), buffers
        self._far_m = _reach(scene, outer_eye)
        self._flat: dict[SceneImage, int] = {}
        self._flat_patches: dict[SceneImage, Box] = {}
        self._cube = 0
        self._faces_drawn: set[int] = set()
        self._face_patches: dict[int, Box] = {}

    def faces_seen(self, surfaces: Sequence[LedSurface]) -> set[int]:
        """Cube faces that some LED surface shows, by the directions of its facets from the eye point."""
        seen: set[int] = set()
        weights = np.array([[i, j, 8 - i - j] for i in range(9) for j in range(9 - i)]) / 8
        for surface in surfaces:
            corners = surface.positions[surface.triangles]
            ways = (np.einsum("wk,mkx->mwx", weights, corners) - self.outer_eye).reshape(-1, 3)
            share = np.abs(ways) / np.abs(ways).max(axis=1, keepdims=True)
            for axis in range(3):
                # Below 1 by so much that a facet cannot cross a face between its sample points.
                close = share[:, axis] > 0.7
                seen |= set((2 * axis + (ways[close, axis] < 0)).tolist())
        return {int(face) for face in seen}

    def set_screens(self, frames: Mapping[str, np.ndarray]) -> tuple[set[SceneImage], set[int]]:
        """Give screens new pictures; returns the kept images and cube faces that may show one of them."""
        self._scene.set_screens(frames)
        names = set(frames)
        images, faces = set(), set()
        for image in self._flat:
            size = image.drawn_size(self._picture_px)
            if box := self._scene.screens_box(names, self._eye(image), size):
                self._flat_patches[image] = _union(self._flat_patches.get(image), box)
                images.add(image)
        for face in self._faces_drawn:
            square = (self.outer_px, self.outer_px)
            if box := self._scene.screens_box(names, self._face_eye(face), square):
                self._face_patches[face] = _union(self._face_patches.get(face), box)
                faces.add(face)
        return images, faces

    def flat(self, image: SceneImage) -> int:
        """Texture of a scene image: linear half float, mipmapped, top row first, margin included."""
        known = image in self._flat
        if known and image not in self._flat_patches:
            return self._flat[image]
        width, height = image.drawn_size(self._picture_px)
        if not known:
            for unused in [kept for kept in self._flat if kept not in self.needed]:
                self._flat_patches.pop(unused, None)
                delete_textures(self._flat.pop(unused))
            levels = level_count(width, height)
            self._flat[image] = empty_texture(width, height, GL.GL_RGBA16F, levels=levels)
        texture = self._flat[image]
        destination = Target.build(width, height, colors=(("texture", texture),))
        self._draw(self._eye(image), destination, self._flat_patches.pop(image, None))
        destination.release()
        edit(GL.GL_TEXTURE_2D, texture)
        GL.glGenerateMipmap(GL.GL_TEXTURE_2D)
        return texture

    def outer(self, faces: Iterable[int]) -> int:
        """Cube texture around the eye point, with at least ``faces`` drawn; stage axes."""
        if not self._cube:
            self._cube = empty_cube(self.outer_px, GL.GL_RGBA16F)
        missing = set(faces) - self._faces_drawn
        stale = set(faces) & set(self._face_patches)
        for face in sorted(missing | stale):
            destination = Target(self.outer_px, self.outer_px, int(GL.glGenFramebuffers(1)))
            GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, destination.framebuffer)
            shape = GL.GL_TEXTURE_CUBE_MAP_POSITIVE_X + face
            GL.glFramebufferTexture2D(GL.GL_FRAMEBUFFER, GL.GL_COLOR_ATTACHMENT0, shape, self._cube, 0)
            self._draw(self._face_eye(face), destination, self._face_patches.pop(face, None))
            destination.release()
        if missing or stale:
            edit(GL.GL_TEXTURE_CUBE_MAP, self._cube)
            GL.glGenerateMipmap(GL.GL_TEXTURE_CUBE_MAP)
            self._faces_drawn |= missing
        return self._cube

    def forget(self) -> None:
        """Drop every kept image."""
        delete_textures(*self._flat.values())
        self._flat.clear()
        self._flat_patches.clear()
        self._faces_drawn.clear()
        self._face_patches.clear()

    def release(self) -> None:
        """Free everything on the graphics side."""
        self.forget()
        delete_textures(self._cube)
        self._scene.release()

    def _eye(self, image: SceneImage) -> Eye:
        tangents = image.tangents(self._picture_px)
        return eye_of(image.view.stage_from_gl, tangents, NEAR_M, self._far_m)

    def _face_eye(self, face: int) -> Eye:
        s, t, middle = np.array(_FACES[face], dtype=np.float64)
        stage_from_gl = np.eye(4)
        stage_from_gl[:3, :3] = np.stack([s, -t, -middle], axis=1)
        stage_from_gl[:3, 3] = self.outer_eye
        return eye_of(stage_from_gl, (1.0, 1.0), NEAR_M, self._far_m)

    def _draw(self, eye: Eye, destination: Target, box: Box | None) -> None:
        """Draw the scene into a single-sampled target, all of it or inside ``box``."""
        width, height = destination.width, destination.height
        target = self._buffers.room(width, height).window(width, height)
        target.bind()
        left, top, right, bottom = box or (0, 0, width, height)
        GL.glEnable(GL.GL_SCISSOR_TEST)
        GL.glScissor(left, top, right - left, bottom - top)
        GL.glDepthMask(GL.GL_TRUE)
        GL.glClear(GL.GL_DEPTH_BUFFER_BIT)
        self._scene.draw(eye, target, box)
        GL.glDisable(GL.GL_SCISSOR_TEST)
        resolve(target, 0, destination, box)


def _union(a: Box | None, b: Box) -> Box:
    if a is None:
        return b
    return min(a[0], b[0]), min(a[1], b[1]), max(a[2], b[2]), max(a[3], b[3])


def _reach(scene: SceneMesh, eye: Array) -> float:
    """A far plane behind everything: twice the scene's farthest corner, seen from the eye point."""
    corners = [corner for part in scene.parts for corner in (part.positions.min(0), part.positions.max(0))]
    distance = max((float(np.linalg.norm(corner - eye)) for corner in corners), default=10.0)
    return max(50.0, 2.0 * distance + 20.0)
