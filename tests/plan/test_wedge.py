"""Wedges and outlines against plane geometry."""

from __future__ import annotations

from math import atan, cos, degrees, radians, tan

import numpy as np
import pytest

from preview.plan.studio import hull_from_above, moment_plan, outlines_from_above
from preview.plan.wedge import INTO_THE_OPEN_M, on_walls, reach_m, wedge
from preview.stage.build import build_stage
from preview.timeline.timeline import Timeline
from tests.checks.flat_stage import camera, flat_show, framing, shot
from tests.starter_show import starter_show

WALL = np.array([[[-5.0, 4.0], [5.0, 4.0]]])


def area(outline):
    x, y = outline.T
    return 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))


def test_a_straight_wall_is_met_at_the_distance_over_the_cosine():
    pans = np.array([-40.0, 0.0, 30.0])
    reach = reach_m((0.0, 0.0), pans, WALL)
    assert reach == pytest.approx([4.0 / cos(radians(pan)) for pan in pans])
    assert np.isinf(reach_m((0.0, 0.0), np.array([90.0, 180.0, 60.0]), WALL)).all(), (
        "past its ends and behind"
    )


def test_the_nearer_of_two_walls_ends_a_ray():
    both = np.concatenate([WALL, WALL - [0.0, 1.0]])
    assert reach_m((0.0, 0.0), np.array([0.0]), both) == pytest.approx([3.0])


def test_a_wedge_is_the_angle_of_view_to_the_wall():
    half = degrees(atan(0.5))
    outline = wedge((1.0, -2.0), 0.0, half, WALL)
    assert outline[0] == pytest.approx([1.0, -2.0])
    assert outline[1] == pytest.approx([1.0 - 6 * 0.5, 4.0]), "its left side comes first"
    assert outline[-1] == pytest.approx([1.0 + 6 * 0.5, 4.0])
    assert area(outline) == pytest.approx(0.5 * 6.0 * 6.0)
    lines = on_walls((1.0, -2.0), 0.0, half, WALL)
    assert np.linalg.norm(lines[:, 1] - lines[:, 0], axis=1).sum() == pytest.approx(6.0)


def test_without_a_wall_a_wedge_runs_into_the_open():
    outline = wedge((0.0, 0.0), 180.0, 10.0, WALL)
    assert np.linalg.norm(outline[1:], axis=1) == pytest.approx(INTO_THE_OPEN_M)
    assert len(on_walls((0.0, 0.0), 180.0, 10.0, WALL)) == 0


def test_outlines_of_an_l_keep_its_corner():
    """Two bars of 2 x 0.5 m: an L of 1.75 m2, which no convex outline is."""

    def slab(x0, x1, y0, y1):
        a, b, c, d = ([x0, y0, 1.0], [x1, y0, 1.0], [x1, y1, 1.0], [x0, y1, 1.0])
        return [[a, b, c], [a, c, d]]

    corners = np.array(slab(0.0, 2.0, 0.0, 0.5) + slab(0.0, 0.5, 0.0, 2.0))
    (outline,) = outlines_from_above(corners)
    assert area(outline) == pytest.approx(1.75, rel=0.02)
    assert outline.min(axis=0) == pytest.approx([0.0, 0.0], abs=0.011)
    assert outline.max(axis=0) == pytest.approx([2.0, 2.0], abs=0.011)


def test_two_things_apart_have_two_outlines_and_points_on_a_line_a_strip():
    triangle = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    assert len(outlines_from_above(np.array([triangle, np.add(triangle, [3.0, 0.0, 0.0])]))) == 2
    line = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 5.0], [0.5, 0.0, 2.0]])
    assert len(hull_from_above(line)) == 4


def test_a_plan_has_the_show_at_that_frame():
    """The camera at the origin looks along +Y with 9.6 mm on 20 mm: 0.48 m of wall a metre away."""
    show = flat_show([camera("A", framing("mid")), camera("B", framing("mid", pan=20.0), number=2)],
                     [shot("One", "A", {"A": "mid", "B": "mid"})])  # fmt: skip
    plan = moment_plan(show, build_stage(show), Timeline(show).at(0))
    (wall,) = plan.walls
    assert wall.lines.shape == (8, 2, 2), "eight tiles wide: each facet once"
    assert np.abs(wall.lines[:, 1] - wall.lines[:, 0]).sum() == pytest.approx(4.0)
    assert wall.behind == pytest.approx(np.tile([0.0, 1.0], (8, 1)))
    first, second = plan.cameras
    assert (first.number, first.tally, second.tally) == (1, "on air", "off")
    assert first.wedge[-1][0] - first.wedge[1][0] == pytest.approx(4.0 * 0.48, rel=1e-6)
    assert first.pan_deg == 0.0
    reach = second.wedge[1:] - second.wedge[0]
    middle = reach[len(reach) // 2]
    assert degrees(atan(-middle[0] / middle[1])) == pytest.approx(20.0, abs=0.3)
    assert tan(radians(20.0)) > 0 and second.wedge[1][0] < second.wedge[-1][0]
    covered = np.linalg.norm(first.on_wall[:, 1] - first.on_wall[:, 0], axis=1).sum()
    assert covered == pytest.approx(4.0 * 0.48 * 1.1), "five percent of overscan a side"


def test_the_starters_people_and_pieces_are_there():
    show = starter_show()
    plan = moment_plan(show, build_stage(show), Timeline(show).at(0))
    assert [one.name for one in plan.people] == [one.name for one in show.file.stage.people]
    assert {one.name for one in plan.pieces} <= {one.name for one in show.file.stage.set}
    for piece, written in zip(plan.pieces, show.file.stage.set, strict=True):
        x, y, _ = written.position_m
        points = np.concatenate(piece.outlines)
        assert (points.min(axis=0) - 0.05 <= [x, y]).all() and ([x, y] <= points.max(axis=0) + 0.05).all()
    kinds = {kind for one in plan.cameras for kind, _ in one.parts}
    assert "camera" in kinds
