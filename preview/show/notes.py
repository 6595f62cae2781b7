"""Things a show file may say but may not mean: sentences for the user, no errors."""

from __future__ import annotations

from collections.abc import Iterator

from preview.show import model

ASPECT_TOLERANCE = 0.02
"""How far picture and sensor shapes may differ before it is worth a sentence: 2 % stretches a face
by less than most viewers see. Common practice, no source."""


def show_notes(file: model.ShowFile) -> tuple[str, ...]:
    """Notes about a show whose catalogue names are filled in."""
    return (*_aspect_notes(file), *_unused_notes(file), *_white_notes(file), *_drive_notes(file))


def _aspect_notes(file: model.ShowFile) -> Iterator[str]:
    width, height = file.show.picture_size_px
    for camera in file.cameras:
        if not isinstance(camera.sensor, model.Sensor):
            continue
        across, down = camera.sensor.size_mm
        stretch = (across / down) / (width / height)
        if abs(stretch - 1) > ASPECT_TOLERANCE:
            yield (
                f"{camera.name}: the sensor's shape ({across / down:.3f}) is not the picture's "
                f"({width / height:.3f}); the picture is stretched by {abs(stretch - 1) * 100:.1f} %"
            )


def _unused_notes(file: model.ShowFile) -> Iterator[str]:
    on_air = {shot.on_air for shot in file.rundown}
    for camera in file.cameras:
        cues = [shot.cameras[camera.name] for shot in file.rundown if camera.name in shot.cameras]
        if camera.name not in on_air:
            yield f"{camera.name} is never on air" + ("" if cues else " and never cued")
        moves = {cue.move for cue in cues}
        ends = {move.start for move in camera.moves} | {move.end for move in camera.moves}
        # A camera holds its first framing until it is cued, so that one is always of use.
        framings = {cue.framing for cue in cues} | ends | {camera.framings[0].name}
        for framing in camera.framings:
            if framing.name not in framings:
                yield f"{camera.name}: framing {framing.name!r} is never used"
        for move in camera.moves:
            if move.name not in moves:
                yield f"{camera.name}: move {move.name!r} is never used"


def _white_notes(file: model.ShowFile) -> Iterator[str]:
    white = file.stage.white_cd_m2
    for surface in file.stage.surfaces:
        peak = surface.peak_luminance_cd_m2
        if white is not None and peak is not None and white > peak:
            yield (
                f"stage.white_cd_m2 is {white:g}, but {surface.kind} {surface.name!r} reaches "
                f"{peak:g} cd/m2 only: its highlights clip early"
            )


def _drive_notes(file: model.ShowFile) -> Iterator[str]:
    drive = file.drive
    if drive.mode != "interleaved":
        for key in ("crosstalk", "slot_shutter_percent"):
            if key in drive.model_fields_set:
                yield f'drive.{key} is for drive.mode "interleaved"; in "{drive.mode}" it does nothing'
    elif file.delays.wall_switch_frames:
        yield (
            'delays.wall_switch_frames does nothing while drive.mode is "interleaved": such a wall never '
            "switches"
        )
