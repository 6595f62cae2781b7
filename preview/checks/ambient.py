"""Ambient: stage light on the LED surfaces, what it leaves of their contrast, and the wall against the key.

Stage light lifts an LED surface's black, and no picture on it can be darker than that. The level of its white
against the light on people decides whether both fit one exposure.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import inf, isfinite, log2, pi

import numpy as np
import numpy.typing as npt

from preview.camera.exposure import Exposure, camera_exposure
from preview.checks.look import Look, Plan
from preview.checks.registry import Check, Mark, register
from preview.checks.result import CheckResult, Finding, Value, count
from preview.checks.where import where
from preview.conventions import BT709_LUMINANCE, Array
from preview.raster.sight import Sight
from preview.show.model import StageLight
from preview.stage.build import stage_ambient, stage_lights
from preview.stage.surface import LedSurface
from preview.wall.slots import slots

TABLE_CELLS = 256
"""Fields along the longer side of an unrolled surface, in which its facets are looked up."""
ALIKE = 0.02
"""Reflected light that differs by less than this share counts as the same all over. Own choice."""
DARK_CD_M2 = 0.001
"""Less reflected light than this is none."""


def card_levels(light: StageLight, normals: Array) -> Array:
    """What a white matt card reads in the stage light, by where it faces.

    Parameters
    ----------
    normals : (n, 3) unit normals of the cards

    Returns
    -------
    (n,) relative luminance, 1.0 = stage white; nothing throws a shadow
    """
    total = np.full(len(normals), float(np.dot(stage_ambient(light).zenith, BT709_LUMINANCE)))
    for lamp in stage_lights(light):
        level = lamp.intensity / pi * float(np.dot(lamp.color, BT709_LUMINANCE))
        total += level * np.maximum(0.0, -(normals @ np.asarray(lamp.direction)))
    return total


def key_card_level(light: StageLight) -> float:
    """What a white matt card reads that faces the key, with fill and ambient light on it; 0 without a key."""
    key = next((lamp for lamp in stage_lights(light) if lamp.name == "key"), None)
    return 0.0 if key is None else float(card_levels(light, -np.asarray([key.direction]))[0])


def reflected_cd_m2(illuminance_lx: float, reflectance: float) -> float:
    """Luminance of a matt surface in this light.

    Source: a Lambertian surface, L = E rho / pi.

    >>> round(reflected_cd_m2(300, 0.04), 4)
    3.8197
    """
    return illuminance_lx * reflectance / pi


def contrast_left(white_cd_m2: float, reflected: float, black_cd_m2: float = 0.0) -> float:
    """Ratio of an LED surface's white to its black with reflected light (cd/m2) on both; inf for no black.

    >>> round(contrast_left(1000, reflected_cd_m2(300, 0.04), 0.05), 1)
    259.4
    """
    darkest = black_cd_m2 + reflected
    return (white_cd_m2 + reflected) / darkest if darkest > 0.0 else inf


def facet_table(surface: LedSurface, most: int = TABLE_CELLS) -> npt.NDArray[np.int32]:
    """(rows, columns) triangle under the middle of each field of the unrolled surface; -1 for none.

    Fields are square in canvas coordinates, ``most`` along the longer side or one an LED pixel.
    """
    width, height = surface.canvas_px
    cell = max(1.0, max(width, height) / most)
    table = np.full((max(1, round(height / cell)), max(1, round(width / cell))), -1, dtype=np.int32)
    u = (np.arange(table.shape[1]) + 0.5) * width / table.shape[1]
    v = (np.arange(table.shape[0]) + 0.5) * height / table.shape[0]
    for number, corners in enumerate(surface.canvas[surface.triangles]):
        low, high = corners.min(axis=0), corners.max(axis=0)
        columns, rows = ((axis >= a) & (axis <= b) for axis, a, b in zip((u, v), low, high, strict=True))
        if not (columns.any() and rows.any()):
            continue
        at = np.stack(np.meshgrid(u[columns], v[rows]), axis=-1)
        weights = (at - corners[0]) @ np.linalg.inv(corners[1:] - corners[0])
        inside = np.minimum(weights.min(axis=-1), 1.0 - weights.sum(axis=-1)) >= -1e-9
        part = table[np.ix_(rows, columns)]
        table[np.ix_(rows, columns)] = np.where(inside, number, part)
    return table


@dataclass(frozen=True)
class _Lifted:
    """What one picture sees of one surface in stage light: luminance in cd/m2, places in words."""

    surface: int
    worst_cd_m2: float
    worst_lx: float
    mean_cd_m2: float
    part: str
    where: str


@dataclass
class _Worst:
    """The picture on programme that sees the most stage light on a surface."""

    camera: str
    shot: str
    frame: int
    seen: _Lifted
    first_low: int | None = None
    last_low: int | None = None


@register
class AmbientCheck(Check):
    """Contrast that stage light leaves of each LED surface, and its white against key and exposure."""

    name = "ambient"
    question = "What does stage light leave of the LED surfaces' contrast, and does their white suit the key?"
    assumptions = (
        "Stage light is the show's: a white matt card that faces it reads key_level, fill_level or "
        "ambient_level of stage white. It falls on LED surfaces as on the set, by the cosine: nothing throws "
        "a shadow and no flag or barn door keeps it off. That is the cautious reading.",
        "An LED surface sends back its reflectance like a matt one (L = E rho / pi); real masks and covers "
        "are partly glossy, and show lamps as highlights where they mirror them.",
        "An LED surface's own black is taken as 0, and its white as the level all walls are lined up to. "
        "Light from one LED surface on another, and haze, are left out.",
        "The key is a white matt card that faces the key light, with fill and ambient light on it. A "
        "camera's exposure is that of a reflected-light meter (ISO 2720:1974, K = 12.5), its T-stop "
        "taken for the f-number.",
    )
    caution = (
        "A bright LED wall and key light can dazzle and tire people on the set, near the wall most of all. "
        "These numbers describe the picture; how bright it may be for people is for those responsible on "
        "site, under local rules."
    )
    order = 100
    levers = ("stage light", "wall level")

    def __init__(self, plan: Plan) -> None:
        super().__init__(plan)
        self._limits, light = plan.thresholds.ambient, plan.show.file.stage.light
        self._white = plan.stage.white_cd_m2
        self._lux = [self._of_surface(surface, light) for surface in plan.stage.surfaces]
        self._worst: dict[int, _Worst] = {}
        self._seen: dict[str, tuple[int, int]] = {}

    def _of_surface(self, surface: LedSurface, light: StageLight) -> Array:
        """(rows, columns) illuminance over the unrolled surface, lx; NaN off its facets."""
        table = self.plan.once("facets", surface.name, lambda: facet_table(surface))
        lux = card_levels(light, surface.normals) * self._white * pi
        return np.where(table >= 0, lux[table], np.nan)

    def see(self, look: Look) -> None:
        """Take in the cameras on programme in one frame."""
        for name, _ in look.on_programme:
            self._seen[name] = self._seen.get(name, (look.frame, 0))[0], look.frame
            for seen in self._seen_by(look, name):
                self._note(look, name, seen)

    def _seen_by(self, look: Look, name: str) -> tuple[_Lifted, ...]:
        view = look.moment.camera(name).view
        return self.plan.once("ambient", view, lambda: self._lifted(look.bare(name)))

    def _note(self, look: Look, name: str, seen: _Lifted) -> None:
        worst = self._worst.get(seen.surface)
        if worst is None:
            worst = self._worst[seen.surface] = _Worst(name, look.shot_of(name).name, look.frame, seen)
        elif seen.worst_cd_m2 > worst.seen.worst_cd_m2:
            worst.camera, worst.shot = name, look.shot_of(name).name
            worst.frame, worst.seen = look.frame, seen
        if contrast_left(self._white, seen.worst_cd_m2) < self._limits.contrast:
            worst.first_low = look.frame if worst.first_low is None else worst.first_low
            worst.last_low = look.frame

    def _lifted(self, sight: Sight) -> tuple[_Lifted, ...]:
        found = []
        for place, surface in enumerate(self.plan.stage.surfaces):
            lux = self._illuminance(sight, place)
            known = np.isfinite(lux)
            if not known.any():
                continue
            worst, mean = float(lux[known].max()), float(lux[known].mean())
            with np.errstate(invalid="ignore"):
                most = lux >= worst * (1.0 - ALIKE)
            part = "all over" if most.sum() == known.sum() else _part(sight.canvas[most], surface)
            lifted, level = (reflected_cd_m2(light, surface.reflectance) for light in (worst, mean))
            found.append(_Lifted(place, lifted, worst, level, part, where(most)))
        return tuple(found)

    def _illuminance(self, sight: Sight, place: int) -> Array:
        """(h, w) illuminance of one surface where a picture sees it, lx; NaN elsewhere."""
        surface, table = self.plan.stage.surfaces[place], self._lux[place]
        seen = sight.wall_seen & (sight.surface == place)
        columns, rows = (
            np.clip(
                (sight.canvas[seen][:, axis] / surface.canvas_px[axis] * side).astype(np.int64), 0, side - 1
            )
            for axis, side in ((0, table.shape[1]), (1, table.shape[0]))
        )
        lux = np.full(sight.surface.shape, np.nan)
        lux[seen] = table[rows, columns]
        return lux

    def result(self) -> CheckResult:
        """One finding a surface seen, one on the wall's white against the key, one an exposure."""
        if not self._seen:
            return self.answer(())
        findings = [self._contrast(self._worst[place]) for place in sorted(self._worst)]
        return self.answer([*findings, self._key(), *self._exposures()])

    def _contrast(self, worst: _Worst) -> Finding:
        surface = self.plan.stage.surfaces[worst.seen.surface]
        lifted, white = worst.seen.worst_cd_m2, self._white
        left, falls = contrast_left(white, lifted), lifted >= DARK_CD_M2
        low = worst.first_low is not None and worst.last_low is not None
        span = (worst.first_low or 0, worst.last_low or 0) if low else self._over()
        label = self.plan.timeline.timecode(worst.frame)
        if falls:
            at = "all over it" if worst.seen.part == "all over" else f"on {worst.seen.part} of it"
            told = (
                f"Stage light lifts {surface.name}'s black to {lifted:.3g} cd/m2 {at} as {worst.camera} sees "
                f"it: contrast left {left:.0f}:1"
            )
            mean = contrast_left(white, worst.seen.mean_cd_m2)
            told += f", {mean:.0f}:1 on average" if round(mean) != round(left) else ""
            told += f" ({self._limits.contrast:g}:1 asked for)." if low else "."
        else:
            told = f"No stage light falls on what {worst.camera} sees of {surface.name}."
        return Finding(
            grade="fault" if low else "fine",
            shot=worst.shot,
            cameras=(worst.camera,),
            frames=span,
            timecodes=self._labels(span),
            sentence=told,
            measures={
                "surface": surface.name,
                "contrast": round(left, 2) if falls else None,
                "black_cd_m2": round(lifted, 4),
                "mean_black_cd_m2": round(worst.seen.mean_cd_m2, 4),
                "illuminance_lx": round(worst.seen.worst_lx, 1),
                "reflectance": surface.reflectance,
                "white_cd_m2": white,
                "worst_frame": worst.frame,
                "worst_timecode": label,
                "where": worst.seen.where,
            },
        )

    def _key(self) -> Finding:
        card = key_card_level(self.plan.show.file.stage.light)
        white, over = self._white, inf if card == 0.0 else -log2(card)
        high, low = self._limits.wall_over_key_stops, -self._limits.wall_under_key_stops
        peak = min(self.plan.stage.headroom)
        if not isfinite(over):
            told, grade = "The stage light has no key to hold the wall's white against.", "fine"
        else:
            side = "over" if over >= 0 else "under"
            told = (
                f"The wall's white ({white:g} cd/m2) lies {abs(over):.1f} stops {side} a white card in the "
                f"key light ({card * white:.0f} cd/m2, about {pi * card * white:.0f} lx)"
            )
            grade = "fine" if low <= over <= high else "compromise"
            if over > high:
                told += f", more than {high:g}: people look dark before it, or the wall burns out"
            elif over < low:
                told += f", more than {-low:g}: the wall looks dull behind the people"
            told += f"; the dimmest surface could give {log2(peak):.1f} stops more."
        first = self._over()[0]
        return self._overall(
            grade, tuple(self._seen), told, first,
            {
                "white_over_key_stops": round(over, 4) if isfinite(over) else None,
                "key_card_cd_m2": round(card * white, 3),
                "key_illuminance_lx": round(pi * card * white, 1),
                "white_cd_m2": white,
                "headroom_stops": round(log2(peak), 4),
            },
        )  # fmt: skip

    def _exposures(self) -> list[Finding]:
        """One finding for all cameras of the same exposure."""
        alike: dict[Exposure, list[str]] = {}
        for name in self._seen:
            alike.setdefault(self._exposure(name), []).append(name)
        return [self._exposed(exposure, names) for exposure, names in alike.items()]

    def _exposure(self, name: str) -> Exposure:
        file = self.plan.show.file
        made = slots(file) if file.drive.mode == "interleaved" else ()
        opened = next((slot.open_s for slot in made if slot.camera == name), None)
        return camera_exposure(self.plan.camera(name), Fraction(file.show.frame_rate), opened)

    def _exposed(self, exposure: Exposure, names: Sequence[str]) -> Finding:
        picture = self.plan.show.file.picture
        over = exposure.stops_over_video(self._white)
        room = picture.knee_range_stops if picture.knee_point < 1.0 else 0.0
        shown = f"{abs(over):.1f} stops {'over' if over > 0 else 'under'} 100 % video"
        told = f"{', '.join(names)} (T{exposure.t_stop:g}, {1000 * exposure.exposure_s:.3g} ms, "
        told += f"ISO {exposure.iso:.0f}) {'shows' if len(names) == 1 else 'show'} the wall's white {shown}"
        if over > room:
            told += f", and the knee holds {count_stops(room)}: the brightest parts of the wall clip."
        else:
            told += f", within the knee's {count_stops(room)}." if over > 0 else "."
        return self._overall(
            "compromise" if over > room else "fine", tuple(names), told, self._seen[names[0]][0],
            {
                "white_over_video_stops": round(over, 4),
                "knee_stops": room,
                "t_stop": exposure.t_stop,
                "exposure_ms": round(1000 * exposure.exposure_s, 4),
                "iso": round(exposure.iso, 1),
                "full_video_cd_m2": round(exposure.full_video_cd_m2, 3),
            },
        )  # fmt: skip

    def _overall(
        self, grade: str, names: tuple[str, ...], told: str, frame: int, measures: dict[str, Value]
    ) -> Finding:
        span, label = self._over(), self.plan.timeline.timecode(frame)
        at: dict[str, Value] = {"worst_frame": frame, "worst_timecode": label, "where": ""}
        return Finding(
            grade=grade,  # type: ignore[arg-type]
            shot="",
            cameras=names,
            frames=span,
            timecodes=self._labels(span),
            sentence=told,
            measures={**measures, **at},
        )

    def _over(self) -> tuple[int, int]:
        return min(a for a, _ in self._seen.values()), max(b for _, b in self._seen.values())

    def _labels(self, frames: tuple[int, int]) -> tuple[str, str]:
        return self.plan.timeline.timecode(frames[0]), self.plan.timeline.timecode(frames[1])

    def marks(self, look: Look, finding: Finding) -> tuple[Mark, ...]:
        """Where the finding's surface is lifted the most."""
        if "surface" not in finding.measures:
            return ()
        names = [surface.name for surface in self.plan.stage.surfaces]
        (camera,) = finding.cameras
        lux = self._illuminance(look.bare(camera), names.index(str(finding.measures["surface"])))
        if not np.isfinite(lux).any():
            return ()
        with np.errstate(invalid="ignore"):
            mask = lux >= np.nanmax(lux) * (1.0 - ALIKE)
        return (Mark(camera, mask, "black lifted most"),)


def count_stops(stops: float) -> str:
    """Stops with their noun, for sentences.

    >>> count_stops(1.0), count_stops(2.5)
    ('1 stop', '2.5 stops')
    """
    return count(1, "stop") if stops == 1.0 else f"{stops:g} stops"


def _part(canvas: npt.NDArray[np.float32], surface: LedSurface) -> str:
    """Which third of the unrolled surface canvas points (n, 2) lie in, on average."""
    third = int(min(2.0, 3.0 * float(canvas[:, 0].mean()) / surface.canvas_px[0]))
    return ("the left", "the middle", "the right")[third]
