"""Clearance: a planted sweep is found where it is nearest, and what keeps its distance is not told of."""

from __future__ import annotations

from dataclasses import replace
from math import cos, radians, sin
from typing import Any

import numpy as np
import pytest

from preview.checks import clearance
from preview.checks.clearance import Clearance, cue_at
from preview.checks.look import Look, Plan
from preview.checks.near import Bodies, Memory, Near, Pair, ways_m
from preview.checks.walk import sight_raster
from preview.show import model
from preview.show.load import Show
from preview.stage.build import Stage, build_stage
from preview.stage.equipment import TYPICAL_BODY, equipment
from preview.stage.gap import Extent, gap_m
from preview.timeline.mount import jib_position_m
from preview.timeline.timeline import Timeline
from tests.starter_show import starter_show

PIVOT, ARM = (0.0, -6.0, 2.2), 4.0
JIB = {"kind": "jib", "pivot_m": PIVOT, "arm_m": ARM}
SWEEP = {"name": "sweep", "start": "left", "end": "right", "duration_s": 2.0, "ease": "linear"}
"""Starter stage: wall from Y = 3, floor from Y = -2 to 3, a presenter standing at (0.3, 0.6)."""


def jib_framing(name: str, swing: float, boom: float, **keys: Any) -> dict[str, Any]:
    return {
        "name": name,
        "swing_deg": swing,
        "boom_deg": boom,
        "pan_deg": 0.0,
        "focal_length_mm": 10.0,
        **keys,
    }


def show_with(*cameras: dict[str, Any], people: list[dict[str, Any]] | None = None, **limits: float) -> Show:
    """The starter's stage with these cameras; each makes its first move, or holds a framing, for 3 s."""
    show = starter_show()
    one = show.file.cameras[0]
    made = tuple(
        model.Camera(**({"number": at + 1, "sensor": one.sensor, "lens": one.lens} | keys))
        for at, keys in enumerate(cameras)
    )
    cues = {
        each.name: {"move": each.moves[0].name} if each.moves else {"framing": each.framings[0].name}
        for each in made
    }
    shot = model.Shot(name="All", on_air=made[0].name, duration=3.0, cameras=cues)
    stage = show.file.stage
    if people is not None:
        stage = stage.model_copy(update={"people": tuple(model.Person(**one) for one in people)})
    checks = show.file.checks
    checks = checks.model_copy(update={"clearance": checks.clearance.model_copy(update=limits)})
    update = {"cameras": made, "rundown": (shot,), "stage": stage, "checks": checks}
    return replace(show, file=show.file.model_copy(update=update))


def sweeping_jib(boom: float, swings: tuple[float, float] = (30.0, -30.0), **keys: Any) -> dict[str, Any]:
    framings = [jib_framing("left", swings[0], boom), jib_framing("right", swings[1], boom)]
    return {"name": "crane", "mount": JIB, "framings": framings, "moves": [SWEEP]} | keys


def checked(show: Show, frames: tuple[int, ...] | None = None) -> Clearance:
    timeline = Timeline(show)
    looked = frames or tuple(range(timeline.frame_count))
    plan = Plan(show, timeline, stage_of(show), None, looked)  # type: ignore[arg-type]
    check = Clearance(plan)
    for frame in looked:
        check.see(Look(plan, frame))
    return check


_STAGES: dict[Any, Stage] = {}


def stage_of(show: Show) -> Stage:
    key = show.file.stage
    if key not in _STAGES:
        _STAGES[key] = build_stage(show)
    return _STAGES[key]


def faults(check: Clearance) -> list[Any]:
    return [finding for finding in check.result().findings if finding.grade == "fault"]


STANDING = [{"name": "Presenter", "position_m": (0.0, -2.2, 0.0), "height_m": 1.8}]


