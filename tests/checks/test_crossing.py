"""Other cameras in the picture, against the areas of their projected bodies."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
import trimesh

from preview.checks.crossing import Crossing
from preview.checks.look import Look
from preview.show.model import Body, Mount, Move, Surface
from preview.show.thresholds import Checks, CrossingLimits
from tests.checks.flat_stage import TILES, camera, flat_show, framing, seen, shot

WALL = Surface(name="Wall", columns=40, rows=24, position_m=(0.0, 9.0, -3.0), **TILES)
UNMANNED = Body(operated=False)


def show_of(*others, shots=None, checks=None, own=None):
    cameras = (own or camera("A", framing("f", 9.6), at=(0.0, -3.0, 1.5)), *others)
    if shots is None:
        shots = [shot("One", "A", {c.name: c.framings[0].name for c in cameras})]
    return flat_show(cameras, shots, surfaces=(WALL,), checks=checks)


def projected_share(look, camera_name, whose):
    """Area of the union of the outlines of a camera's solids in a picture of 1 x 1."""
    view = look.moment.camera(camera_name).view
    hulls = []
    for solid in look.solids(whose):
        places, in_front = view.project(solid.mesh()[0], (1, 1))
        assert in_front.all()
        hulls.append(shapely.MultiPoint(places).convex_hull)
    return shapely.union_all(hulls).intersection(shapely.box(0, 0, 1, 1)).area


def nearest_m(look, camera_name, whose):
    """From a camera's pupil to the nearest point of another's solids."""
    pupil = look.moment.camera(camera_name).view.pupil_m
    meshes = [trimesh.Trimesh(*solid.mesh()) for solid in look.solids(whose)]
    return min(trimesh.proximity.closest_point(mesh, [pupil])[1][0] for mesh in meshes)


@pytest.mark.parametrize(
    ("at", "pan", "mount"),
    [
        ((0.4, 1.0, 1.5), 20.0, Mount(kind="pedestal")),
        ((-1.5, 2.0, 1.2), -70.0, Mount(kind="free")),
        ((1.2, 0.5, 1.5), 150.0, Mount(kind="tripod")),
    ],
)
def test_the_share_is_that_of_the_projected_bodies(at, pan, mount):
    other = camera("B", framing("g", 30.0, pan), at=at, number=2, mount=mount)
    with seen(Crossing, show_of(other)) as (check, plan):
        (finding,) = check.result().findings
        exact = projected_share(Look(plan, 0), "A", "B")
        (curve,) = check.curves()
        (mark,) = check.marks(Look(plan, 0), finding)
        nearest = nearest_m(Look(plan, 0), "A", "B")
    assert exact > 0.005
    assert finding.measures["crossing_percent"] == pytest.approx(100 * exact, rel=0.05)
    assert finding.grade == "fault" and finding.cameras == ("A",) and finding.measures["whose"] == "B"
    expected = "camera operator" if mount.kind == "free" else "camera stand operator"
    assert finding.measures["bodies"] == expected
    assert curve.values["A"] == [finding.measures["crossing_percent"]] * 10 or np.allclose(
        curve.values["A"], finding.measures["crossing_percent"], atol=1e-4
    )
    assert 100 * mark.mask.mean() == pytest.approx(finding.measures["crossing_percent"], abs=1e-3)
    assert nearest - 0.02 < finding.measures["nearest_m"] < nearest + 0.1


def test_a_sentence_says_who_is_where_and_when():
    other = camera("B", framing("g", 30.0), at=(1.3, 0.5, 1.4), number=2, mount=Mount(kind="pedestal"))
    with seen(Crossing, show_of(other)) as (check, _):
        (finding,) = check.result().findings
    assert finding.sentence.startswith(
        "Camera B, its stand and its operator are in A's picture from 10:00:00:00"
    )
    assert ": in the lower right, 11 % of it" in finding.sentence
    assert finding.sentence.endswith("at 10:00:00:00.") and finding.measures["where"] == "the lower right"


