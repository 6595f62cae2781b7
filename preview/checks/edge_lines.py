"""Edge lines: which pixels of the on-air picture show the line along a frustum's edge.

Lines tell operators on a shared wall whose frustum is whose; none of them may be seen on air. One is
when a camera's own line runs inside its picture (too little overscan, or a late image), when its image
does not reach and another camera's line stands there, or when the wall still has another camera on top.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from preview.camera.view import CameraView
from preview.checks.result import CheckResult, Finding, count, span
from preview.checks.seen_wall import SeenWall, reaches, seen_wall
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
    served : the camera whose frustum the wall had on top
    pixels, share : how many, and of the whole picture (0..1)
    box_px : left, top, right, bottom of what holds them, in pixel edges
    """

    camera: str
    frame: int
    timecode: str
    whose: str
    served: str
    pixels: int
    share: float
    box_px: tuple[int, int, int, int]

    @property
    def on_top(self) -> bool:
        """Another camera than ``camera`` had its frustum on top: the wall is late or early, or one of a mix
        has to do without; no overscan helps."""
        return self.served != self.camera


class LineFinder:
    """Finds lines in the pictures of one stage.

    Parameters
    ----------
    raster, surfaces : of the stage; pictures are of the raster's picture size
    kept : how many views' wall points are remembered (48 MB each at 1920 x 1080)
    """

    def __init__(self, raster: Raster, surfaces: Sequence[LedSurface], kept: int = 1) -> None:
        self.raster, self.surfaces, self._kept = raster, surfaces, kept
        self._walls: OrderedDict[CameraView, SeenWall] = OrderedDict()

    def lines(self, moment: Moment, name: str, settings: Drive) -> list[EdgeLine]:
        """Lines in one camera's picture, one entry for each frustum whose line is seen."""
        width, height = self.raster.picture_px
        found = []
        for whose, pixels in self.pixels(moment, name, settings).items():
            rows, columns = np.nonzero(pixels)
            box = (int(columns.min()), int(rows.min()), int(columns.max()) + 1, int(rows.max()) + 1)
            share = len(rows) / (width * height)
            label, served = moment.timecode, moment.wall_camera
            found.append(EdgeLine(name, moment.frame, label, whose, served, len(rows), share, box))
        return found

    def pixels(self, moment: Moment, name: str, settings: Drive) -> dict[str, npt.NDArray[np.bool_]]:
        """(h, w) masks of a picture's pixels that show a line, by the camera it belongs to.

        Cameras whose line is not seen have no mask.
        """
        view = moment.camera(name).view
        wall = self._wall(view)
        stack, _ = drive(moment, settings).in_slot_of(name)
        owners = {inner_image(camera): camera.name for camera in moment.cameras}
        open_still = np.ones(len(wall.points), dtype=bool)
        masks = {}
        for layer in reversed(stack):
            covered = open_still & reaches(layer.image, wall.points, self.raster.picture_px)
            open_still &= ~covered
            lit = on_line(layer, wall.points, covered, self._normals_of(wall, view), self.raster.picture_px)
            if lit.any():
                mask = np.zeros_like(wall.seen)
                mask[wall.seen] = lit
                masks[owners[layer.image]] = mask
        return masks

    def _wall(self, view: CameraView) -> SeenWall:
        if view not in self._walls:
            while len(self._walls) >= self._kept:
                self._walls.popitem(last=False)
            self._walls[view] = seen_wall(self.raster, view, MOST_SET_COVER)
        return self._walls[view]

    def _normals_of(self, wall: SeenWall, view: CameraView) -> NormalsOf:
        return lambda which: facet_normals(
            wall.points[which], wall.surface[which], self.surfaces, view.pupil_m
        )


NormalsOf = Callable[[npt.NDArray[np.int64]], Array]
"""(n, 3) unit normals of the facets that the points of these numbers lie on."""


def on_line(
    layer: Layer,
    points: Array,
    covered: npt.NDArray[np.bool_],
    normals_of: NormalsOf,
    picture_px: tuple[int, int],
) -> npt.NDArray[np.bool_]:
    """Which points lie nearer to a layer's border than its line is wide, measured along their facet.

    Parameters
    ----------
    points : (n, 3) stage points on LED surfaces
    covered : (n,) those that the layer's image reaches and no other layer hides
    normals_of : of the few points that are near
    picture_px : size of the camera pictures
    """
    lit = np.zeros(len(points), dtype=bool)
    if layer.edge_rgb is None:
        return lit
    planes = layer.image.border_planes(picture_px)
    (inside,) = np.nonzero(covered)
    distance = points[inside] @ planes[:, :3].T + planes[:, 3]
    # Straight through the air the border is at least as near as along the facet: few points are left.
    near = distance.min(axis=1) < layer.edge_width_m
    inside, distance = inside[near], distance[near]
    tilt = normals_of(inside) @ planes[:, :3].T
    along = np.sqrt(np.maximum(1.0 - tilt * tilt, 1e-8))
    lit[inside] = (distance < layer.edge_width_m * along).any(axis=1)
    return lit


