"""Shows with one thing changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from preview.show.load import Show
from preview.show.model import CameraCue


def with_picture_delay(show: Show, frames: int | Mapping[str, int]) -> Show:
    """A new show whose mixer holds cuts back: every cut alike, or by the camera it goes to.

    One number for all takes each camera's own away; a mapping gives cameras their own.
    """
    file = show.file
    if isinstance(frames, int):
        delays = file.delays.model_copy(update={"picture_frames": frames})
        of_camera: dict[str, int | None] = dict.fromkeys((c.name for c in file.cameras), None)
    else:
        delays, of_camera = file.delays, dict(frames)
    cameras = tuple(
        camera.model_copy(
            update={"delays": camera.delays.model_copy(update={"picture_frames": of_camera[camera.name]})}
        )
        if camera.name in of_camera
        else camera
        for camera in file.cameras
    )
    return replace(show, file=file.model_copy(update={"delays": delays, "cameras": cameras}))


def with_overscan(show: Show, percent: Mapping[str, float]) -> Show:
    """A new show in which the named cameras have other overscan."""
    cameras = tuple(
        camera.model_copy(update={"overscan_percent": percent.get(camera.name, camera.overscan_percent)})
        for camera in show.file.cameras
    )
    return replace(show, file=show.file.model_copy(update={"cameras": cameras}))


def with_camera(show: Show, name: str, **keys: Any) -> Show:
    """A new show in which keys of one camera's table are changed."""
    cameras = tuple(
        camera.model_copy(update=keys) if camera.name == name else camera for camera in show.file.cameras
    )
    return replace(show, file=show.file.model_copy(update={"cameras": cameras}))


def with_framings(show: Show, name: str, keys: Mapping[str, Mapping[str, Any]]) -> Show:
    """A new show in which keys of one camera's framings are changed, by framing name."""
    (camera,) = (camera for camera in show.file.cameras if camera.name == name)
    framings = tuple(
        framing.model_copy(update=dict(keys.get(framing.name, {}))) for framing in camera.framings
    )
    return with_camera(show, name, framings=framings)


def with_framing_in_shot(show: Show, shot_index: int, name: str, framing: str, after: CameraCue) -> Show:
    """A new show in which a camera holds another framing in one shot.

    Parameters
    ----------
    after : what it does from the next shot on, if that shot does not say
    """
    rundown = list(show.file.rundown)
    for index, cue in ((shot_index, CameraCue(framing=framing)), (shot_index + 1, after)):
        if index < len(rundown) and (index == shot_index or name not in rundown[index].cameras):
            cues = {**rundown[index].cameras, name: cue}
            rundown[index] = rundown[index].model_copy(update={"cameras": cues})
    return replace(show, file=show.file.model_copy(update={"rundown": tuple(rundown)}))


def with_stage(show: Show, **keys: Any) -> Show:
    """A new show in which keys of its stage table are changed."""
    stage = show.file.stage.model_copy(update=keys)
    return replace(show, file=show.file.model_copy(update={"stage": stage}))


def with_stage_light(show: Show, factor: float) -> Show:
    """A new show whose key, fill and ambient light are so many times as strong."""
    light = show.file.stage.light
    names = ("key_level", "fill_level", "ambient_level")
    levels = {name: getattr(light, name) * factor for name in names}
    return with_stage(show, light=light.model_copy(update=levels))


def with_wall_white(show: Show, now_cd_m2: float, white_cd_m2: float) -> Show:
    """A new show whose walls are lined up to another white, under the same stage light in cd/m2.

    Levels of stage light are relative to that white, so they change the other way.
    """
    return with_stage(with_stage_light(show, now_cd_m2 / white_cd_m2), white_cd_m2=white_cd_m2)


def with_edge_line(show: Show, drawn: bool) -> Show:
    """A new show with or without lines along frustums' edges."""
    drive = show.file.drive.model_copy(update={"edge_line": drawn})
    return replace(show, file=show.file.model_copy(update={"drive": drive}))
