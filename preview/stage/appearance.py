"""What equipment looks like in pictures: matt and dark, an operator as a stand-in person.

Size and place are those of ``preview.stage.equipment``; the rest says no more than "a camera stands here".
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import trimesh

from preview.camera.extent import may_see
from preview.camera.view import CameraView
from preview.colour import hex_to_linear
from preview.show.model import Camera, Person
from preview.stage.equipment import Solid, equipment
from preview.stage.people import person_parts
from preview.stage.placement import turn_about_z
from preview.timeline.mount import arm_angles_of

COLOR = {
    "camera": (0.030, 0.031, 0.034),
    "arm": (0.075, 0.077, 0.080),
    "stand": (0.045, 0.046, 0.048),
    "operator": (0.5, 0.5, 0.5),
}
"""Linear colours: black crackle, dark grey paint. Our choice."""

CREASE_DEG = 40.0
"""Facets that meet at less than this look round."""


@dataclass(frozen=True)
class Body:
    """One solid, ready to be drawn; equal for equal solids.

    Attributes
    ----------
    solid : what and where it is
    facing_deg : pan of an operator's camera: where the operator looks
    """

    solid: Solid
    facing_deg: float = 0.0

    def vertices(self) -> np.ndarray:
        """(3 k, 10) float32, corners of triangles: stage position, normal, linear colour and opacity 1."""
        return _vertices(self)


def equipment_at(camera: Camera, view: CameraView) -> tuple[Solid, ...]:
    """A camera's solids where its view has it; a jib's arm follows from where the sensor is.

    Raises
    ------
    ValueError : a jib whose arm does not reach there.
    """
    jib = camera.mount.kind == "jib"
    return equipment(camera, view, arm_angles_of(camera.mount, view.pose.position_m) if jib else None)


def bodies_in(view: CameraView, solids: Iterable[tuple[Solid, float]]) -> tuple[Body, ...]:
    """Those solids that a view's picture may show.

    Parameters
    ----------
    solids : each with the pan (degrees) of its camera
    """
    return tuple(Body(solid, _facing(solid, pan)) for solid, pan in solids if may_see(view, solid.mesh()[0]))


def _facing(solid: Solid, pan_deg: float) -> float:
    return pan_deg if solid.kind == "operator" else 0.0


@lru_cache(maxsize=64)
def _vertices(body: Body) -> np.ndarray:
    local = _operator(body.solid) if body.solid.kind == "operator" else _plain(body.solid)
    turn = turn_about_z(body.facing_deg) if body.solid.kind == "operator" else body.solid.rotation
    placed = local.copy()
    placed[:, :3] = local[:, :3] @ turn.T + body.solid.middle_m
    placed[:, 3:6] = local[:, 3:6] @ turn.T
    return placed.astype(np.float32)


def _plain(solid: Solid) -> np.ndarray:
    return _shape(solid.shape, solid.size_m, solid.kind)


@lru_cache(maxsize=256)
def _shape(shape: str, size_m: tuple[float, float, float], kind: str) -> np.ndarray:
    """(3 k, 10) of a solid in its own axes."""
    positions, triangles = Solid("", kind, "", shape, size_m, (0.0, 0.0, 0.0)).mesh()  # type: ignore[arg-type]
    smooth = trimesh.graph.smooth_shade(
        trimesh.Trimesh(positions, triangles, process=False), angle=np.radians(CREASE_DEG)
    )
    corners = smooth.faces.reshape(-1)
    return _rows(smooth.vertices[corners], smooth.vertex_normals[corners], COLOR[kind])


def _operator(solid: Solid) -> np.ndarray:
    return _stand_in(round(solid.size_m[2] + solid.size_m[0], 3), solid.name)


@lru_cache(maxsize=16)
def _stand_in(height_m: float, name: str) -> np.ndarray:
    """(3 k, 10) of a standing person of that height, round the middle of its height; darkly dressed."""
    # A stand-in has a least height; who crouches is drawn smaller as a whole.
    drawn_m = max(height_m, 1.5)
    person = Person(
        name=name, height_m=min(drawn_m, 2.3), pan_deg=0.0, top_color="#22252a", trousers_color="#1c1e22"
    )
    rows = []
    for part in person_parts(person):
        corners = part.triangles.reshape(-1)
        assert part.colors is not None
        color = part.colors[corners, :3]
        if part.material.base_color_texture is not None:  # the face's picture is left out
            color = color * hex_to_linear(person.skin_color)
        rows.append(_rows(part.positions[corners], part.normals[corners], color))
    vertices = np.concatenate(rows)
    vertices[:, :3] *= height_m / drawn_m
    vertices[:, 2] -= height_m / 2
    return vertices


def _rows(positions: np.ndarray, normals: np.ndarray, color: np.ndarray | tuple[float, ...]) -> np.ndarray:
    rows = np.ones((len(positions), 10))
    rows[:, :3], rows[:, 3:6], rows[:, 6:9] = positions, normals, color
    return rows