def test_a_sweep_through_a_person_is_found_at_the_frame_it_is_nearest() -> None:
    # Level arm at head height, swung evenly from 30 degrees on one side to 30 on the other in 2 s: it
    # passes the person in front of the pivot half way, 1 s (25 frames) in.
    show = show_with(sweeping_jib(-10.0), people=STANDING)
    found = [fault for fault in faults(checked(show)) if fault.measures["thing"] == "Presenter"]
    assert len(found) == 1
    (fault,) = found
    assert fault.cameras == ("crane",) and fault.shot == "All"
    assert fault.measures["distance_m"] == 0.0 and "touches Presenter" in fault.sentence
    assert fault.frames[0] < fault.measures["worst_frame"] <= 25 < fault.frames[1]
    assert fault.measures["frames_too_near"] == fault.frames[1] - fault.frames[0] + 1
    # Where it starts to be too near: a metre off the person, within a body's width of what a line says.
    assert 25 - fault.frames[0] == pytest.approx(fault.frames[1] - 25, abs=3)


def test_the_same_sweep_high_above_is_fine() -> None:
    check = checked(show_with(sweeping_jib(40.0), people=STANDING))
    findings = check.result().findings
    assert [finding.grade for finding in findings] == ["fine", "fine"]
    assert "crane, sweep: nothing comes nearer than asked for" in findings[0].sentence + findings[1].sentence


def test_a_person_between_two_frames_is_found() -> None:
    # 200 degrees in 0.24 s: 2.3 m a frame at the arm's end. At no frame is it near the person whom it
    # hits between two of them; half the way of a frame taken off finds it all the same.
    wide = jib_framing("left", 115.0, -4.0), jib_framing("right", -85.0, -4.0)
    fast = SWEEP | {"duration_s": 0.24}
    person = [STANDING[0] | {"position_m": (0.0, -1.7, 0.0), "height_m": 2.0}]
    whip = {"name": "crane", "mount": JIB | {"tail_m": 0.6}, "framings": list(wide), "moves": [fast]}
    whip["body"] = {"operated": False}
    show = show_with(whip, people=person, people_m=0.1)
    timeline = Timeline(show)
    stage = stage_of(show)
    parts = [part for part in stage.set.parts if part.name == "Presenter"]
    bodies = [Extent.of_mesh(part.positions, part.triangles) for part in parts]
    one = show.file.cameras[0]
    at_frames = []
    for frame in range(8):
        swing = 115.0 - 200.0 * min(frame / 6, 1.0)
        solids = equipment(one, timeline.view_at("crane", frame), (swing, -4.0))
        at_frames.append(min(gap_m(Extent.of(solid), body)[0] for solid in solids for body in bodies))
    assert min(at_frames) > 0.1  # what a look at frames alone says
    (fault,) = [fault for fault in faults(checked(show)) if fault.measures["thing"] == "Presenter"]
    assert "between two frames perhaps" in fault.sentence
    assert fault.measures["distance_m"] == pytest.approx(min(at_frames), abs=2e-3)
    assert fault.measures["between_frames_m"] < 0.1


def still_jib(boom: float, swing: float = 0.0, **mount: Any) -> dict[str, Any]:
    framing = jib_framing("still", swing, boom)
    return {"name": "crane", "mount": JIB | mount, "framings": [framing], "body": {"operated": False}}


def row_of(check: Clearance, camera: str = "crane") -> dict[str, Any]:
    (row,) = [row for row in check.tables()["clearance"] if row["camera"] == camera]
    return dict(row)


def test_the_studio_floor_under_a_boomed_down_jib() -> None:
    # Closed form. Arm 4 m down by 25 degrees from 2.2 m: its end is 2.2 - 4 sin 25 = 0.5095 m high, and
    # half of the camera's typical height hangs below that.
    show = show_with(still_jib(-25.0), people=[])
    row = row_of(checked(show))
    low = PIVOT[2] - ARM * sin(radians(25.0)) - TYPICAL_BODY["jib"].height_m / 2
    assert row["floor_m"] == pytest.approx(low, abs=1e-3)
    assert (row["floor_thing"], row["floor_body"]) == ("the studio floor", "crane camera")
    lower = show_with(still_jib(-30.0), people=[])
    (fault,) = faults(checked(lower))
    assert fault.measures["thing"] in ("the studio floor", "Floor")
    assert fault.measures["least_m"] == 0.1


