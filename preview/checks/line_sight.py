"""Edge lines on a shared wall, looked for in every frame on coarse sightlines.

``preview.checks.edge_lines`` counts the same on every pixel of one picture. A line can be thinner than the
grid of sightlines here; it is found all the same where it runs between two of them, because the frustum on
one side of it is not the one on the other.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from preview.checks.edge_lines import NAME, QUESTION, facet_normals, on_line
from preview.checks.look import Look, Plan
from preview.checks.registry import Check, Mark, register
from preview.checks.result import CheckResult, Finding, count, span
from preview.checks.seen_wall import reaches
from preview.checks.where import where
from preview.conventions import Array
from preview.raster.request import Layer
from preview.raster.sight import Sight
from preview.stage.surface import LedSurface
from preview.wall.layer import inner_image

RIM_STEP = 4
"""At the picture's rim, one of this many sightlines of the grid is looked at."""

Bools = npt.NDArray[np.bool_]


def line_masks(
    sight: Sight,
    stack: tuple[Layer, ...],
    surfaces: tuple[LedSurface, ...],
    picture_px: tuple[int, int],
) -> dict[int, Bools]:
    """Where a picture shows the lines of a wall's layers.

    Parameters
    ----------
    sight : of the picture, without equipment
    stack : what the wall shows, from bottom to top
    picture_px : size of the camera pictures

    Returns
    -------
    (h, w) masks by place in ``stack``; layers whose line is not seen have none
    """
    lit, seen = sight.lit, sight.wall_seen
    points, surface = sight.points[lit], sight.surface[lit].astype(np.int32)
    rim = _Rim(sight, surfaces, picture_px)
    open_grid, masks = np.ones(len(points), dtype=bool), {}

    def normals_of(which: npt.NDArray[np.int64]) -> Array:
        return facet_normals(points[which], surface[which], surfaces, sight.view.pupil_m)

    for place in reversed(range(len(stack))):
        layer = stack[place]
        covered = open_grid & reaches(layer.image, points, picture_px)
        if layer.edge_rgb is not None and layer.edge_width_m > 0.0:
            mask = np.zeros(lit.shape, dtype=bool)
            mask[lit] = on_line(layer, points, covered, normals_of, picture_px)
            mask |= _ends(_over(covered, lit), _over(open_grid, lit) & seen)
            mask |= rim.on_line(layer)
            mask &= seen
            if mask.any():
                masks[place] = mask
        open_grid &= ~covered
        rim.cover(layer)
        if not (open_grid.any() or rim.open.any()):
            break
    return masks


def _over(values: Bools, lit: Bools) -> Bools:
    whole = np.zeros(lit.shape, dtype=bool)
    whole[lit] = values
    return whole


def _ends(covered: Bools, looked_at: Bools) -> Bools:
    """Covered sightlines with a neighbour, among those looked at, that is not covered."""
    ends = np.zeros_like(covered)
    for axis in (0, 1):
        one = (slice(None, -1), slice(None)) if axis == 0 else (slice(None), slice(None, -1))
        other = (slice(1, None), slice(None)) if axis == 0 else (slice(None), slice(1, None))
        both = looked_at[one] & looked_at[other]
        ends[one] |= both & covered[one] & ~covered[other]
        ends[other] |= both & covered[other] & ~covered[one]
    return ends


