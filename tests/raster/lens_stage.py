"""A flat wall, boards before it and a lens, and the picture that a lens really makes of them: the mean of
pinhole pictures from all over its entrance pupil, each aimed again at the plane in focus."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.conventions import Array
from preview.picture.display import Display
from preview.raster.blur import Blur, blur_of
from preview.raster.raster import Raster
from preview.raster.request import CameraPicture, Layer, SceneImage, Stack
from preview.stage.mesh import Material, MeshPart, SceneMesh
from tests.twin.oracle import OracleStage
from tests.twin.stages import box_solid, faceted_wall, set_mesh

SIZE = (320, 180)
WALL_M = 8.0
"""Axial distance from the lens, which looks along +Y, to the wall."""
SENSOR_MM = (9.6, 5.4)
EYE = CameraView(Pose((0.0, 0.0, 1.6)), SENSOR_MM, 12.0)
"""A pinhole where the lens is; what it sees is what the wall shows."""

Board = tuple[tuple[float, float], tuple[float, float], float, tuple[float, float, float]]
"""Across from and to, up from and to (metres from the axis), distance (metres), colour."""


def lens(focus_m: float, wide_px: float) -> CameraView:
    """A thin lens with the sightlines of ``EYE``, focused at ``focus_m``; a point at infinity becomes a
    disc of ``wide_px`` pixels."""
    focus_mm = 1000 * focus_m
    # The lens stands at EYE's projection distance from the sensor when it is focused there: 1/f = 1/s + 1/p.
    focal = 1 / (1 / focus_mm + 1 / EYE.projection_mm)
    stop = focal**2 / ((focus_mm - focal) * wide_px * SENSOR_MM[0] / SIZE[0])
    return replace(EYE, focal_length_mm=focal, focus_m=focus_m, t_stop=stop)


def painted(quads: Sequence[tuple[Array, tuple[float, float, float]]]) -> SceneMesh:
    """Unlit quads ((4, 3) stage corners in order round) with flat colours."""
    parts = []
    for number, (corners, rgb) in enumerate(quads):
        part = MeshPart(
            f"quad {number}",
            np.asarray(corners, dtype=np.float32),
            np.tile(np.array([0, -1, 0], dtype=np.float32), (4, 1)),
            None,
            None,
            None,
            np.array([[0, 1, 2], [0, 2, 3]], dtype=np.int32),
            Material(base_color=(*rgb, 1.0), unlit=True, double_sided=True),
        )
        parts.append(part)
    return SceneMesh(tuple(parts))


def quad(across: tuple[float, float], up: tuple[float, float], distance_m: float) -> Array:
    """(4, 3) corners of an upright rectangle at a distance, metres from the axis."""
    (left, right), (low, high) = across, up
    y, z = distance_m, EYE.pose.position_m[2]
    return np.array([(left, y, z + low), (right, y, z + low), (right, y, z + high), (left, y, z + high)])


def window(
    quads_at_wall: Sequence[tuple[tuple[float, float], tuple[float, float], tuple[float, float, float]]],
    depth: float = 1.0,
) -> SceneMesh:
    """A virtual scene that, seen from the lens, covers rectangles of the wall; ``depth`` times as far."""
    parts = []
    for number, (across, up, rgb) in enumerate(quads_at_wall):
        # Later ones stand a little nearer, so that they cover the ones before; scaled about the lens.
        scale = depth * (1 - 1e-3 * number)
        corners = quad(across, up, WALL_M)
        at = np.array(EYE.pose.position_m)
        parts.append((at + scale * (corners - at), rgb))
    return painted(parts)


def stage(virtual: SceneMesh, boards: Sequence[Board] = (), samples: int = 8) -> Raster:
    """A flat wall that fills the picture, with boards before it."""
    solids = [
        box_solid(
            (across[1] - across[0], 1e-4, up[1] - up[0]),
            (sum(across) / 2, distance, EYE.pose.position_m[2] + sum(up) / 2),
            rgb,
        )
        for across, up, distance, rgb in boards
    ]
    wall = faceted_wall(columns=1, tile_m=(14.0, 9.0), distance_m=WALL_M, bottom_m=-3.0, px_per_m=50)
    built = OracleStage((wall,), (50.0,), EYE.pose.position_m, tuple(solids))
    return Raster(
        (wall,),
        (50.0,),
        set_mesh(built),
        virtual,
        np.array(EYE.pose.position_m),
        Display(),
        SIZE,
        samples=samples,
    )


def own() -> Stack:
    """The wall shows what the lens would see through it, some way past the picture too."""
    return (Layer(SceneImage(EYE, 0.2)),)


def draw(raster: Raster, view: CameraView, defocus: bool = True) -> Array:
    """(h, w, 3) linear light."""
    request = CameraPicture(view, own(), defocus=defocus)
    return raster.draw([request], linear=True)[0].pixels.astype(np.float64)


def through_the_pupil(raster: Raster, view: CameraView) -> Array:
    """(h, w, 3) what the lens makes of it: pinhole pictures from points on a square lattice over its pupil,
    averaged, each moved so that the plane in focus stays where it is.

    The lattice is as fine as whole pixels of that movement, so that nothing is interpolated. Pixels nearer to
    the border than half the disc at infinity see what came round from the other side: leave them out.
    """
    blur = lens_blur(view)
    radius_px = blur.at_infinity_px / 2
    per_tangent = SIZE[0] / (2 * EYE.half_tangents[0])
    reach = int(radius_px)
    total, count = np.zeros((SIZE[1], SIZE[0], 3)), 0
    for down in range(-reach, reach + 1):
        for across in range(-reach, reach + 1):
            if across**2 + down**2 > radius_px**2:
                continue
            # Moving the pupil by this much moves the plane in focus by whole pixels the other way.
            offset_m = blur.focus_m / per_tangent * np.array([across, 0.0, -down])
            at = np.array(EYE.pose.position_m) + view.pose.rotation @ offset_m
            moved = replace(EYE, pose=replace(EYE.pose, position_m=tuple(at)))
            total += np.roll(draw(raster, moved, defocus=False), (down, across), axis=(0, 1))
            count += 1
    return total / count


def lens_blur(view: CameraView) -> Blur:
    """Its blur, which every view of these tests has."""
    blur = blur_of(view, SIZE)
    assert blur is not None
    return blur