def test_a_counterweight_that_comes_down_on_the_floor() -> None:
    # Tail 3 m, boom 40: its middle is 2.2 - 3 sin 40 = 0.272 m high, a cube of 0.4 m reaches down to 0.072.
    show = show_with(still_jib(40.0, tail_m=3.0, counterweight_size_m=0.4), people=[])
    (fault,) = faults(checked(show))
    assert fault.measures["body"] == "crane counterweight"
    assert fault.measures["distance_m"] == pytest.approx(2.2 - 3 * sin(radians(40)) - 0.2, abs=1e-3)


def test_levels_come_from_the_show() -> None:
    show = show_with(still_jib(-25.0), people=[])
    assert not faults(checked(show))
    assert faults(checked(show_with(still_jib(-25.0), people=[], floor_m=0.5)))


def carried(position_m: tuple, **keys: Any) -> dict[str, Any]:
    framing = {"name": "here", "position_m": position_m, "pan_deg": 0.0, "focal_length_mm": 10.0}
    return {"name": "hand", "mount": {"kind": "free"}, "framings": [framing]} | keys


def test_nobody_is_told_that_a_carried_camera_works_at_arms_length() -> None:
    # The camera's lens is 0.28 m ahead of its sensor; 1.2 m from the presenter's middle is well over half
    # a metre from body and face, and under the 1 m that a jib is asked to keep.
    people = [{"name": "Presenter", "position_m": (0.0, 0.0, 0.0)}]
    near = checked(show_with(carried((0.0, -1.2, 1.5)), people=people))
    assert 0.5 < row_of(near, "hand")["people_m"] < 1.0
    assert not faults(near)
    (fault,) = faults(checked(show_with(carried((0.0, -0.75, 1.5)), people=people)))
    assert fault.measures["thing"] == "Presenter" and fault.measures["least_m"] == 0.5


def test_a_low_floor_shot_and_an_operator_on_the_led_floor_are_fine() -> None:
    check = checked(show_with(carried((0.0, -1.5, 0.40)), people=[]))
    assert not faults(check)
    # Closed form: the camera's underside, half its typical height below the sensor.
    low = 0.40 - TYPICAL_BODY["free"].height_m / 2
    assert row_of(check, "hand")["floor_m"] == pytest.approx(low, abs=1e-3)


def pedestal(name: str, position_m: tuple, to_m: tuple | None = None) -> dict[str, Any]:
    framings = [{"name": "here", "position_m": position_m, "pan_deg": 0.0, "focal_length_mm": 10.0}]
    moves = []
    if to_m:
        framings.append(framings[0] | {"name": "there", "position_m": to_m})
        moves = [{"name": "track", "start": "here", "end": "there", "duration_s": 2.0, "ease": "linear"}]
    return {"name": name, "mount": {"kind": "pedestal"}, "framings": framings, "moves": moves}


def test_stands_that_stand_still_may_stand_close() -> None:
    # Bases 0.9 m across, 1.1 m from middle to middle: 0.2 m between them, and neither moves.
    close = show_with(pedestal("one", (0.0, -5.0, 1.4)), pedestal("two", (1.1, -5.0, 1.4)), people=[])
    check = checked(close)
    assert not faults(check)
    assert row_of(check, "one")["equipment_m"] == row_of(check, "two")["equipment_m"] == pytest.approx(0.2)


def test_two_cameras_in_one_place_are_found_though_neither_moves() -> None:
    show = show_with(pedestal("one", (0.0, -5.0, 1.4)), pedestal("two", (0.7, -5.0, 1.4)), people=[])
    (fault,) = faults(checked(show))
    assert set(fault.cameras) == {"one", "two"} and "touches" in fault.sentence


def test_a_camera_that_tracks_past_another_is_told_once_and_of_the_one_that_moves() -> None:
    # Tracking along X at Y = -5 past a base that ends at Y = -5.4 - 0.45: 0.4 m less two halves.
    show = show_with(
        pedestal("still", (0.0, -6.3, 1.4)), pedestal("mover", (-3.0, -5.0, 1.4), (3.0, -5.0, 1.4)), people=[]
    )
    (fault,) = faults(checked(show))
    assert fault.cameras == ("mover", "still")
    assert fault.measures["worst_frame"] == pytest.approx(25, abs=8)  # bases overlap along X for 0.9 m
    # Their operators stand behind them: the nearest two are mover's operator and still's base or lens.
    assert fault.measures["distance_m"] < 0.5
    assert not [
        one for one in checked(show).result().findings if one.grade == "fine" and "still" in one.cameras
    ]


