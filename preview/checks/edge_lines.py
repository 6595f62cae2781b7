"""Edge lines: which pixels of the on-air picture show the line along a frustum's edge.

Lines tell operators on a shared wall whose frustum is whose; none of them may be seen on air. One is
when a camera's own line runs inside its picture (too little overscan, or a late image), when its image
does not reach and another camera's line stands there, or when the wall still has another camera on top.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from preview.checks.coverage import reaches, seen_points
from preview.checks.result import CheckResult, Finding, count, runs, span
from preview.conventions import Array
from preview.raster.raster import Raster
from preview.raster.request import Layer
from preview.show.model import Drive
from preview.stage.surface import LedSurface
from preview.timeline.moment import Moment
from preview.timeline.timeline import Timeline
from preview.wall.drive import drive
from preview.wall.layer import inner_image

NAME = "edge lines"
QUESTION = "Does the on-air picture show the line along a frustum's edge?"
MOST_SET_COVER = 0.5
"""A pixel that set and people cover by more than this share counts as theirs. Own choice."""
ASSUMPTIONS = (
    "A pixel shows a line when its middle lies on one; a line may reach half a pixel farther.",
    "Pixels that set and people cover by more than half are not counted.",
)


@dataclass(frozen=True)
class EdgeLine:
    """The line of one frustum, as far as one on-air picture shows it in one frame.

    Attributes
    ----------
    camera, frame, timecode : the picture, of a camera on programme
    whose : the camera whose frustum the line belongs to
    on_top : that camera, not ``camera``, had its frustum on top: the wall is late or early, or one of a
        mix has to do without; no overscan helps
    pixels, share : how many, and of the whole picture (0..1)
    box_px : left, top, right, bottom of what holds them, in pixel edges
    edges : sides of the picture that the box touches
    """

    camera: str
    frame: int
    timecode: str
    whose: str
    on_top: bool
    pixels: int
    share: float
    box_px: tuple[int, int, int, int]
    edges: tuple[str, ...]


def edge_lines(
    raster: Raster, surfaces: Sequence[LedSurface], moments: Iterable[Moment], settings: Drive
) -> tuple[EdgeLine, ...]:
    """Lines in the pictures of the cameras on programme, both in a mix. None unless the drive is shared.

    Parameters
    ----------
    raster, surfaces : of the stage; pictures are of the raster's picture size
    moments : of the frames to look at
    settings : the show's drive table
    """
    found: list[EdgeLine] = []
    if settings.mode != "shared" or not settings.edge_line or settings.edge_width_mm == 0:
        return ()
    for moment in moments:
        for name in dict.fromkeys((moment.on_air, moment.mix_from)):
            if name is not None:
                found += _in_picture(raster, surfaces, moment, name, settings)
    return tuple(found)


def _in_picture(
    raster: Raster, surfaces: Sequence[LedSurface], moment: Moment, name: str, settings: Drive
) -> list[EdgeLine]:
    shown = line_pixels(raster, surfaces, moment, name, settings)
    width, height = raster.picture_px
    found = []
    for whose, pixels in shown.items():
        rows, columns = np.nonzero(pixels)
        box = (int(columns.min()), int(rows.min()), int(columns.max()) + 1, int(rows.max()) + 1)
        touched = zip(("left", "top", "right", "bottom"), box, (0, 0, width, height), strict=True)
        edges = tuple(edge for edge, side, limit in touched if side == limit)
        on_top = whose == moment.wall_camera != name
        amount = int(pixels.sum())
        share = amount / (width * height)
        found.append(EdgeLine(name, moment.frame, moment.timecode, whose, on_top, amount, share, box, edges))
    return found


def line_pixels(
    raster: Raster, surfaces: Sequence[LedSurface], moment: Moment, name: str, settings: Drive
) -> dict[str, npt.NDArray[np.bool_]]:
    """(h, w) masks of the pixels of a camera's picture that show a line, by the camera it belongs to.

    Cameras whose line is not seen have no mask.
    """
    view = moment.camera(name).view
    points, seen, surface = seen_points(raster, view, MOST_SET_COVER)
    stack, _ = drive(moment, settings).in_slot_of(name)
    owners = {inner_image(camera): camera.name for camera in moment.cameras}
    open_still = np.ones(len(points), dtype=bool)
    masks = {}
    for layer in reversed(stack):
        covered = open_still & reaches(layer.image, points, raster.picture_px)
        open_still &= ~covered
        lit = _on_line(layer, points, covered, surface, surfaces, view.pupil_m, raster.picture_px)
        if lit.any():
            mask = np.zeros_like(seen)
            mask[seen] = lit
            masks[owners[layer.image]] = mask
    return masks


def _on_line(
    layer: Layer,
    points: Array,
    covered: npt.NDArray[np.bool_],
    surface: npt.NDArray[np.int32],
    surfaces: Sequence[LedSurface],
    pupil_m: Array,
    picture_px: tuple[int, int],
) -> npt.NDArray[np.bool_]:
    """Which points lie nearer to a layer's border than its line is wide, measured along their facet."""
    lit = np.zeros(len(points), dtype=bool)
    if layer.edge_rgb is None:
        return lit
    planes = layer.image.border_planes(picture_px)
    distance = points @ planes[:, :3].T + planes[:, 3]
    # Straight through the air the border is at least as near as along the facet: few points are left.
    (near,) = np.nonzero(covered & (distance.min(axis=1) < layer.edge_width_m))
    normals = _normals(points[near], surface[near], surfaces, pupil_m)
    tilt = normals @ planes[:, :3].T
    along = np.sqrt(np.maximum(1.0 - tilt * tilt, 1e-8))
    lit[near] = (distance[near] < layer.edge_width_m * along).any(axis=1)
    return lit


