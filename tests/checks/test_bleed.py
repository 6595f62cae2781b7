"""Bleed on small shows: laws of a switched wall, causes, and shares against the raster's own pictures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from preview.checks.bleed import Bleed
from preview.checks.look import Look
from preview.checks.seen_wall import reaches
from preview.checks.walk import open_plan, walk
from preview.raster.request import CameraPicture
from preview.wall.layer import inner_image
from tests.checks.shows import changed, whip_show, with_rundown

GRID = (64, 36)
LATE = {"wall_switch_frames": 3}
CUTS = (
    {"name": "Wide", "on_air": "CAM1", "duration": 1, "cameras": {"CAM2": {"framing": "left of wall"}}},
    {"name": "Left", "on_air": "CAM2", "duration": 1},
    {"name": "Wide again", "on_air": "CAM1", "duration": 1},
)


def seen(show, size_px=GRID, **chosen):
    """A check that has seen a show, and its result; what needs drawing is done by then."""
    with open_plan(show, size_px=size_px, **chosen) as plan:
        check = Bleed(plan)
        walk(plan, [check])
        return check, check.result()


def of_cause(result, *causes):
    return [finding for finding in result.findings if finding.measures.get("cause") in causes]


def on_air_shown(check, show):
    """(f,) what the pictures on programme show of other cameras' frustums, %, worst of both in a mix."""
    (programme, _, _) = check.curves()
    return np.nanmax(np.array(list(programme.values.values())), axis=0)


def test_on_a_switched_wall_where_nothing_is_late_no_picture_on_air_shows_another():
    """Exactly zero, whatever moves: the camera's own image holds every sightline of its picture."""
    show = whip_show()
    check, result = seen(show)
    shown = on_air_shown(check, show)
    assert len(shown) == 100
    mix = np.arange(100) >= 75
    mix &= np.arange(100) < 81
    assert (shown[~mix] == 0.0).all(), "not small: none"
    assert (shown[mix] > 0.0).all(), "in a mix the wall serves one of two"
    assert not result.faults
    found = of_cause(result, "mix")
    assert {finding.cameras for finding in found} == {("CAM1", "CAM2"), ("CAM2", "CAM1")}
    assert all(finding.grade == "compromise" and finding.shot == "Wide again" for finding in found)
    assert sum(finding.measures["looked_at_frames"] for finding in found) == 6


def test_with_cuts_alone_it_is_fine_on_programme():
    check, result = seen(with_rundown(whip_show(), *CUTS))
    assert (on_air_shown(check, whip_show()) == 0.0).all()
    fine = [finding for finding in result.findings if finding.grade == "fine"]
    assert any("75 frames looked at" in finding.sentence for finding in fine)
    assert result.grade == "compromise", "off air both see the other's background"


def test_a_late_wall_is_a_fault_that_names_the_delay():
    check, result = seen(with_rundown(whip_show(), *CUTS, delays=LATE))
    faults = of_cause(result, "late wall")
    assert list(result.faults) == faults
    assert [(finding.cameras, finding.frames) for finding in faults] == [
        (("CAM2", "CAM1"), (25, 27)), (("CAM1", "CAM2"), (50, 52)),
    ]  # fmt: skip
    for finding in faults:
        assert "CAM" in finding.sentence and "late" in finding.sentence
        assert "picture_frames" in finding.remedy
        assert finding.measures["looked_at_frames"] == 3
    shown = on_air_shown(check, whip_show())
    np.testing.assert_array_equal(np.flatnonzero(shown), [25, 26, 27, 50, 51, 52])


def test_a_picture_held_back_longer_than_the_wall_is_told_apart():
    _, result = seen(with_rundown(whip_show(), *CUTS, delays={"picture_frames": 2}))
    assert {finding.measures["cause"] for finding in result.faults} == {"early wall"}
    assert [finding.frames for finding in result.faults] == [(25, 26), (50, 51)]
    assert "fewer frames" in result.faults[0].remedy


def test_the_show_says_how_much_is_too_much():
    limits = whip_show().file.checks.bleed.model_copy(
        update={"on_air_percent": 99.9, "off_air_percent": 100.0}
    )
    show = changed(with_rundown(whip_show(), *CUTS, delays=LATE), checks={"bleed": limits})
    _, result = seen(show)
    assert result.grade == "fine"
    assert any("more than 99.9 %" in finding.sentence for finding in result.findings), "not: shows none"


def test_a_shared_wall_shows_another_where_the_own_image_is_late():
    """CAM2 whips on programme, its image three frames late and with no overscan: CAM1's lies beside it."""
    show = changed(
        whip_show(), {"CAM2": {"overscan_percent": 0.0}}, drive={"mode": "shared"},
        delays={"tracking_frames": 3.0},
    )  # fmt: skip
    check, result = seen(show, size_px=(192, 108))
    (finding,) = result.faults
    assert (finding.cameras, finding.shot) == (("CAM2", "CAM1"), "Whip pan")
    assert finding.measures["cause"] == "own image"
    assert "overscan" in finding.remedy
    assert 0.0 < finding.measures["shown_percent"] < 30.0
    assert finding.frames[0] >= 40 and finding.frames[1] <= 60, "the whip takes frames 40 to 55"
    rows = [row for row in check.tables()["bleed"] if row["frame"] == 30]
    assert {row["on_top"] for row in rows} == {"CAM2"}


