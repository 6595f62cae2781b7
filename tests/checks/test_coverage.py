"""Needed overscan against plane trigonometry, and against the raster's sightlines pixel by pixel."""

from __future__ import annotations

from math import degrees, radians, tan

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from preview.camera.distortion import Distortion
from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.checks.coverage import (
    coverage,
    coverage_over,
    coverage_result,
    uncovered_pixels,
    worst_of,
)
from preview.checks.seen_wall import reaches, seen_wall, wall_points
from preview.timeline.moment import CameraMoment
from preview.timeline.timeline import Timeline
from preview.wall.layer import inner_image
from tests.checks.shows import changed, whip_show
from tests.twin.stages import faceted_wall, led_floor

SIZE = (640, 360)
ROUND = (faceted_wall(columns=24, joint_deg=9.0, distance_m=5.0, tile_m=(0.8, 12.0), bottom_m=-6.0),)
"""216 degrees of wall, high enough to fill every picture below."""


STRAIGHT = Distortion()


def view(pan=0.0, tilt=0.0, focal=10.0, at=(0.0, 0.0, 0.0), distortion=STRAIGHT):
    return CameraView(Pose(at, pan, tilt), (9.6, 5.4), focal, distortion=distortion)


def moment(now, then, overscan_percent):
    return CameraMoment("A", 1, now, then, overscan_percent / 100, "any")


@pytest.mark.parametrize("lag_deg", [1.0, -4.0, 12.0])
@pytest.mark.parametrize("focal", [6.0, 10.0, 40.0])
def test_a_pan_needs_what_the_two_angles_say(lag_deg, focal):
    """Turned by a about its pupil, a camera sees as far as h + a from where its image was drawn, whatever
    the wall: the image has to reach tan(h + a) / tan(h) of its half width. Plane trigonometry."""
    found = coverage(ROUND, moment(view(pan=-lag_deg, focal=focal), view(focal=focal), 3.0), SIZE)
    half = np.arctan(4.8 / focal)
    across = (tan(half + radians(abs(lag_deg))) / tan(half) - 1) / 2 * 100
    # At the leading corners the picture also grows upwards: 1 / (cos a - tan h sin a) of its half height.
    lag = radians(abs(lag_deg))
    upwards = (1 / (np.cos(lag) - tan(half) * np.sin(lag)) - 1) / 2 * 100
    assert found.needed_percent == pytest.approx(max(across, upwards), abs=1e-6)
    if across > upwards:
        assert found.edge == ("right" if lag_deg > 0 else "left"), "+pan turns left"
    assert found.covered == (max(across, upwards) <= 3.0 + 100 / SIZE[0])


def test_a_zoom_needs_the_ratio_of_focal_lengths():
    """The image drawn at 12 mm, the lens now at 10: it sees 12 / 10 as far. Zooming in needs nothing."""
    out = coverage(ROUND, moment(view(focal=10.0), view(focal=12.0), 20.0), SIZE)
    assert out.needed_percent == pytest.approx((1.2 - 1) / 2 * 100, abs=1e-6)
    assert out.covered and out.missing_share == 0.0
    into = coverage(ROUND, moment(view(focal=12.0), view(focal=10.0), 0.0), SIZE)
    assert (into.needed_percent, into.covered, into.edge) == (0.0, True, "")


def test_what_moves_past_a_flat_wall_needs_what_it_has_moved():
    """Sideways by 0.3 m, 5 m from a flat wall, a lens that sees 4.8 m across: 0.3 / 4.8 of the width."""
    flat = (faceted_wall(columns=4, joint_deg=0.0, distance_m=5.0, tile_m=(4.0, 12.0), bottom_m=-6.0),)
    found = coverage(flat, moment(view(at=(0.3, 0, 0)), view(), 0.0), SIZE)
    assert found.needed_percent == pytest.approx(0.3 / 4.8 * 100, abs=1e-6)
    assert found.edge == "right"
    assert found.missing_share == pytest.approx(0.3 / 4.8, abs=1 / 96)


def test_past_the_wall_nothing_is_needed():
    """The picture's right half looks past a narrow wall, so a pan to the right needs no overscan there."""
    narrow = (faceted_wall(columns=1, joint_deg=0.0, distance_m=5.0, tile_m=(2.0, 12.0), bottom_m=-6.0),)
    found = coverage(narrow, moment(view(pan=-3.0), view(), 0.0), SIZE)
    assert found.needed_percent < 1.0
    away = coverage(narrow, moment(view(pan=170.0), view(pan=160.0), 0.0), SIZE)
    assert (away.needed_percent, away.covered) == (0.0, True), "no wall in the picture"


def test_a_wall_point_behind_the_old_view_is_out_of_reach():
    found = coverage(ROUND, moment(view(pan=80.0), view(), 100.0), SIZE)
    assert found.needed_percent is None
    assert not found.covered
    assert found.edge == "left"
    assert worst_of([coverage(ROUND, moment(view(1.0), view(), 0.0), SIZE), found]) is found
    assert worst_of([]) is None