def _normals(
    points: Array, surface: npt.NDArray[np.int32], surfaces: Sequence[LedSurface], pupil_m: Array
) -> Array:
    """(n, 3) unit normals of the facets that the points lie on."""
    normals = np.zeros((len(points), 3))
    for place, led in enumerate(surfaces):
        (own,) = np.nonzero(surface == place)
        if len(own):
            hits = led.intersect(pupil_m, points[own] - pupil_m)
            normals[own] = led.normals[hits.triangle]  # the last facet's where a joint let the ray slip by
    return normals


def edge_line_result(
    found: Sequence[EdgeLine], timeline: Timeline, remedies: dict[str, str] | None = None
) -> CheckResult:
    """One finding a stretch of neighbouring looked-at frames, picture and line.

    Parameters
    ----------
    found : from ``edge_lines``
    remedies : what helps each camera whose picture shows lines, from ``preview.checks.suggest``
    """
    findings = []
    for camera, whose, on_top in dict.fromkeys((one.camera, one.whose, one.on_top) for one in found):
        own = [one for one in found if (one.camera, one.whose, one.on_top) == (camera, whose, on_top)]
        for first, last in runs(sorted(one.frame for one in own)):
            within = [one for one in own if first <= one.frame <= last]
            remedy = "" if on_top else (remedies or {}).get(camera, "")
            findings.append(_finding(within, timeline, remedy))
    findings.sort(key=lambda finding: finding.frames)
    return CheckResult(NAME, QUESTION, tuple(findings), ASSUMPTIONS)


def _finding(within: Sequence[EdgeLine], timeline: Timeline, remedy: str) -> Finding:
    first, last, most = within[0], within[-1], max(within, key=lambda one: one.pixels)
    mixed = timeline.at(first.frame).mix_from is not None
    if most.on_top:
        why = f"because the wall has {most.whose}'s frustum on top"
        remedy = "" if mixed else "hold the cut back until the wall has changed (see the picture delay)"
    elif most.whose == most.camera:
        why = "because its own frustum ends inside its picture"
    else:
        why = "because its own frustum does not reach there"
    where = f"at the {' and '.join(most.edges)}" if most.edges else "inside the picture"
    left, top, right, bottom = most.box_px
    return Finding(
        grade="compromise" if most.on_top and mixed else "fault",
        shot=timeline.shot_at(first.frame).name,
        cameras=(most.camera,) if most.whose == most.camera else (most.camera, most.whose),
        frames=(first.frame, last.frame),
        timecodes=(first.timecode, last.timecode),
        sentence=f"In {count(len(within), 'frame')} looked at ({span(first.timecode, last.timecode)}) "
        f"{most.camera}'s picture shows {most.whose}'s edge line {where}, {why}: "
        f"{count(most.pixels, 'pixel')}, {100 * most.share:.2g} % of the picture, at {most.timecode}.",
        remedy=remedy,
        measures={
            "line_of": most.whose,
            "line_pixels": most.pixels,
            "line_picture_percent": 100 * most.share,
            "box_left_px": left,
            "box_top_px": top,
            "box_right_px": right,
            "box_bottom_px": bottom,
            "worst_timecode": most.timecode,
        },
    )
