"""Structure: does a camera resolve the LED pixels of the wall behind its subject?

On the sensor, rows and columns of LED pixels are a fine grid. Where it is no finer than the photosites and
not blurred by defocus, the grid itself can show, or beat with the photosites: moire. How strong that is
depends on the LED's shape, the lens and the camera's filters; here it is told only where there is something
left to beat.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import inf, nan, sqrt

import numpy as np
import numpy.typing as npt

from preview.camera.focus import blur_disc_mm
from preview.camera.view import CameraView
from preview.checks.look import Look, Plan
from preview.checks.registry import Check, Curve, Mark, register
from preview.checks.result import CheckResult, Finding, Value, span
from preview.checks.where import where
from preview.conventions import Array
from preview.raster.sight import Sight
from preview.show import model
from preview.show.thresholds import StructureLimits
from preview.stage.surface import LedSurface
from preview.timeline.framing import lens_of, sensor_of

LEAST_SHARE = 0.001
"""Structure on less than this share of the picture is not mentioned. Own choice."""
IN_FOCUS_PITCHES = 0.1
"""Blur over less than this share of an LED pixel is called none."""

Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Structure:
    """LED pixels of one surface, as one picture shows them.

    Attributes
    ----------
    surface : name of the LED surface
    pitch_photosites : distance of neighbouring rows or columns of LED pixels on the sensor, smallest and
        largest over the seen surface, in photosites; the wider of the two at each point
    blur_pitches : least diameter of the blur disc over the seen surface, in LED pixels
    nearest_m : from the entrance pupil to the nearest seen point
    share : share of the picture, 0..1, in which structure can come through
    through_m : from the entrance pupil to the nearest point of that part; inf for none
    worst_pitch_photosites, worst_blur_pitches : where the blur hides least of it; NaN where it hides all
    where : words for the part of the picture in which it can; "" for none
    """

    surface: str
    pitch_photosites: tuple[float, float]
    blur_pitches: float
    nearest_m: float
    share: float
    through_m: float
    worst_pitch_photosites: float
    worst_blur_pitches: float
    where: str


def periods_mm(sight: Sight, sensor_mm: tuple[float, float]) -> Array:
    """(h, w) distance, on the sensor, of neighbouring rows or columns of LED pixels: the wider of the two.

    Taken from how canvas coordinates change across the picture, so that foreshortening and the lens's
    distortion are in it. NaN where no neighbouring sightline meets the same LED surface.
    """
    height, width = sight.surface.shape
    across, down = width / sensor_mm[0], height / sensor_mm[1]
    finest = np.full((height, width), np.inf)
    for canvas in (sight.canvas[..., 0], sight.canvas[..., 1]):
        slope_x = _slope(canvas, sight.surface, 1) * across
        slope_y = _slope(canvas, sight.surface, 0) * down
        finest = np.minimum(finest, np.hypot(slope_x, slope_y))  # NaN stays NaN
    with np.errstate(divide="ignore"):
        return 1.0 / finest


def blur_mm(sight: Sight, t_stop: float) -> Array:
    """(h, w) blur disc, on the sensor, of the wall point of each sightline; NaN where there is none."""
    view = sight.view
    axial_mm = 1000.0 * ((sight.points - view.pupil_m) @ view.pose.rotation[:, 1])
    return blur_disc_mm(view.focal_length_mm, t_stop, focus_from_pupil_mm(view), axial_mm)


def focus_from_pupil_mm(view: CameraView) -> float:
    """Distance in focus, counted from the entrance pupil: a lens's scale counts from the sensor.

    Never nearer than just beyond the focal length, where a thin lens stops to form images.
    """
    from_pupil = 1000.0 * (view.focus_m - view.entrance_pupil_offset_m)
    return max(from_pupil, 1.001 * view.focal_length_mm)


def stop_of(camera: model.Camera) -> float:
    """The T-stop a camera's lens is set to; wide open where the show does not say."""
    return lens_of(camera).t_stop if camera.t_stop is None else camera.t_stop


def photosite_mm(camera: model.Camera) -> float:
    """Mean distance of a camera's photosites."""
    sensor = sensor_of(camera)
    return sqrt(np.prod(np.divide(sensor.size_mm, sensor.photosites)))