@given(
    pan=st.floats(-12, 12), tilt=st.floats(-6, 6), zoom=st.floats(0.85, 1.2), step=st.floats(-0.4, 0.4),
    overscan=st.floats(0, 12), k1=st.sampled_from([0.0, -0.05, 0.03]),
)  # fmt: skip
@settings(max_examples=25)
def test_the_needed_overscan_is_just_enough_for_every_sightline(pan, tilt, zoom, step, overscan, k1):
    """Against points all over the picture: with the needed overscan all are reached, with 2 percent
    less some are not. Lens distortion, bends of the wall and a floor before it included."""
    stage = (faceted_wall(), led_floor())
    lens = Distortion(k1=k1)
    now = view(pan, tilt - 4, 10.0 * zoom, (step, -3.0, 1.6), lens)
    then = view(0.0, -4.0, 10.0, (0.0, -3.0, 1.6), lens)
    found = coverage(stage, moment(now, then, overscan), SIZE)
    assume(found.needed_percent is not None)
    fine, none, full = np.linspace(0, 1, 2000), np.zeros(2000), np.ones(2000)
    sides = [(fine, none), (fine, full), (none, fine), (full, fine)]
    x, y = np.meshgrid(np.linspace(0, 1, 161), np.linspace(0, 1, 91))
    places = np.concatenate([np.column_stack(side) for side in (*sides, (x.ravel(), y.ravel()))])
    points, meets = wall_points(stage, now, places * SIZE, SIZE)
    # A wall may come to a point inside the picture: look closer where it reaches farthest.
    x, y = np.meshgrid(np.linspace(-0.02, 0.02, 101), np.linspace(-0.02, 0.02, 101))
    farthest = places[meets][farness(then, points).argmax()]
    closer = np.clip(farthest + np.column_stack([x.ravel(), y.ravel()]), 0, 1)
    points = np.concatenate([points, wall_points(stage, now, closer * SIZE, SIZE)[0]])

    def missed(percent):
        image = inner_image(moment(now, then, percent))
        return int((~reaches(image, points, (10**6, 10**6))).sum())  # so fine that nothing is rounded up

    assert missed(found.needed_percent + 0.02) == 0
    # Another of the wall's corners may be the farthest by a little, and lie between the points above.
    if found.needed_percent > 2.0:
        assert missed(found.needed_percent - 2.0) > 0


def farness(seen_from, points):
    """How far out points lie in a pinhole picture; 1 at its edge."""
    right, forward, up = ((points - seen_from.pupil_m) @ seen_from.pose.rotation).T
    tan_x, tan_y = seen_from.half_tangents
    return np.maximum(abs(right) / tan_x, abs(up) / tan_y) / forward


def test_counted_on_sightlines_as_told_by_geometry(studio):
    """The raster's own wall points are those of the rays, and both miss the same share of the picture."""
    late = changed(whip_show(), delays={"tracking_frames": 3.0})
    timeline = Timeline(late)
    told = coverage_over(late, timeline, studio.stage.surfaces)
    assert {one.camera for one in told} == {"CAM2"}
    # A move of 15 frames from frame 40 on: late by three, its image lags from 41 to 57.
    assert [one.frame for one in told] == list(range(41, 58))
    for one in told[::4]:
        camera = timeline.at(one.frame).camera("CAM2")
        share = uncovered_pixels(studio.raster, camera) / (640 * 360)
        assert share == pytest.approx(one.missing_share, abs=1.5 / 96)
        assert one.covered == (share == 0.0)
    wall = seen_wall(studio.raster, camera.view)
    rows, columns = np.nonzero(wall.seen)
    some = slice(None, None, 997)
    pixels = np.column_stack([columns, rows])[some] + 0.5
    points, meets = wall_points(studio.stage.surfaces, camera.view, pixels, SIZE)
    assert meets.all()
    np.testing.assert_allclose(points, wall.points[some], atol=2e-3)


def test_frames_and_cameras_looked_at():
    late = changed(whip_show(), delays={"tracking_frames": 1.0})
    timeline = Timeline(late)
    assert coverage_over(whip_show()) == (), "nothing lags where nothing is late"
    assert [one.frame for one in coverage_over(late, timeline, frames=range(44, 47))] == [44, 45, 46]
    only_off_air = changed(late, show={"title": "same"})
    every = coverage_over(only_off_air, on_programme=False)
    assert {one.camera for one in every} == {"CAM2"}


def test_what_the_director_is_told():
    late = changed(whip_show(), delays={"tracking_frames": 3.0})
    timeline = Timeline(late)
    told = coverage_over(late, timeline)
    (finding,) = coverage_result(told, timeline).findings
    worst = worst_of(told)
    assert finding.grade == "fault"
    assert finding.sentence.startswith(
        "For 13 frames (10:00:01:18 to 10:00:02:05) the right of CAM2's picture"
    )
    assert f"needs {worst.needed_percent:.1f} % overscan and has 5 %" in finding.sentence
    wide = changed(late, {"CAM2": {"overscan_percent": 20.0}})
    (fine,) = coverage_result(coverage_over(wide, timeline=Timeline(wide)), timeline).findings
    assert fine.grade == "fine"
    assert "keeps up" in fine.sentence


def test_pan_half_angle_of_the_fixture_is_what_the_show_file_says():
    """Guards the numbers above: 16 mm on 9.59 mm sees 33.4 degrees, 2 atan(d / 2f), common practice."""
    seen = Timeline(whip_show()).at(30).camera("CAM2").view
    assert 2 * degrees(np.arctan(seen.half_tangents[0])) == pytest.approx(33.37, abs=0.01)