def test_a_cut_to_another_framing_is_no_sweep() -> None:
    show = show_with(pedestal("one", (-3.0, -5.0, 1.4), (3.0, -5.0, 1.4)), pedestal("two", (0.0, -5.0, 1.4)))
    first = show.file.rundown[0]
    jump = first.model_copy(
        update={"cameras": {"one": model.CameraCue(framing="here"), "two": model.CameraCue(framing="here")}}
    )
    after = jump.model_copy(update={"name": "After", "cameras": {"one": model.CameraCue(framing="there")}})
    jumps = replace(show, file=show.file.model_copy(update={"rundown": (jump, after)}))
    assert faults(checked(show)) and not faults(checked(jumps))


def test_what_is_measured_and_what_is_skipped_give_the_same_nearest() -> None:
    """Against every pair of every frame measured: pruning and memory lose nothing."""
    show = show_with(
        sweeping_jib(3.0), carried((1.5, -1.5, 1.5)), pedestal("ped", (-2.0, -4.0, 1.4), (2.0, -4.5, 1.4))
    )
    check = checked(show)
    stage, timeline = stage_of(show), Timeline(show)
    targets = clearance.stage_targets(stage, {"Presenter"})
    people = [target.extent for target in targets if target.among == "people"]
    walls = [target.extent for target in targets if target.among == "surface"]
    best = {"people": np.inf, "surface": np.inf, "equipment": np.inf}
    for frame in range(timeline.frame_count):
        plan = Plan(show, timeline, stage, None, (frame,))  # type: ignore[arg-type]
        look = Look(plan, frame)
        mine = [Extent.of(solid) for solid in look.solids("crane")]
        moving = [Extent.of(one) for one in look.solids("crane") if one.kind in ("arm", "camera", "operator")]
        others = [Extent.of(solid) for name in ("hand", "ped") for solid in look.solids(name)]
        for among, things, bodies in (
            ("people", people, moving), ("surface", walls, moving), ("equipment", others, mine),
        ):  # fmt: skip
            best[among] = min(best[among], *(gap_m(one, thing)[0] for one in bodies for thing in things))
    row = row_of(check)
    assert row["surface_m"] == pytest.approx(best["surface"], abs=0.02)  # tightest by room, not by distance
    assert row["people_m"] == pytest.approx(best["people"], abs=0.02)
    assert row["equipment_m"] == pytest.approx(best["equipment"], abs=0.02)


def test_memory_never_hides_a_body_that_came_nearer() -> None:
    camera = starter_show().file.cameras[0].model_copy(update={"mount": model.Mount(**JIB), "name": "crane"})
    ball = Extent.of_mesh(np.array([[0, -1.5, 2.0], [0.1, -1.5, 2.0], [0, -1.5, 2.1]]), np.array([[0, 1, 2]]))
    view = Timeline(starter_show()).view_at("CAM1", 0)
    memory = Memory()
    rng = np.random.default_rng(4)
    for swing, boom in rng.uniform(-25, 25, (60, 2)):
        at = jib_position_m(camera.mount, swing, boom)
        solids = equipment(camera, replace(view, pose=replace(view.pose, position_m=at)), (swing, boom))
        bodies = Bodies(camera, solids, (0.0,) * len(solids))
        pairs = [Pair(one, 0, "ball", "set", 0.0, 0.3, 0.0) for one in range(len(solids))]
        found = memory.nearest(pairs, bodies, [ball])
        assert min(near.distance_m for near in found) == min(gap_m(one, ball)[0] for one in bodies.extents)


