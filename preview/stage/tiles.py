"""LED tiles in columns and rows: the chain of flat facets they make.

Every tile is flat; a wall turns only at the joints between its columns, about the vertical axis of
the unplaced wall. So each column is one facet, and a "curve" is a regular chain of them.
"""

from __future__ import annotations

import numpy as np

from preview.conventions import Array
from preview.show import model
from preview.stage.facets import Facets

PIXEL_COUNT_TOLERANCE = 0.01
"""How far a tile may be from a whole number of pixels, as a share of its size. Data sheets round
pitches ("2.8 mm" for 500 mm / 176); more than this means a wrong size or pitch. Common practice,
no source."""

Fault = tuple[str, str, str]
"""Key inside the surface's table, what is wrong, what to write instead."""

_NEEDED = {
    "tile_size_mm": "tile_size_mm = [500.0, 500.0]",
    "pixel_pitch_mm": "pixel_pitch_mm = 2.6",
    "columns": "columns = 12",
    "rows": "rows = 6",
}


def tile_faults(surface: model.Surface) -> list[Fault]:
    """All that keeps ``surface`` from being built out of tiles; empty when it can be."""
    missing: list[Fault] = [
        (key, "is missing", f'write it (such as {example}), or mesh = "wall.obj"')
        for key, example in _NEEDED.items()
        if getattr(surface, key) is None
    ]
    if missing:
        return missing
    assert surface.columns and surface.tile_size_mm and surface.pixel_pitch_mm
    faults: list[Fault] = []
    for side, size_mm in zip(("wide", "high"), surface.tile_size_mm, strict=True):
        count = round(size_mm / surface.pixel_pitch_mm)
        if count < 1 or abs(count * surface.pixel_pitch_mm - size_mm) > PIXEL_COUNT_TOLERANCE * size_mm:
            found = (
                f"{surface.pixel_pitch_mm:g} mm puts {size_mm / surface.pixel_pitch_mm:.2f} pixels "
                f"on a tile {size_mm:g} mm {side}, which is not a whole number within 1 %"
            )
            fix = f"write {size_mm / max(count, 1):.4g} mm ({max(count, 1)} pixels), or correct tile_size_mm"
            faults.append(("pixel_pitch_mm", found, fix))
    if surface.joint_angle_deg is not None and surface.radius_m is not None:
        return [*faults, ("radius_m", "joint_angle_deg is also written", "keep one of the two")]
    if isinstance(surface.joint_angle_deg, tuple) and len(surface.joint_angle_deg) != surface.columns - 1:
        found = f"{len(surface.joint_angle_deg)} angles for {surface.columns} columns"
        return [*faults, ("joint_angle_deg", found, f"write {surface.columns - 1}, or one number")]
    return faults + _joint_faults(surface)


def _joint_faults(surface: model.Surface) -> list[Fault]:
    assert surface.columns and surface.tile_size_mm
    joints = joint_angles_deg(surface)
    key = "joint_angle_deg" if surface.radius_m is None else "radius_m"
    if len(joints) and np.abs(joints).max() >= 180.0:
        worst = joints[np.abs(joints).argmax()]
        return [(key, f"{worst:g} degrees folds a tile onto its neighbour", "stay between -180 and 180")]
    headings = column_headings_deg(joints)
    if np.ptp(headings) >= 360.0 - 1e-9:
        found = f"{surface.columns} columns turn through {np.ptp(headings):.1f} degrees, past a closed ring"
        fix = "use fewer columns or a " + ("smaller angle" if surface.radius_m is None else "larger radius")
        return [(key, found, fix)]
    crossing = _first_crossing(_floor_plan(headings, surface.tile_size_mm[0] / 1000.0))
    if crossing:
        found = f"columns {crossing[0]} and {crossing[1]} (from 1) cross each other"
        return [(key, found, "use other angles or fewer columns")]
    return []


