"""Coverage: does a camera's own inner frustum image reach every wall point of its picture?

The image is drawn from where tracking last saw the camera. While the camera moves, its picture runs out
of that image on the side it moves to, and the shared outer image shows there; overscan is what covers
the difference. Here it is worked out from geometry alone; ``uncovered_pixels`` counts the same from the
raster's sightlines, pixel by pixel.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from preview.camera.view import CameraView
from preview.checks.result import CheckResult, Finding, count, runs, span
from preview.conventions import Array
from preview.raster.raster import Raster
from preview.raster.request import SceneImage
from preview.show.load import Show
from preview.stage.build import build_stage
from preview.stage.surface import LedSurface
from preview.timeline.moment import CameraMoment
from preview.timeline.timeline import Timeline
from preview.wall.layer import inner_image

NAME = "coverage"
QUESTION = "Does each camera's own frustum image cover its whole picture while it is on programme?"
ASSUMPTIONS = (
    "Set and people are taken away: the wall behind them has to be right too, since they may move.",
    "The needed overscan is that of the outermost wall point of the picture, looked for where facet edges "
    "cross the picture's border, at facet corners, along the border and on a grid inside it.",
    "The missing share is counted at the middles of 96 x 54 fields of the picture.",
)

BORDER_STEPS = 32
INSIDE = (8, 5)
"""Points along each side of the picture, and inside it. Seen through a flat facet one picture maps to the
other by a homography, whose coordinates are quasi-linear: over the part of a facet that a pinhole picture
shows, the outermost place is one of that part's corners, and those are looked at all. The points here
catch what a bent lens adds between them."""

EDGE_STEPS = 24
"""Points along a facet's edge between which it may cross the picture's border once."""

ASIDE = 1e-4
"""How far beside each such corner, as a share of the picture, the surface behind is looked at too."""

FIELDS = (96, 54)

EDGES = ("left", "right", "top", "bottom")


@dataclass(frozen=True)
class Coverage:
    """How a camera's frustum image covers its picture in one frame.

    Attributes
    ----------
    camera, frame, timecode, framing : which picture
    needed_percent : overscan a side that would just cover it; 0 when the bare image does; None when a
        wall point lies behind the view the image was drawn from, which no overscan reaches
    given_percent : overscan that the camera has
    covered : the image as drawn, rounded up to whole pixels, reaches every wall point looked at
    missing_share : share of the picture, 0..1, whose wall point the image does not reach
    edge : side of the picture that needs the most, one of EDGES; "" when nothing is needed
    """

    camera: str
    frame: int
    timecode: str
    framing: str
    needed_percent: float | None
    given_percent: float
    covered: bool
    missing_share: float
    edge: str


def coverage(
    surfaces: Sequence[LedSurface],
    camera: CameraMoment,
    picture_px: tuple[int, int],
    frame: int = 0,
    timecode: str = "",
) -> Coverage:
    """One camera's picture at one moment.

    Parameters
    ----------
    surfaces : LED surfaces of the stage
    camera : its view now, and the view its layer was drawn from
    picture_px : width and height of the picture
    frame, timecode : noted in the result
    """
    image = inner_image(camera)
    given = camera.overscan * 100.0
    sure = Coverage(camera.name, frame, timecode, camera.framing, 0.0, given, True, 0.0, "")
    if camera.layer_view == camera.view:
        return sure  # the image holds every sightline of the picture, by its making
    corners = _corners_of_parts(surfaces, camera.view, picture_px)
    pixels = np.concatenate([_outline_and_grid() * picture_px, _beside(corners, camera.view, picture_px)])
    points = np.concatenate([corners, wall_points(surfaces, camera.view, pixels, picture_px)[0]])
    if not len(points):
        return sure
    place, in_front = _pinhole_place(image.view, points)
    worst = int(np.abs(place).max(axis=1).argmax())
    reach = float(np.abs(place[worst]).max())
    needed = _overscan_percent(reach, camera) if in_front.all() else None
    drawn = np.divide(image.drawn_size(picture_px), picture_px)
    covered = bool(in_front.all() and (np.abs(place) <= drawn + 1e-9).all())
    edge = _edge(place[worst] if in_front.all() else place[~in_front][0])
    return Coverage(
        camera.name,
        frame,
        timecode,
        camera.framing,
        needed,
        given,
        covered,
        0.0 if covered else _missing_share(surfaces, camera.view, image, picture_px),
        edge if needed is None or needed > 0.0 else "",
    )


def coverage_over(
    show: Show,
    timeline: Timeline | None = None,
    surfaces: Sequence[LedSurface] | None = None,
    picture_px: tuple[int, int] | None = None,
    frames: Iterable[int] | None = None,
    on_programme: bool = True,
) -> tuple[Coverage, ...]:
    """Every frame of the rundown in which a camera's frustum image lags behind its picture.

    Frames in which a camera stands as it was tracked are left out: its image fits by its making.

    Parameters
    ----------
    show, timeline, surfaces : the show; what was already made of it
    picture_px : width and height of the picture; the show's own when None
    frames : which to look at; all when None
    on_programme : only cameras on programme, both in a mix; every camera when False
    """
    timeline = timeline or Timeline(show)
    surfaces = build_stage(show).surfaces if surfaces is None else surfaces
    picture_px = picture_px or show.file.show.picture_size_px
    found = []
    for frame in range(timeline.frame_count) if frames is None else frames:
        moment = timeline.at(frame)
        for camera in moment.cameras:
            seen = not on_programme or camera.name in (moment.on_air, moment.mix_from)
            if seen and camera.layer_view != camera.view:
                found.append(coverage(surfaces, camera, picture_px, frame, moment.timecode))
    return tuple(found)


def worst_of(covered: Iterable[Coverage]) -> Coverage | None:
    """The one that needs the most overscan; one that no overscan reaches before all."""

    def need(one: Coverage) -> float:
        return float("inf") if one.needed_percent is None else one.needed_percent

    return max(covered, key=need, default=None)


def coverage_result(covered: Sequence[Coverage], timeline: Timeline) -> CheckResult:
    """One finding a camera and stretch of frames that its image does not cover, or one fine one a camera."""
    findings = []
    for name in dict.fromkeys(one.camera for one in covered):
        own = [one for one in covered if one.camera == name]
        stretches = runs([one.frame for one in own if not one.covered])
        for first, last in stretches or [(own[0].frame, own[-1].frame)]:
            within = [one for one in own if first <= one.frame <= last]
            findings.append(_finding(within, (first, last), bool(stretches), timeline))
    findings.sort(key=lambda finding: finding.frames)
    return CheckResult(NAME, QUESTION, tuple(findings), ASSUMPTIONS)


def _finding(within: Sequence[Coverage], frames: tuple[int, int], fault: bool, timeline: Timeline) -> Finding:
    worst = worst_of(within)
    assert worst is not None
    labels = timeline.timecode(frames[0]), timeline.timecode(frames[1])
    missing = max(one.missing_share for one in within)
    if not fault:
        needed = f"needs {worst.needed_percent:.1f} % overscan at most, at {worst.timecode}"
        told = f"{worst.camera} moves on programme and its image keeps up: it {needed}, and has"
        told += f" {worst.given_percent:g} %."
    else:
        lasts = f"for {count(len(within), 'frame')} ({span(*labels)})"
        told = f"{lasts} the {worst.edge} of {worst.camera}'s picture runs out of its own image"
        told += f", by up to {100 * missing:.2g} % of the picture, and shows the outer image"
        needed = "more than any" if worst.needed_percent is None else f"{worst.needed_percent:.1f} %"
        told += f"; at {worst.timecode} it needs {needed} overscan and has {worst.given_percent:g} %."
    return Finding(
        grade="fault" if fault else "fine",
        shot=timeline.shot_at(frames[0]).name,
        cameras=(worst.camera,),
        frames=frames,
        timecodes=labels,
        sentence=told[0].upper() + told[1:] if fault else told,
        measures={
            "framing": worst.framing,
            "needed_overscan_percent": worst.needed_percent,
            "given_overscan_percent": worst.given_percent,
            "missing_picture_percent": 100 * missing,
            "worst_timecode": worst.timecode,
            "edge": worst.edge,
        },
    )


# -- geometry ----------------------------------------------------------------------------------------


def wall_points(
    surfaces: Sequence[LedSurface], view: CameraView, pixels: Array, picture_px: tuple[int, int]
) -> tuple[Array, npt.NDArray[np.bool_]]:
    """Where sightlines of a picture meet the lit side of an LED surface, the set taken away.

    Parameters
    ----------
    pixels : (n, 2) picture points, x right, y down, from the picture's left and top edges

    Returns
    -------
    points : (m, 3) stage metres, of the sightlines that meet one
    meets : (n,) which of them do
    """
    directions, meets = view.sightlines(pixels, picture_px)
    nearest = np.full(len(directions), np.inf)
    lit = np.zeros(len(directions), dtype=bool)
    for surface in surfaces:
        hits = surface.intersect(view.pupil_m, directions)
        closer = hits.distance_m < nearest
        nearest[closer], lit[closer] = hits.distance_m[closer], hits.front[closer]
    meets = meets & lit
    return view.pupil_m + directions[meets] * nearest[meets, None], meets


def _corners_of_parts(surfaces: Sequence[LedSurface], view: CameraView, picture_px: tuple[int, int]) -> Array:
    """(n, 3) stage points at the corners of what the picture shows of each facet, hidden ones left out:
    the facet's own corners, and where its edges cross the picture's border."""
    starts, ends = [], []
    for surface in surfaces:
        lit = surface.planes @ np.append(view.pupil_m, 1.0) > 0.0
        triangles = surface.positions[surface.triangles[lit]]
        starts.append(triangles.reshape(-1, 3))
        ends.append(np.roll(triangles, -1, axis=1).reshape(-1, 3))
    start, end = np.concatenate(starts), np.concatenate(ends)
    points = np.concatenate(
        [start[_inside(view, start, picture_px)], _crossings(view, start, end, picture_px)]
    )
    if not len(points):
        return points
    points = np.unique(points, axis=0)
    rays = points - view.pupil_m
    distance = np.linalg.norm(rays, axis=1)
    hidden = np.zeros(len(points), dtype=bool)
    for surface in surfaces:
        hidden |= surface.intersect(view.pupil_m, rays).distance_m < distance - 1e-4
    return points[~hidden]


def _inside(view: CameraView, points: Array, picture_px: tuple[int, int]) -> npt.NDArray[np.bool_]:
    pixels, in_front = view.project(points, picture_px)
    with np.errstate(invalid="ignore"):
        return in_front & ((pixels >= 0.0) & (pixels <= picture_px)).all(axis=1)


def _crossings(view: CameraView, start: Array, end: Array, picture_px: tuple[int, int]) -> Array:
    """(n, 3) where lines from start to end (m, 3) cross the picture's border, a hair inside it."""
    share = np.linspace(0.0, 1.0, EDGE_STEPS + 1)
    along = start[:, None] + share[:, None] * (end - start)[:, None]
    inside = _inside(view, along.reshape(-1, 3), picture_px).reshape(len(start), -1)
    line, step = np.nonzero(inside[:, 1:] != inside[:, :-1])
    enters = ~inside[line, step]
    within = np.where(enters[:, None], along[line, step + 1], along[line, step])
    without = np.where(enters[:, None], along[line, step], along[line, step + 1])
    for _ in range(30):  # halves an edge of metres down to nanometres
        middle = (within + without) / 2
        seen = _inside(view, middle, picture_px)[:, None]
        within, without = np.where(seen, middle, within), np.where(seen, without, middle)
    return within