class _Rim:
    """The outermost pixels of a picture, which the grid's sightlines lie half a field inside of."""

    def __init__(self, sight: Sight, surfaces: tuple[LedSurface, ...], picture_px: tuple[int, int]) -> None:
        height, width = sight.surface.shape
        rows = np.arange(RIM_STEP // 2, height, RIM_STEP)
        columns = np.arange(RIM_STEP // 2, width, RIM_STEP)
        sides = (
            (np.zeros_like(columns), columns), (np.full_like(columns, height - 1), columns),
            (rows, np.zeros_like(rows)), (rows, np.full_like(rows, width - 1)),
        )  # fmt: skip
        row, column = (np.concatenate([side[axis] for side in sides]) for axis in (0, 1))
        # Middles of fields along the rim; across it the middle of the outermost pixel.
        x = (column + 0.5) / width * picture_px[0]
        y = (row + 0.5) / height * picture_px[1]
        upright, level = len(columns) * 2, picture_px
        x[upright:] = np.where(column[upright:] == 0, 0.5, level[0] - 0.5)
        y[:upright] = np.where(row[:upright] == 0, 0.5, level[1] - 0.5)
        rays, _ = sight.view.sightlines(np.column_stack([x, y]), picture_px)
        nearest = np.full(len(rays), np.inf)
        lit, normals = np.zeros(len(rays), dtype=bool), np.zeros((len(rays), 3))
        for surface in surfaces:
            hits = surface.intersect(sight.view.pupil_m, rays)
            closer = hits.distance_m < nearest
            nearest[closer], lit[closer] = hits.distance_m[closer], hits.front[closer]
            normals[closer] = surface.normals[hits.triangle[closer]]
        self._points = sight.view.pupil_m + rays[lit] * nearest[lit, None]
        self._normals, self._cells = normals[lit], (row[lit], column[lit])
        self._shape, self._picture_px = sight.surface.shape, picture_px
        self.open = np.ones(len(self._points), dtype=bool)

    def on_line(self, layer: Layer) -> Bools:
        """(h, w) fields of the rim in which the layer's line is seen."""
        covered = self.open & reaches(layer.image, self._points, self._picture_px)
        lit = on_line(layer, self._points, covered, lambda which: self._normals[which], self._picture_px)
        mask = np.zeros(self._shape, dtype=bool)
        mask[self._cells[0][lit], self._cells[1][lit]] = True
        return mask

    def cover(self, layer: Layer) -> None:
        """Leave out what the layer hides of those under it."""
        self.open &= ~reaches(layer.image, self._points, self._picture_px)


@dataclass
class _Line:
    """The line of one frustum in the pictures of one camera in one shot."""

    shot: str
    camera: str
    whose: str
    served: str  # whose frustum the wall has on top
    frames: tuple[int, int]
    looked_at: int = 0
    unmixed: bool = False
    worst_frame: int = 0
    worst_share: float = 0.0
    where: str = ""


@register
class EdgeLineCheck(Check):
    """Lines along frustums' edges in the pictures on programme, when the wall is shared."""

    name = NAME.replace(" ", "-")
    question = QUESTION
    assumptions = (
        "Looked for on a grid of sightlines: a line is seen where one ends on it, or where it runs between "
        "two. Its share of the picture counts grid fields, each of them whole.",
        f"At the picture's rim the outermost pixels count, at one of {RIM_STEP} fields.",
        "What set and people hide is not counted; other cameras and jib arms hide nothing here.",
    )
    order = 75
    levers = ("overscan", "picture delay", "edge line")

    def __init__(self, plan: Plan) -> None:
        super().__init__(plan)
        self._lines: dict[tuple[int, str, str, str], _Line] = {}
        self._seen: dict[str, tuple[int, int]] = {}

    @property
    def _drawn(self) -> bool:
        settings = self.plan.show.file.drive
        return settings.mode == "shared" and settings.edge_line and settings.edge_width_mm > 0

    def see(self, look: Look) -> None:
        """Take in the cameras on programme in one frame."""
        for name, _ in look.on_programme:
            self._seen[name] = self._seen.get(name, (look.frame, 0))[0], look.frame
            if self._drawn:
                for whose, (share, place) in self._told(look, name).items():
                    self._note(look, name, whose, share, place)

    def _told(self, look: Look, name: str) -> Mapping[str, tuple[float, str]]:
        def make() -> dict[str, tuple[float, str]]:
            return {
                whose: (float(mask.mean()), where(mask)) for whose, mask in self._masks(look, name).items()
            }

        return self.plan.once("edge lines", (name, look.moment.camera(name).view, look.wall), make)

    def _masks(self, look: Look, name: str) -> dict[str, Bools]:
        stack, _ = look.wall.in_slot_of(name)
        owners = {inner_image(camera): camera.name for camera in look.moment.cameras}
        size = self.plan.show.file.show.picture_size_px
        masks = line_masks(look.bare(name), stack, self.plan.stage.surfaces, size)
        return {owners[stack[place].image]: mask for place, mask in masks.items()}

    def _note(self, look: Look, name: str, whose: str, share: float, place: str) -> None:
        moment = look.moment
        served, frames = moment.wall_camera, (look.frame, look.frame)
        shot = look.shot_of(name)
        key = shot.index, name, whose, served
        line = self._lines.setdefault(key, _Line(shot.name, name, whose, served, frames))
        line.frames, line.looked_at = (line.frames[0], look.frame), line.looked_at + 1
        line.unmixed |= moment.mix_from is None
        if share > line.worst_share:
            line.worst_share, line.worst_frame, line.where = share, look.frame, place

    def result(self) -> CheckResult:
        """One finding a shot, picture and line seen; one fine one for the cameras that show none."""
        findings = [self._finding(line) for line in self._lines.values()]
        clean = [name for name in self._seen if name not in {line.camera for line in self._lines.values()}]
        return self.answer([*findings, *([self._clean(clean)] if clean else [])])

    def _finding(self, line: _Line) -> Finding:
        timeline = self.plan.timeline
        other = line.served != line.camera
        mixed = other and not line.unmixed
        if other:
            why = f"the wall has {line.served}'s frustum on top"
        else:
            ends = "ends inside its picture" if line.whose == line.camera else "does not reach there"
            why = f"its own frustum {ends}"
        labels = timeline.timecode(line.frames[0]), timeline.timecode(line.frames[1])
        label = timeline.timecode(line.worst_frame)
        return Finding(
            grade="compromise" if mixed else "fault",
            shot=line.shot,
            cameras=(line.camera,) if line.whose == line.camera else (line.camera, line.whose),
            frames=line.frames,
            timecodes=labels,
            sentence=f"{line.camera}'s picture shows {line.whose}'s edge line ({line.where}), because {why}; "
            f"most of it at {label}, seen in {count(line.looked_at, 'frame')} looked at ({span(*labels)}).",
            measures={
                "line_of": line.whose,
                "on_top": line.served,
                "line_fields_percent": round(100 * line.worst_share, 4),
                "looked_at_frames": line.looked_at,
                "worst_frame": line.worst_frame,
                "worst_timecode": label,
                "where": line.where,
            },
        )

    def _clean(self, names: list[str]) -> Finding:
        timeline = self.plan.timeline
        frames = min(self._seen[n][0] for n in names), max(self._seen[n][1] for n in names)
        told = f"No edge line in the pictures of {', '.join(names)}."
        told = told if self._drawn else "No edge lines are drawn on this wall."
        return Finding(
            grade="fine",
            shot="",
            cameras=tuple(names),
            frames=frames,
            timecodes=(timeline.timecode(frames[0]), timeline.timecode(frames[1])),
            sentence=told,
            measures={
                "worst_frame": frames[0],
                "worst_timecode": timeline.timecode(frames[0]),
                "where": "",
            },
        )

    def marks(self, look: Look, finding: Finding) -> tuple[Mark, ...]:
        """The fields in which the finding's line is seen."""
        if not self._drawn or "line_of" not in finding.measures:
            return ()
        name, whose = finding.cameras[0], str(finding.measures["line_of"])
        mask = self._masks(look, name).get(whose)
        return () if mask is None else (Mark(name, mask, f"{whose}'s edge line"),)
