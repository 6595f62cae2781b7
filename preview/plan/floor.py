"""A floor map as a sheet to draw, and as numbers: a row a place, and everything as JSON."""

from __future__ import annotations

import csv
import io
from math import dist
from typing import Any

import numpy as np

from preview.checks.result import count
from preview.floor.result import REACHABLE, REASONS, FloorMap, Layer
from preview.review.floor_layer import SHARE, FloorLayer, FloorSheet
from preview.review.plan import StudioPlan
from preview.show.load import Show
from preview.suggest.way import way


def floor_sheet(floor: FloorMap, plan: StudioPlan, show: Show, noted: tuple[str, ...] = ()) -> FloorSheet:
    """A floor map ready to be drawn over the plan of its studio.

    Parameters
    ----------
    plan : with the framing's camera where it stands now
    noted : more lines for beside the drawing
    """
    now = floor.here_m[0], floor.here_m[1]
    nearest = floor.nearest_clear_m(*now)
    return FloorSheet(
        f"{show.file.show.title}: {floor.camera}, {floor.framing}",
        told(floor),
        plan,
        floor.x_m,
        floor.y_m,
        tuple(_layer(layer) for layer in floor.layers.values()),
        floor.clear,
        ~floor.reachable,
        now,
        None if nearest is None or here_is_clear(floor) else (nearest[0], nearest[1]),
        (*facts(floor), *noted),
    )


def here_is_clear(floor: FloorMap) -> bool:
    """Whether the camera stands in the clear zone as it is."""
    place = floor.at(*floor.here_m[:2])
    return place is not None and bool(floor.clear[place])


def told(floor: FloorMap) -> str:
    """What the map says, in a sentence or two."""
    judged = [layer.name for layer in floor.layers.values() if layer.judged]
    reached = int(floor.reachable.sum())
    if not reached:
        return "From nowhere on the floor shown can this framing be taken."
    words = f"{floor.clear_m2:.1f} m² of {reached * floor.step_m**2:.1f} m² pass all of {', '.join(judged)}."
    if not floor.clear.any():
        return words.replace("0.0 m²", "None", 1).replace(" pass ", " passes ", 1)
    if here_is_clear(floor):
        return f"{words} The camera stands in the clear zone."
    nearest = floor.nearest_clear_m(*floor.here_m[:2])
    assert nearest is not None
    away = dist(nearest[:2], floor.here_m[:2])
    how = way(floor.here_m, floor.subject_m, nearest)
    return f"{words} The nearest clear place is {away:.2f} m from where the camera stands: {how}."


def facts(floor: FloorMap) -> tuple[str, ...]:
    """Lines beside the drawing: what is kept, where the camera is, what is wrong there."""
    x, y, z = floor.here_m
    lens = "chosen to keep the subject's size in the picture" if floor.zoom == "hold" else "as in the framing"
    focus = "on the subject" if floor.focus == "subject" else "as in the framing"
    heights = floor.height_m[np.isfinite(floor.height_m)]
    low, high = (float(heights.min()), float(heights.max())) if heights.size else (z, z)
    height = f"{low:.2f} m" if high - low < 0.005 else f"{low:.2f} to {high:.2f} m, as the arm gives it"
    lines = [
        f"Sensor height {height}; places every {100 * floor.step_m:g} cm; "
        f"{floor.sightlines[0]} x {floor.sightlines[1]} sightlines from each.",
        f"Focal length {lens}; focus {focus}.",
        f"Now at x {x:.2f}, y {y:.2f}, sensor {z:.2f} m high.",
    ]
    place = floor.at(x, y)
    if place is not None:
        wrong = floor.told(*place)
        lines.append("There: " + ("; ".join(wrong) if wrong else "all pass") + ".")
    nearest = floor.nearest_clear_m(x, y)
    if nearest is not None and not here_is_clear(floor):
        at = floor.at(*nearest[:2])
        assert at is not None
        lines.append(
            f"Nearest clear: x {nearest[0]:.2f}, y {nearest[1]:.2f}, {nearest[2]:.2f} m high, "
            f"{float(floor.focal_length_mm[at]):.1f} mm, focus {float(floor.focus_m[at]):.2f} m."
        )
    lines.append("A plan by geometry: floor, cables and people's ways are the crew's to see.")
    return tuple(lines)


