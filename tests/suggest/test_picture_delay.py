"""The suggested picture delay: found by trying, and the wall's own in this model."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from preview.checks.cut import cuts_of
from preview.suggest.changed import with_picture_delay
from preview.suggest.picture_delay import suggest_picture_delay
from preview.timeline.delay import camera_delay
from preview.timeline.rate import Rate
from tests.checks.shows import changed, whip_show


def late(**delays):
    return changed(whip_show(), delays=delays)


@given(st.integers(0, 12), st.integers(0, 12))
def test_the_best_delay_is_the_walls_own(wall, picture):
    """Common practice, no source: a chain is compensated when picture and wall are equally late."""
    found = suggest_picture_delay(late(wall_switch_frames=wall, picture_frames=picture))
    assert found.picture_frames == wall
    assert set(found.by_camera.values()) == {wall}
    assert found.best.wrong_frames == found.best.switch_off_frames == 0
    assert found.changes == (wall != picture)
    assert not [cut for cut in cuts_of(found.show) if cut.wrong_frames]


def test_what_each_try_does():
    """One cut and one mix of six, the wall three late. The mix hides up to three frames of the error."""
    tries = suggest_picture_delay(late(wall_switch_frames=3)).tries
    assert [one.picture_frames for one in tries] == list(range(7))
    assert [one.wrong_by_camera["CAM2"] for one in tries] == [3, 2, 1, 0, 1, 2, 3]
    assert [one.wrong_by_camera["CAM1"] for one in tries] == [0] * 7
    assert [one.switch_off_frames for one in tries] == [6, 4, 2, 0, 2, 4, 6]
    assert [one.wrong_frames for one in tries] == [3, 2, 1, 0, 1, 2, 3]


def test_the_show_at_hand_is_not_touched_and_every_camera_follows():
    show = late(wall_switch_frames=2)
    own = show.file.cameras[0].delays.model_copy(update={"picture_frames": 7})
    show = changed(show, {"CAM1": {"delays": own}})
    found = suggest_picture_delay(show)
    assert found.now == {"CAM1": 7, "CAM2": 0}
    assert found.changes
    rate = Rate("25")
    assert [camera_delay(found.show.file, c, rate).picture for c in found.show.file.cameras] == [2, 2]
    assert [camera_delay(show.file, c, rate).picture for c in show.file.cameras] == [7, 0]
    assert found.show.file.rundown is show.file.rundown


def test_by_camera():
    show = with_picture_delay(late(wall_switch_frames=2), {"CAM2": 5})
    rate = Rate("25")
    assert [camera_delay(show.file, c, rate).picture for c in show.file.cameras] == [0, 5]
    assert [len(cut.wrong_frames) for cut in cuts_of(show)] == [3, 0]


def test_what_is_in_use_stays_where_nothing_is_better():
    slots = changed(late(picture_frames=4), drive={"mode": "interleaved"})
    found = suggest_picture_delay(slots)
    assert (found.picture_frames, found.changes) == (4, False)
    assert found.show is slots
