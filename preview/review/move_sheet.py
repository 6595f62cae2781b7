"""A suggested move on the plan: the camera as it stands, as it would stand, and the way between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from preview.review.floor_layer import CLEAR_COLOR, mark_nearest, mark_now
from preview.review.plan import (
    CAMERA_COLORS,
    INK,
    LIT_COLOR,
    PlanCamera,
    StudioPlan,
    draw_axes,
    draw_cameras,
    draw_fixed,
    draw_grounds,
    draw_subject,
    write_names,
)
from preview.review.plan_sheet import Sheet

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def move_sheet(
    plan: StudioPlan, name: str, after: PlanCamera | None, title: str, told: str, facts: Sequence[str]
) -> Figure:
    """A sheet with one camera before and after.

    Parameters
    ----------
    plan : the studio as it is
    name : of the camera
    after : that camera as suggested; None where nothing is
    title, told, facts : words above and beside the drawing
    """
    before = next(camera for camera in plan.cameras if camera.name == name)
    ends = [] if after is None else [outline for _, outline in after.parts]
    bounds = plan.bounds_m(*ends)
    sheet = Sheet(bounds, title, told)
    axis = sheet.plan_axes()
    draw_grounds(axis, plan)
    draw_fixed(axis, plan)
    faded = replace(before, tally="off")
    draw_cameras(axis, [camera for camera in plan.cameras if camera.name != name], wedges=False)
    draw_cameras(axis, [faded])
    if after is not None:
        draw_cameras(axis, [replace(after, tally="next")])
    if plan.subject_m is not None:
        draw_subject(axis, plan.subject_m)
    mark_now(axis, before.at_m, True)
    moved = after is not None and float(np.hypot(*np.subtract(after.at_m, before.at_m))) > 0.01
    if after is not None and moved:
        mark_nearest(axis, before.at_m, after.at_m, True)
    draw_axes(axis, bounds)
    labels = write_names(axis, plan, [camera for camera in plan.cameras if camera.name != name], 9)
    for camera in (before, after):
        for _, outline in camera.parts if camera is not None else ():
            labels.keep_off(outline)
    words = f"{before.number} {name}"
    labels.write(before.at_m, f"{words} now" if moved else words, 12, fontsize=10, fontweight="bold")
    if after is not None and moved:
        color = CAMERA_COLORS["next"]
        labels.write(after.at_m, f"{words} suggested", 12, fontsize=10, fontweight="bold", color=color)
    entries: list[tuple[str, dict[str, Any]]] = [
        ("LED wall, lit side blue", {"color": LIT_COLOR, "linewidth": 2.5}),
        ("where the camera stands now, and its view", {"color": CAMERA_COLORS["off"], "marker": "o",
         "markerfacecolor": "white", "markeredgecolor": INK, "linestyle": (0, (5, 2))}),
    ]  # fmt: skip
    if after is not None:
        look = {"color": CLEAR_COLOR, "marker": "D" if moved else "", "linestyle": (0, (5, 2))}
        entries.append(("as suggested, and its view", look))
    if plan.subject_m is not None:
        mark = {"linestyle": "none", "color": INK, "marker": "+", "markersize": 9}
        entries.append(("subject: what the framing is aimed at", mark))
    sheet.column(entries, facts)
    return sheet.figure
