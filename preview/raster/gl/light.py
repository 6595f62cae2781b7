"""What a scene's lights and sky become for the shaders: arrays, spherical harmonics, a shadow map."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from preview.conventions import Array
from preview.raster.gl.context import GL
from preview.raster.gl.program import Program
from preview.raster.gl.target import Target
from preview.raster.gl.texture import delete_textures, empty_texture
from preview.stage.mesh import Light, SceneMesh, Sky
from preview.stage.sky import sky_radiance

SHADOW_EXPONENT = 42.0
"""As steep as float32 allows: the second moment of the nearest depth is e^-84, just above its smallest."""
SHADOW_SIZE = 2048
"""Largest side of a shadow map."""
SHADOW_TEXEL_M = 0.012
"""Fineness it aims for; a small set takes a smaller map."""
SHADOW_REACH_M = 16.0
"""Half side of the square the sun's shadow map covers, around the middle of what is near the stage."""
PENUMBRA_DISTANCE_M = 5.0
"""Distance between caster and receiver for which the penumbra's width is right."""


def irradiance_harmonics(sky: Sky) -> Array:
    """(9, 3) coefficients: sky light on a matt white surface, as radiance it sends back.

    Source: Ramamoorthi and Hanrahan, "An Efficient Representation for Irradiance Environment Maps",
    SIGGRAPH 2001: bands weighted by pi, 2 pi / 3, pi / 4; here divided by pi.
    """
    rows, columns = 128, 256
    down = (np.arange(rows) + 0.5) / rows * np.pi
    pan = (np.arange(columns) + 0.5) / columns * 2 * np.pi
    theta, phi = np.meshgrid(down, pan, indexing="ij")
    d = np.stack([np.sin(theta) * np.cos(phi), np.sin(theta) * np.sin(phi), np.cos(theta)], axis=-1)
    d = d.reshape(-1, 3)
    solid = (np.sin(theta) * (np.pi / rows) * (2 * np.pi / columns)).reshape(-1, 1)
    light = sky_radiance(sky, d) * solid
    x, y, z = d.T
    basis = np.stack(
        [
            np.full_like(x, 0.282095),
            0.488603 * y,
            0.488603 * z,
            0.488603 * x,
            1.092548 * x * y,
            1.092548 * y * z,
            0.315392 * (3 * z * z - 1),
            1.092548 * x * z,
            0.546274 * (x * x - y * y),
        ]
    )
    band = np.array([1, 2 / 3, 2 / 3, 2 / 3, 0.25, 0.25, 0.25, 0.25, 0.25])
    scale = np.array(
        [0.282095, 0.488603, 0.488603, 0.488603, 1.092548, 1.092548, 0.315392, 1.092548, 0.546274]
    )
    return (band * scale)[:, None] * (basis @ light) * sky.ambient


def sorted_lights(lights: tuple[Light, ...]) -> tuple[tuple[Light, ...], dict[str, int | str]]:
    """Lights in the order scene.frag wants, and the defines that say how many of each kind there are."""
    kinds = {"SUNS": "directional", "POINTS": "point", "SPOTS": "spot"}
    groups = {name: [light for light in lights if light.kind == kind] for name, kind in kinds.items()}
    ordered = tuple(light for group in groups.values() for light in group)
    return ordered, {name: len(group) for name, group in groups.items()}


def light_arrays(lights: tuple[Light, ...]) -> dict[str, Array]:
    """Uniform arrays of scene.frag, one row a light, in the order given (see ``sorted_lights``)."""
    position, color, direction, cone = [], [], [], []
    for light in lights:
        position.append(light.position)
        reach = 0.0 if light.range_m is None else 1.0 / light.range_m**2
        color.append([*(np.array(light.color) * light.intensity), reach])
        way = np.array(light.direction, dtype=np.float64)
        way /= max(float(np.linalg.norm(way)), 1e-12)
        direction.append(way)
        cone.append(np.cos(np.radians([light.inner_cone_deg, light.outer_cone_deg])))
    return {
        "light_position": np.array(position),
        "light_color": np.array(color),
        "light_direction": np.array(direction),
        "light_cone": np.array(cone),
    }


@dataclass
class Shadow:
    """The shadow of one directional light: blurred exponential moments, drawn once."""

    light: int
    shadow_from_stage: Array
    texture: int

    def release(self) -> None:
        """Free the map."""
        delete_textures(self.texture)


def shadow_caster(lights: tuple[Light, ...]) -> int | None:
    """Which light casts the shadow: the strongest directional one that asks for it."""
    wanting = [i for i, light in enumerate(lights) if light.kind == "directional" and light.casts_shadow]
    if not wanting:
        return None
    return max(wanting, key=lambda i: float(lights[i].intensity * sum(lights[i].color)))


def shadow_box(scene: SceneMesh, light: Light) -> tuple[Array, float]:
    """Orthographic (4, 4) clip_from_stage along the light, and metres across its square.

    Covers what lies within ``SHADOW_REACH_M`` of the stage origin; things outside cast no shadow.
    """
    points = np.concatenate([part.positions for part in scene.parts]).astype(np.float64)
    near = points[np.abs(points[:, :2]).max(axis=1) < 2 * SHADOW_REACH_M]
    points = near if len(near) else points
    forward = np.array(light.direction, dtype=np.float64)
    forward /= np.linalg.norm(forward)
    helper = np.array([0.0, 0.0, 1.0]) if abs(forward[2]) < 0.95 else np.array([0.0, 1.0, 0.0])
    right = np.cross(forward, helper)
    right /= np.linalg.norm(right)
    up = np.cross(right, forward)
    local = points @ np.stack([right, up, forward]).T
    low, high = local.min(axis=0), local.max(axis=0)
    middle = (low + high) / 2
    half = np.minimum((high - low) / 2 + 0.05, [1.5 * SHADOW_REACH_M, 1.5 * SHADOW_REACH_M, np.inf])
    half[2] = (high[2] - low[2]) / 2 + 0.1
    matrix = np.eye(4)
    for row, axis in enumerate((right, up, forward)):
        matrix[row, :3] = axis / half[row]
        matrix[row, 3] = -middle[row] / half[row]
    return matrix, float(2 * max(half[0], half[1]))


def shadow_size(across_m: float) -> int:
    """Side of a shadow map that covers ``across_m`` metres, a power of two."""
    return min(SHADOW_SIZE, 2 ** int(np.ceil(np.log2(max(across_m / SHADOW_TEXEL_M, 64)))))


def blur_shadow(depth_texture: int, size: int, across_m: float, softness_deg: float) -> int:
    """Moments texture from a depth texture, blurred to the light's penumbra."""
    width_m = 2 * PENUMBRA_DISTANCE_M * np.tan(np.radians(softness_deg) / 2)
    radius = int(np.clip(round(width_m / across_m * size), 1, 24))
    textures = [empty_texture(size, size, GL.GL_RG32F) for _ in range(2)]
    sources = (depth_texture, textures[0])
    for source, axis, destination in zip(sources, ((1, 0), (0, 1)), textures, strict=True):
        defines = {"FROM_DEPTH": 1} if source == depth_texture else {}
        target = Target.build(size, size, colors=(("texture", destination),))
        program = Program("screen.vert", "moments.frag", defines)
        program.use(axis=axis, radius=radius, exponent=SHADOW_EXPONENT, depth=0.0)
        program.bind("source", 0, GL.GL_TEXTURE_2D, source)
        target.bind()
        GL.glDisable(GL.GL_DEPTH_TEST)
        GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)
        program.release()
        target.release()
    delete_textures(textures[0])
    return textures[1]
