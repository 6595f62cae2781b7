"""LED surfaces: whether each can be built as written, and whether cameras stand clear of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from pydantic import ValidationError

from preview.errors import ShowError
from preview.show import model
from preview.show.catalogue import Catalogue
from preview.show.document import dotted, key_path
from preview.show.entry import Entry, Findings
from preview.show.positions import KeyPath
from preview.show.values import validated
from preview.show.wording import shown

if TYPE_CHECKING:  # the stage imports the show's model; see _build
    from preview.stage.surface import LedSurface

STAGE_REACH_M = 1000.0
"""Nothing on a stage is farther from its origin; a larger number is in another unit. A camera's height
in millimetres is past it already. Common practice, no source."""

FINEST_PITCH_MM = 0.1
"""No LED tile is finer; a smaller number is in another unit. Common practice, no source."""

CLEAR_OF_WALL_M = 0.05
"""A sensor nearer to an LED surface than this is taken to be inside it: no camera body is thinner.
Common practice, no source."""


@dataclass(frozen=True)
class Standpoint:
    """Where one framing puts a sensor, and the key that says so."""

    path: KeyPath
    camera: str
    framing: str
    position_m: model.Point


def with_tile(surface: model.Surface, catalogue: Catalogue) -> model.Surface:
    """The surface with its tile's values filled in where it writes none itself."""
    values: dict[str, object] = {}
    tile = catalogue.tiles.get(surface.tile) if surface.tile is not None else None
    defaults = model.Tile.model_fields
    for key in defaults:
        if getattr(surface, key) is not None:
            continue
        if tile is not None:
            values[key] = getattr(tile, key)
        elif not defaults[key].is_required():
            values[key] = defaults[key].default
    return surface.model_copy(update=values)


def check_surfaces(findings: Findings, catalogue: Catalogue) -> list[LedSurface]:
    """Note what keeps a surface from being built.

    Returns
    -------
    The tiled surfaces without any problem, built and placed. Mesh surfaces are left out: their files
    are read when the stage is built.
    """
    built = []
    for entry in findings.top.table("stage").tables("surfaces"):
        surface = _readable_part(findings, entry, catalogue)
        if surface is None or surface.mesh is not None or not _has_tiles(entry):
            continue
        placed = _build(findings, entry, surface)
        if placed is not None and findings.clean(entry.path):
            built.append(placed)
    return built


def check_standpoints(
    findings: Findings, standpoints: Sequence[Standpoint], surfaces: Sequence[LedSurface]
) -> None:
    """Note cameras that stand below the floor, inside an LED surface or behind one.

    Behind means that the straight line from the stage's eye point to the sensor meets the lit side
    of the surface on its way.
    """
    near = []
    for standpoint in standpoints:
        if max(map(abs, standpoint.position_m)) > STAGE_REACH_M:
            found = f"{_who(standpoint)} stands more than {STAGE_REACH_M / 1000:g} km from the stage"
            findings.add(standpoint.path, found, "write metres")
            continue
        near.append(standpoint)
        if standpoint.position_m[2] < 0:
            findings.add(
                standpoint.path,
                f"{_who(standpoint)} stands {-standpoint.position_m[2]:.2f} m below the studio floor",
                "write a height (third number) above 0",
            )
    eye = _eye_point(findings)
    if not near or eye is None:
        return
    positions = np.array([standpoint.position_m for standpoint in near])
    sightlines = positions - eye
    lengths = np.linalg.norm(sightlines, axis=1)
    away = lengths > 1e-9
    for surface in surfaces:
        _, touching = surface.stage_to_canvas(positions, tolerance_m=CLEAR_OF_WALL_M)
        hits = surface.intersect(np.broadcast_to(eye, positions.shape)[away], sightlines[away])
        met = np.zeros(len(positions), dtype=bool)
        met[away] = hits.distance_m < lengths[away]
        lit_side = np.zeros(len(positions), dtype=bool)
        lit_side[away] = hits.front
        for index, standpoint in enumerate(near):
            if touching[index]:
                found = f"{_who(standpoint)} stands inside {surface.kind} {surface.name!r}"
                fix = f"move it at least {CLEAR_OF_WALL_M * 100:.0f} cm away from the LED surface"
                findings.add(standpoint.path, found, fix)
            elif met[index] and lit_side[index]:
                side = {"floor": "under", "ceiling": "above"}.get(surface.kind, "behind")
                found = f"{_who(standpoint)} stands {side} {surface.kind} {surface.name!r}"
                findings.add(standpoint.path, found, "move it to the lit side of the LED surface")
            elif met[index]:
                found = f"the eye point is on the dark side of {surface.kind} {surface.name!r}"
                fix = "move stage.eye_point_m to where the cameras are, or turn the surface round"
                findings.add(("stage", "eye_point_m"), found, fix)


def check_layouts(findings: Findings) -> None:
    """Note keys of a surface that do not go together.

    It reads what is written even where other keys are wrong, and goes before the check of single
    values: "no area" says more than "below 1".
    """
    for entry in findings.top.table("stage").tables("surfaces"):
        if max(map(abs, entry.point("position_m") or (0.0,))) > STAGE_REACH_M:
            position = shown(entry.data["position_m"])
            found = f"{position} is more than {STAGE_REACH_M / 1000:g} km from the stage"
            findings.add(entry.at("position_m"), found, "write metres")
        if entry.has("mesh"):
            _check_mesh_layout(findings, entry)
        else:
            _check_tile_layout(findings, entry)


