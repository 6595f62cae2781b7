"""A floor map worked out: grid, pictures, clearance and thresholds together."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import fields

import numpy as np

from preview.checks.near import stage_targets
from preview.checks.structure import LEAST_SHARE
from preview.errors import RequestError
from preview.floor.aim import Aim, LensGrid, Stands, folded
from preview.floor.clearance import Room, floor_targets
from preview.floor.grid import FloorGrid, behind_walls, floor_grid, on_led_floor
from preview.floor.options import FloorOptions
from preview.floor.pictures import Pictured, Pictures, picture_grid
from preview.floor.polygons import Polygons
from preview.floor.result import BEHIND_WALL, ON_LED_FLOOR, Floats, FloorMap, Layer, LayerName
from preview.floor.risk import Risk
from preview.show.load import Show
from preview.stage.appearance import equipment_at
from preview.stage.build import Stage, build_stage
from preview.stage.equipment import Solid
from preview.timeline.moment import CameraMoment
from preview.timeline.timeline import Timeline
from preview.wall.layer import inner_image

CAUTION = (
    "A planning aid. Distances are geometric and say nothing of load, balance, wind, stopping distance, "
    "overhead clearance or exclusion zones; whether a place is in reach, and past whom, the crew sees. "
    "Rigging and operation are for trained operators under local law, site rules and the equipment's manual; "
    "they decide."
)
"""Printed with every floor map."""


def floor_map(
    show: Show,
    camera: str,
    framing: str,
    options: FloorOptions | None = None,
    stage: Stage | None = None,
    timeline: Timeline | None = None,
    on_place: Callable[[int, int], None] = lambda done, total: None,
) -> FloorMap:
    """Take a framing of a camera from everywhere on the studio floor.

    Parameters
    ----------
    show : the show
    camera, framing : names
    options : as ``FloorOptions``; its defaults when None
    stage, timeline : of the show, where they were made before
    on_place : told places done and places to do

    Raises
    ------
    RequestError : no such camera or framing, a frame outside the rundown, or a grid of too many places.
    ShowError, AssetError : as ``preview.stage.build.build_stage``.
    """
    options = options or FloorOptions()
    _known(show, camera, framing)
    stage, timeline = stage or build_stage(show), timeline or Timeline(show)
    frame = others_frame(timeline, camera, framing, options)
    others = [one for one in timeline.at(frame).cameras if one.name != camera]
    aim = Aim.of(show.file, camera, framing, options)
    polygons = Polygons.of(stage.surfaces)
    standing = [_here(one) for one in others]
    standing += [timeline.framing_view(camera, one.name).pose.position_m for one in aim.camera.framings]
    try:
        grid = floor_grid(stage.surfaces, [*standing, aim.subject_m], options)
    except ValueError as error:
        raise RequestError(f"--step: {error}") from error
    stands = aim.stands(*grid.places)
    _no_place(aim, stage, polygons, stands)
    usable = stands.reason == 0
    lens = LensGrid(aim.camera, picture_grid(*options.sightlines), stands.projection_mm[usable])
    folded(stands, lens)
    usable = stands.reason == 0
    picture_px = show.file.show.picture_size_px
    planes = np.array([inner_image(one).border_planes(picture_px) for one in others]).reshape(-1, 4, 4)
    risk = Risk(aim.camera, stage.surfaces, picture_px)
    pictures = Pictures(aim, polygons, risk, show.file.checks, planes, lens)
    total = int(usable.sum())
    seen = pictures.take(stands.take(np.flatnonzero(usable)), lambda done: on_place(done, total))
    room = _room(show, aim, stage, polygons, others)
    clearance = room.over(stands, grid.shape, usable.reshape(grid.shape))
    shot = f"{timeline.shot_at(frame).name}, {timeline.timecode(frame)}"
    return FloorMap(
        camera=camera,
        framing=framing,
        x_m=grid.x_m,
        y_m=grid.y_m,
        height_m=stands.position_m[:, 2].reshape(grid.shape).astype(np.float32),
        subject_m=aim.subject_m,
        here_m=aim.here_m,
        layers=_layers(show, seen, clearance, grid, usable, shot),
        reason=stands.reason.reshape(grid.shape),
        focal_length_mm=_where(stands.focal_mm, usable, grid),
        focus_m=_where(stands.focus_m, usable, grid),
        zoom=options.zoom,
        focus=options.focus,
        sightlines=options.sightlines,
        assumptions=_assumptions(aim, shot),
    )


def others_frame(timeline: Timeline, camera: str, framing: str, options: FloorOptions) -> int:
    """Frame of the rundown at which the other cameras are taken, as ``FloorOptions.others_frame`` says.

    Raises
    ------
    RequestError : the frame asked for is outside the rundown.
    """
    asked = options.others_frame
    if asked is not None:
        if not 0 <= asked < timeline.frame_count:
            raise RequestError(
                f"frame {asked} is outside the rundown; ask for one from 0 to {timeline.frame_count - 1}"
            )
        return asked
    found = []
    for shot in timeline.shots:
        for frame in (shot.start_frame, shot.end_frame - 1):
            if timeline.at(frame).camera(camera).framing == framing:
                found.append((shot.on_air != camera, frame))
    return min(found)[1] if found else 0


def _known(show: Show, camera: str, framing: str) -> None:
    cameras = {one.name: one for one in show.file.cameras}
    if camera not in cameras:
        raise RequestError(f"--camera: there is no camera {camera!r}; there are {', '.join(cameras)}")
    names = [one.name for one in cameras[camera].framings]
    if framing not in names:
        raise RequestError(
            f"--framing: {camera} has no framing {framing!r}; it has {', '.join(repr(one) for one in names)}"
        )


def _here(camera: CameraMoment) -> tuple[float, float, float]:
    return camera.view.pose.position_m


def _no_place(aim: Aim, stage: Stage, polygons: Polygons, stands: Stands) -> None:
    """Write down where no camera of this kind stands."""
    x, y = stands.position_m[:, 0], stands.position_m[:, 1]
    free = stands.reason == 0
    behind = behind_walls(polygons, stands.position_m)
    stands.reason[behind] = BEHIND_WALL
    if aim.camera.mount.kind in ("pedestal", "tripod"):
        here = np.array(aim.here_m[:1]), np.array(aim.here_m[1:2])
        if not on_led_floor(polygons, stage.surfaces, *here)[0]:
            floor = on_led_floor(polygons, stage.surfaces, x, y)
            stands.reason[floor & free & ~behind] = ON_LED_FLOOR


def _room(show: Show, aim: Aim, stage: Stage, polygons: Polygons, others: Sequence[CameraMoment]) -> Room:
    settings = {one.name: one for one in show.file.cameras}
    solids: list[Solid] = []
    for one in others:
        solids += equipment_at(settings[one.name], one.view)
    bodies = stage_targets(stage, {person.name for person in show.file.stage.people})
    targets = floor_targets(stage, polygons, bodies)
    return Room(aim, targets, bodies, solids, show.file.checks.clearance)


def _where(values: np.ndarray, usable: np.ndarray, grid: FloorGrid) -> Floats:
    return np.where(usable, values, np.nan).reshape(grid.shape).astype(np.float32)


def _layers(
    show: Show, seen: Pictured, clearance: Floats, grid: FloorGrid, usable: np.ndarray, shot: str
) -> dict[LayerName, Layer]:
    checks = show.file.checks
    maps = {}
    for field in fields(Pictured):
        values = np.full(usable.shape, np.nan, dtype=np.float32)
        values[usable] = getattr(seen, field.name)
        maps[field.name] = values.reshape(grid.shape)
    shared = show.file.drive.mode == "shared"
    loss, shift = checks.viewing_angle.loss_percent, checks.viewing_angle.colour_shift_deg
    made = (
        Layer("moire-share", "Moire in the picture", "%", maps["moire"], checks.moire.picture_percent,
              "below", True, f"Share of the picture with a moire risk of {checks.moire.risk:g} or more."),
        Layer("moire-worst", "Worst moire risk", "", maps["worst"], None, "below", False,
              "Largest risk in the picture: 0 is not seen, 1 is seen at a glance."),
        Layer("moire-mean", "Mean moire risk", "", maps["mean"], None, "below", False,
              "Mean risk over the LED surfaces in the picture."),
        Layer("structure", "LED pixels resolved", "%", maps["structure"], 100 * LEAST_SHARE, "below", True,
              "Share of the picture in which the grid of LED pixels can come through at all."),
        Layer("off-wall", "Off the wall", "%", maps["off"], checks.off_wall.percent, "below", True,
              "Share of the picture past the LED surfaces, set and people taken away."),
        Layer("viewing-loss", "Walls darker from the side", "%", maps["loss"], loss, "below", True,
              "Luminance lost against straight on, at the worst seen point of a wall."),
        Layer("viewing-angle", "Walls seen from the side", "deg", maps["angle"], shift, "below", True,
              "Largest angle off straight on at which the picture sees a wall."),
        Layer("overlap", "In other cameras' frustums", "%", maps["overlap"],
              checks.bleed.off_air_percent if shared else None, "below", shared,
              f"Share of the picture inside the other cameras' frustums ({shot})."),
        Layer("clearance", "Room over the least distances", "m", clearance, 0.0, "above", True,
              f"Least distance of the equipment to all else, less what the show asks for ({shot})."),
    )  # fmt: skip
    return {layer.name: layer for layer in made}


def _assumptions(aim: Aim, shot: str) -> tuple[str, ...]:
    options = aim.options
    across, down = options.sightlines
    told = [
        f"Each picture is {across} x {down} sightlines, its border followed by one more line of them; a "
        "strip off the wall that only the border shows counts a quarter of a field.",
        "Checks look closer: a patch smaller than one field here, "
        f"{100 / (across * down):.2g} % of the picture, may be missed, and so may the worst of moire risk "
        "and of viewing angle, which is taken half a field inside the picture's edge. Near a limit checks "
        "decide.",
        "Set and people hide nothing here, so a place may be better than the map says; the checks of a show "
        "with the camera moved there decide.",
        f"The other cameras stand as in {shot}. Whether they come into the picture, or this one into theirs, "
        "is not looked at.",
        "Clearance is that of equipment that stands still: how it gets there is not looked at. It is exact "
        "near the limit; elsewhere it may be a mean of neighbouring places.",
        "Viewing angle counts walls; a floor or ceiling is always seen from the side.",
        "Cameras aim at the subject with the framing's roll.",
    ]
    if options.zoom == "hold":
        told.append(
            "The focal length follows the distance so that the subject keeps its size in the picture."
        )
    else:
        told.append(f"The focal length stays {aim.placed.focal_length_mm:g} mm: the subject's size changes.")
    if options.focus == "subject":
        told.append("Focus follows the subject.")
    else:
        told.append(f"Focus stays at {aim.placed.focus_m:.2f} m.")
    kind = aim.camera.mount.kind
    if kind == "jib":
        told.append(
            "Places are those of the sensor on the arm, its pivot where it is: height follows from how far "
            "out the arm reaches, of the two heights that an arm gives the one nearest to "
            f"{aim.height_m:.2f} m."
        )
    if kind in ("pedestal", "tripod"):
        told.append("Pedestals and tripods are not put on an LED floor unless the camera stands on it now.")
    return tuple(told)