def test_ways_are_those_of_the_farthest_corner() -> None:
    camera = starter_show().file.cameras[0].model_copy(update={"mount": model.Mount(**JIB), "name": "crane"})
    view = Timeline(starter_show()).view_at("CAM1", 0)
    here, there = (
        equipment(
            camera,
            replace(view, pose=replace(view.pose, position_m=jib_position_m(camera.mount, s, 0))),
            (s, 0),
        )
        for s in (0.0, 2.0)
    )
    # Chord of the arm's end over 2 degrees: 2 L sin 1.
    way = dict(zip([one.name for one in here], ways_m(here, there), strict=True))
    assert way["crane arm"] == pytest.approx(2 * ARM * sin(radians(1.0)), abs=1e-9)
    assert way["crane base"] == 0.0


def test_what_a_near_says() -> None:
    near = Near("arm", "Guest", "", "people", 1.05, 0.1, 1.0)
    assert near.surely_m == pytest.approx(0.95) and near.room_m == pytest.approx(-0.05) and near.below
    assert not replace(near, between_m=0.0).below
    touching = Near("base", "desk", "", "set", 0.0, 0.0, 0.0)
    assert touching.below
    assert near.turned("crane").body == "Guest" and near.turned("crane").owner == "crane"


def test_every_cue_is_told_of_in_the_table_and_every_frame_in_the_curve() -> None:
    check = checked(show_with(sweeping_jib(40.0), pedestal("ped", (3.0, -5.0, 1.4))))
    assert [row["doing"] for row in check.tables()["clearance"]] == ["sweep", "here"]
    (curve,) = check.curves()
    assert set(curve.values) == {"crane", "ped"} and len(curve.values["crane"]) == len(curve.frames) == 75
    assert np.isfinite(curve.values["crane"]).all()
    fine = [one for one in check.result().findings if one.grade == "fine"]
    assert min(curve.values["crane"]) == pytest.approx(
        min(
            one.measures["between_frames_m"] - one.measures["least_m"]
            for one in fine
            if one.cameras == ("crane",)
        ),
        abs=2e-3,
    )


def test_words_promise_nothing() -> None:
    check = checked(show_with(sweeping_jib(40.0)), frames=(0, 1))
    words = " ".join(
        [check.caution, *check.assumptions, *(finding.sentence for finding in check.result().findings)]
    )
    assert "safe" not in words.lower()
    assert "local law" in check.caution and "stopping distance" in check.caution


def test_a_camera_in_the_mixed_out_shot_keeps_its_cue() -> None:
    show = starter_show()
    timeline = Timeline(show)
    mixed = timeline.shots[2]
    assert mixed.mix_frames == 12
    inside, past = mixed.start_frame + 3, mixed.start_frame + 20
    assert cue_at(timeline, "CAM2", inside) == timeline.shots[1].cue("CAM2")
    assert cue_at(timeline, "CAM1", past) == mixed.cue("CAM1")


def test_marks_outline_the_body_in_the_programme_picture() -> None:
    show = show_with(
        pedestal("ped", (0.0, -6.5, 1.6)),
        sweeping_jib(0.0, mount=JIB | {"pivot_m": (3.5, -3.0, 1.6), "arm_m": 3.0}),
    )
    stage = stage_of(show)
    with sight_raster(show, stage, (96, 54)) as sights:
        plan = Plan(show, Timeline(show), stage, sights, (0,))
        check = Clearance(plan)
        looks = [Look(plan, frame) for frame in range(75)]
        for look in looks:
            check.see(look)
        findings = [one for one in check.result().findings if "crane" in one.cameras]
        assert findings
        marks = [
            mark for one in findings for mark in check.marks(looks[int(one.measures["worst_frame"])], one)
        ]
        assert marks and all(mark.camera == "ped" and mark.mask.any() for mark in marks)
        assert {mark.label for mark in marks} <= {
            one.measures[key] for one in findings for key in ("body", "thing")
        }


def test_the_planted_sweep_is_over_the_person_at_frame_25() -> None:
    # 60 degrees in 50 frames are 1.2 degrees a frame; the arm's end passes x = 0 at frame 25.
    timeline = Timeline(show_with(sweeping_jib(-10.0), people=STANDING))
    x = [timeline.view_at("crane", frame).pose.position_m[0] for frame in (24, 25, 26)]
    step = ARM * cos(radians(10.0)) * sin(radians(1.2))
    np.testing.assert_allclose(x, (-step, 0.0, step), atol=1e-9)
