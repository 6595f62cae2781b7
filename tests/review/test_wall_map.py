"""Wall maps: the page shows the numbers it was given, the right way up, and says them in words."""

from __future__ import annotations

import io
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image

from preview.review.wall_map import _NO_WALL, _chained, _page, wall_map_png

ROWS, COLUMNS = 20, 50


def mapped(**changes):
    """A 5 x 2 m wall, 40 s: two frustums meet for 30 s in the upper left; the right end is no wall."""
    times = np.zeros((3, ROWS, COLUMNS))
    times[0] = 40.0
    times[:, :10, :20] = np.array([5.0, 5.0, 30.0])[:, None, None]
    is_wall = np.ones((ROWS, COLUMNS), dtype=bool)
    is_wall[:, 45:] = False
    most = np.zeros((ROWS, COLUMNS), dtype=np.int64)
    most[:10, :20] = 2
    share = {"left": np.zeros((ROWS, COLUMNS)), "right": np.full((ROWS, COLUMNS), 0.25)}
    share["left"][:10, :20] = 0.9
    outline = np.array([[(0.5, 0.5), (0.5, 1.8)], [(0.5, 1.8), (2.0, 1.8)]])
    values = {
        "surface": "Wall", "kind": "wall", "size_m": (5.0, 2.0), "seconds": 40.0, "is_wall": is_wall,
        "seconds_in": times, "most_at_once": most, "camera_share": share,
        "outlines": {"left": outline, "right": np.zeros((0, 2, 2))},
        "worst_timecode": "10:00:12:03", "worst_overlap_m2": 2.0,
    }  # fmt: skip
    return SimpleNamespace(**{**values, **changes})


def words(figure):
    """Every text on the page."""
    texts = [text.get_text() for text in figure.texts]
    for axis in figure.axes:
        texts += [axis.get_title(loc="left"), axis.get_xlabel(), axis.get_ylabel()]
    legends = [*figure.legends, *(axis.get_legend() for axis in figure.axes)]
    texts += [text.get_text() for legend in legends if legend for text in legend.get_texts()]
    return [text for text in texts if text]


def image_of(figure, title):
    """The map of this title, and its picture; the large map has none."""
    (axis,) = [axis for axis in figure.axes if axis.images and axis.get_title(loc="left") == title]
    (image,) = axis.images
    return axis, image


def test_the_large_map_holds_seconds_in_two_or_more_in_metres():
    figure = _page(mapped(), "A show")
    axis, image = image_of(figure, "")
    data = image.get_array()
    assert data[0, 0] == 30.0 and data[-1, 0] == 0.0 and data[0, 30] == 0.0
    assert data.mask[:, 45:].all() and not data.mask[:, :45].any()
    assert image.get_extent() == [0.0, 5.0, 0.0, 2.0]
    assert axis.get_ylim() == (0.0, 2.0), "metres count up from the lower edge"
    assert image.get_clim() == (0.0, 30.0)


def test_every_camera_and_the_most_at_once_have_a_map():
    figure = _page(mapped(), "A show")
    _, most = image_of(figure, "most frustums at once")
    assert most.get_array()[0, 0] == 2
    for name, corner in (("left", 90.0), ("right", 25.0)):
        _, image = image_of(figure, f"in {name}'s frustum")
        assert image.get_array()[0, 0] == pytest.approx(corner)
        assert image.get_clim() == (0.0, 100.0), "the same colours mean the same in all"


def test_the_page_says_when_how_much_and_which_way_round():
    texts = " | ".join(words(_page(mapped(), "A show"))).replace("\n", " ")
    for part in (
        "A show: where frustums meet on Wall", "40 s of the rundown", "longer than 30 s", "10:00:12:03",
        "← left", "right →", "metres above the lower edge", "% of the time", "2 m²",
        "seconds in two frustums or more", "22 % of Wall", "right (none here)",
    ):  # fmt: skip
        assert part in texts, part


def test_nothing_shared_is_said_and_drawn_too():
    times = np.zeros((3, ROWS, COLUMNS))
    times[0] = 40.0
    nothing = mapped(
        seconds_in=times, most_at_once=np.zeros((ROWS, COLUMNS), dtype=np.int64), worst_timecode="",
        worst_overlap_m2=0.0,
    )  # fmt: skip
    texts = words(_page(nothing, "A show"))
    assert "In 40 s of the rundown no place of Wall lies in two frustums at once." in texts
    assert wall_map_png(nothing, "A show").startswith(b"\x89PNG")


@pytest.mark.parametrize(
    "kind, size_m, cameras", [("floor", (12.0, 7.5), 4), ("wall", (40.0, 4.0), 1), ("ceiling", (2.0, 9.0), 9)]
)
def test_nothing_runs_off_the_page_whatever_its_shape(kind, size_m, cameras):
    names = [f"camera {number}" for number in range(cameras)]
    times = np.full((cameras + 1, ROWS, COLUMNS), 1.0)
    lines = np.array([[(0.1, 0.1), (1.0, 1.0)]])
    made = mapped(
        kind=kind, size_m=size_m, seconds_in=times,
        camera_share={name: np.zeros((ROWS, COLUMNS)) for name in names},
        outlines={name: lines for name in names},
    )  # fmt: skip
    figure = _page(made, "A show")
    figure.canvas.draw()
    page = figure.bbox
    for drawn in (*figure.axes, *figure.legends, *figure.texts):
        box = drawn.get_tightbbox()
        assert box.x0 >= 0 and box.y0 >= 0 and box.x1 <= page.x1 and box.y1 <= page.y1, drawn


def test_the_picture_has_the_ramps_ends_and_grey_past_the_wall():
    """On the page's own pixels: yellow upper left, dark blue below it, grey at the right end."""
    from matplotlib import colormaps
    from matplotlib.colors import to_rgb

    made = mapped(outlines={}, worst_timecode="")
    figure = _page(made, "A show")
    picture = np.asarray(Image.open(io.BytesIO(wall_map_png(made, "A show"))).convert("RGB")) / 255.0
    axis, _ = image_of(figure, "")
    place = axis.get_position()

    def pixel(across, up):
        x = (place.x0 + place.width * across) * picture.shape[1]
        y = (1.0 - place.y0 - place.height * up) * picture.shape[0]
        return picture[int(y), int(x)]

    ramp = colormaps["cividis"]
    np.testing.assert_allclose(pixel(0.1, 0.9), ramp(1.0)[:3], atol=0.01)
    np.testing.assert_allclose(pixel(0.1, 0.2), ramp(0.0)[:3], atol=0.01)
    np.testing.assert_allclose(pixel(0.95, 0.5), to_rgb(_NO_WALL), atol=0.01)


def test_lines_are_joined_so_that_dashes_run_on():
    """Pieces of one border in any order and either direction become one path; a second stays its own."""
    corners = np.array([(0, 0), (1, 0), (1, 1), (0, 1), (0, 0)], dtype=float)
    pieces = [np.array(pair) for pair in pairwise(corners)]
    pieces[1] = pieces[1][::-1]
    away = np.array([(5.0, 5.0), (6.0, 5.0)])
    paths = _chained(np.array([pieces[2], away, pieces[0], pieces[3], pieces[1]]))
    assert sorted(len(path) for path in paths) == [2, 5]
    ring = max(paths, key=len)
    np.testing.assert_array_equal(ring[0], ring[-1])
    assert np.linalg.norm(np.diff(ring, axis=0), axis=1) == pytest.approx([1.0] * 4)