def with_third(show, **changes):
    """A third camera, CAM1's likeness at another place."""
    first = show.file.cameras[0]
    third = first.model_copy(update={"name": "CAM3", "number": 3, "position_m": (2.4, -5.0, 1.6), **changes})
    return replace(show, file=show.file.model_copy(update={"cameras": (*show.file.cameras, third)}))


def test_a_late_shared_wall_may_show_two_others_in_one_finding():
    show = changed(with_third(with_rundown(whip_show(), *CUTS)), drive={"mode": "shared"}, delays=LATE)
    check, result = seen(show)
    (finding,) = [one for one in result.faults if one.shot == "Left"]
    assert (finding.cameras[0], set(finding.cameras[1:])) == ("CAM2", {"CAM1", "CAM3"})
    assert "backgrounds" in finding.sentence
    rows = [row for row in check.tables()["bleed"] if row["frame"] == 25 and row["viewer"] == "CAM2"]
    assert len(rows) == 2 and all(row["shown_percent"] > 0 for row in rows)
    total = sum(row["shown_percent"] for row in rows)
    assert finding.measures["shown_percent"] == pytest.approx(total, abs=2e-3)
    assert all(row["shown_percent"] <= row["inside_percent"] for row in check.tables()["bleed"])


def test_two_cameras_in_one_place_do_not_bleed_into_each_other():
    """Their images are one and the same; whoever is asked sees its own."""
    twin = {"position_m": whip_show().file.cameras[0].position_m}
    show = changed(with_third(with_rundown(whip_show(), *CUTS), **twin), drive={"mode": "shared"})
    check, result = seen(show)
    assert not result.faults
    rows = [row for row in check.tables()["bleed"] if {row["viewer"], row["source"]} == {"CAM1", "CAM3"}]
    assert rows and all(row["shown_percent"] == 0.0 for row in rows)


def test_slots_of_their_own_show_nothing_but_what_leaks():
    clean = changed(with_rundown(whip_show(), *CUTS), drive={"mode": "interleaved"})
    check, result = seen(clean)
    assert result.grade == "fine"
    assert {row["on_top"] for row in check.tables()["bleed"]} == {"own slots"}
    _, leaking = seen(changed(clean, drive={"crosstalk": 0.02}))
    found = of_cause(leaking, "crosstalk")
    assert {finding.cameras for finding in found} == {("CAM1", "CAM2"), ("CAM2", "CAM1")}
    for finding in found:
        assert finding.grade == "compromise"
        assert finding.measures["ghost_light_percent"] == 2.0
        assert "2 % of its light" in finding.sentence
    assert not leaking.faults


def test_off_air_there_is_one_finding_a_viewer_and_source():
    check, result = seen(with_rundown(whip_show(), *CUTS))
    found = of_cause(result, "off air")
    assert {finding.cameras for finding in found} == {("CAM1", "CAM2"), ("CAM2", "CAM1")}
    by_viewer = {finding.cameras[0]: finding for finding in found}
    assert by_viewer["CAM2"].measures["bleed_s"] == pytest.approx(2.0)
    assert by_viewer["CAM1"].measures["bleed_s"] == pytest.approx(1.0)
    for viewer, finding in by_viewer.items():
        rows = [row for row in check.tables()["bleed"] if row["viewer"] == viewer]
        worst = max(row["shown_percent"] for row in rows)
        assert finding.measures["shown_percent"] == pytest.approx(worst, abs=1e-3)
        assert "Work by the return" in finding.remedy
        assert finding.sentence.startswith(f"While {finding.cameras[1]} is on air")


def test_frustums_that_never_meet_are_said_to():
    there = {"look_at": None, "pan_deg": 33.0, "tilt_deg": 12.0, "focal_length_mm": 90.0}
    aside = whip_show().file.cameras[1].framings[0].model_copy(update={"name": "left of wall", **there})
    show = with_rundown(whip_show(), *CUTS)
    wide = show.file.cameras[0].framings[0].model_copy(
        update={"look_at": None, "pan_deg": -20.0, "tilt_deg": 0.0, "focal_length_mm": 60.0}
    )  # fmt: skip
    show = changed(show, {"CAM1": {"framings": (wide,)}, "CAM2": {"framings": (aside,), "moves": ()}})
    check, result = seen(show)
    assert result.grade == "fine"
    assert any("never meet on the wall: CAM1 and CAM2" in finding.sentence for finding in result.findings)
    assert all(row["overlap_m2"] == 0.0 for row in check.tables()["bleed"])
    assert all(made.worst_timecode == "" and made.overlap_s.max() == 0.0 for made in check.wall_maps())


