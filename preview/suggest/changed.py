"""Shows with one thing changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from preview.show.load import Show


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
