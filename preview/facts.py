"""What a show amounts to, as plain data: surfaces, cameras, shots. Needs no graphics."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import numpy as np

from preview.camera.exposure import camera_exposure, stops_between
from preview.camera.lens import view_through
from preview.show.load import Show
from preview.show.model import Camera
from preview.stage.build import build_stage
from preview.stage.surface import LedSurface
from preview.timeline.framing import aim_points_m, lens_of, place_framing, sensor_of
from preview.timeline.timeline import Timeline
from preview.wall.slots import Slot, slot_findings, slots


def show_facts(show: Show) -> dict[str, Any]:
    """The show's stage, cameras and running order with everything derived filled in.

    Returns
    -------
    dict of JSON types; every length, angle and count carries its unit in its key

    Raises
    ------
    ShowError, AssetError : the show cannot be built.
    """
    timeline = Timeline(show)
    stage = build_stage(show)
    info = show.file.show
    made = slots(show.file) if show.file.drive.mode == "interleaved" else ()
    refresh_hz = {surface.name: surface.refresh_hz for surface in stage.surfaces}
    findings = slot_findings(show.file, refresh_hz) if made else ()
    return {
        "show": {
            "title": info.title,
            "path": str(show.path),
            "sha256": show.sha256,
            "frame_rate": str(timeline.rate),
            "picture_size_px": list(info.picture_size_px),
            "first_timecode": timeline.timecode(0),
            "last_timecode": timeline.timecode(timeline.frame_count - 1),
            "frames": timeline.frame_count,
            "seconds": round(float(timeline.rate.seconds(timeline.frame_count)), 3),
            "drive": show.file.drive.mode,
        },
        "surfaces": [_surface(surface) for surface in stage.surfaces],
        "white_cd_m2": stage.white_cd_m2,
        "cameras": [_camera(show, camera) for camera in show.file.cameras],
        "key_percent": show.file.picture.key_percent,
        "exposures": [_exposure(show, camera, stage.white_cd_m2, made) for camera in show.file.cameras],
        "slots": [_slot(slot, made, show.file.drive.crosstalk) for slot in made],
        "slot_findings": [found.text for found in findings],
        "shots": [_shot(timeline, index) for index in range(len(timeline.shots))],
        "notes": list(show.notes),
    }


def wrap_angle_deg(surface: LedSurface) -> float | None:
    """How far a tiled surface turns from its first column to its last; positive towards the viewer.

    Returns
    -------
    degrees, the sum over the joints; None for a surface drawn as a mesh
    """
    if surface.tiles is None:
        return None
    columns = surface.tiles[0]
    corners = surface.canvas[surface.triangles].mean(axis=1)
    column_of = np.floor(corners[:, 0] * columns / surface.canvas_px[0]).astype(int)
    first_in_column = np.array([np.argmax(column_of == column) for column in range(columns)])
    normals = surface.normals[first_in_column]
    centres = surface.positions[surface.triangles[first_in_column]].mean(axis=1)
    cosines = np.clip(np.einsum("ij,ij->i", normals[:-1], normals[1:]), -1.0, 1.0)
    towards_viewer = np.einsum("ij,ij->i", normals[:-1], centres[1:] - centres[:-1])
    return float(np.degrees(np.sum(np.arccos(cosines) * np.sign(np.round(towards_viewer, 9)))))


def _surface(surface: LedSurface) -> dict[str, Any]:
    wrap = wrap_angle_deg(surface)
    return {
        "name": surface.name,
        "kind": surface.kind,
        "size_m": [round(side, 3) for side in surface.size_m],
        "canvas_px": list(surface.canvas_px),
        "pixel_pitch_mm": round(surface.pixel_pitch_mm, 3),
        "tiles": None if surface.tiles is None else list(surface.tiles),
        "wrap_deg": None if wrap is None else round(wrap, 2),
        "area_m2": round(surface.area_m2, 2),
        "peak_luminance_cd_m2": surface.peak_luminance_cd_m2,
    }


def _camera(show: Show, camera: Camera) -> dict[str, Any]:
    sensor, lens, aims = sensor_of(camera), lens_of(camera), aim_points_m(show.file)
    framings = []
    for framing in camera.framings:
        placed = place_framing(camera, framing, aims)
        view = view_through(sensor, lens, placed.pose, placed.focal_length_mm, placed.focus_m)
        framings.append(
            {
                "name": framing.name,
                "focal_length_mm": placed.focal_length_mm,
                "horizontal_angle_deg": round(view.horizontal_angle_deg, 2),
                "focus_m": round(placed.focus_m, 2),
                "position_m": [round(float(value), 3) for value in placed.pose.position_m],
                "pan_deg": round(placed.pose.pan_deg, 2),
                "tilt_deg": round(placed.pose.tilt_deg, 2),
            }
        )
    return {
        "name": camera.name,
        "number": camera.number,
        "operator": camera.operator,
        "mount": camera.mount.kind,
        "sensor_mm": list(sensor.size_mm),
        "photosites": list(sensor.photosites),
        "lens_mm": list(lens.focal_length_mm),
        "t_stop": lens.t_stop,
        "framings": framings,
        "moves": [
            {"name": move.name, "start": move.start, "end": move.end, "duration_s": move.duration_s}
            for move in camera.moves
        ],
    }


def _exposure(show: Show, camera: Camera, white_cd_m2: float, made: tuple[Slot, ...]) -> dict[str, Any]:
    """How bright the wall's white comes out; "over_preview": against how the pictures are drawn."""
    picture = show.file.picture
    in_slot = next((slot.open_s for slot in made if slot.camera == camera.name), None)
    exposure = camera_exposure(camera, Fraction(show.file.show.frame_rate), in_slot)
    drawn = picture.exposure_stops
    return {
        "camera": camera.name,
        "number": camera.number,
        "t_stop": exposure.t_stop,
        "exposure_ms": round(1000 * exposure.exposure_s, 4),
        "iso": round(exposure.iso, 1),
        "iso_from": "iso" if camera.sensitivity is None else "sensitivity",
        "key_cd_m2": round(exposure.card_cd_m2(picture.key_percent), 3),
        "full_video_cd_m2": round(exposure.full_video_cd_m2, 3),
        "white_over_key_stops": round(exposure.stops_above(white_cd_m2, picture.key_percent), 3),
        "white_over_full_video_stops": round(exposure.stops_over_video(white_cd_m2), 3),
        "over_preview_stops": round(exposure.stops_over_video(white_cd_m2) - drawn, 3),
    }