def floor_csv(floor: FloorMap) -> str:
    """One row a place, from the lower left: where, why it cannot be taken from there, lens, layers.

    Empty cells stand for no value. Numbers read back as the arrays hold them.

    Source: RFC 4180, "Common Format and MIME Type for CSV Files", section 2 (quoting, line ends).
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    layers = list(floor.layers.values())
    writer.writerow(
        ["x_m", "y_m", "height_m", "reason", "clear", "focal_length_mm", "focus_m", *map(column, layers)]
    )
    numbers = [floor.height_m, floor.focal_length_mm, floor.focus_m, *(layer.values for layer in layers)]
    clear = floor.clear
    for row, y in enumerate(floor.y_m):
        for place, x in enumerate(floor.x_m):
            height, focal, focus, *values = (_cell(array[row, place]) for array in numbers)
            writer.writerow(
                [_cell(x), _cell(y), height, REASONS[floor.reason[row, place]], int(clear[row, place]),
                 focal, focus, *values]
            )  # fmt: skip
    return text.getvalue()


def column(layer: Layer) -> str:
    """A layer's column in the CSV, with its unit.

    >>> from types import SimpleNamespace
    >>> column(SimpleNamespace(name="off-wall", unit="%"))
    'off_wall_percent'
    """
    unit = {"%": "_percent", "": "", "m²": "_m2"}.get(layer.unit, f"_{layer.unit}")
    return layer.name.replace("-", "_") + unit


def floor_data(floor: FloorMap) -> dict[str, Any]:
    """What the map says, as JSON types; the places' own numbers are in the CSV."""
    here = floor.at(*floor.here_m[:2])
    nearest = floor.nearest_clear_m(*floor.here_m[:2])
    at = None if nearest is None else floor.at(*nearest[:2])
    return {
        "camera": floor.camera,
        "framing": floor.framing,
        "told": told(floor),
        "zoom": floor.zoom,
        "focus": floor.focus,
        "step_m": round(floor.step_m, 6),
        "x_m": [float(floor.x_m[0]), float(floor.x_m[-1])],
        "y_m": [float(floor.y_m[0]), float(floor.y_m[-1])],
        "places": int(floor.reason.size),
        "sightlines": list(floor.sightlines),
        "subject_m": list(floor.subject_m),
        "now": {
            "position_m": list(floor.here_m),
            "clear": here_is_clear(floor),
            "wrong": list(floor.told(*here)) if here else ["outside the map"],
        },
        "nearest_clear": None if nearest is None or at is None else {
            "position_m": list(nearest),
            "away_m": round(dist(nearest[:2], floor.here_m[:2]), 3),
            "focal_length_mm": float(floor.focal_length_mm[at]),
            "focus_m": float(floor.focus_m[at]),
        },
        "reachable_m2": round(float(floor.reachable.sum()) * floor.step_m**2, 4),
        "clear_m2": round(floor.clear_m2, 4),
        "out_of_reach": {
            why: int((floor.reason == number).sum())
            for number, why in enumerate(REASONS)
            if number != REACHABLE and (floor.reason == number).any()
        },
        "layers": [_layer_data(layer, floor) for layer in floor.layers.values()],
        "assumptions": list(floor.assumptions),
    }  # fmt: skip


def floor_words(floor: FloorMap) -> str:
    """A drawing's description, for those who cannot see it."""
    layers = ", ".join(layer.title for layer in floor.layers.values())
    reached = count(int(floor.reachable.sum()), "place")
    return (
        "Plan of the studio from above, cameras at the bottom, LED wall at the top. "
        f"{reached} of the floor for {floor.camera} on {floor.framing}, coloured by {layers}. {told(floor)}"
    )


def _layer(layer: Layer) -> FloorLayer:
    return FloorLayer(
        layer.name, layer.title, layer.unit or SHARE, layer.values, layer.passes, layer.limit,
        layer.limit_is, layer.judged, layer.note, top=None if layer.unit else 1.0,
    )  # fmt: skip


def _layer_data(layer: Layer, floor: FloorMap) -> dict[str, Any]:
    known = layer.values[np.isfinite(layer.values)]
    return {
        "name": layer.name,
        "title": layer.title,
        "unit": layer.unit,
        "note": layer.note,
        "limit": layer.limit,
        "limit_is": layer.limit_is,
        "judged": layer.judged,
        "least": float(known.min()) if known.size else None,
        "most": float(known.max()) if known.size else None,
        "passes_m2": round(float((layer.passes & floor.reachable).sum()) * floor.step_m**2, 4),
    }


def _cell(value: Any) -> str:
    """A number with as many digits as reading it back takes."""
    return "" if not np.isfinite(value) else np.format_float_positional(value, unique=True, trim="-")
