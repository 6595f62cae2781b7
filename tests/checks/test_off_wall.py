"""Off the wall against plane geometry: a flat wall 4 m wide, 4 m away, through a sensor 9.6 mm wide.

A lens of f mm sees 4 m x 9.6 / f of it: from 9.6 mm on the picture stays on the wall.
"""

from __future__ import annotations

from math import ceil

import numpy as np
import pytest

from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.checks.look import Look
from preview.checks.off_wall import OffWall
from preview.checks.past_wall import LedRays, past_wall, widest_place
from preview.raster.sight import SightRaster
from preview.show.model import Body, Person, Surface
from preview.show.thresholds import Checks, OffWallLimits
from preview.stage.mesh import SceneMesh
from tests.checks.flat_stage import TILES, WALL, camera, flat_show, framing, seen, shot
from tests.twin.oracle import OracleStage
from tests.twin.stages import box_solid, faceted_wall, set_mesh

TALL = Surface(name="Tall", columns=8, rows=24, position_m=(0.0, 4.0, -4.5), **TILES)


def one_shot(*cameras, framings, on_air="A", **keys):
    return flat_show(cameras, [shot("One", on_air, framings)], **keys)


@pytest.mark.parametrize("focal", [5.0, 8.0, 9.0, 9.55])
def test_a_picture_wider_than_the_wall_is_off_on_both_sides(focal):
    show = one_shot(camera("A", framing("f", focal)), framings={"A": "f"}, surfaces=(TALL,))
    with seen(OffWall, show) as (check, _):
        (finding,) = check.result().findings
    measures = finding.measures
    assert finding.grade == "fault" and finding.cameras == ("A",) and finding.frames == (0, 9)
    assert measures["off_wall_percent"] == pytest.approx(100 * (1 - focal / 9.6), abs=0.5)
    assert measures["edges"] == "left right"
    assert measures["shortest_focal_length_mm"] == 9.6
    assert measures["times_as_wide"] == pytest.approx(focal / 9.6, abs=1e-4)
    assert "at the left and right edges" in finding.sentence and "from 9.6 mm on" in finding.sentence


@pytest.mark.parametrize("focal", [9.6, 12.0, 40.0, 80.0])
def test_a_picture_on_the_wall_says_how_much_wider_it_could_be(focal):
    show = one_shot(camera("A", framing("f", focal)), framings={"A": "f"}, surfaces=(TALL,))
    with seen(OffWall, show) as (check, _):
        (finding,) = check.result().findings
        share, room = check.curves()
    assert finding.grade == "fine" and finding.measures["off_wall_percent"] == 0.0
    assert finding.measures["shortest_focal_length_mm"] == 9.6
    assert finding.measures["times_as_wide"] == pytest.approx(focal / 9.6, abs=1e-4)
    assert share.values["A"] == [0.0] * 10 and share.limit == 0.0
    assert room.values["A"][0] == pytest.approx(focal / 9.6, rel=0.05 if focal > 12.0 else 0.02)


@pytest.mark.parametrize(("pan", "tilt", "height"), [(6.0, 0.0, 1.5), (-11.0, 4.0, 1.2), (0.0, -7.0, 1.0)])
def test_the_shortest_focal_length_is_that_of_the_first_corner_to_leave(pan, tilt, height):
    """The wall's corners and edges in the camera's own axes: the one nearest to the picture's middle, by
    the larger of its two tangents, stops the zoom."""
    at = (0.2, 0.0, height)
    show = one_shot(camera("A", framing("f", 40.0, pan, tilt), at=at), framings={"A": "f"})
    along = np.linspace(-2.0, 2.0, 20001)
    up = np.linspace(0.0, 3.0, 20001)
    outline = np.concatenate(
        [
            np.column_stack([along, np.full_like(along, 4.0), np.full_like(along, z)]) for z in (0.0, 3.0)
        ]
        + [np.column_stack([np.full_like(up, x), np.full_like(up, 4.0), up]) for x in (-2.0, 2.0)]
    )  # fmt: skip
    local = (outline - at) @ Pose(at, pan, tilt).rotation
    places = np.abs(local[:, [0, 2]]) / local[:, 1:2] / (4.8, 2.7)
    exact = 1.0 / places.max(axis=1).min()
    with seen(OffWall, show) as (check, _):
        (finding,) = check.result().findings
    tried = finding.measures["shortest_focal_length_mm"]
    assert tried == pytest.approx(ceil(10 * exact - 1e-3) / 10, abs=1e-9)


