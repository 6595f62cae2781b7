"""From where on a check speaks up: the show file's [checks] table, one table a check.

Defaults are common practice without a source where no source stands beside them. They say when a crew
wants to know, not what is allowed: a show's own numbers win.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from preview.show.table import NotNegative, Percent, Positive, Table


class BleedLimits(Table):
    """Another camera's frustum in a picture."""

    on_air_percent: Percent = 0.0
    """Share of a picture on programme that may show another camera's frustum."""
    off_air_percent: Percent = 1.0
    """Share of a picture off air from which the operator is told to work by the return."""


class CoverageLimits(Table):
    """A camera's own frustum image against its picture."""

    missing_percent: Percent = 0.0
    """Share of a picture on programme that its own image may leave to the outer image."""


class OffWallLimits(Table):
    """Pictures that look past the LED surfaces."""

    percent: Percent = 0.0
    """Share of a picture on programme that may show neither LED surface nor set."""


class CrossingLimits(Table):
    """Other cameras, their operators and the jib's arm in a picture."""

    percent: Percent = 0.02
    """Share of a picture on programme that they may cover."""


class ViewingAngleLimits(Table):
    """LED tiles seen from the side."""

    loss_percent: Percent = 25.0
    """Loss of luminance against straight on, at the worst seen point of an LED surface."""
    colour_shift_deg: Annotated[float, Field(gt=0, lt=90)] = 65.0
    """Angle off the surface's normal from where tiles shift in colour; tests on the tiles decide."""
    difference_stops: NotNegative = 0.5
    """Difference of luminance across one LED surface in one picture."""


class StructureLimits(Table):
    """LED pixels that the camera resolves."""

    distance_m_per_mm: Positive = 1.0
    """Least distance in metres for each millimetre of pixel pitch."""
    pitch_photosites: Positive = 1.0
    """From this size of an LED pixel on the sensor on, its structure can come through; smaller ones merge."""
    blur_pitches: Positive = 1.22
    """Diameter of the wall's blur disc, in LED pixels on the sensor, that takes the structure away. 1.22: the
    first zero of a disc's transfer function, 2 J1(x) / x, at one cycle a pixel."""


class MoireLimits(Table):
    """Moire that an observer sees."""

    risk: Annotated[float, Field(ge=0, le=1)] = 0.5
    """From this risk on a pattern counts; 0.5 is about seven times what an observer sees on an even field at
    three picture heights, so that plain walls show it and busy ones mostly hide it."""
    picture_percent: Percent = 1.0
    """Share of a picture on programme that such patterns may cover."""


class CutLimits(Table):
    """Frames round a cut."""

    wrong_frames: Annotated[int, Field(ge=0)] = 0
    """Frames a cut on which programme may show another camera's background."""


class ClearanceLimits(Table):
    """Least distances to what moves: jib arms, camera bodies, operators who walk. No safety distances."""

    people_m: NotNegative = 1.0
    """From jib arms and camera bodies to people on the set."""
    carried_m: NotNegative = 0.5
    """From cameras that are carried, and operators who walk, to people on the set."""
    set_m: NotNegative = 0.3
    """To set pieces."""
    surface_m: NotNegative = 0.5
    """To LED surfaces."""
    equipment_m: NotNegative = 0.5
    """To other cameras, their stands and operators."""
    floor_m: NotNegative = 0.1
    """From a jib's arm and head to the floor."""


class FlashingLimits(Table):
    """Flashing images; defaults from Recommendation ITU-R BT.1702-3 (11/2023), read through texts that quote
    it."""

    step_cd_m2: Positive = 20.0
    """Change of luminance that counts where the darker image is below dark_cd_m2."""
    dark_cd_m2: Positive = 160.0
    """Above it only brighter displays than SDR count, from a contrast of 1/17 on."""
    area_percent: Percent = 25.0
    """Share of the picture that has to change at the same time."""
    flashes: Annotated[int, Field(ge=0)] = 3
    """Flashes in any one second."""
    sustained_s: Positive = 5.0
    """Flashing within the limits that goes on for longer than this is mentioned."""


class AmbientLimits(Table):
    """What stage light leaves of the wall's contrast."""

    contrast: Annotated[float, Field(ge=1)] = 20.0
    """Least ratio of the wall's white to its black as the camera sees it, stage light on it."""
    wall_over_key_stops: NotNegative = 1.0
    """Most that the wall's white may lie above a white card in the key light."""
    wall_under_key_stops: NotNegative = 2.0
    """Most that it may lie below."""


class Checks(Table):
    """From where on ``preview check`` speaks up."""

    bleed: BleedLimits = BleedLimits()
    coverage: CoverageLimits = CoverageLimits()
    off_wall: OffWallLimits = OffWallLimits()
    crossing: CrossingLimits = CrossingLimits()
    viewing_angle: ViewingAngleLimits = ViewingAngleLimits()
    structure: StructureLimits = StructureLimits()
    moire: MoireLimits = MoireLimits()
    cuts: CutLimits = CutLimits()
    clearance: ClearanceLimits = ClearanceLimits()
    flashing: FlashingLimits = FlashingLimits()
    ambient: AmbientLimits = AmbientLimits()