def test_one_row_a_frame_viewer_and_source():
    check, _ = seen(with_rundown(whip_show(), *CUTS))
    rows = check.tables()["bleed"]
    assert len(rows) == 75 * 2 == len(list(rows))
    first, last = rows[0], rows[-1]
    assert (first["frame"], first["timecode"]) == (0, "10:00:00:00")
    assert (last["frame"], last["timecode"]) == (74, "10:00:02:24")
    assert (first["viewer"], first["source"]) == ("CAM1", "CAM2")
    assert list(first) == list(last) == list(rows[1:2][0])
    assert first["overlap_m2"] == pytest.approx(
        first["overlap_m2 Wall"] + first["overlap_m2 Floor"], abs=2e-4
    )
    assert first["on_top"] == "CAM1"
    assert rows[60]["on_top"] == "CAM2", "frame 30"
    assert 0.0 < first["overlap_share_of_viewer_percent"] <= 100.0
    with pytest.raises(IndexError):
        rows[150]


def test_what_is_kept_from_frame_to_frame_changes_nothing():
    """Rows after a walk through the whip pan are those of a check that sees one frame alone."""
    show = changed(whip_show(), delays={"tracking_frames": 2.0})
    with open_plan(show, 36, 60, size_px=GRID) as plan:
        check = Bleed(plan)
        walk(plan, [check])
        walked = check.tables()["bleed"]
        assert len({row["overlap_m2"] for row in walked}) > 10
        for frame in (36, 45, 50, 60):
            alone = Bleed(plan)
            alone.see(Look(plan, frame))
            assert list(alone.tables()["bleed"]) == [row for row in walked if row["frame"] == frame]


def test_states_are_kept_not_frames():
    """75 frames of held cameras and two cuts: three states."""
    check, _ = seen(with_rundown(whip_show(), *CUTS))
    assert check._record.state_count == 3


@pytest.mark.parametrize("every", [1, 7])
def test_maps_count_the_whole_rundown_whatever_is_looked_at(every):
    check, _ = seen(with_rundown(whip_show(), *CUTS), every=every)
    for made in check.wall_maps():
        assert made.seconds == pytest.approx(3.0)
        np.testing.assert_allclose(made.seconds_in.sum(axis=0)[made.is_wall], 3.0)
        assert set(made.camera_share) == {"CAM1", "CAM2"}
    assert of_cause(check.result(), "off air")[0].measures["bleed_s"] == pytest.approx(2.0)


def test_marks_are_what_the_finding_says():
    show = with_rundown(whip_show(), *CUTS, delays=LATE)
    with open_plan(show, size_px=GRID) as plan:
        check = Bleed(plan)
        walk(plan, [check])
        finding = check.result().faults[0]
        (mark,) = check.marks(Look(plan, finding.measures["worst_frame"]), finding)
        assert mark.camera == "CAM2" and mark.mask.shape == GRID[::-1]
        assert 100 * mark.mask.mean() == pytest.approx(finding.measures["shown_percent"], abs=1e-3)
        fine = [one for one in check.result().findings if one.grade == "fine"]
        assert all(check.marks(Look(plan, 0), one) == () for one in fine)


def test_inside_is_told_as_reaches_tells_it():
    """The border planes and the pinhole picture of an image agree on every sightline."""
    with open_plan(whip_show(), size_px=(192, 108)) as plan:
        check, look = Bleed(plan), Look(plan, 60)
        check.see(look)
        rows = {(row["viewer"], row["source"]): row for row in check.tables()["bleed"]}
        for viewer, source in rows:
            sight = look.bare(viewer)
            inside = reaches(
                inner_image(look.moment.camera(source)), sight.points[sight.wall_seen], (640, 360)
            )
            share = 100 * inside.sum() / sight.wall_seen.size
            assert rows[viewer, source]["inside_percent"] == pytest.approx(share, abs=1e-3)


@pytest.mark.parametrize("mode, frame", [("switched", 10), ("switched", 30), ("shared", 10), ("shared", 50)])
def test_shares_are_those_of_drawn_pictures(studio, mode, frame):
    """A layer made dark changes the pixels that show it: they are counted at 640 x 360."""
    show = changed(
        whip_show(), {"CAM2": {"overscan_percent": 0.0}}, drive={"mode": mode, "edge_line": False},
        delays={"tracking_frames": 2.0},
    )  # fmt: skip
    with open_plan(show, size_px=(192, 108)) as plan:
        check, look = Bleed(plan), Look(plan, frame)
        check.see(look)
        rows = list(check.tables()["bleed"])
        owners = {inner_image(camera): camera.name for camera in look.moment.cameras}
        compared = 0
        for row in rows:
            stack, _ = look.wall.in_slot_of(row["viewer"])
            view = look.moment.camera(row["viewer"]).view
            counted = 0.0
            for place, layer in enumerate(stack):
                if owners[layer.image] != row["source"]:
                    continue
                dark = (*stack[:place], replace(layer, dim=0.0), *stack[place + 1 :])
                one, other = studio.raster.draw(
                    [CameraPicture(view, stack), CameraPicture(view, dark)], linear=True
                )
                counted = 100 * float((np.abs(one.pixels - other.pixels).max(axis=2) > 1e-3).mean())
                compared += counted > 1.0
            # One row of sightlines all round, and pixels that persons cover in part, may fall either way.
            assert row["shown_percent"] == pytest.approx(counted, abs=0.4), row
        assert compared
