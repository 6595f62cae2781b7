"""The plain way to make the same pictures: pyrender images, then numpy and OpenCV warps.

Written as a competent developer would without a renderer of their own: one ``OffscreenRenderer``,
stock shading and its stock four-fold multisampling, meshes merged by material, 8-bit pictures,
``cv2.remap`` for every warp, float32 and whole arrays throughout. Nothing in it is slow on purpose.

Straight line for one frame: six faces of the outer image, each camera's inner image, each camera's
stage view with depth and a segmentation pass; then the wall's stage points from depth, and for each
stack the outer image and the layers looked up at those points.
"""

from __future__ import annotations

import os
import time
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager

import cv2
import numpy as np

from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.conventions import BODY_FROM_GL
from preview.stage.mesh import Light, SceneMesh
from preview.timeline.moment import Moment
from tests.benchmarks import workload
from tests.benchmarks.workload import AMBIENT, OFF_AIR_DIM, OVERSCAN, PICTURE_PX, SKY_RGB

os.environ.setdefault("PYOPENGL_PLATFORM", "egl")
import pyglet

pyglet.options["headless"] = True
import pyrender  # noqa: E402  (picks its platform when imported)
from OpenGL.GL import GL_RENDERER, glGetString  # noqa: E402

Picture = np.ndarray
NEAR_M, FAR_M = 0.3, 300.0
OUTER_SMALL_PX = 512
INNER_PX = (round(PICTURE_PX[0] * (1 + 2 * OVERSCAN)), round(PICTURE_PX[1] * (1 + 2 * OVERSCAN)))
ENCODED_DIM = OFF_AIR_DIM ** (1 / 2.2)
SIGNAL_OF_RENDER = workload.DISPLAY.code((np.arange(256) / 255) ** 2.2)
"""pyrender writes light to the power 1 / 2.2; this table turns that into the BT.709 signal."""

# Faces of the outer image as (right, up, forward) stage axes.
FACES = {
    "front": ((1, 0, 0), (0, 0, 1), (0, 1, 0)),
    "left": ((0, 1, 0), (0, 0, 1), (-1, 0, 0)),
    "right": ((0, -1, 0), (0, 0, 1), (1, 0, 0)),
    "back": ((-1, 0, 0), (0, 0, 1), (0, -1, 0)),
    "top": ((1, 0, 0), (0, -1, 0), (0, 0, 1)),
    "bottom": ((1, 0, 0), (0, 1, 0), (0, 0, -1)),
}


