"""What the page's script works with, as plain data for JSON."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from preview.page import labels
from preview.page.model import Clip, PageData, Still
from preview.page.moment import opening


def page_document(data: PageData) -> dict[str, Any]:
    """How frames are counted, shots, cameras, clips and stills, and what the viewer opens with."""
    rate = data.rate
    names = labels.camera_names(data.cameras)
    return {
        "rate": {
            "numerator": rate.numerator,
            "denominator": rate.denominator,
            "nominal": rate.nominal,
            "drop": rate.drop_frame,
            "firstCount": rate.first_count,
        },
        "frames": data.frames,
        "cameras": [{"name": name, "label": label} for name, label in names.items()],
        "shots": [
            {
                "number": shot.number,
                "name": shot.name,
                "camera": shot.camera,
                "first": shot.frames[0],
                "last": shot.frames[1],
            }
            for shot in data.shots
        ],
        "clips": [_clip(clip) for clip in data.clips],
        "stills": [_still(still) for still in data.stills],
        "opening": asdict(opening(data)),
    }


def _clip(clip: Clip) -> dict[str, Any]:
    return {
        "kind": clip.kind,
        "subject": clip.subject,
        "label": clip.label,
        "file": labels.address(clip.file),
        "size": clip.size_px,
        "frames": clip.frames,
        "drawn": clip.drawn,
        "poster": labels.address(clip.poster) if clip.poster else "",
    }


def _still(still: Still) -> dict[str, Any]:
    return {
        "kind": still.kind,
        "subject": still.subject,
        "label": still.label,
        "frame": still.frame,
        "file": labels.address(still.figure.file),
        "size": still.figure.size_px,
        "alt": still.figure.alt,
    }