def test_a_strip_of_a_hair_s_breadth_is_found():
    """0.01 mm short: a strip of 0.05 % of the picture's width a side, a tenth of a field."""
    show = one_shot(camera("A", framing("f", 9.59)), framings={"A": "f"}, surfaces=(TALL,))
    with seen(OffWall, show) as (check, _):
        (finding,) = check.result().findings
        (mark,) = check.marks(Look(check.plan, 0), finding)
    assert finding.grade == "fault" and finding.measures["edges"] == "left right"
    assert finding.measures["off_wall_percent"] == pytest.approx(100 * (1 - 9.59 / 9.6), rel=0.4)
    assert set(np.flatnonzero(mark.mask.any(axis=0))) == {0, 191} and mark.camera == "A"


def test_no_lens_helps_a_camera_that_looks_away():
    show = one_shot(camera("A", framing("f", 20.0, pan=60.0)), framings={"A": "f"})
    with seen(OffWall, show) as (check, _):
        (finding,) = check.result().findings
    assert finding.measures["shortest_focal_length_mm"] is None and "No focal length" in finding.sentence
    assert finding.measures["off_wall_percent"] == 100.0 and finding.measures["where"] == "the whole picture"


def test_a_lens_that_cannot_leave_the_wall():
    show = one_shot(camera("A", framing("f", 20.0), range_mm=(12.0, 40.0)), framings={"A": "f"})
    with seen(OffWall, show) as (check, _):
        (finding,) = check.result().findings
    assert finding.grade == "fine" and finding.measures["shortest_focal_length_mm"] == 12.0
    assert "at its widest, 12 mm" in finding.sentence


def test_the_back_of_a_surface_is_off_the_wall():
    behind = camera("A", framing("f", 40.0, pan=180.0), at=(0.0, 8.0, 1.5))
    with seen(OffWall, one_shot(behind, framings={"A": "f"})) as (check, _):
        (finding,) = check.result().findings
    assert finding.measures["back_percent"] == finding.measures["off_wall_percent"] == 100.0
    assert "the back of one" in finding.sentence


def test_one_finding_a_shot_and_camera_and_mixes_count_for_both():
    cameras = (
        camera("A", framing("off", 8.0), framing("on", 20.0)),
        camera("B", framing("on", 30.0), number=2, at=(0.3, -0.2, 1.4)),
    )
    mix = {"transition": "mix", "mix_frames": 5}
    show = flat_show(
        cameras,
        [
            shot("First", "A", {"A": "off", "B": "on"}),
            shot("Second", "B", {"B": "on"}, **mix),
            shot("Third", "A", {"A": "on"}),
            shot("Fourth", "B", {}),
            shot("Fifth", "A", {"A": "off"}),
        ],
    )
    with seen(OffWall, show) as (check, _):
        result = check.result()
    found = [(f.grade, f.shot, f.cameras, f.frames) for f in result.findings]
    assert ("fault", "First", ("A",), (0, 14)) in found, "the mix into Second still shows it"
    assert ("fault", "Fifth", ("A",), (40, 49)) in found
    assert [f for f in found if f[0] == "fine"] == [
        ("fine", "Second", ("B",), (10, 19)),
        ("fine", "Third", ("A",), (20, 29)),
    ]
    assert (
        len(found) == 4 and "in 2 shots" in next(f for f in result.findings if f.cameras == ("B",)).sentence
    )


def test_a_show_s_own_limit_is_kept():
    limit = Checks(off_wall=OffWallLimits(percent=5.0))
    show = one_shot(camera("A", framing("f", 9.3)), framings={"A": "f"}, surfaces=(TALL,), checks=limit)
    with seen(OffWall, show) as (check, _):
        (finding,) = check.result().findings
    assert finding.grade == "fine" and finding.measures["off_wall_percent"] == pytest.approx(3.1, abs=0.5)
    assert finding.measures["shortest_focal_length_mm"] == 9.2, "0.95 x 9.6 = 9.12"


