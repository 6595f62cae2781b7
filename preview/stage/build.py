"""The physical stage as the show file describes it: LED surfaces, set, people, and their light."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from preview.colour import hex_to_linear
from preview.errors import Problem, ShowError
from preview.show.model import Person, StageLight
from preview.stage.mesh import Light, MeshPart, SceneMesh, Sky
from preview.stage.meshfile import load_mesh_file
from preview.stage.people import person_parts
from preview.stage.placement import default_up, placement_matrix
from preview.stage.surface import LedSurface, build_surface
from preview.stage.uvmesh import UvMesh, load_uv_mesh

if TYPE_CHECKING:
    from preview.show.load import Show

KEY_SOFTNESS_DEG = 8.0
"""Angular diameter of the key: a soft source a metre wide at about seven metres. Our choice."""

FILL_HEIGHT_DEG = 15.0
"""The fill stands about level with faces, on the other side of the key. Our choice."""

SEAT_SLACK_M = 0.12
"""A set piece this close to a seated person's seat height is the seat."""


@dataclass(frozen=True, eq=False)
class Stage:
    """The studio, ready to draw.

    Attributes
    ----------
    surfaces : LED surfaces in the show file's order
    set : set pieces, people and the light on them; its sky is light only, never a backdrop
    headroom : for each surface, its peak luminance over stage white
    white_cd_m2 : luminance that 1.0 stands for
    eye_point_m : where the shared outer image is drawn from
    notes : sentences for the user about what was assumed
    """

    surfaces: tuple[LedSurface, ...]
    set: SceneMesh
    headroom: tuple[float, ...]
    white_cd_m2: float
    eye_point_m: tuple[float, float, float]
    notes: tuple[str, ...] = ()


def build_stage(show: Show) -> Stage:
    """Place everything of the show's stage.

    Raises
    ------
    ShowError : surfaces that cannot be built; all their problems at once
    AssetError : the mesh of a surface or set piece cannot be used
    """
    settings = show.file.stage
    surfaces = _surfaces(show)
    white = settings.white_cd_m2 or min(surface.peak_luminance_cd_m2 for surface in surfaces)
    parts, notes = _set_pieces(show)
    notes += [note for surface in surfaces for note in surface.notes]
    for person in settings.people:
        parts += person_parts(person, stool=not seat_under(person, parts))
    return Stage(
        surfaces=surfaces,
        set=SceneMesh(tuple(parts), stage_lights(settings.light), stage_ambient(settings.light)),
        headroom=tuple(surface.peak_luminance_cd_m2 / white for surface in surfaces),
        white_cd_m2=white,
        eye_point_m=settings.eye_point_m,
        notes=tuple(notes),
    )


def stage_lights(light: StageLight) -> tuple[Light, ...]:
    """Key, with a soft shadow, and a white fill from the other side without one.

    Levels are what a white matt card facing the light reads: intensity pi for 1.0 (``Light``).
    """
    key = Light(
        kind="directional",
        color=hex_to_linear(light.key_color),
        intensity=math.pi * light.key_level,
        direction=_travels_from(light.key_pan_deg, light.key_height_deg),
        casts_shadow=True,
        softness_deg=KEY_SOFTNESS_DEG,
        name="key",
    )
    fill = Light(
        kind="directional",
        color=(1.0, 1.0, 1.0),
        intensity=math.pi * light.fill_level,
        direction=_travels_from(-light.key_pan_deg, FILL_HEIGHT_DEG),
        name="fill",
    )
    return tuple(lamp for lamp in (key, fill) if lamp.intensity > 0.0)


def stage_ambient(light: StageLight) -> Sky:
    """Even light from all around: a white matt card reads ``ambient_level`` whichever way it faces."""
    level = (light.ambient_level,) * 3
    return Sky(zenith=level, horizon=level, ground=level)


def seat_under(person: Person, parts: list[MeshPart]) -> bool:
    """Whether a set piece already holds up a seated person (a standing one needs no seat)."""
    if person.posture != "seated":
        return True
    x, y, floor_z = person.position_m
    seat_z = floor_z + person.seat_height_m
    for part in parts:
        corners = part.positions[part.triangles].astype(np.float64)
        edges = corners[:, 1:, :2] - corners[:, :1, :2]
        area = edges[:, 0, 0] * edges[:, 1, 1] - edges[:, 0, 1] * edges[:, 1, 0]
        upright = np.abs(area) < 1e-12
        offset = np.array([x, y]) - corners[:, 0, :2]
        safe = np.where(upright, 1.0, area)
        second = (edges[:, 0, 0] * offset[:, 1] - edges[:, 0, 1] * offset[:, 0]) / safe
        first = (offset[:, 0] * edges[:, 1, 1] - offset[:, 1] * edges[:, 1, 0]) / safe
        over = ~upright & (first >= 0.0) & (second >= 0.0) & (first + second <= 1.0)
        rise = corners[:, 1:, 2] - corners[:, :1, 2]
        height = corners[:, 0, 2] + first * rise[:, 0] + second * rise[:, 1]
        if np.any(over & (np.abs(height - seat_z) <= SEAT_SLACK_M)):
            return True
    return False


def _surfaces(show: Show) -> tuple[LedSurface, ...]:
    def load(name: str) -> UvMesh:
        return load_uv_mesh(show.asset(name))

    built: list[LedSurface] = []
    problems: list[Problem] = []
    for index, surface in enumerate(show.file.stage.surfaces):
        try:
            built.append(build_surface(surface, load, show.path, f"stage.surfaces[{index}]"))
        except ShowError as error:
            for problem in error.problems:
                problems += show.error(problem.key, problem.found, problem.fix).problems
    if problems:
        raise ShowError(problems)
    return tuple(built)


def _set_pieces(show: Show) -> tuple[list[MeshPart], list[str]]:
    """Parts of all set pieces, named after them, and what their loader noted."""
    parts: list[MeshPart] = []
    notes: list[str] = []
    for piece in show.file.stage.set:
        up = piece.up or default_up(piece.mesh)
        matrix = placement_matrix(piece.position_m, piece.pan_deg, piece.scale, piece.units, up)
        loaded = load_mesh_file(show.asset(piece.mesh), matrix)
        parts += [replace(part, name=piece.name) for part in loaded.parts]
        notes += loaded.notes
        if loaded.lights:
            count = "1 light" if len(loaded.lights) == 1 else f"{len(loaded.lights)} lights"
            notes.append(f"{piece.mesh}: {count} in it left out; the set is lit by stage.light")
    return parts, notes


def _travels_from(pan_deg: float, height_deg: float) -> tuple[float, float, float]:
    """Direction of light that comes from ``pan_deg`` (0: the cameras' side, -Y; positive: from +X)."""
    pan, height = math.radians(pan_deg), math.radians(height_deg)
    level = math.cos(height)
    return (-math.sin(pan) * level, math.cos(pan) * level, -math.sin(height))
