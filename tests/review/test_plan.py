"""Plans: what is on the page lies where it stands, nothing is written over anything, files read back."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from itertools import combinations

import numpy as np
import pytest
from matplotlib.text import Annotation

from preview.review.floor_layer import (
    FloorLayer,
    FloorSheet,
    clear_middle_m,
    extent_m,
    mask_path,
    ramp,
)
from preview.review.plan import PlanArea, PlanCamera, PlanPerson, PlanWall, StudioPlan, chained
from preview.review.plan_sheet import (
    IN_PER_M,
    SCALES,
    Sheet,
    as_png,
    as_svg,
    drawn,
    layer_sheet,
    moment_sheet,
    overview_sheet,
)

SVG = "{http://www.w3.org/2000/svg}"
WALL = PlanWall("Long wall", np.array([[[-5.0, 4.0], [5.0, 4.0]]]), np.array([[0.0, 1.0]]))
DESK = PlanArea("Desk", (np.array([[-1.0, 0.0], [1.0, 0.0], [1.0, 0.6], [-1.0, 0.6]]),))


def box(x, y, side):
    return np.array([[x, y], [x + side, y], [x + side, y + side], [x, y + side]])


def studio():
    """A wall of 10 m at Y = 4, a desk, two people side by side, two cameras at Y = -5."""
    sees = np.array([[2.0, -5.0], [-3.0, 4.0], [4.0, 4.0]])
    cameras = (
        PlanCamera(1, "left", (-2.0, -5.0), 0.0, (("camera", box(-2.1, -5.3, 0.3)),)),
        PlanCamera(2, "right", (2.0, -5.0), 12.0, (("camera", box(1.9, -5.3, 0.3)),), sees, tally="on air"),
    )
    people = (PlanPerson("Presenter", (-0.6, 1.2), 180.0), PlanPerson("Guest", (0.6, 1.2), 180.0))
    floor = PlanArea("Floor", (np.array([[-5, -2], [5, -2], [5, 4], [-5, 4.0]]),))
    return StudioPlan((WALL,), (floor,), (DESK,), people, cameras, (0.0, 1.2))


def floor_sheet():
    x, y = np.arange(-4.0, 4.01, 0.5), np.arange(-7.0, -2.9, 0.5)
    values = np.add.outer(0.0 * y, np.abs(x))
    out = np.zeros(values.shape, dtype=bool)
    out[-1] = True
    values[out] = np.nan
    layers = (
        FloorLayer("off-wall", "Off the wall", "%", values, ~(values > 1.0), 1.0),
        FloorLayer("clearance", "Clearance", "m", 4.0 - values, ~(4.0 - values <= 1.0), 1.0, "above"),
        FloorLayer("moire-mean", "Mean moire", "0 to 1", values / 4, ~out | True, judged=False, top=1.0),
    )
    clear = layers[0].passes & layers[1].passes & ~out
    return FloorSheet(
        "A show: right, wide", "Some of it.", studio(), x, y, layers, clear, out, (2.0, -5.0), (1.0, -5.0),
        ("A fact.",),
    )  # fmt: skip


def plan_axes(figure):
    return figure.axes[0]


def test_a_wall_of_ten_metres_is_ten_units_long_and_to_the_scale_stated():
    figure = drawn(lambda: moment_sheet(studio(), "Title", "Told."))
    axis = plan_axes(figure)
    (line,) = [line for line in axis.lines if line.get_gid() == "wall Long wall"]
    assert np.ptp(line.get_xdata()) == 10.0
    assert set(line.get_ydata()) == {4.0}
    scale = int(
        next(t.get_text() for t in figure.texts if "scale 1:" in t.get_text()).split(":")[1].split()[0]
    )
    assert scale in SCALES
    ends = axis.transData.transform([[-5.0, 4.0], [5.0, 4.0], [0.0, -6.0], [0.0, 4.0]]) / figure.dpi
    assert ends[1, 0] - ends[0, 0] == pytest.approx(10 * IN_PER_M / scale, rel=1e-3)
    assert ends[3, 1] - ends[2, 1] == pytest.approx(10 * IN_PER_M / scale, rel=1e-3), "both ways alike"


def test_cameras_are_at_the_bottom_and_the_wall_at_the_top():
    axis = plan_axes(drawn(lambda: moment_sheet(studio(), "Title", "Told.")))
    (wall, camera) = axis.transAxes.inverted().transform(axis.transData.transform([[0.0, 4.0], [2.0, -5.0]]))
    assert wall[1] > 0.85 and camera[1] < 0.15
    assert 0 <= camera[0] <= 1


def test_names_stand_free_of_each_other_and_inside_the_sheet():
    figure = drawn(lambda: moment_sheet(studio(), "Title", "Told."))
    axis = plan_axes(figure)
    figure.canvas.draw()
    texts = [child for child in axis.get_children() if isinstance(child, Annotation) and child.get_text()]
    assert {"1 left", "2 right", "Presenter", "Guest", "Desk", "Long wall", "Floor"} == {
        text.get_text() for text in texts
    }
    boxes = [text.get_window_extent() for text in texts]
    for one, other in combinations(boxes, 2):
        assert not one.overlaps(other)
    frame = figure.bbox
    assert all(frame.x0 <= box.x0 and box.x1 <= frame.x1 for box in boxes)


def test_the_scale_fits_the_largest_and_the_smallest_studio():
    small = Sheet((-1.0, 1.0, -1.0, 1.0), "t", "t")
    large = Sheet((-40.0, 40.0, -30.0, 30.0), "t", "t")
    assert small.scale < large.scale
    assert small.wide_in <= 11 and large.wide_in <= 11 and large.high_in <= 9.4
    huge = Sheet((-9000.0, 9000.0, -1.0, 1.0), "t", "t")
    assert huge.wide_in <= 11


def test_long_words_above_the_plan_are_all_there():
    told = " ".join(f"word{number}" for number in range(120))
    sheet = Sheet((-5.0, 5.0, -5.0, 5.0), "t", told)
    shown = " ".join(text.get_text().replace("\n", " ") for text in sheet.figure.texts)
    assert told in shown
    assert sheet.head_in > Sheet((-5.0, 5.0, -5.0, 5.0), "t", "short").head_in


def test_the_image_of_a_layer_lies_over_its_places():
    sheet = floor_sheet()
    figure = drawn(lambda: layer_sheet(sheet, sheet.layers[0]))
    (image,) = plan_axes(figure).images
    assert image.get_extent() == [-4.25, 4.25, -7.25, -2.75]
    assert image.origin == "lower"
    shown = image.get_array()
    assert np.array_equal(shown.filled(np.nan), sheet.layers[0].values, equal_nan=True)
    assert image.norm.vmax >= 1.25, "the limit is on the ramp"


def test_the_overview_has_a_small_map_a_layer_with_its_ramp():
    sheet = floor_sheet()
    figure = drawn(lambda: overview_sheet(sheet))
    titles = [axis.get_title(loc="left") for axis in figure.axes]
    assert [title for title in titles if title] == [
        "Off the wall", "Clearance", "Mean moire", "Checks that speak up, of 2",
    ]  # fmt: skip
    assert len([axis for axis in figure.axes if axis.images]) == 4
    boxes = [axis.get_position() for axis in figure.axes]
    assert all(not one.overlaps(other) for one, other in combinations(boxes, 2))
    assert all(box.x0 >= 0 and box.y0 >= 0 and box.x1 <= 1 and box.y1 <= 1 for box in boxes)


def test_what_speaks_up_is_counted_of_judged_layers_only():
    sheet = floor_sheet()
    count = sheet.speaking_up
    assert count.top == 2.0
    assert np.isnan(count.values[-1]).all()
    row = count.values[0]
    assert row[sheet.x_m == 0.0] == 0 and row[sheet.x_m == 2.0] == 1 and row[sheet.x_m == 4.0] == 2
    assert np.array_equal(count.values == 0, sheet.clear)


def area(path):
    """Signed area of a compound path (shoelace, Meister 1769)."""
    total = 0.0
    for ring in path.to_polygons(closed_only=True):
        x, y = ring.T
        total += 0.5 * float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]))
    return total


def test_an_outline_holds_its_places_and_leaves_holes_out():
    rng = np.random.default_rng(5)
    x, y = 2.0 + 0.1 * np.arange(14), -3.0 + 0.1 * np.arange(11)
    for _ in range(25):
        mask = rng.random((11, 14)) < 0.6
        path = mask_path(mask, x, y)
        assert area(path) == pytest.approx(mask.sum() * 0.01, abs=1e-9)
        inside = path.contains_points(np.array([(a, b) for b in y for a in x])).reshape(mask.shape)
        holes_counted_even_odd = sum(
            ring_path.astype(int)
            for ring_path in (
                type(path)(ring).contains_points(np.array([(a, b) for b in y for a in x]))
                for ring in path.to_polygons()
            )
        ).reshape(mask.shape)
        assert np.array_equal(holes_counted_even_odd % 2 == 1, mask)
        assert inside[mask].all()


def test_extent_middle_and_chains():
    assert extent_m(np.array([0.0, 0.5]), np.array([1.0])) == (-0.25, 0.75, 0.75, 1.25)
    clear = np.zeros((9, 9), dtype=bool)
    clear[1:8, 1:8] = True
    assert clear_middle_m(np.arange(9.0), np.arange(9.0), clear) == (4.0, 4.0)
    lines = np.array([[[1, 0], [2, 0]], [[0, 0], [1, 0]], [[5, 5], [6, 6]]])
    assert sorted(len(path) for path in chained(lines)) == [2, 3]


def test_bright_is_bad_and_brightness_rises_evenly():
    """Relative luminance of the ramp rises from end to end, and the other way where large is good.

    Source of the weights: Recommendation ITU-R BT.709-6, item 3.2; of the decoding: IEC 61966-2-1.
    """
    values = np.linspace(0, 1, 33)
    for side, sign in (("below", 1), ("above", -1)):
        code = ramp(side)(values)[:, :3]
        linear = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
        luminance = linear @ [0.2126, 0.7152, 0.0722]
        assert (sign * np.diff(np.cbrt(luminance)) > 0).all()


def test_svg_is_text_with_title_and_description_and_the_same_twice():
    sheet = floor_sheet()

    def svg():
        return as_svg(drawn(lambda: layer_sheet(sheet, sheet.layers[0])), "A & B", "What < is drawn")

    first = svg()
    assert first == svg()
    root = ET.fromstring(first)
    assert root.find(f"{SVG}title").text == "A & B"
    assert root.find(f"{SVG}desc").text == "What < is drawn"
    words = {"".join(text.itertext()).strip() for text in root.iter(f"{SVG}text")}
    assert {"1 left", "Presenter", "nearest clear place", "clear"} <= words
    assert b"date" not in first.lower()
    assert b"sans-serif" in first


def test_png_is_the_same_twice_and_names_its_title():
    def png():
        return as_png(drawn(lambda: moment_sheet(studio(), "Title", "Told.")), "A title")

    assert png() == png()
    assert b"A title" in png()
