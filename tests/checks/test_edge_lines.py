"""Edge lines found on sightlines, against the pixels that have a line's colour."""

from __future__ import annotations

import numpy as np
import pytest

from preview.checks.edge_lines import LineFinder, edge_line_result, edge_lines, where
from preview.colour import hex_to_linear
from preview.frame import Studio, Wanted
from preview.suggest.changed import with_overscan
from preview.suggest.edge_line import suggest_line_overscan
from preview.timeline.timeline import Timeline
from tests.checks.shows import changed, whip_show

SIZE = (640, 360)
SHARED = {"mode": "shared", "edge_width_mm": 50.0}


def found_in(show, frames, studio):
    timeline = Timeline(show)
    finder = LineFinder(studio.raster, studio.stage.surfaces)
    return edge_lines(finder, [timeline.at(frame) for frame in frames], show.file.drive)


@pytest.mark.parametrize(
    "name, change, frame, whose",
    [
        ("own line, no overscan", {"cameras": 0.0}, 10, "CAM1"),
        ("own line inside, image late", {"delays": {"tracking_frames": 3.0}}, 49, "CAM2"),
        ("the wall late", {"delays": {"wall_switch_frames": 2}}, 26, "CAM1"),
    ],
)
def test_they_are_where_the_picture_has_their_colour(name, change, frame, whose):
    """Every pixel that is wholly of the line's colour is found, and all found lie on or beside such."""
    cameras = {c: {"overscan_percent": 0.0} for c in ("CAM1", "CAM2")} if "cameras" in change else {}
    show = changed(whip_show(), cameras, drive=SHARED, delays=change.get("delays", {}))
    with Studio(show) as studio:
        moment = studio.timeline.at(frame)
        finder = LineFinder(studio.raster, studio.stage.surfaces)
        masks = finder.pixels(moment, moment.on_air, show.file.drive)
        (shown,) = studio.pictures(frame, Wanted(("programme-as-shot",), linear=True))
    assert list(masks) == [whose]
    color = show.file.drive.edge_color if whose == moment.wall_camera else show.file.drive.off_air_edge_color
    alike = np.abs(shown.linear - np.array(hex_to_linear(color))).max(axis=2) < 0.01
    assert alike.sum() > 1000
    # Where wall and floor meet, a pixel's middle may lie on the one and most of it on the other.
    assert (alike & ~masks[whose]).sum() <= 3
    beside = np.zeros_like(alike)
    for down in (-1, 0, 1):
        for across in (-1, 0, 1):
            beside |= np.roll(alike, (down, across), (0, 1))
    assert (masks[whose] & ~beside).sum() <= 0.02 * masks[whose].sum()


def test_another_cameras_line_where_the_own_image_does_not_reach(studio):
    """CAM2 swings to where its late image does not reach: CAM1's amber line stands under it there."""
    show = changed(
        whip_show(), {"CAM2": {"overscan_percent": 0.0}}, drive=SHARED, delays={"tracking_frames": 3.0}
    )
    seen = {(one.whose, one.on_top) for one in found_in(show, range(45, 53), studio)}
    assert ("CAM2", False) in seen
    assert {whose for whose, _ in seen} <= {"CAM1", "CAM2"}


def test_none_are_seen_with_overscan_or_on_other_walls(studio):
    assert found_in(changed(whip_show(), drive=SHARED), [10, 30, 90], studio) == ()
    for drive in ({"mode": "switched"}, {"mode": "interleaved"}, {**SHARED, "edge_line": False},
                  {**SHARED, "edge_width_mm": 0.0}):  # fmt: skip
        show = changed(whip_show(), {"CAM1": {"overscan_percent": 0.0}}, drive=drive)
        assert found_in(show, [10], studio) == ()


def test_counts_shares_boxes_and_words(studio):
    show = changed(whip_show(), drive=SHARED, delays={"tracking_frames": 3.0, "wall_switch_frames": 2})
    found = found_in(show, [25, 26, 48, 49], studio)
    finder = LineFinder(studio.raster, studio.stage.surfaces)
    for one in found:
        moment = Timeline(show).at(one.frame)
        mask = finder.pixels(moment, one.camera, show.file.drive)[one.whose]
        rows, columns = np.nonzero(mask)
        assert one.pixels == len(rows)
        assert one.share == pytest.approx(len(rows) / (640 * 360))
        assert one.box_px == (columns.min(), rows.min(), columns.max() + 1, rows.max() + 1)
    late, lagging = edge_line_result(found, Timeline(show), SIZE, {"CAM2": "more overscan"}).findings
    assert "CAM1's edge line" in late.sentence and "has CAM1's frustum on top" in late.sentence
    assert late.remedy.startswith("hold the cut back"), "no overscan helps there"
    assert "from top to bottom" in lagging.sentence and "ends inside its picture" in lagging.sentence
    assert lagging.remedy == "more overscan"
    assert late.grade == lagging.grade == "fault"


def test_in_a_mix_the_other_frustum_on_top_is_a_compromise(studio):
    show = changed(whip_show(), drive=SHARED)
    found = found_in(show, [76], studio)
    assert [(one.camera, one.whose, one.on_top) for one in found] == [("CAM1", "CAM2", True)]
    (finding,) = edge_line_result(found, Timeline(show), SIZE).findings
    assert (finding.grade, finding.remedy) == ("compromise", "")


@pytest.mark.parametrize(
    "box, words",
    [
        ((0, 0, 640, 360), "all round"),
        ((64, 0, 70, 360), "from top to bottom, 10 % of the width in from the left"),
        ((0, 300, 640, 324), "from left to right, 10 % of the height in from the bottom"),
        ((600, 0, 640, 100), "at the right and top"),
        ((100, 100, 120, 120), "inside the picture"),
    ],
)
def test_where_in_words(box, words):
    assert where(box, SIZE) == words


def test_the_overscan_that_takes_them_away_is_the_least(studio):
    show = changed(whip_show(), drive=SHARED, delays={"tracking_frames": 3.0})
    frames = range(46, 53)
    found = found_in(show, frames, studio)
    remedy = suggest_line_overscan(show, found, "CAM2", studio.raster, studio.stage.surfaces)
    assert 19.6 < remedy.clean_percent < 30.0, "coverage alone needs 19.5, the line comes on top of it"
    assert found_in(with_overscan(show, {"CAM2": remedy.clean_percent}), frames, studio) == ()
    less = with_overscan(show, {"CAM2": remedy.clean_percent - 0.1})
    assert found_in(less, frames, studio), "a step less is not enough"
    assert f"{remedy.clean_percent:g} % overscan instead of 5 %" in remedy.sentence


def test_a_line_that_no_overscan_takes_away_is_told(studio):
    """Tracking so late that the picture lies past the widest image: no overscan helps."""
    show = changed(whip_show(), drive={**SHARED, "edge_width_mm": 9000.0})
    found = found_in(show, [30], studio)
    remedy = suggest_line_overscan(show, found, "CAM2", studio.raster, studio.stage.surfaces)
    assert remedy.clean_percent is None
    assert "no overscan up to 100 %" in remedy.sentence