def _beside(points: Array, view: CameraView, picture_px: tuple[int, int]) -> Array:
    """(n, 2) picture points close to stage points on all four sides: past an edge another surface begins."""
    pixels, _ = view.project(points, picture_px)
    steps = np.array([(-1, -1), (-1, 1), (1, -1), (1, 1)]) * ASIDE * np.asarray(picture_px)
    return np.clip((pixels[:, None] + steps).reshape(-1, 2), 0.0, picture_px)


def _outline_and_grid() -> Array:
    """(n, 2) places in the picture, 0..1: all round its border, and a grid inside."""
    line = np.linspace(0.0, 1.0, BORDER_STEPS + 1)
    ends = np.zeros_like(line), np.ones_like(line)
    sides = [np.column_stack(pair) for end in ends for pair in ((line, end), (end, line))]
    return np.concatenate([*sides, _fields(*INSIDE)])


def _fields(across: int, down: int) -> Array:
    x, y = np.meshgrid((np.arange(across) + 0.5) / across, (np.arange(down) + 0.5) / down)
    return np.column_stack([x.ravel(), y.ravel()])


def _pinhole_place(view: CameraView, points: Array) -> tuple[Array, npt.NDArray[np.bool_]]:
    """Stage points in a view's pinhole picture, x right and y down: -1..1 from edge to edge.

    Returns
    -------
    place : (n, 2), for a point behind the view the direction it lies in
    in_front : (n,)
    """
    local = (points - view.pupil_m) @ view.pose.rotation
    in_front = local[:, 1] > 1e-9
    depth = np.where(in_front, local[:, 1], 1.0)
    tan_x, tan_y = view.half_tangents
    return np.column_stack([local[:, 0] / depth / tan_x, -local[:, 2] / depth / tan_y]), in_front


