"""Ambient occlusion baked into vertex colours by casting rays (Embree, through trimesh)."""

from __future__ import annotations

import numpy as np
import trimesh
from trimesh.ray.ray_pyembree import RayMeshIntersector

from .shapes import Array, Shape, join

RAYS = 40
REACH_M = 3.0
LIFT_M = 0.012
CHUNK = 40_000


def _hemisphere(count: int) -> Array:
    """(count, 3) cosine-weighted directions about +Z, evenly spread (Fibonacci lattice)."""
    k = np.arange(count) + 0.5
    radius = np.sqrt(k / count)
    turn = k * np.pi * (3 - np.sqrt(5))
    return np.stack([radius * np.cos(turn), radius * np.sin(turn), np.sqrt(1 - k / count)], axis=1)


class Occluders:
    """Everything that darkens its surroundings."""

    def __init__(self, shapes: list[Shape]) -> None:
        whole = join(shapes)
        self._mesh = trimesh.Trimesh(whole.positions, whole.triangles, process=False)
        self._caster = RayMeshIntersector(self._mesh)

    def openness(self, shape: Shape, seed: int = 5) -> Array:
        """(n,) share of the hemisphere about each vertex normal that is open within ``REACH_M``.

        A near blocker counts fully, one at the reach not at all.
        """
        rng = np.random.default_rng(seed)
        lattice = _hemisphere(RAYS)
        result = np.empty(len(shape.positions))
        for start in range(0, len(result), CHUNK):
            normal = shape.normals[start : start + CHUNK]
            count = len(normal)
            helper = np.where(np.abs(normal[:, 2:]) > 0.9, [[1.0, 0, 0]], [[0, 0, 1.0]])
            first = np.cross(helper, normal)
            first /= np.linalg.norm(first, axis=1, keepdims=True)
            second = np.cross(normal, first)
            spin = rng.uniform(0, 2 * np.pi, count)
            c, s = np.cos(spin)[:, None], np.sin(spin)[:, None]
            first, second = first * c + second * s, second * c - first * s
            rays = (
                lattice[None, :, :1] * first[:, None]
                + lattice[None, :, 1:2] * second[:, None]
                + lattice[None, :, 2:] * normal[:, None]
            ).reshape(-1, 3)
            origins = np.repeat(shape.positions[start : start + CHUNK] + normal * LIFT_M, RAYS, axis=0)
            hit = self._caster.intersects_first(origins, rays)
            blocked = np.zeros(len(rays))
            struck = np.flatnonzero(hit >= 0)
            corner = self._mesh.triangles[hit[struck], 0]
            face = self._mesh.face_normals[hit[struck]]
            along = (rays[struck] * face).sum(1)
            distance = ((corner - origins[struck]) * face).sum(1) / np.where(
                np.abs(along) < 1e-6, 1e-6, along
            )
            blocked[struck] = np.clip(1 - np.abs(distance) / REACH_M, 0, 1) ** 0.8
            result[start : start + CHUNK] = 1 - blocked.reshape(count, RAYS).mean(1)
        return result


def shaded(
    shape: Shape, openness: Array, darkest: float = 0.22, tint: tuple[float, float, float] = (1, 1, 1)
) -> Shape:
    """Vertex colours multiplied by the openness; ``tint`` colours what little light deep corners keep."""
    level = darkest + (1 - darkest) * np.clip(openness, 0, 1) ** 1.15
    warmth = 1 + (np.asarray(tint) - 1) * (1 - level[:, None])
    return Shape(
        shape.positions, shape.normals, shape.uv, shape.colors * level[:, None] * warmth, shape.triangles
    )
