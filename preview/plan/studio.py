"""A show's studio seen from above, as plain outlines in stage metres."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import ceil

import cv2
import numpy as np
from scipy.spatial import ConvexHull, QhullError

from preview.camera.view import CameraView
from preview.conventions import Array
from preview.plan.wedge import on_walls, wedge
from preview.review.plan import PlanArea, PlanCamera, PlanPerson, PlanWall, StudioPlan, Tally
from preview.show import model
from preview.show.load import Show
from preview.stage.appearance import equipment_at
from preview.stage.build import Stage
from preview.stage.surface import LedSurface
from preview.timeline.moment import Moment

UPRIGHT = 0.3
"""A facet whose normal rises or falls less than this (a sine) is a wall and drawn as a line. Own choice."""
FIELD_M = 0.01
"""Outlines of meshes are found on a grid this fine, coarser for pieces over MOST_FIELDS long."""
MOST_FIELDS = 2000


def studio_plan(
    show: Show,
    stage: Stage,
    views: Mapping[str, CameraView],
    tally: Mapping[str, Tally] | None = None,
    seeing: Sequence[str] | None = None,
    subject_m: tuple[float, float] | None = None,
) -> StudioPlan:
    """The studio with each camera in the view given; cameras without one are left out.

    Parameters
    ----------
    views : by camera name
    tally : by camera name; "off" where it does not say
    seeing : cameras whose wedge is drawn; all when None
    subject_m : stage point aimed at, X and Y
    """
    walls = _walls(stage)
    lines = wall_lines(walls)
    cameras = []
    for camera in show.file.cameras:
        view = views.get(camera.name)
        if view is None:
            continue
        sees = seeing is None or camera.name in seeing
        cameras.append(camera_plan(camera, view, lines, (tally or {}).get(camera.name, "off"), sees))
    return StudioPlan(
        walls,
        tuple(_floor(surface) for surface in stage.surfaces if surface.kind == "floor"),
        _pieces(show, stage),
        tuple(
            PlanPerson(one.name, (one.position_m[0], one.position_m[1]), one.pan_deg, one.posture)
            for one in show.file.stage.people
        ),
        tuple(cameras),
        subject_m,
    )


def camera_plan(
    camera: model.Camera, view: CameraView, lines: Array, tally: Tally = "off", sees: bool = True
) -> PlanCamera:
    """One camera in a view.

    Parameters
    ----------
    lines : of the walls, as ``wall_lines`` gives them
    sees : with its wedge and what it covers of the walls
    """
    parts = tuple((solid.kind, hull_from_above(solid.mesh()[0])) for solid in equipment_at(camera, view))
    x, y, _ = (float(value) for value in view.pupil_m)
    half_deg = view.horizontal_angle_deg / 2
    wider_deg = float(np.degrees(np.arctan(view.half_tangents[0] * (1 + camera.overscan_percent / 50))))
    pan = view.pose.pan_deg
    return PlanCamera(
        camera.number, camera.name, (x, y), pan, parts,
        wedge((x, y), pan, half_deg, lines) if sees else np.zeros((0, 2)),
        on_walls((x, y), pan, wider_deg, lines) if sees else np.zeros((0, 2, 2)),
        tally,
    )  # fmt: skip


def wall_lines(walls: Sequence[PlanWall]) -> Array:
    """(n, 2, 2) lines of all walls from above."""
    return np.concatenate([wall.lines for wall in walls]) if walls else np.zeros((0, 2, 2))


def moment_plan(show: Show, stage: Stage, moment: Moment) -> StudioPlan:
    """The studio at one frame, all cameras with their wedges and tallies."""
    views = {camera.name: camera.view for camera in moment.cameras}
    return studio_plan(show, stage, views, {name: moment.tally(name) for name in views})


def outlines_from_above(corners: Array) -> tuple[Array, ...]:
    """Outlines, (n, 2) stage metres, of what triangles (m, 3, 3) cover seen from above.

    Found on a grid of FIELD_M, so right to about half a field; holes are left out.
    """
    flat = np.asarray(corners, dtype=np.float64)[..., :2]
    low, high = flat.min(axis=(0, 1)), flat.max(axis=(0, 1))
    field = max(FIELD_M, float((high - low).max()) / MOST_FIELDS)
    wide, deep = (ceil(extent / field) + 3 for extent in high - low)
    mask = np.zeros((deep, wide), dtype=np.uint8)
    pixels = np.round((flat - low) / field).astype(np.int32) + 1
    for triangle in pixels:
        cv2.fillConvexPoly(mask, triangle, 1)
    found, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    smooth = [cv2.approxPolyDP(outline, 0.8, True).reshape(-1, 2) for outline in found]
    return tuple((outline - 1) * field + low for outline in smooth if len(outline) >= 3)


def hull_from_above(positions: Array) -> Array:
    """(n, 2) convex outline of points (k, 3) seen from above; a thin strip for points on a line."""
    flat = np.asarray(positions, dtype=np.float64)[:, :2]
    try:
        hull = ConvexHull(flat)
    except QhullError:
        low, high = flat.min(axis=0) - FIELD_M, flat.max(axis=0) + FIELD_M
        return np.array([[low[0], low[1]], [high[0], low[1]], [high[0], high[1]], [low[0], high[1]]])
    return np.asarray(flat[hull.vertices])


def _walls(stage: Stage) -> tuple[PlanWall, ...]:
    return tuple(found for surface in stage.surfaces if len((found := _wall(surface)).lines))


def _wall(surface: LedSurface) -> PlanWall:
    upright = np.abs(surface.normals[:, 2]) < UPRIGHT
    corners = surface.positions[surface.triangles][upright][..., :2]
    normals = surface.normals[upright][:, :2]
    lines: dict[tuple[float, ...], tuple[Array, Array]] = {}
    for triangle, normal in zip(corners, normals, strict=True):
        behind = -normal / np.linalg.norm(normal)
        along = np.array([-behind[1], behind[0]])
        reach = triangle @ along
        line = triangle[[int(reach.argmin()), int(reach.argmax())]]
        lines.setdefault(tuple(np.round(line, 4).ravel()), (line, behind))
    if not lines:
        return PlanWall(surface.name, np.zeros((0, 2, 2)), np.zeros((0, 2)))
    return PlanWall(
        surface.name,
        np.array([line for line, _ in lines.values()]),
        np.array([behind for _, behind in lines.values()]),
    )


def _floor(surface: LedSurface) -> PlanArea:
    return PlanArea(surface.name, outlines_from_above(surface.positions[surface.triangles]))


def _pieces(show: Show, stage: Stage) -> tuple[PlanArea, ...]:
    found = []
    for piece in show.file.stage.set:
        parts = [part for part in stage.set.parts if part.name == piece.name and len(part.triangles)]
        if parts:
            corners = np.concatenate([part.positions[part.triangles] for part in parts])
            found.append(PlanArea(piece.name, outlines_from_above(corners)))
    return tuple(found)