def _overscan_percent(reach: float, camera: CameraMoment) -> float:
    """Overscan a side whose image reaches ``reach`` (1 = the pinhole picture's edge); at least 0."""
    bare = 1.0 + 2.0 * inner_image(replace(camera, overscan=0.0)).margin  # what the lens alone makes it
    return max(0.0, (reach / bare - 1.0) / 2.0 * 100.0)


def _edge(place: Array) -> str:
    x, y = place
    if abs(x) >= abs(y):
        return "left" if x < 0 else "right"
    return "top" if y < 0 else "bottom"


def _missing_share(
    surfaces: Sequence[LedSurface], view: CameraView, image: SceneImage, picture_px: tuple[int, int]
) -> float:
    points, _ = wall_points(surfaces, view, _fields(*FIELDS) * picture_px, picture_px)
    return float((~reaches(image, points, picture_px)).sum() / (FIELDS[0] * FIELDS[1]))


def reaches(image: SceneImage, points: Array, picture_px: tuple[int, int]) -> npt.NDArray[np.bool_]:
    """Which stage points (n, 3) lie inside a scene image as drawn, its margin in whole pixels."""
    place, in_front = _pinhole_place(image.view, points)
    drawn = np.divide(image.drawn_size(picture_px), picture_px)
    return in_front & (np.abs(place) <= drawn + 1e-9).all(axis=1)


