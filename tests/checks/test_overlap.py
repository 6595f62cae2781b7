"""Areas, maps and borders of frustums on LED surfaces: laws, and the same told by other parts."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.checks.overlap import (
    CellTimes,
    WallCells,
    WallFacets,
    areas,
    border_lines,
    clip,
    footprint,
    overlaps,
    wall_maps,
)
from preview.raster.request import SceneImage
from tests.twin.stages import faceted_wall, led_floor

SIZE = (640, 360)
WALL = faceted_wall(columns=9, joint_deg=10.0, distance_m=5.0, tile_m=(1.0, 4.0))
FLOOR = led_floor(8.0, 5.0)
SURFACES = (WALL, FLOOR)
FACETS = WallFacets(SURFACES)

angles = st.floats(-180.0, 180.0)
places = st.tuples(st.floats(-6.0, 6.0), st.floats(-6.0, 6.0), st.floats(0.2, 5.0))
images = st.builds(
    lambda at, pan, tilt, focal, margin: image(at, pan, tilt, focal, margin),
    places, angles, st.floats(-80.0, 80.0), st.floats(4.0, 60.0), st.floats(0.0, 0.2),
)  # fmt: skip


def image(at=(0.0, 0.0, 1.6), pan=0.0, tilt=0.0, focal=10.0, margin=0.0):
    return SceneImage(CameraView(Pose(at, pan, tilt), (9.6, 5.4), focal), margin)


@given(images, images)
@settings(max_examples=80, deadline=None)
def test_laws_of_areas(one, other):
    a, b = (footprint(FACETS, each, SIZE) for each in (one, other))
    both, turned, alone = overlaps(FACETS, [(a, b), (b, a), (a, a)])
    np.testing.assert_allclose(both, turned, atol=1e-9)
    np.testing.assert_allclose(alone, a.areas_m2, atol=1e-9)
    assert (both <= np.minimum(a.areas_m2, b.areas_m2) + 1e-9).all()
    assert (a.areas_m2 <= [surface.area_m2 + 1e-9 for surface in SURFACES]).all()


def test_a_frustum_that_holds_the_whole_stage_covers_all_of_it():
    everything = footprint(FACETS, image(at=(0.0, -60.0, 2.0), focal=10.0), SIZE)
    assert everything.areas_m2 == pytest.approx([surface.area_m2 for surface in SURFACES])
    assert footprint(FACETS, image(at=(0.0, -60.0, 2.0), pan=180.0), SIZE).areas_m2.sum() == 0.0


def test_clipping_a_square_by_its_diagonal_and_past_its_corner():
    square = np.array([[(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)]], dtype=float)
    slanted = np.array([-1.0, -1.0, 0.0, 1.0]) / np.sqrt(2.0)  # x + y <= 1
    assert areas(clip(square, slanted[None, None])) == pytest.approx([0.5])
    corner = np.array([*slanted[:3], 0.5 / np.sqrt(2.0)])  # x + y <= 0.5
    assert areas(clip(square, corner[None, None])) == pytest.approx([0.125])
    assert areas(clip(square, np.array([[[1.0, 0.0, 0.0, -2.0]]]))) == [0.0]
    five = clip(square, -corner[None, None])
    assert five.shape == (1, 5, 3) and areas(five) == pytest.approx([0.875])


def test_no_pairs_no_areas():
    assert overlaps(FACETS, []).shape == (0, 2)


def test_cells_lie_where_the_canvas_says():
    cells = WallCells(SURFACES, cell_m=0.1)
    assert cells.shapes == ((40, 90), (50, 80))
    for place, surface in enumerate(SURFACES):
        rows, columns = cells.shapes[place]
        column, row = np.meshgrid(np.arange(columns) + 0.5, np.arange(rows) + 0.5)
        canvas = np.column_stack([column.ravel(), row.ravel()]) * np.divide(
            surface.canvas_px, (columns, rows)
        )
        expected, valid = surface.canvas_to_stage(canvas)
        assert valid.all()
        own = cells.points[cells.starts[place] : cells.starts[place + 1]]
        # A cell on a joint may be given to either facet; they meet there.
        np.testing.assert_allclose(own, expected, atol=1e-5)


def test_cells_grow_on_a_large_wall():
    cells = WallCells(SURFACES, cell_m=0.05, most_cells=2000)
    assert 1500 < len(cells.points) <= 2200


def test_cells_past_a_mesh_are_no_wall():
    """A surface that shows only the left half of its canvas."""
    half = faceted_wall(columns=4, joint_deg=5.0)
    half = type(half)(**{**vars_of(half), "triangles": half.triangles[:4]})
    cells = WallCells([half], cell_m=0.25)
    known = ~np.isnan(cells.of_surface(cells.points[:, 0], 0))
    assert known[:, : known.shape[1] // 2].all() and not known[:, known.shape[1] // 2 :].any()
    assert not cells.inside(np.zeros((4, 4)))[~known.ravel()].any(), "what is no wall lies in no frustum"


def vars_of(surface):
    return {name: getattr(surface, name) for name in surface.__dataclass_fields__}


def test_times_add_up_as_counting_each_frame_does():
    cells = WallCells(SURFACES, cell_m=0.2)
    random = np.random.default_rng(5)
    pool = [
        image(pan=p, focal=f, at=(x, -2, 1.5))
        for p, f, x in random.uniform((-30, 5, -3), (30, 30, 3), (6, 3))
    ]
    planes = [one.border_planes(SIZE) for one in pool]
    times = CellTimes(cells, 3)
    expected, of_camera = np.zeros((4, len(cells.points))), np.zeros((3, len(cells.points)))
    chosen = [0, 1, 2]
    for _ in range(30):
        if random.random() < 0.5:
            chosen[random.integers(3)] = int(random.integers(6))
        frames = int(random.integers(1, 4))
        times.add([planes[i] for i in chosen], frames)
        inside = np.array([cells.inside(planes[i]) for i in chosen])
        expected[inside.sum(axis=0), np.arange(len(cells.points))] += frames
        of_camera += inside * frames
    np.testing.assert_array_equal(times.frames_in(), expected)
    np.testing.assert_array_equal(times.frames_of_camera(), of_camera)
    assert (times.frames_in().sum(axis=0) == times.frames).all(), "asking twice adds nothing"


def test_a_map_agrees_with_areas():
    """Cells in two frustums, times their size, is the overlap's area."""
    pair = [image(pan=8.0, at=(-1, -1, 1.6)), image(pan=-10.0, at=(1.5, -2, 1.4), focal=14.0)]
    prints = [footprint(FACETS, one, SIZE) for one in pair]
    cells = WallCells(SURFACES)
    times = CellTimes(cells, 2)
    times.add([one.planes for one in prints], 50)
    maps = wall_maps(SURFACES, times, ("A", "B"), 25.0, [{}, {}], [("10:00:00:00", 1.0), ("", 0.0)])
    for made, surface, m2 in zip(maps, SURFACES, overlaps(FACETS, [tuple(prints)])[0], strict=True):
        cell_m2 = np.prod(surface.size_m) / made.is_wall.size
        assert (made.overlap_s == 2.0).sum() * cell_m2 == pytest.approx(m2, abs=0.15)
        assert made.seconds == 2.0
        assert set(np.unique(made.most_at_once)) <= {0, 1, 2}
        both = (made.camera_share["A"] == 1.0) & (made.camera_share["B"] == 1.0)
        np.testing.assert_array_equal(both, made.most_at_once == 2)
        np.testing.assert_allclose(made.seconds_in.sum(axis=0), 2.0)
    assert maps[0].most_at_once.max() == 2