def structures(
    sight: Sight, camera: model.Camera, surfaces: Sequence[LedSurface], limits: StructureLimits
) -> tuple[Structure, ...]:
    """Every LED surface that a picture shows, and what of its structure can come through."""
    period, blur, resolved = _measured(sight, camera, limits)
    found = []
    for place, surface in enumerate(surfaces):
        seen = sight.wall_seen & (sight.surface == place)
        known = seen & np.isfinite(period)
        if not known.any():
            continue
        through = resolved & seen
        pitches = blur / period
        worst = int(np.argmin(np.where(through, pitches, np.inf)))
        site = photosite_mm(camera)
        found.append(
            Structure(
                surface.name,
                (float(period[known].min()) / site, float(period[known].max()) / site),
                float(pitches[known].min()),
                float(sight.distance_m[seen].min()),
                float(through.mean()),
                float(sight.distance_m[through].min(initial=inf)),
                float(period.flat[worst]) / site if through.any() else nan,
                float(pitches.flat[worst]) if through.any() else nan,
                where(through),
            )
        )
    return tuple(found)


def _measured(sight: Sight, camera: model.Camera, limits: StructureLimits) -> tuple[Array, Array, Bools]:
    """Periods and blur discs in mm, and where structure can come through, (h, w) each."""
    period, blur = periods_mm(sight, sensor_of(camera).size_mm), blur_mm(sight, stop_of(camera))
    with np.errstate(invalid="ignore"):
        coarse = period >= limits.pitch_photosites * photosite_mm(camera)
        resolved = sight.wall_seen & coarse & (blur < limits.blur_pitches * period)
    return period, blur, resolved


def _slope(values: npt.NDArray[np.float32], surface: npt.NDArray[np.int16], axis: int) -> Array:
    """Change of values a cell along an axis, the mean of both sides where both are of the same surface."""
    values = values.astype(np.float64)
    step = np.diff(values, axis=axis)
    before = tuple(slice(None, -1) if side == axis else slice(None) for side in range(2))
    after = tuple(slice(1, None) if side == axis else slice(None) for side in range(2))
    same = (surface[before] == surface[after]) & (surface[before] >= 0)
    total, times = np.zeros_like(values), np.zeros_like(values)
    for side in (before, after):
        total[side] += np.where(same, step, 0.0)
        times[side] += same
    with np.errstate(invalid="ignore"):
        return total / np.where(times > 0, times, nan)


def _pitches(worst: Structure) -> str:
    if worst.worst_blur_pitches < IN_FOCUS_PITCHES:
        return "less than a tenth of it"
    return f"{worst.worst_blur_pitches:.1f} of it"


@dataclass
class _Group:
    """What one camera's pictures of one surface showed in one shot."""

    shot: str
    camera: str
    surface: str
    framing: str
    frames: tuple[int, int]
    worst_frame: int
    worst: Structure
    pitch: tuple[float, float]
    blur: float
    nearest_m: float
    through_m: float = inf
    resolved: list[int] = field(default_factory=list)  # first, last, how many