def test_a_camera_that_stands_before_the_wall_s_edge_does_not_widen_the_lens():
    """B's body covers the strip past the wall's left end, 4 m away at X = -2, in A's picture of it."""
    own = camera("A", framing("f", 40.0, pan=21.0))
    body = Body(operated=False, width_m=2.0, height_m=4.0, behind_m=0.2, lens_m=0.2)
    other = camera("B", framing("g", 40.0, tilt=0.0), at=(-2.2, 3.0, 1.5), number=2, body=body)
    away = camera("B", framing("g", 40.0), at=(-9.0, -3.0, 1.5), number=2, body=body)
    framings = {"A": "f", "B": "g"}
    with seen(OffWall, one_shot(own, other, framings=framings)) as (check, _):
        (hidden,) = check.result().findings
    with seen(OffWall, one_shot(own, away, framings=framings)) as (check, _):
        (bare,) = check.result().findings
    assert (hidden.grade, bare.grade) == ("fine", "fault")
    assert hidden.measures["off_wall_percent"] == 0.0 and "other cameras stand before" in hidden.sentence
    assert hidden.measures["shortest_focal_length_mm"] == bare.measures["shortest_focal_length_mm"] > 40.0


def test_a_short_stretch_of_frames_answers_alike():
    show = one_shot(camera("A", framing("f", 8.0)), framings={"A": "f"})
    with seen(OffWall, show) as (whole, _), seen(OffWall, show, first=4, last=5) as (part, _):
        (one,), (other,) = whole.result().findings, part.result().findings
    assert other.frames == (4, 5) and other.measures["off_wall_percent"] == one.measures["off_wall_percent"]
    assert other.measures["shortest_focal_length_mm"] == one.measures["shortest_focal_length_mm"]


def view(focal, at=(0.0, 0.0, 1.75)):
    return CameraView(Pose(at), (9.6, 5.4), focal)


def test_set_in_front_hides_what_lies_past_the_wall():
    """A wall 7 m wide at 4 m; boards to both sides of it, nearer, that reach over its edges."""
    wall = faceted_wall(columns=7, joint_deg=0.0, distance_m=4.0, tile_m=(1.0, 20.0), bottom_m=-8.0)
    boards = [box_solid((2.0, 0.1, 20.0), (side * 4.0, 3.5, 0.0), (0.5, 0.5, 0.5)) for side in (-1, 1)]
    rays, half = LedRays((wall,)), view(4.8)  # sees 8 m of the wall's plane
    with SightRaster((wall,), SceneMesh(())) as bare:
        off = past_wall(bare.look(half), rays)
    assert off.share == pytest.approx(1 / 8, abs=0.006) and off.edges == ("left", "right")
    with SightRaster((wall,), set_mesh(OracleStage((wall,), (1.0,), (0.0, 0.0, 1.6), boards))) as dressed:
        hidden = past_wall(dressed.look(half), rays)
        wider = dressed.look(view(3.0))
        place = widest_place(half, wider)
    assert hidden.share == 0.0 and hidden.edges == () and not hidden.mask.any()
    # The boards end at 5 m to either side, 3.45 to 3.55 m away; the half picture there is 3.45 m.
    assert place == pytest.approx(5.0 / 3.45, abs=1.0 / 96 * 1.6 + 0.05)


def test_a_person_hides_it_too():
    stand_in = Person(name="Edda", position_m=(2.0, 3.0, 0.0), height_m=2.0)
    plain = one_shot(camera("A", framing("f", 30.0, pan=-26.0, tilt=-8.0)), framings={"A": "f"})
    people = flat_show(
        plain.file.cameras, [shot("One", "A", {"A": "f"})], surfaces=(WALL,), people=(stand_in,)
    )
    with seen(OffWall, plain) as (bare, _), seen(OffWall, people) as (dressed, _):
        before = bare.result().findings[0].measures["off_wall_percent"]
        after = dressed.result().findings[0].measures["off_wall_percent"]
    assert 0.0 < after < 0.95 * before
