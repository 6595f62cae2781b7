"""A SceneMesh on the graphics side: geometry through pyrender primitives, textures, lights, draws."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from preview.conventions import Array
from preview.errors import GraphicsError
from preview.raster.gl.bodies import MATT_PART, BodyBuffer
from preview.raster.gl.chunks import Chunks
from preview.raster.gl.context import GL, pointer, pyrender
from preview.raster.gl.light import (
    SHADOW_EXPONENT,
    Shadow,
    blur_shadow,
    irradiance_harmonics,
    light_arrays,
    shadow_box,
    shadow_caster,
    shadow_size,
    sorted_lights,
)
from preview.raster.gl.program import Program
from preview.raster.gl.target import Target
from preview.raster.gl.texture import (
    delete_textures,
    empty_texture,
    update_image,
    upload_image,
    upload_radiance,
    upload_texture,
)
from preview.stage.mesh import Material, MeshPart, SceneMesh, Texture

MAX_LIGHTS = 16
_TEXTURES = (
    ("BASE", "base", "base_color_texture"),
    ("METAL", "metal", "metallic_roughness_texture"),
    ("NORMAL", "normal", "normal_texture"),
    ("OCCLUSION", "occlusion", "occlusion_texture"),
    ("EMISSIVE", "emissive", "emissive_texture"),
)
_SHADOW_UNIT, _SKY_UNIT = 5, 6


@dataclass
class _Part:
    """One uploaded part: vertex array, material, its runs of triangles, and the middles of blended ones."""

    source: MeshPart
    primitive: object
    material: Material
    chunks: Chunks
    centroids: np.ndarray | None

    def distance(self, point: Array) -> float:
        """Metres from a stage point to the nearest of its runs."""
        return float((np.linalg.norm(self.chunks.centers - point, axis=1) - self.chunks.radii).min())


Box = tuple[int, int, int, int]
"""Left, top, right and bottom in pixels of a target, row 0 at the top."""


@dataclass(frozen=True)
class Eye:
    """Where a scene is drawn from and how it lands on a target whose row 0 is the top.

    Attributes
    ----------
    clip_from_stage : (4, 4) with y already running down
    position : (3,) stage metres
    stage_from_gl : (3, 3) rotation for the backdrop
    tangents : half extents of the target at unit distance
    flipped : True when ``clip_from_stage`` mirrors, so triangles wind the other way
    """

    clip_from_stage: Array
    position: Array
    stage_from_gl: Array
    tangents: tuple[float, float]
    flipped: bool = True

    def planes(self, box: Box | None = None, size: tuple[int, int] = (1, 1)) -> Array:
        """(5, 4) planes that bound what lands on the target, or in a box of one of ``size``: left, right,
        top, bottom, and the one behind the eye; unit normals, positive inside, stage metres."""
        left, top, right, bottom = box or (0, 0, *size)
        rows = self.clip_from_stage
        low = 2 * left / size[0] - 1, 2 * top / size[1] - 1
        high = 2 * right / size[0] - 1, 2 * bottom / size[1] - 1
        planes = np.stack(
            [
                rows[0] - low[0] * rows[3],
                high[0] * rows[3] - rows[0],
                rows[1] - low[1] * rows[3],
                high[1] * rows[3] - rows[1],
                rows[3],
            ]
        )
        return planes / np.linalg.norm(planes[:, :3], axis=1, keepdims=True)


class GlScene:
    """Uploads a scene once and draws it from any eye.

    Parameters
    ----------
    scene : SceneMesh in stage coordinates
    backdrop : draw the sky behind it
    """

    def __init__(self, scene: SceneMesh, *, backdrop: bool) -> None:
        if len(scene.lights) > MAX_LIGHTS:
            raise GraphicsError(
                f"the scene has {len(scene.lights)} lights and at most {MAX_LIGHTS} are drawn; "
                "remove some or bake them into textures"
            )
        lights, self._light_counts = sorted_lights(scene.lights)
        self._scene, self._backdrop = replace(scene, lights=lights), backdrop
        self._textures: dict[int, int] = {}
        self._screens: dict[str, int] = {}
        self._screen_sizes: dict[str, tuple[int, ...]] = {}
        self._programs: dict[tuple[object, ...], Program] = {}
        self._lights = light_arrays(lights)
        self._irradiance = irradiance_harmonics(scene.sky)
        self._parts = [self._upload(part) for part in scene.parts if len(part.triangles)]
        self._sky_texture = upload_radiance(scene.sky.image) if scene.sky.image is not None else 0
        self._shadow = self._draw_shadow()
        self._bodies: BodyBuffer | None = None

    def _upload(self, part: MeshPart) -> _Part:
        blend = part.material.alpha_mode == "blend"
        chunks = Chunks.of(part.positions, part.triangles)
        count = len(part.positions)
        zeros = np.zeros((count, 2), dtype=np.float32)
        primitive = pyrender.Primitive(
            positions=part.positions,
            normals=part.normals,
            texcoord_0=part.uv0 if part.uv0 is not None else zeros,
            texcoord_1=part.uv1 if part.uv1 is not None else zeros,
            color_0=part.colors if part.colors is not None else np.ones((count, 4), dtype=np.float32),
            indices=part.triangles[chunks.order].astype(np.uint32),
            mode=GL.GL_TRIANGLES,
        )
        primitive._add_to_context()
        for _, _, attribute in _TEXTURES:
            texture: Texture | None = getattr(part.material, attribute)
            if texture is not None and id(texture) not in self._textures:
                self._textures[id(texture)] = upload_texture(texture)
        return _Part(
            source=part,
            primitive=primitive,
            material=part.material,
            chunks=chunks,
            centroids=part.positions[part.triangles].mean(axis=1) if blend else None,
        )

    def set_screens(self, frames: Mapping[str, np.ndarray]) -> None:
        """Give named screens their pictures, (h, w, 3) uint8 sRGB-coded."""
        for name, frame in frames.items():
            if self._screen_sizes.get(name) == frame.shape:
                update_image(self._screens[name], frame)
            else:
                delete_textures(self._screens.get(name, 0))
                self._screens[name] = upload_image(frame, srgb=True)
                self._screen_sizes[name] = frame.shape

    def screens_box(self, screens: set[str], eye: Eye, size: tuple[int, int]) -> Box | None:
        """Pixels of a target of ``size`` that the named screens may cover; None if they cannot be seen."""
        planes = eye.planes()
        parts = [p for p in self._parts if p.source.screen in screens and p.chunks.visible(planes)]
        if not parts:
            return None
        points = np.concatenate([part.source.positions for part in parts]).astype(np.float64)
        clip = np.column_stack([points, np.ones(len(points))]) @ eye.clip_from_stage.T
        if (clip[:, 3] <= 0).any():  # reaches behind the eye: its outline is not that of its corners
            return (0, 0, *size)
        pixels = (clip[:, :2] / clip[:, 3:] * 0.5 + 0.5) * size
        low = np.clip(np.floor(pixels.min(axis=0)) - 2, 0, size).astype(int)
        high = np.clip(np.ceil(pixels.max(axis=0)) + 2, 0, size).astype(int)
        if (high <= low).any():
            return None
        return (int(low[0]), int(low[1]), int(high[0]), int(high[1]))

    def _draw_shadow(self) -> Shadow | None:
        index = shadow_caster(self._scene.lights)
        # Glass and glowing pictures cast none.
        casting = [p for p in self._parts if p.material.alpha_mode != "blend" and not p.material.unlit]
        if index is None or not casting:
            return None
        light = self._scene.lights[index]
        matrix, across_m = shadow_box(self._scene, light)
        size = shadow_size(across_m)
        depth = empty_texture(size, size, GL.GL_DEPTH_COMPONENT32F, linear=False)
        target = Target.build(size, size)
        GL.glFramebufferTexture2D(GL.GL_FRAMEBUFFER, GL.GL_DEPTH_ATTACHMENT, GL.GL_TEXTURE_2D, depth, 0)
        target.check()
        target.bind()
        GL.glEnable(GL.GL_DEPTH_TEST)
        GL.glDepthMask(GL.GL_TRUE)
        GL.glDisable(GL.GL_CULL_FACE)
        GL.glClear(GL.GL_DEPTH_BUFFER_BIT)
        for part in casting:
            program = self._depth_program(part)
            program.use(clip_from_stage=matrix)
            self._set_cutout(program, part)
            self._draw(part, [(0, len(part.source.triangles))])
        target.release()
        moments = blur_shadow(depth, size, across_m, light.softness_deg)
        delete_textures(depth)
        return Shadow(index, matrix, moments)

    def _depth_program(self, part: _Part) -> Program:
        material = part.material
        defines: dict[str, int | str] = {}
        if material.alpha_mode == "mask":
            defines["MASK"] = 1
            if material.base_color_texture is not None:
                defines |= {"BASE_TEXTURE": 1, "BASE_SET": f"part_uv{material.base_color_texture.uv_set}"}
        return self._program("depth.vert", "depth.frag", defines)

    def _set_cutout(self, program: Program, part: _Part) -> None:
        material = part.material
        if material.alpha_mode != "mask":
            return
        program.set("alpha_cutoff", material.alpha_cutoff)
        program.set("base_alpha", material.base_color[3])
        if material.base_color_texture is not None:
            texture = material.base_color_texture
            program.set("base_uv", texture.uv_transform)
            program.bind("base_texture", 0, GL.GL_TEXTURE_2D, self._textures[id(texture)])

    def _program(self, vertex: str, fragment: str, defines: dict[str, int | str]) -> Program:
        key = (vertex, fragment, *sorted(defines.items()))
        if key not in self._programs:
            self._programs[key] = Program(vertex, fragment, defines)
        return self._programs[key]

    def _material_program(self, part: MeshPart, eye: Eye) -> Program:
        material = part.material
        screen = part.screen if part.screen in self._screens else ""
        defines = dict(self._light_counts)
        for name, _, attribute in _TEXTURES:
            texture: Texture | None = getattr(material, attribute)
            if texture is not None and not screen:
                defines[f"{name}_TEXTURE"] = 1
                defines[f"{name}_SET"] = f"part_uv{texture.uv_set}"
        if screen:
            defines |= {"EMISSIVE_TEXTURE": 1, "EMISSIVE_SET": "part_uv0"}
        if material.metallic == 0:
            defines["DIELECTRIC"] = 1
            if material.roughness >= 0.7:
                defines["MATT"] = 1
        if part.colors is not None:
            defines["COLORS"] = 1
        if material.unlit or screen:
            defines["UNLIT"] = 1
        elif self._shadow is not None:
            defines["SHADOW"] = self._shadow.light
        if material.alpha_mode != "opaque" and not screen:
            defines[material.alpha_mode.upper()] = 1
        program = self._program("scene.vert", "scene.frag", defines)
        base = (0.0, 0.0, 0.0, 1.0) if screen else material.base_color
        program.use(
            clip_from_stage=eye.clip_from_stage,
            eye=eye.position,
            base_color=base,
            metallic=material.metallic,
            roughness=material.roughness,
            emissive=material.emissive,
            alpha_cutoff=material.alpha_cutoff,
        )
        program.set_array("irradiance", self._irradiance)
        if self._scene.lights:
            for name, values in self._lights.items():
                program.set_array(name, values)
        for unit, (name, stem, attribute) in enumerate(_TEXTURES):
            if f"{name}_TEXTURE" in defines and not screen:
                texture = getattr(material, attribute)
                program.set(f"{stem}_uv", texture.uv_transform)
                program.bind(f"{stem}_texture", unit, GL.GL_TEXTURE_2D, self._textures[id(texture)])
        if screen:
            program.set("emissive_uv", np.eye(3))
            program.bind("emissive_texture", 4, GL.GL_TEXTURE_2D, self._screens[screen])
        if "NORMAL_TEXTURE" in defines:
            program.set("normal_scale", material.normal_scale)
        if "OCCLUSION_TEXTURE" in defines:
            program.set("occlusion_strength", material.occlusion_strength)
        if "SHADOW" in defines and self._shadow is not None:
            program.set("shadow_from_stage", self._shadow.shadow_from_stage)
            program.set("shadow_exponent", SHADOW_EXPONENT)
            program.bind("shadow_moments", _SHADOW_UNIT, GL.GL_TEXTURE_2D, self._shadow.texture)
        return program

    def _draw(self, part: _Part, stretches: list[tuple[int, int]]) -> None:
        part.primitive._bind()  # type: ignore[attr-defined]
        for first, count in stretches:
            GL.glDrawElements(GL.GL_TRIANGLES, 3 * count, GL.GL_UNSIGNED_INT, pointer(12 * first))

    def draw(self, eye: Eye, target: Target, box: Box | None = None) -> None:
        """Draw into the bound, cleared target: opaque near to far, backdrop, then glass far to near.

        Output 0 receives premultiplied radiance and coverage. Depth is tested against what is there.
        Parts of the scene outside ``box`` may be left out.
        """
        GL.glFrontFace(GL.GL_CW if eye.flipped else GL.GL_CCW)
        GL.glEnable(GL.GL_DEPTH_TEST)
        GL.glDepthFunc(GL.GL_LEQUAL)
        GL.glDepthMask(GL.GL_TRUE)
        GL.glDisable(GL.GL_BLEND)
        planes = eye.planes(box, (target.width, target.height))
        visible = [(part, stretches) for part in self._parts if (stretches := part.chunks.visible(planes))]
        visible.sort(key=lambda drawn: drawn[0].distance(eye.position))
        for part, stretches in visible:
            if part.material.alpha_mode != "blend" or part.source.screen:
                cutout = part.material.alpha_mode == "mask"
                if cutout:
                    GL.glEnable(GL.GL_SAMPLE_ALPHA_TO_COVERAGE)
                    GL.glEnable(GL.GL_SAMPLE_ALPHA_TO_ONE)
                self._material_program(part.source, eye)
                self._cull(part)
                self._draw(part, stretches)
                if cutout:
                    GL.glDisable(GL.GL_SAMPLE_ALPHA_TO_COVERAGE)
                    GL.glDisable(GL.GL_SAMPLE_ALPHA_TO_ONE)
        if self._backdrop:
            self._draw_backdrop(eye, target)
        GL.glDepthMask(GL.GL_FALSE)
        GL.glEnable(GL.GL_BLEND)
        GL.glBlendFunc(GL.GL_ONE, GL.GL_ONE_MINUS_SRC_ALPHA)
        for part, _ in reversed(visible):
            if part.material.alpha_mode == "blend" and not part.source.screen:
                self._sort_triangles(part, eye)
                self._material_program(part.source, eye)
                self._cull(part)
                self._draw(part, [(0, len(part.source.triangles))])
        GL.glDisable(GL.GL_BLEND)
        GL.glDepthMask(GL.GL_TRUE)

    def draw_bodies(self, eye: Eye, vertices: np.ndarray) -> None:
        """Draw triangles that are not part of the scene in its light, into what ``draw`` drew into.

        Parameters
        ----------
        vertices : (3 k, 10) float32: stage position, normal, linear colour and opacity (1)
        """
        if self._bodies is None:
            self._bodies = BodyBuffer()
        GL.glEnable(GL.GL_DEPTH_TEST)
        GL.glDepthFunc(GL.GL_LEQUAL)
        GL.glDepthMask(GL.GL_TRUE)
        GL.glDisable(GL.GL_BLEND)
        GL.glDisable(GL.GL_CULL_FACE)
        self._material_program(MATT_PART, eye)
        self._bodies.draw(vertices)

    def nearest_m(self, eye: Eye, ahead: Array) -> float:
        """Axial distance (metres from the eye along the unit vector ``ahead``) that no visible run of
        triangles is nearer than; inf where none is visible."""
        planes = eye.planes()
        nearest = np.inf
        for part in self._parts:
            for first, count in part.chunks.visible(planes):
                runs = slice(*np.searchsorted(part.chunks.starts, (first, first + count)))
                away = (part.chunks.centers[runs] - eye.position) @ ahead - part.chunks.radii[runs]
                nearest = min(nearest, float(away.min()))
        return nearest

    def _cull(self, part: _Part) -> None:
        if part.material.double_sided:
            GL.glDisable(GL.GL_CULL_FACE)
        else:
            GL.glEnable(GL.GL_CULL_FACE)
            GL.glCullFace(GL.GL_BACK)

    def _sort_triangles(self, part: _Part, eye: Eye) -> None:
        if part.centroids is None or len(part.centroids) < 2:
            return
        distance = np.linalg.norm(part.centroids - eye.position.astype(np.float32), axis=1)
        order = np.argsort(-distance, kind="stable")
        part.primitive._bind()  # type: ignore[attr-defined]
        indices = np.ascontiguousarray(part.source.triangles[order], dtype=np.uint32)
        GL.glBufferSubData(GL.GL_ELEMENT_ARRAY_BUFFER, 0, indices.nbytes, indices)

    def _draw_backdrop(self, eye: Eye, target: Target) -> None:
        sky = self._scene.sky
        program = self._program("screen.vert", "backdrop.frag", {"SKY_IMAGE": 1} if self._sky_texture else {})
        program.use(
            depth=1.0,
            stage_from_gl=eye.stage_from_gl,
            tangents=eye.tangents,
            target_size=(float(target.width), float(target.height)),
            sky_zenith=sky.zenith,
            sky_horizon=sky.horizon,
            sky_ground=sky.ground,
        )
        lod = 0.0
        if sky.image is not None:
            per_pixel = 2 * eye.tangents[0] / target.width
            lod = max(0.0, float(np.log2(per_pixel / (2 * np.pi / sky.image.shape[1]))))
            program.set("sky_pan", float(np.radians(sky.pan_deg)))
            program.bind("sky_image", _SKY_UNIT, GL.GL_TEXTURE_2D, self._sky_texture)
        program.set("sky_lod", lod)
        GL.glDepthMask(GL.GL_FALSE)
        GL.glDisable(GL.GL_CULL_FACE)
        GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)

    def release(self) -> None:
        """Free everything on the graphics side."""
        for part in self._parts:
            part.primitive.delete()  # type: ignore[attr-defined]
        delete_textures(*self._textures.values(), *self._screens.values(), self._sky_texture)
        if self._shadow is not None:
            self._shadow.release()
        if self._bodies is not None:
            self._bodies.release()
        for program in self._programs.values():
            program.release()