class PlainRenderer:
    """The benchmark workload drawn the plain way; ``frame_set`` gives every picture of one moment."""

    def __init__(self) -> None:
        self.renderer = pyrender.OffscreenRenderer(*PICTURE_PX)
        self.virtual = self._scene(workload.virtual_scene(), SKY_RGB, AMBIENT)
        self.stage = self._scene(workload.stage_set(), (0.0, 0.0, 0.0), 0.0)
        wall = workload.curved_wall()
        black = pyrender.MetallicRoughnessMaterial(baseColorFactor=(0, 0, 0, 1), roughnessFactor=1.0)
        primitive = pyrender.Primitive(
            positions=wall.positions[wall.triangles].reshape(-1, 3).astype(np.float32), material=black
        )
        self.wall_node = self.stage.add(pyrender.Mesh([primitive]))
        self.graphics = glGetString(GL_RENDERER).decode()
        self.outer: dict[str, Picture] = {}
        self.outer_picture = np.empty(0, dtype=np.uint8)
        self.all_round = _all_round_maps()
        self.marker = _off_wall_marker()
        self.seconds: defaultdict[str, float] = defaultdict(float)

    def frame_set(self, moment: Moment, keep_outer: bool = False) -> dict[str, Picture]:
        """Pictures by name: outer, and each camera's inner, as-shot and return pictures."""
        pictures: dict[str, Picture] = {}
        with self._timed("virtual views"):
            if not (keep_outer and self.outer):
                self.outer = {face: self._outer_face(face) for face in FACES}
                self.outer_picture = self._signal(self._unrolled_outer())
            inner = {
                camera.name: self._draw(self.virtual, camera.layer_view, INNER_PX, OVERSCAN)[0]
                for camera in moment.cameras
            }
        pictures["outer"] = self.outer_picture
        off_air = [camera for camera in moment.cameras if camera.name != moment.on_air]
        driven = [*off_air, moment.camera(moment.on_air)]
        for camera in moment.cameras:
            whole = cv2.resize(inner[camera.name], PICTURE_PX, interpolation=cv2.INTER_LINEAR)
            pictures[f"inner {camera.name}"] = self._signal(whole)
            with self._timed("stage view"):
                seen, depth = self._draw(self.stage, camera.view, PICTURE_PX)
            with self._timed("segmentation"):
                on_wall = self._wall_mask(camera.view)
            with self._timed("world position"):
                points = self._wall_points(camera.view, depth)
            with self._timed("composite"):
                outer = self._look_up_outer(points, on_wall)
                layer = {
                    other.name: self._look_up_layer(points, other.layer_view, inner[other.name])
                    for other in moment.cameras
                }
                as_shot = outer.copy()
                for other in driven:
                    colors, inside = layer[other.name]
                    if other.name != moment.on_air:
                        colors = cv2.convertScaleAbs(colors, alpha=ENCODED_DIM)
                    cv2.copyTo(colors, inside, as_shot)
                nothing = (depth == 0).view(np.uint8)
                own = outer.copy()
                cv2.copyTo(*layer[camera.name], own)
                for name, wall in (("as-shot", as_shot), ("return", own)):
                    picture = seen.copy()
                    cv2.copyTo(wall, on_wall, picture)
                    cv2.copyTo(self.marker, nothing, picture)
                    pictures[f"{name} {camera.name}"] = self._signal(picture)
        return pictures

    def _draw(
        self, scene: pyrender.Scene, view: CameraView, size_px: tuple[int, int], margin: float = 0.0
    ) -> tuple[Picture, np.ndarray]:
        """Colour (h, w, 3) uint8 and depth (h, w) metres of a scene from a view."""
        tan_x, tan_y = (tangent * (1 + 2 * margin) for tangent in view.half_tangents)
        camera = pyrender.PerspectiveCamera(2 * np.arctan(tan_y), NEAR_M, FAR_M, aspectRatio=tan_x / tan_y)
        return self._render(scene, camera, view.stage_from_gl, size_px)

    def _outer_face(self, face: str) -> Picture:
        right, up, forward = np.array(FACES[face], dtype=np.float64)
        pose = np.eye(4)
        pose[:3, :3] = np.stack([right, up, -forward], axis=1)
        pose[:3, 3] = workload.EYE_POINT_M
        camera = pyrender.PerspectiveCamera(np.pi / 2, NEAR_M, FAR_M, aspectRatio=1.0)
        return self._render(self.virtual, camera, pose, (workload.OUTER_FACE_PX, workload.OUTER_FACE_PX))[0]

    def _render(
        self,
        scene: pyrender.Scene,
        camera: pyrender.Camera,
        pose: np.ndarray,
        size_px: tuple[int, int],
        flags: int = pyrender.RenderFlags.NONE,
        colors: dict | None = None,
    ) -> tuple[Picture, np.ndarray]:
        self.renderer.viewport_width, self.renderer.viewport_height = size_px
        node = scene.add(camera, pose=pose)
        scene.main_camera_node = node
        color, depth = self.renderer.render(scene, flags, colors)
        scene.remove_node(node)
        return np.ascontiguousarray(color), depth

    def _wall_mask(self, view: CameraView) -> np.ndarray:
        """(h, w) uint8, 255 where the camera sees the wall's front."""
        tan_x, tan_y = view.half_tangents
        camera = pyrender.PerspectiveCamera(2 * np.arctan(tan_y), NEAR_M, FAR_M, aspectRatio=tan_x / tan_y)
        colors = {node: (0, 0, 0) for node in self.stage.mesh_nodes} | {self.wall_node: (255, 0, 0)}
        flags = pyrender.RenderFlags.SEG
        image, _ = self._render(self.stage, camera, view.stage_from_gl, PICTURE_PX, flags, colors)
        return np.ascontiguousarray(image[..., 0])

    def _wall_points(self, view: CameraView, depth: np.ndarray) -> np.ndarray:
        """(h, w, 3) float32 stage points behind each pixel centre, from depth along the optical axis."""
        width, height = PICTURE_PX
        tan_x, tan_y = view.half_tangents
        x = ((np.arange(width, dtype=np.float32) + 0.5) / width * 2 - 1) * np.float32(tan_x)
        y = (1 - (np.arange(height, dtype=np.float32) + 0.5) / height * 2) * np.float32(tan_y)
        stage_from_gl = view.stage_from_gl.astype(np.float32)
        across, down = stage_from_gl[:3, 0] * x[:, None], stage_from_gl[:3, 1] * y[:, None]
        rays = across[None, :] + (down - stage_from_gl[:3, 2])[:, None]
        return rays * depth[..., None] + stage_from_gl[:3, 3]

    def _look_up_layer(
        self, points: np.ndarray, view: CameraView, image: Picture
    ) -> tuple[Picture, np.ndarray]:
        """The layer's image on the wall as seen at ``points``, and a mask of where it reaches."""
        tan_x, tan_y = (tangent * (1 + 2 * OVERSCAN) for tangent in view.half_tangents)
        height, width = image.shape[:2]
        pixel_from_gl = np.array(
            [
                [width / (2 * tan_x), 0, -(width / 2 - 0.5), 0],
                [0, -height / (2 * tan_y), -(height / 2 - 0.5), 0],
                [0, 0, -1, 0],
            ]
        )
        matrix = (pixel_from_gl @ np.linalg.inv(view.stage_from_gl)).astype(np.float32)
        projected = cv2.transform(points, matrix)
        across, down, depth = cv2.split(projected)
        with np.errstate(divide="ignore", invalid="ignore"):
            inverse = 1 / depth
        across *= inverse
        down *= inverse
        inside = (
            (across > -0.5) & (across < width - 0.5) & (down > -0.5) & (down < height - 0.5) & (depth > 0)
        )
        warped = cv2.remap(image, across, down, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        return warped, inside.view(np.uint8)

    def _look_up_outer(self, points: np.ndarray, on_wall: np.ndarray) -> Picture:
        """The outer image on the wall as seen at ``points``: each face that those points look into."""
        outer = np.empty((*points.shape[:2], 3), dtype=np.uint8)
        x, y, z = cv2.split(points - np.array(workload.EYE_POINT_M, np.float32))
        reach = np.maximum(np.maximum(np.abs(x), np.abs(y)), np.abs(z))
        seen = on_wall > 0
        with np.errstate(divide="ignore", invalid="ignore"):
            for face, axes in FACES.items():
                right, up, forward = (_along(axis, x, y, z) for axis in axes)
                here = (forward >= reach) & seen
                if not here.any():
                    continue
                scale = np.float32(workload.OUTER_FACE_PX / 2) / forward
                middle = np.float32(workload.OUTER_FACE_PX / 2 - 0.5)
                across, down = middle + right * scale, middle - up * scale
                warped = cv2.remap(
                    self.outer[face], across, down, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
                )
                cv2.copyTo(warped, here.view(np.uint8), outer)
        return outer

    def _unrolled_outer(self) -> Picture:
        """The outer faces as one equirectangular picture."""
        small = (OUTER_SMALL_PX, OUTER_SMALL_PX)
        column = np.vstack(
            [cv2.resize(face, small, interpolation=cv2.INTER_AREA) for face in self.outer.values()]
        )
        return cv2.remap(column, *self.all_round, cv2.INTER_LINEAR)

    @staticmethod
    def _signal(image: Picture) -> Picture:
        return cv2.LUT(image, SIGNAL_OF_RENDER)

    @contextmanager
    def _timed(self, step: str) -> Iterator[None]:
        start = time.perf_counter()
        yield
        self.seconds[step] += time.perf_counter() - start

    @staticmethod
    def _scene(mesh: SceneMesh, sky_rgb: tuple[float, float, float], ambient: float) -> pyrender.Scene:
        background = np.power(sky_rgb, 1 / 2.2)
        scene = pyrender.Scene(bg_color=[*background, 1.0], ambient_light=np.multiply(sky_rgb, ambient))
        for part in mesh.parts:
            material = part.material
            texture = None
            if material.base_color_texture is not None:
                texture = pyrender.Texture(source=material.base_color_texture.image, source_channels="RGBA")
            uv = None
            if texture is not None and part.uv0 is not None:
                uv = np.column_stack([part.uv0[:, 0], 1 - part.uv0[:, 1]])  # v up, as pyrender has it
            primitive = pyrender.Primitive(
                positions=part.positions,
                normals=part.normals,
                texcoord_0=uv,
                indices=part.triangles,
                material=pyrender.MetallicRoughnessMaterial(
                    baseColorFactor=material.base_color,
                    baseColorTexture=texture,
                    metallicFactor=material.metallic,
                    roughnessFactor=material.roughness,
                ),
            )
            scene.add(pyrender.Mesh([primitive]))
        for light in mesh.lights:
            scene.add(_pyrender_light(light), pose=_light_pose(light))
        return scene


def _off_wall_marker() -> Picture:
    """The product's diagonal stripes for what lies past the LED, in pyrender's coding."""
    width, height = PICTURE_PX
    x, y = np.meshgrid(np.arange(width) + 0.5, np.arange(height) + 0.5)
    stripe = np.mod((x + y) / (height / 22), 1.0)
    bright = np.clip(np.minimum(stripe, 0.5 - stripe) / (22 / height) + 0.5, 0, 1)[..., None]
    light = np.array([0.035, 0.03, 0.05]) * (1 - bright) + np.array([0.16, 0.05, 0.20]) * bright
    return np.round(255 * light ** (1 / 2.2)).astype(np.uint8)


def _all_round_maps() -> tuple[np.ndarray, np.ndarray]:
    """cv2.remap maps from the six faces, one below the other, to the equirectangular outer picture."""
    width, height = workload.OUTER_PX
    pan = (0.5 - (np.arange(width) + 0.5) / width) * 2 * np.pi
    down = ((np.arange(height) + 0.5) / height * np.pi)[:, None]
    ways = np.stack(
        np.broadcast_arrays(-np.sin(pan) * np.sin(down), np.cos(pan) * np.sin(down), np.cos(down)), axis=-1
    )
    across, below = np.zeros((2, height, width), dtype=np.float32)
    nearest = np.abs(ways).max(axis=2)
    for index, (right, up, forward) in enumerate(FACES.values()):
        here = ways @ forward >= nearest
        scale = OUTER_SMALL_PX / 2 / (ways[here] @ forward)
        last = OUTER_SMALL_PX - 1
        across[here] = np.clip(OUTER_SMALL_PX / 2 - 0.5 + ways[here] @ right * scale, 0, last)
        below[here] = (
            np.clip(OUTER_SMALL_PX / 2 - 0.5 - ways[here] @ up * scale, 0, last) + index * OUTER_SMALL_PX
        )
    return cv2.convertMaps(across, below, cv2.CV_16SC2)


def _along(axis: tuple[int, int, int], x: np.ndarray, y: np.ndarray, z: np.ndarray) -> np.ndarray:
    """Component of (x, y, z) along a signed coordinate axis."""
    index = int(np.flatnonzero(axis)[0])
    component = (x, y, z)[index]
    return component if axis[index] > 0 else -component


def _pyrender_light(light: Light) -> pyrender.Light:
    if light.kind == "directional":
        return pyrender.DirectionalLight(color=light.color, intensity=light.intensity)
    return pyrender.PointLight(color=light.color, intensity=light.intensity)


def _light_pose(light: Light) -> np.ndarray:
    """A light's node pose: at its position, shining along its own -Z."""
    pose = np.eye(4)
    pose[:3, 3] = light.position
    if light.kind == "directional":
        pose[:3, :3] = Pose.looking_at((0, 0, 0), light.direction).rotation @ BODY_FROM_GL[:3, :3]
    return pose


def main(frames: int = 5) -> None:
    """Time the baseline alone and print where its time goes."""
    plain = PlainRenderer()
    plain.frame_set(workload.moment(0))
    plain.seconds.clear()
    start = time.perf_counter()
    for frame in range(1, frames + 1):
        plain.frame_set(workload.moment(frame))
    total = (time.perf_counter() - start) / frames
    steps = {step: seconds / frames for step, seconds in plain.seconds.items()}
    for step, seconds in sorted(steps.items(), key=lambda item: -item[1]):
        print(f"  {step:15} {seconds:.3f} s")
    print(f"  {'other':15} {total - sum(steps.values()):.3f} s")
    print(f"plain baseline: {total:.3f} s a frame set, mean of {frames}")


if __name__ == "__main__":
    main()