def _slot(slot: Slot, made: tuple[Slot, ...], crosstalk: float) -> dict[str, Any]:
    others = len(made) - 1
    ghost = crosstalk / others if others else 0.0
    own = 1.0 - (crosstalk if others else 0.0)
    return {
        "camera": slot.camera,
        "start_ms": round(1000 * slot.start_s, 4),
        "length_ms": round(1000 * slot.length_s, 4),
        "open_ms": round(1000 * slot.open_s, 4),
        "loss_stops": round(slot.loss_stops, 3),
        "lost_of_own_stops": round(slot.lost_of_own_stops, 3),
        "ghost_stops": round(stops_between(ghost, own), 2) if ghost and own else None,
    }


def _shot(timeline: Timeline, index: int) -> dict[str, Any]:
    shot = timeline.shots[index]
    frames = shot.end_frame - shot.start_frame
    return {
        "number": index + 1,
        "name": shot.name,
        "first_timecode": timeline.timecode(shot.start_frame),
        "last_timecode": timeline.timecode(shot.end_frame - 1),
        "frames": frames,
        "seconds": round(float(timeline.rate.seconds(frames)), 3),
        "on_air": shot.on_air,
        "transition": shot.transition,
        "mix_frames": shot.mix_frames,
        "cues": [
            {
                "camera": cue.camera,
                "framing": cue.framing,
                "move": cue.move,
                "after_s": cue.after_s,
                "inherited": cue.since_frame != shot.start_frame,
            }
            for cue in shot.cues
        ],
    }