# -- the same, pixel by pixel --------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class SeenWall:
    """Wall points of the pixels of one picture that see an LED surface.

    Attributes
    ----------
    points : (n, 3) stage metres, under the pixels' middles
    seen : (h, w) which pixels those are; ``points`` runs through them row by row
    surface : (n,) place of each point's LED surface in the stage's list
    """

    points: Array
    seen: npt.NDArray[np.bool_]
    surface: npt.NDArray[np.int32]


def seen_wall(raster: Raster, view: CameraView, most_set_cover: float | None = None) -> SeenWall:
    """What a picture sees of the LED surfaces, from the raster's sightlines.

    Parameters
    ----------
    most_set_cover : leave out pixels that set and people cover by more than this share; None keeps all
    """
    lines = raster.sightlines(view)
    seen = lines.surface >= 0
    if most_set_cover is not None:
        seen &= lines.set_cover <= most_set_cover
    rows, columns = np.nonzero(seen)
    directions, _ = view.sightlines(np.column_stack([columns + 0.5, rows + 0.5]), raster.picture_px)
    directions *= lines.distance_m[seen].astype(np.float64)[:, None]
    return SeenWall(view.pupil_m + directions, seen, lines.surface[seen])


def uncovered_pixels(raster: Raster, camera: CameraMoment) -> int:
    """Pixels of a camera's picture whose wall point its own image, as drawn, does not reach."""
    wall = seen_wall(raster, camera.view)
    return int((~reaches(inner_image(camera), wall.points, raster.picture_px)).sum())