def tile_shape(surface: model.Surface) -> Facets:
    """Facets of a surface made of tiles, unplaced: the bottom edge's middle at the origin.

    The middle is measured along the tiles; there the wall faces -Y (halfway between the two
    middle facets when the number of columns is even). ``tile_faults`` must have found nothing.
    """
    assert surface.columns and surface.rows and surface.tile_size_mm and surface.pixel_pitch_mm
    width_m, height_m = (size / 1000.0 for size in surface.tile_size_mm)
    pixels = [round(size / surface.pixel_pitch_mm) for size in surface.tile_size_mm]
    plan = _floor_plan(column_headings_deg(joint_angles_deg(surface)), width_m)
    count = surface.columns
    # Corner order in each column: bottom left, bottom right, top right, top left, from the front.
    positions = np.zeros((count, 4, 3))
    positions[:, [0, 3], :2] = plan[:-1, None]
    positions[:, [1, 2], :2] = plan[1:, None]
    positions[:, 2:, 2] = surface.rows * height_m
    canvas = np.zeros((count, 4, 2))
    left = np.arange(count, dtype=np.float64) * pixels[0]
    canvas[:, [0, 3], 0] = left[:, None]
    canvas[:, [1, 2], 0] = left[:, None] + pixels[0]
    canvas[:, :2, 1] = surface.rows * pixels[1]
    first = 4 * np.arange(count)[:, None, None]
    return Facets(
        canvas_px=(count * pixels[0], surface.rows * pixels[1]),
        positions=positions.reshape(-1, 3),
        canvas=canvas.reshape(-1, 2),
        triangles=(first + np.array([[0, 1, 2], [0, 2, 3]])).reshape(-1, 3).astype(np.int32),
        tiles=(count, surface.rows),
        tile_px=(pixels[0], pixels[1]),
    )


def joint_angles_deg(surface: model.Surface) -> Array:
    """(columns - 1,) turn at each joint, positive towards the viewer.

    From a radius: the facets are tangent, at their middles, to a circle of that inside radius, so
    neighbours differ by 2 atan(tile width / 2 / radius).
    """
    assert surface.columns and surface.tile_size_mm
    if surface.radius_m is not None:
        half_m = surface.tile_size_mm[0] / 2000.0
        angle: float | tuple[float, ...] = 2.0 * float(np.degrees(np.arctan2(half_m, surface.radius_m)))
    else:
        angle = 0.0 if surface.joint_angle_deg is None else surface.joint_angle_deg
    return np.broadcast_to(np.asarray(angle, dtype=np.float64), surface.columns - 1)


def column_headings_deg(joints_deg: Array) -> Array:
    """(columns,) direction of each column's bottom edge about Z: 0 along +X, at the wall's middle."""
    headings = np.concatenate([[0.0], -np.cumsum(joints_deg)])
    middle = len(headings) // 2
    at_middle = headings[middle] if len(headings) % 2 else headings[middle - 1 : middle + 1].mean()
    return headings - at_middle


def _floor_plan(headings_deg: Array, width_m: float) -> Array:
    """(columns + 1, 2) X and Y of the joints and both ends; the middle of the chain at the origin."""
    angles = np.radians(headings_deg)
    steps = width_m * np.column_stack([np.cos(angles), np.sin(angles)])
    plan = np.concatenate([np.zeros((1, 2)), np.cumsum(steps, axis=0)])
    count = len(steps)
    return plan - (plan[count // 2] + plan[(count + 1) // 2]) / 2.0


def _first_crossing(plan: Array) -> tuple[int, int] | None:
    """Two columns (from 1) that cut through each other on the floor plan, or None."""
    starts, steps = plan[:-1], np.diff(plan, axis=0)
    slack = 1e-9 * float(np.abs(steps).max()) ** 2
    for i in range(len(steps) - 2):
        others, other_steps = starts[i + 2 :], steps[i + 2 :]
        mine = _cross(steps[i], others - starts[i]), _cross(steps[i], others + other_steps - starts[i])
        theirs = (
            _cross(other_steps, starts[i] - others),
            _cross(other_steps, starts[i] + steps[i] - others),
        )
        cut = (mine[0] * mine[1] < -(slack**2)) & (theirs[0] * theirs[1] < -(slack**2))
        if cut.any():
            return i + 1, i + 3 + int(cut.argmax())
    return None


def _cross(first: Array, second: Array) -> Array:
    return first[..., 0] * second[..., 1] - first[..., 1] * second[..., 0]
