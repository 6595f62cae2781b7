"""What a user asks for becomes frames, kinds, cameras and a size; what cannot be had is told."""

import pytest

from preview.errors import RequestError
from preview.frame import KINDS, Wanted
from preview.job import (
    Job,
    StillFrame,
    chosen_cameras,
    chosen_kinds,
    chosen_range,
    chosen_size_px,
    demo_jobs,
    shot_stills,
    stills_at,
)
from preview.timeline.timeline import Timeline
from tests.starter_show import starter_show

CAMERAS = ("CAM1", "CAM2")


@pytest.fixture(scope="module")
def timeline():
    """Three shots at 25: frames 0-99, 100-199, 200-274."""
    return Timeline(starter_show())


def test_stills_stand_at_each_shots_start_middle_and_end(timeline):
    found = [(still.frame, still.shot_number, still.place) for still in shot_stills(timeline, 0, 274)]
    assert found == [
        (0, 1, "start"), (49, 1, "middle"), (99, 1, "end"),
        (100, 2, "start"), (149, 2, "middle"), (199, 2, "end"),
        (200, 3, "start"), (237, 3, "middle"), (274, 3, "end"),
    ]  # fmt: skip


def test_a_range_keeps_the_stills_inside_it_both_ends_included(timeline):
    assert [still.frame for still in shot_stills(timeline, 99, 149)] == [99, 100, 149]
    with pytest.raises(RequestError, match=r"between 10:00:00:01 and 10:00:00:10.*--at"):
        shot_stills(timeline, 1, 10)


class ShortShots:
    """A one-frame and a two-frame shot."""

    def __init__(self, timeline):
        import dataclasses

        first, second = timeline.shots[:2]
        self.shots = (
            dataclasses.replace(first, start_frame=0, end_frame=1),
            dataclasses.replace(second, start_frame=1, end_frame=3),
        )


def test_a_short_shot_keeps_each_frame_once(timeline):
    found = [(still.frame, still.place) for still in shot_stills(ShortShots(timeline), 0, 2)]
    assert found == [(0, "start"), (1, "start"), (2, "end")]


def test_frames_asked_by_timecode_belong_to_their_shot(timeline):
    assert stills_at(timeline, [199, 3, 199]) == (StillFrame(3, 1, "at"), StillFrame(199, 2, "at"))


def test_the_demo_shows_every_kind_and_every_shot(timeline):
    every_kind, every_shot = demo_jobs(timeline)
    assert set(every_kind.wanted.kinds) == set(KINDS)
    assert [still.frame for still in every_kind.stills + every_shot.stills] == [49, 149, 237]
    assert set(every_shot.wanted.kinds) == {"return", "programme"}


def test_kinds():
    assert chosen_kinds("all") == KINDS
    assert chosen_kinds(" wall, return,wall ") == ("wall", "return")
    with pytest.raises(RequestError, match=r"'program' .* did you mean 'programme'"):
        chosen_kinds("program")
    with pytest.raises(RequestError, match="--pictures: nothing is named"):
        chosen_kinds(" , ")


def test_cameras():
    assert chosen_cameras(None, CAMERAS) == CAMERAS
    assert chosen_cameras("CAM2", CAMERAS) == ("CAM2",)
    with pytest.raises(RequestError, match=r"'CAM9' is no camera of this show; .*CAM1, CAM2"):
        chosen_cameras("CAM2,CAM9", CAMERAS)


def test_sizes():
    assert chosen_size_px(None, (1280, 720)) == (1280, 720)
    assert chosen_size_px("961X541", (1280, 720)) == (961, 541)
    for wrong in ("big", "960", "960x", "0x540", "8x8", "-960x540", "960x540x3", "1e3x540"):
        with pytest.raises(RequestError, match="--size"):
            chosen_size_px(wrong, (1280, 720))


def test_ranges(timeline):
    assert chosen_range(None, None, timeline) == (0, 274)
    assert chosen_range("10:00:04:00", "10:00:04:00", timeline) == (100, 100)
    with pytest.raises(RequestError, match="--to 10:00:01:00 is before --from 10:00:02:00"):
        chosen_range("10:00:02:00", "10:00:01:00", timeline)
    with pytest.raises(RequestError, match=r'--to: "10:00:11:00" is outside the rundown.*10:00:10:24'):
        chosen_range(None, "10:00:11:00", timeline)
    with pytest.raises(RequestError, match="--from: "):
        chosen_range("4 seconds", None, timeline)


def test_the_estimate_counts_every_picture_of_every_frame():
    one = Job(Wanted(("programme",)), (64, 36), clip=(0, 99)).estimated_bytes(3, 2)
    kinds = Wanted(("return", "programme", "wall"))
    assert Job(kinds, (64, 36), clip=(0, 99)).estimated_bytes(3, 2) == pytest.approx(6 * one, rel=1e-3)
    two_cameras = Wanted(("return",), ("A", "B"))
    assert Job(two_cameras, (64, 36), clip=(0, 99)).estimated_bytes(3, 2) == pytest.approx(2 * one, rel=1e-3)
    assert Job(Wanted(("programme",)), (64, 36), clip=(0, 99), every=10).estimated_bytes(3, 2) < one