def edge_lines(finder: LineFinder, moments: Iterable[Moment], settings: Drive) -> tuple[EdgeLine, ...]:
    """Lines in the pictures of the cameras on programme, both in a mix. None unless the drive is shared.

    Parameters
    ----------
    finder : of the stage
    moments : of the frames to look at
    settings : the show's drive table
    """
    if settings.mode != "shared" or not settings.edge_line or settings.edge_width_mm == 0:
        return ()
    found: list[EdgeLine] = []
    known: dict[object, list[EdgeLine]] = {}
    for moment in moments:
        for name in dict.fromkeys((moment.on_air, moment.mix_from)):
            if name is None:
                continue
            # Where nothing moves, neighbouring frames show the same picture.
            state = name, moment.camera(name).view, moment.wall_camera, drive(moment, settings)
            if state not in known:
                known[state] = finder.lines(moment, name, settings)
            found += [replace(one, frame=moment.frame, timecode=moment.timecode) for one in known[state]]
    return tuple(found)


def facet_normals(
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
    found: Sequence[EdgeLine],
    timeline: Timeline,
    picture_px: tuple[int, int],
    remedies: Mapping[str, str] | None = None,
) -> CheckResult:
    """One finding a shot, picture and frustum whose line it shows.

    Parameters
    ----------
    found : from ``edge_lines``
    picture_px : the size they were found at
    remedies : what helps each camera whose picture shows lines, from ``preview.suggest.edge_line``
    """
    groups: dict[tuple[int, str, str, str], list[EdgeLine]] = {}
    for one in found:
        key = (timeline.shot_at(one.frame).index, one.camera, one.whose, one.served)
        groups.setdefault(key, []).append(one)
    findings = [_finding(group, timeline, picture_px, remedies or {}) for group in groups.values()]
    findings.sort(key=lambda finding: finding.frames)
    return CheckResult(NAME, QUESTION, tuple(findings), ASSUMPTIONS)


def _finding(
    group: Sequence[EdgeLine], timeline: Timeline, picture_px: tuple[int, int], remedies: Mapping[str, str]
) -> Finding:
    first, last, most = group[0], group[-1], max(group, key=lambda one: one.pixels)
    mixed = most.on_top and all(timeline.at(one.frame).mix_from is not None for one in group)
    if most.on_top:
        why = f"because the wall has {most.served}'s frustum on top"
        remedy = "" if mixed else "hold the cut back until the wall has changed (see the picture delay)"
    else:
        own = most.whose == most.camera
        why = f"because its own frustum {'ends inside its picture' if own else 'does not reach there'}"
        remedy = remedies.get(most.camera, "")
    left, top, right, bottom = most.box_px
    return Finding(
        grade="compromise" if mixed else "fault",
        shot=timeline.shot_at(first.frame).name,
        cameras=(most.camera,) if most.whose == most.camera else (most.camera, most.whose),
        frames=(first.frame, last.frame),
        timecodes=(first.timecode, last.timecode),
        sentence=f"{most.camera}'s picture shows {most.whose}'s edge line {where(most.box_px, picture_px)}, "
        f"{why}: {count(most.pixels, 'pixel')}, {100 * most.share:.2g} % of the picture, at {most.timecode}; "
        f"seen in {count(len(group), 'frame')} looked at ({span(first.timecode, last.timecode)}).",
        remedy=remedy,
        measures={
            "line_of": most.whose,
            "line_pixels": most.pixels,
            "line_picture_percent": round(100 * most.share, 4),
            "box_left_px": left,
            "box_top_px": top,
            "box_right_px": right,
            "box_bottom_px": bottom,
            "worst_timecode": most.timecode,
            "looked_at_frames": len(group),
        },
    )


def where(box_px: tuple[int, int, int, int], picture_px: tuple[int, int]) -> str:
    """A box's place in a picture, in words.

    >>> where((520, 0, 530, 360), (640, 360)), where((0, 0, 640, 360), (640, 360))
    ('from top to bottom, 17 % of the width in from the right', 'all round')
    """
    (left, top, right, bottom), (width, height) = box_px, picture_px
    across, down = (left == 0, right == width), (top == 0, bottom == height)
    if all(across) and all(down):
        return "all round"
    if all(down) and not any(across):
        side, inset = min(("left", left / width), ("right", 1 - right / width), key=lambda at: at[1])
        return f"from top to bottom, {100 * inset:.0f} % of the width in from the {side}"
    if all(across) and not any(down):
        side, inset = min(("top", top / height), ("bottom", 1 - bottom / height), key=lambda at: at[1])
        return f"from left to right, {100 * inset:.0f} % of the height in from the {side}"
    touched = [
        name for name, here in zip(("left", "right", "top", "bottom"), across + down, strict=True) if here
    ]
    return f"at the {' and '.join(touched)}" if touched else "inside the picture"
