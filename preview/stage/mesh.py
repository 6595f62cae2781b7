"""Plain mesh values, as loaded and placed on the stage; nothing here touches OpenGL."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Texture:
    """A picture on a mesh.

    Attributes
    ----------
    image : (h, w, 4) uint8, row 0 at the top (glTF texture coordinate v = 0)
    srgb : True for colour (decoded from sRGB when sampled), False for data (normals, roughness)
    wrap_s, wrap_t : what happens outside 0..1
    nearest : True when the author asked for unfiltered magnification
    uv_transform : 3x3, applied to (u, v, 1) before sampling (KHR_texture_transform)
    uv_set : 0 or 1, which texture coordinates of the part it reads
    """

    image: npt.NDArray[np.uint8]
    srgb: bool
    wrap_s: Literal["repeat", "clamp", "mirror"] = "repeat"
    wrap_t: Literal["repeat", "clamp", "mirror"] = "repeat"
    nearest: bool = False
    uv_transform: npt.NDArray[np.float64] = field(default_factory=lambda: np.eye(3))
    uv_set: int = 0


@dataclass(frozen=True, eq=False)
class Material:
    """glTF 2.0 metallic-roughness material; colours are linear BT.709 factors.

    ``emissive`` may exceed 1 (KHR_materials_emissive_strength is already multiplied in).
    ``unlit`` shows ``base_color`` (times texture and vertex colour) as radiance, ignoring lights.
    """

    name: str = ""
    base_color: tuple[float, float, float, float] = (1.0, 1.0, 1.0, 1.0)
    base_color_texture: Texture | None = None
    metallic: float = 0.0
    roughness: float = 0.9
    metallic_roughness_texture: Texture | None = None
    normal_texture: Texture | None = None
    normal_scale: float = 1.0
    occlusion_texture: Texture | None = None
    occlusion_strength: float = 1.0
    emissive: tuple[float, float, float] = (0.0, 0.0, 0.0)
    emissive_texture: Texture | None = None
    alpha_mode: Literal["opaque", "mask", "blend"] = "opaque"
    alpha_cutoff: float = 0.5
    double_sided: bool = False
    unlit: bool = False


@dataclass(frozen=True, eq=False)
class MeshPart:
    """Triangles sharing one material, in stage coordinates (metres, Z up).

    Attributes
    ----------
    name : node name in the source file (several parts may share one)
    positions : (n, 3) float32
    normals : (n, 3) float32, unit length
    uv0, uv1 : (n, 2) float32 texture coordinates, v down from the top, or None
    colors : (n, 4) float32 linear vertex colours, or None
    triangles : (m, 3) int32, counter-clockwise seen from the front
    material : Material
    screen : name of the named screen this part carries, or ""
    """

    name: str
    positions: FloatArray
    normals: FloatArray
    uv0: FloatArray | None
    uv1: FloatArray | None
    colors: FloatArray | None
    triangles: npt.NDArray[np.int32]
    material: Material
    screen: str = ""


@dataclass(frozen=True)
class Light:
    """A light in stage coordinates.

    ``direction`` points the way the light travels. ``intensity`` is in scene radiance units: a
    directional light of intensity pi makes a white matt card facing it read 1.0; a point or spot
    light of intensity I gives I / d^2 at distance d metres in place of that (glTF candela and lux,
    scaled once at load). ``softness_deg`` is the angular diameter of a directional source and sets
    its shadow's penumbra; 0 casts a hard shadow.
    """

    kind: Literal["directional", "point", "spot"]
    color: tuple[float, float, float]
    intensity: float
    position: tuple[float, float, float] = (0.0, 0.0, 0.0)
    direction: tuple[float, float, float] = (0.0, 0.0, -1.0)
    range_m: float | None = None
    inner_cone_deg: float = 0.0
    outer_cone_deg: float = 45.0
    casts_shadow: bool = False
    softness_deg: float = 0.0
    name: str = ""


@dataclass(frozen=True, eq=False)
class Sky:
    """What is behind everything, and the light it gives.

    A vertical gradient (``zenith``, ``horizon``, ``ground``, linear radiance) or an equirectangular
    ``image`` ((h, w, 3) float32 linear, column 0 looks along ``pan_deg`` + 180, centre column along
    ``pan_deg``, top row straight up). ``ambient`` multiplies the light it sheds on surfaces.
    """

    zenith: tuple[float, float, float] = (0.0, 0.0, 0.0)
    horizon: tuple[float, float, float] = (0.0, 0.0, 0.0)
    ground: tuple[float, float, float] = (0.0, 0.0, 0.0)
    image: FloatArray | None = None
    pan_deg: float = 0.0
    ambient: float = 1.0


@dataclass(frozen=True, eq=False)
class SceneMesh:
    """Everything drawn together: parts, lights, sky. ``notes`` are one-sentence facts for the user
    about what the loader restored, approximated or could not use."""

    parts: tuple[MeshPart, ...]
    lights: tuple[Light, ...] = ()
    sky: Sky = Sky()
    notes: tuple[str, ...] = ()