def test_what_is_behind_beside_or_hidden_does_not_cross():
    behind = camera("B", framing("g", 30.0), at=(0.3, -5.0, 1.5), number=2)
    beside = camera("C", framing("g", 30.0), at=(6.0, 0.0, 1.5), number=3)
    past_wall = camera("D", framing("g", 30.0), at=(0.0, 14.0, 1.5), number=4)
    with seen(Crossing, show_of(behind, beside, past_wall)) as (check, _):
        (finding,) = check.result().findings
    assert finding.grade == "fine" and finding.measures["crossing_percent"] == 0.0
    assert finding.sentence == "No other camera or crew is in A's picture in One."


def test_who_walks_through_is_there_from_when_to_when():
    """B is carried across A's picture, 4 m away: it is in the picture while its bodies' outlines are."""
    left, right = (-4.0, 1.0, 1.5), (4.0, 1.0, 1.5)
    walker = camera(
        "B",
        framing("l", 30.0, position_m=left),
        framing("r", 30.0, position_m=right),
        number=2,
        body=UNMANNED,
        moves=(Move(name="walk", start="l", end="r", duration_s=2.0, ease="linear"),),
    )
    own = camera("A", framing("f", 19.2), at=(0.0, -3.0, 1.5))
    cues = [
        {
            "name": "One",
            "on_air": "A",
            "duration": 2.0,
            "cameras": {"A": {"framing": "f"}, "B": {"move": "walk"}},
        }
    ]
    with seen(Crossing, show_of(walker, shots=cues, own=own)) as (check, plan):
        (finding,) = check.result().findings
        inside = [frame for frame in range(50) if projected_share(Look(plan, frame), "A", "B") > 0.0003]
    assert 5 < len(inside) < 25, "it comes in and goes out again"
    assert abs(finding.frames[0] - inside[0]) <= 1 and abs(finding.frames[1] - inside[-1]) <= 1
    assert finding.frames[0] < finding.measures["worst_frame"] < finding.frames[1]


def test_each_camera_in_the_picture_has_its_finding_and_its_own_is_never_in_it():
    near = camera("B", framing("g", 30.0), at=(1.0, 1.0, 1.5), number=2, body=UNMANNED)
    far = camera("C", framing("g", 30.0), at=(-1.5, 3.0, 1.5), number=3, body=UNMANNED)
    shots = [
        shot("One", "A", {"A": "f", "B": "g", "C": "g"}),
        shot("Two", "B", {}),
        shot("Three", "C", {}),
    ]
    with seen(Crossing, show_of(near, far, shots=shots)) as (check, _):
        result = check.result()
    found = [(f.grade, f.shot, f.cameras, f.measures.get("whose")) for f in result.findings]
    assert found == [
        ("fault", "One", ("A",), "B"),
        ("fault", "One", ("A",), "C"),
        ("fine", "Two", ("B",), None),
        ("fine", "Three", ("C",), None),
    ]
    assert {f.measures["bodies"] for f in result.findings if f.grade == "fault"} == {"camera"}


def test_a_jib_s_arm_is_told_as_the_arm_it_is():
    jib = camera(
        "J",
        framing("g", 30.0, swing_deg=90.0, boom_deg=0.0),
        number=2,
        at=None,
        mount=Mount(kind="jib", pivot_m=(2.0, 1.0, 1.6), arm_m=4.0),
        body=UNMANNED,
    )
    with seen(Crossing, show_of(jib)) as (check, _):
        (finding,) = check.result().findings
    assert "arm" in str(finding.measures["bodies"]).split() and "arm" in finding.sentence


def test_less_than_the_limit_is_fine_but_said():
    other = camera("B", framing("g", 30.0), at=(0.4, 1.0, 1.5), number=2, body=UNMANNED)
    limit = Checks(crossing=CrossingLimits(percent=20.0))
    with seen(Crossing, show_of(other, checks=limit)) as (check, _):
        (finding,) = check.result().findings
    assert finding.grade == "fine" and 0.0 < finding.measures["crossing_percent"] < 20.0
    assert "of it at most" in finding.sentence
