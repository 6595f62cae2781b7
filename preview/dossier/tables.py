"""Equipment and settings of a show as the page's tables."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from preview.checks.result import count
from preview.page.model import Table
from preview.show.load import Show


def tables_of(show: Show, facts: Mapping[str, Any]) -> tuple[Table, ...]:
    """Equipment and settings."""
    surfaces = [
        (
            one["name"],
            one["kind"],
            "{:.2f} x {:.2f} m".format(*one["size_m"]),
            "{} x {}".format(*one["canvas_px"]),
            f"{one['pixel_pitch_mm']:g} mm",
            "mesh" if one["wrap_deg"] is None else f"{one['wrap_deg']:.1f}°",
            f"{one['peak_luminance_cd_m2']:.0f} cd/m²",
        )
        for one in facts["surfaces"]
    ]
    exposed = {one["camera"]: one for one in facts["exposures"]}
    cameras, framings = [], []
    for one in facts["cameras"]:
        low, high = one["lens_mm"]
        light = exposed[one["name"]]
        cameras.append(
            (
                str(one["number"]),
                one["name"],
                one["operator"],
                one["mount"],
                "{:g} x {:g} mm, {} x {}".format(*one["sensor_mm"], *one["photosites"]),
                f"{low:g} mm" if low == high else f"{low:g} to {high:g} mm",
                f"T{light['t_stop']:g}",
                f"1/{1000 / light['exposure_ms']:.4g} s",
                f"{light['iso']:.0f}",
                f"{light['white_over_full_video_stops']:+.1f} stops",
            )
        )
        for framing in one["framings"]:
            x, y, z = framing["position_m"]
            framings.append(
                (
                    f"{one['number']} {one['name']}",
                    framing["name"],
                    f"{framing['focal_length_mm']:g} mm",
                    f"{framing['horizontal_angle_deg']:.1f}°",
                    f"{framing['focus_m']:.2f} m",
                    f"{x:.2f}, {y:.2f}, {z:.2f} m",
                    f"{framing['pan_deg']:.1f}°",
                    f"{framing['tilt_deg']:.1f}°",
                )
            )
    return (
        Table(
            "LED surfaces",
            ("Name", "Kind", "Size", "Canvas, px", "Pixel pitch", "Wrap", "Peak"),
            tuple(surfaces),
        ),
        Table(
            "Cameras",
            (
                "No.",
                "Camera",
                "Operated as",
                "Mount",
                "Sensor, photosites",
                "Lens",
                "Stop",
                "Shutter",
                "ISO",
                "LED white above 100 % video",
            ),
            tuple(cameras),
        ),
        Table(
            "Framings",
            (
                "Camera",
                "Framing",
                "Focal length",
                "Horizontal angle",
                "Focus",
                "Sensor at x, y, z",
                "Pan",
                "Tilt",
            ),
            tuple(framings),
        ),
        Table("Settings", ("Setting", "Value"), tuple(_settings(show, facts))),
    )


def _settings(show: Show, facts: Mapping[str, Any]) -> list[tuple[str, str]]:
    """What the whole show works by."""
    info, file = facts["show"], show.file
    return [
        ("Frame rate", f"{info['frame_rate']} a second"),
        ("Picture", "{} x {}".format(*info["picture_size_px"])),
        ("Rundown", f"{info['first_timecode']} to {info['last_timecode']}, {count(info['frames'], 'frame')}"),
        ("Drive of the LED surfaces", info["drive"]),
        ("Stage white", f"{facts['white_cd_m2']:g} cd/m²"),
        ("Key", f"a card of {facts['key_percent']:g} %"),
        *((key.replace("_", " ").capitalize(), _value(value)) for key, value in _delays(file.delays)),
    ]


def _delays(delays: Any) -> list[tuple[str, Any]]:
    return [
        (key, value) for key, value in delays.model_dump(mode="json").items() if value not in (None, {}, [])
    ]


def _value(value: Any) -> str:
    if isinstance(value, Mapping):
        return ", ".join(f"{key} {_value(one)}" for key, one in value.items())
    return f"{value:g}" if isinstance(value, float) else str(value)