def _check_mesh_layout(findings: Findings, entry: Entry) -> None:
    if not entry.has("canvas_px"):
        fix = "add canvas_px: the canvas width and height in LED pixels"
        findings.add(entry.at("canvas_px"), "required with mesh, but missing", fix)
    for key in ("columns", "rows", "joint_angle_deg", "radius_m"):
        if entry.has(key):
            fix = f"delete {key}, or delete mesh to build the surface from tiles"
            findings.add(entry.at(key), "mesh is written too, which says the shape", fix)


def _check_tile_layout(findings: Findings, entry: Entry) -> None:
    columns, angles = entry.whole("columns"), entry.numbers("joint_angle_deg")
    if not _has_tiles(entry):
        name = entry.text("name") or "this surface"
        fix = "add tile, columns and rows, or mesh and canvas_px"
        findings.add(entry.path, f"{name!r} has no area: neither tiles nor a mesh", fix)
        return
    if entry.has("canvas_px"):
        fix = "delete it: columns, rows and the tile give the canvas size"
        findings.add(entry.at("canvas_px"), "only for a mesh surface", fix)
    for key in ("columns", "rows"):
        if entry.whole(key) == 0:
            findings.add(entry.at(key), f"a surface of 0 {key} has no area", f"write 1 or more {key}")
        elif not entry.has(key):
            findings.add(entry.at(key), "required with tiles, but missing", f"add {key}: how many tiles")
    if not entry.has("tile"):
        for key in ("tile_size_mm", "pixel_pitch_mm"):
            if not entry.has(key):
                fix = f"add tile (a name in the equipment catalogue), or {key}"
                findings.add(entry.at(key), "neither this key nor a tile is written", fix)
    pitch_mm = entry.number("pixel_pitch_mm")
    if pitch_mm is not None and 0 < pitch_mm < FINEST_PITCH_MM:
        found = f"{pitch_mm:g} mm is finer than any LED tile"
        findings.add(entry.at("pixel_pitch_mm"), found, "write millimetres, such as 2.6")
    if entry.has("joint_angle_deg") and entry.has("radius_m"):
        found = "joint_angle_deg and radius_m are both written"
        findings.add(entry.at("radius_m"), found, "keep one of the two")
    if angles is not None and columns is not None and 0 < columns != len(angles) + 1:
        found = f"{len(angles)} angles for {columns} columns, which have {columns - 1} joints"
        findings.add(entry.at("joint_angle_deg"), found, f"write {columns - 1} angles, or one number for all")


def _has_tiles(entry: Entry) -> bool:
    return any(entry.has(key) for key in ("columns", "rows", "tile", "tile_size_mm", "pixel_pitch_mm"))


def _readable_part(findings: Findings, entry: Entry, catalogue: Catalogue) -> model.Surface | None:
    """The surface as far as its keys can be read, with its tile's values."""
    readable = {key: value for key, value in entry.data.items() if findings.clean(entry.at(key))}
    readable.setdefault("name", "surface")
    try:
        return with_tile(validated(readable, model.Surface), catalogue)
    except ValidationError:
        return None


def _build(findings: Findings, entry: Entry, surface: model.Surface) -> LedSurface | None:
    # Imported here because the stage's modules import the show's model: this is the one place
    # where the show asks the stage, so that a wall's faults turn up with all the others.
    from preview.stage.surface import build_surface

    _check_radius(findings, entry, surface)
    try:
        built = build_surface(surface, show_path=findings.document.path, key=dotted(entry.path))
    except ShowError as error:
        for problem in error.problems:
            path = key_path(problem.key)
            if not findings.clean(path):
                continue  # written, but unusable, and that has its own problem
            of_tile = path[-1] in ("tile_size_mm", "pixel_pitch_mm") and not entry.has(str(path[-1]))
            if of_tile and entry.has("tile") and getattr(surface, str(path[-1])) is None:
                continue  # the tile is unknown or unreadable, and that has its own problem
            findings.add(path, problem.found, problem.fix, at=entry.at("tile") if of_tile else None)
        return None
    except (ArithmeticError, ValueError):  # sizes so large or small that numbers run out
        fix = "check tile_size_mm, pixel_pitch_mm, columns and rows"
        findings.add(entry.path, "no surface can be built from these sizes", fix)
        return None
    findings.notes.extend(f"{dotted(entry.path)}: {note}" for note in built.notes)
    return built


def _check_radius(findings: Findings, entry: Entry, surface: model.Surface) -> None:
    if surface.radius_m is None or surface.tile_size_mm is None:
        return
    smallest_m = surface.tile_size_mm[0] / 2000
    if surface.radius_m < smallest_m:
        found = (
            f"tiles {surface.tile_size_mm[0]:g} mm wide cannot stand on a circle of {surface.radius_m:g} m: "
            "they would meet at less than a right angle"
        )
        findings.add(entry.at("radius_m"), found, f"write at least {smallest_m:g} (metres)")


def _eye_point(findings: Findings) -> np.ndarray | None:
    stage = findings.top.table("stage")
    if not stage.has("eye_point_m"):
        return np.array(model.Stage.model_fields["eye_point_m"].default, dtype=np.float64)
    point = stage.point("eye_point_m")
    return None if point is None or max(map(abs, point)) > STAGE_REACH_M else np.array(point)


def _who(standpoint: Standpoint) -> str:
    return f"{standpoint.camera} in framing {standpoint.framing!r}"