def test_the_map_lies_as_the_cameras_see_it():
    """Row 0 is the upper edge, column 0 the left one: looking up to the left covers cells there."""
    cells = WallCells([WALL])
    rows, columns = np.nonzero(
        cells.of_surface(cells.inside(image(pan=25.0, tilt=15.0, focal=30.0).border_planes(SIZE)), 0)
    )
    assert len(rows) > 50
    assert columns.max() < cells.shapes[0][1] / 2
    assert rows.max() < cells.shapes[0][0] / 2


def test_border_lines_lie_on_the_frustums_border():
    """Each end, brought back to the stage through the canvas, projects onto the image's edge."""
    drawn = image(pan=6.0, tilt=4.0, focal=16.0)
    mark = footprint(FACETS, drawn, SIZE)
    lines = border_lines(FACETS, mark, 0)
    assert len(lines) >= 4
    length = np.linalg.norm(lines[:, 1] - lines[:, 0], axis=1).sum()
    assert length > 6.0
    ends = lines.reshape(-1, 2)
    width, height = WALL.size_m
    canvas = np.column_stack([ends[:, 0] / width, 1.0 - ends[:, 1] / height]) * WALL.canvas_px
    stage, valid = WALL.canvas_to_stage(canvas)
    assert valid.all()
    pixels, ahead = drawn.view.project(stage, SIZE)
    assert ahead.all()
    beside = np.abs(pixels / SIZE - 0.5).max(axis=1)
    np.testing.assert_allclose(beside, 0.5, atol=1e-6)


def test_no_border_where_the_frustum_runs_past_the_surface():
    everything = footprint(FACETS, image(at=(0.0, -60.0, 2.0)), SIZE)
    assert len(border_lines(FACETS, everything, 0)) == 0