@register
class StructureCheck(Check):
    """LED pixels on the sensor: their size, their blur, and the distance common practice asks for."""

    name = "structure"
    question = "Can a camera on programme show the grid of LED pixels, or moire of it?"
    assumptions = (
        "An LED pixel's size on the sensor is the distance of neighbouring rows or columns of LED pixels, "
        "the wider of the two, foreshortening and distortion included; structure can come through from "
        "checks.structure.pitch_photosites on.",
        "Blur is a thin lens's disc (encyclopaedic article \"Circle of confusion\"), focus counted from the "
        "entrance pupil, the T-stop taken for the f-number: a real lens blurs a little more. It takes the "
        "structure away from checks.structure.blur_pitches LED pixels on (first zero of a disc's transfer "
        "function, 2 J1(x) / x).",
        "The lens is taken as perfectly sharp, the camera as without an optical low-pass filter. Rays alone "
        "are counted: by waves a blur of that size still lets some contrast through. How strong the pattern "
        "gets is for the moire check.",
        "Least distance: checks.structure.distance_m_per_mm metres a millimetre of pitch (common practice, "
        "no source; it knows neither lens nor sensor and by itself makes no finding).",
        f"Structure on less than {100 * LEAST_SHARE:g} % of the picture is left out. Other cameras and jib "
        "arms in the picture hide nothing here.",
    )  # fmt: skip
    order = 60
    levers = ("focus", "stop", "focal length", "position")

    def __init__(self, plan: Plan) -> None:
        super().__init__(plan)
        self._limits = plan.thresholds.structure
        self._pitch_mm = {surface.name: surface.pixel_pitch_mm for surface in plan.stage.surfaces}
        self._groups: dict[tuple[int, str, str], _Group] = {}
        self._frames: list[int] = []
        self._blur: dict[str, list[float]] = {camera.name: [] for camera in plan.show.file.cameras}

    def see(self, look: Look) -> None:
        """Take in the cameras on programme in one frame."""
        self._frames.append(look.frame)
        for line in self._blur.values():
            line.append(nan)
        for name, _ in look.on_programme:
            for found in self._structures(look, name):
                self._note(look, name, found)

    def _structures(self, look: Look, name: str) -> tuple[Structure, ...]:
        camera = self.plan.camera(name)

        def make() -> tuple[Structure, ...]:
            return structures(look.bare(name), camera, self.plan.stage.surfaces, self._limits)

        return self.plan.once("structure", (name, look.moment.camera(name).view), make)

    def _note(self, look: Look, name: str, found: Structure) -> None:
        shot, frame = look.shot_of(name), look.frame
        key = shot.index, name, found.surface
        if found.pitch_photosites[1] >= self._limits.pitch_photosites:
            least = self._blur[name][-1]
            self._blur[name][-1] = found.blur_pitches if np.isnan(least) else min(least, found.blur_pitches)
        group = self._groups.get(key)
        if group is None:
            framing = look.moment.camera(name).framing
            group = self._groups[key] = _Group(
                shot.name, name, found.surface, framing, (frame, frame), frame, found,
                found.pitch_photosites, found.blur_pitches, found.nearest_m,
            )  # fmt: skip
        low, high = found.pitch_photosites
        group.frames = group.frames[0], frame
        group.pitch = min(group.pitch[0], low), max(group.pitch[1], high)
        group.blur = min(group.blur, found.blur_pitches)
        group.nearest_m = min(group.nearest_m, found.nearest_m)
        if found.share > group.worst.share:
            group.worst_frame, group.worst, group.framing = frame, found, look.moment.camera(name).framing
        if found.share >= LEAST_SHARE:
            group.through_m = min(group.through_m, found.through_m)
            seen = group.resolved
            group.resolved = [seen[0] if seen else frame, frame, seen[2] + 1 if seen else 1]

    def result(self) -> CheckResult:
        """One finding a shot, camera and surface whose structure can show; one fine one a camera else."""
        findings = [self._finding(group) for group in self._groups.values() if group.resolved]
        for name in dict.fromkeys(group.camera for group in self._groups.values()):
            clean = [g for g in self._groups.values() if g.camera == name and not g.resolved]
            if clean:
                findings.append(self._fine(name, clean))
        return self.answer(findings)

    def _practice_m(self, surface: str) -> float:
        return self._limits.distance_m_per_mm * self._pitch_mm[surface]

    def _finding(self, group: _Group) -> Finding:
        worst, (first, last, frames) = group.worst, group.resolved
        labels = self.plan.timeline.timecode(first), self.plan.timeline.timecode(last)
        label = self.plan.timeline.timecode(group.worst_frame)
        near = group.through_m < self._practice_m(group.surface)
        sharp = "nearly in focus" if worst.worst_blur_pitches < 1.0 else "not blurred enough"
        sharp = "in focus" if worst.worst_blur_pitches < IN_FOCUS_PITCHES else sharp
        told = (
            f"{group.camera} sees {group.surface} {sharp} ({worst.where}): an LED pixel covers "
            f"{worst.worst_pitch_photosites:.1f} photosites and blur spans {_pitches(worst)}; its grid or "
            f"moire may show on {100 * worst.share:.2g} % of the picture, at {label} ({span(*labels)})."
        )
        if near:
            practice = self._practice_m(group.surface)
            told += f" It is {group.through_m:.1f} m away; common practice keeps {practice:.1f} m."
        return Finding(
            grade="fault" if near else "compromise",
            shot=group.shot,
            cameras=(group.camera,),
            frames=(first, last),
            timecodes=labels,
            sentence=told,
            measures={
                **self._measures(group),
                "structure_picture_percent": round(100 * worst.share, 4),
                "worst_pitch_photosites": round(worst.worst_pitch_photosites, 4),
                "worst_blur_pitches": round(worst.worst_blur_pitches, 4),
                "looked_at_frames": frames,
                "worst_frame": group.worst_frame,
                "worst_timecode": label,
                "where": worst.where,
            },
        )

    def _measures(self, group: _Group) -> dict[str, Value]:
        view = self.plan.timeline.view_at(group.camera, group.worst_frame)
        return {
            "surface": group.surface,
            "framing": group.framing,
            "smallest_pitch_photosites": round(group.pitch[0], 4),
            "largest_pitch_photosites": round(group.pitch[1], 4),
            "least_blur_pitches": round(group.blur, 4),
            "nearest_m": round(group.nearest_m, 4),
            "practice_distance_m": round(self._practice_m(group.surface), 4),
            "focal_length_mm": round(view.focal_length_mm, 4),
            "focus_m": round(view.focus_m, 4),
            "t_stop": stop_of(self.plan.camera(group.camera)),
        }

    def _fine(self, name: str, clean: Sequence[_Group]) -> Finding:
        most = max(clean, key=lambda group: group.pitch[1])
        limit = self._limits.pitch_photosites
        shots = dict.fromkeys(group.shot for group in clean)
        told = f"{name} in {', '.join(shots)}: an LED pixel covers at most {most.pitch[1]:.1f} photosites"
        if most.pitch[1] < limit:
            told += " and merges with its neighbours."
        else:
            blurred = min((g for g in clean if g.pitch[1] >= limit), key=lambda group: group.blur)
            told += f" ({most.surface}), and blur "
            if blurred.blur >= self._limits.blur_pitches:
                told += f"spans {blurred.blur:.1f} LED pixels or more where it counts."
            else:
                left = max(group.worst.share for group in clean)
                told += f"leaves structure on {100 * left:.1g} % of the picture at most."
            most = blurred
        near = [group for group in clean if group.nearest_m < self._practice_m(group.surface)]
        for group in near[:1]:
            told += f" {group.surface} is {group.nearest_m:.1f} m away, nearer than common practice keeps."
        frames = min(group.frames[0] for group in clean), max(group.frames[1] for group in clean)
        label = self.plan.timeline.timecode(most.worst_frame)
        return Finding(
            grade="fine",
            shot=next(iter(shots)) if len(shots) == 1 else "",
            cameras=(name,),
            frames=frames,
            timecodes=(self.plan.timeline.timecode(frames[0]), self.plan.timeline.timecode(frames[1])),
            sentence=told,
            measures={
                **self._measures(most),
                "structure_picture_percent": round(100 * most.worst.share, 4),
                "worst_frame": most.worst_frame,
                "worst_timecode": label,
                "where": "",
            },
        )

    def curves(self) -> tuple[Curve, ...]:
        """Least blur, in LED pixels, over the surfaces whose pixels the camera could resolve."""
        limit = self._limits.blur_pitches
        seen = {name: line for name, line in self._blur.items() if not np.isnan(line).all()}
        return (Curve("Least blur of the wall", "LED pixels", self._frames, seen, limit, "above"),)

    def tables(self) -> Mapping[str, Sequence[Mapping[str, Value]]]:
        """Every surface that every camera showed in every shot."""
        rows = [
            {"shot": group.shot, "camera": group.camera, "first_frame": group.frames[0],
             "last_frame": group.frames[1], **self._measures(group),
             "structure_picture_percent": round(100 * group.worst.share, 4)}
            for group in self._groups.values()
        ]  # fmt: skip
        return {"structure": rows}

    def marks(self, look: Look, finding: Finding) -> tuple[Mark, ...]:
        """Where structure of the finding's surface can come through."""
        (name,) = finding.cameras
        sight = look.bare(name)
        _, _, resolved = _measured(sight, self.plan.camera(name), self._limits)
        names = [surface.name for surface in self.plan.stage.surfaces]
        mask = resolved & (sight.surface == names.index(str(finding.measures["surface"])))
        return (Mark(name, mask, "LED structure"),) if mask.any() else ()
