"""What compared pictures must be to each other, drawn for real: the product's promises about returns.

The starter show: CAM1 on air for frames 0 to 99, CAM2 from 100 to 199 (pushing in from 112 to 187), then a
mix of 12 frames back to CAM1.
"""

from math import inf

import cv2
import numpy as np
import pytest

from preview.compare.measures import measure
from preview.compare.offset import OffsetSearch, chosen_window, search_at, unrelated
from preview.compare.pairs import (
    PAIRS,
    PROGRAMME_AS_SHOT,
    RETURN_AS_SHOT,
    RETURN_PROGRAMME,
    chosen_camera,
    chosen_pair,
    draw_pair,
)
from preview.compare.regions import RegionFinder
from preview.compare.run import cuts_of, elsewhere_of
from preview.errors import RequestError
from preview.frame import Studio
from preview.timeline.timeline import Timeline
from tests.compare.shows import starter_with
from tests.fake_studio import FakeStudio
from tests.starter_show import starter_show

SIZE = (192, 108)
MOVING, STILL = 140, 195


@pytest.fixture(scope="module")
def studio():
    with Studio(starter_show(), SIZE) as studio:
        yield studio


@pytest.fixture(scope="module")
def late_studio():
    """Returns arrive 3 frames late; the wall follows the cue 4 frames late, the mixer 1 frame."""
    show = starter_with(return_frames=3, wall_switch_frames=4, picture_frames=1)
    with Studio(show, SIZE) as studio:
        yield studio


def measured(studio, compared):
    return measure(compared.first, compared.second, RegionFinder(studio.raster).shared(compared.views))


# -- pictures ----------------------------------------------------------------------------------


@pytest.mark.parametrize("frame", [50, MOVING, STILL])
def test_the_return_of_the_camera_on_air_is_the_programme(studio, frame):
    for pair in PAIRS.values():
        found = measured(studio, draw_pair(studio, frame, pair))
        assert all(part.psnr_db == inf for part in found.values() if part), pair.name


@pytest.mark.parametrize("camera, frame", [("CAM2", 50), ("CAM1", MOVING)])
def test_off_air_a_return_differs_from_what_is_shot_on_the_wall_only(studio, camera, frame):
    compared = draw_pair(studio, frame, RETURN_AS_SHOT, camera)
    found = measured(studio, compared)
    assert found["wall"].psnr_db < 25 and found["wall"].de2000_mean > 3
    assert found["wall"].psnr_db < found["whole"].psnr_db < found["set"].psnr_db
    cover = studio.raster.sightlines(studio.timeline.at(frame).camera(camera).view).set_cover
    inside = cv2.erode((cover == 1).astype(np.uint8), np.ones((3, 3))).astype(bool)
    assert inside.mean() > 0.005, "there is a person in the picture"
    apart = np.abs(compared.first.astype(int) - compared.second)[inside]
    assert apart.max() <= 1, "within one code, away from the person's edges"


def test_a_mix_is_half_of_each_return_and_its_regions_are_those_of_both_views(studio):
    compared = draw_pair(studio, 206, RETURN_PROGRAMME)
    assert compared.moment.mix_from == "CAM2" and compared.camera == "CAM1"
    assert len(compared.views) == 2
    found = measured(studio, compared)
    assert sum(part.share for name, part in found.items() if part and name != "whole") < 0.999
    assert "mix from CAM2 to CAM1" in unrelated(compared)
    assert compared.labels == (
        "return of camera 1 CAM1",
        "programme of camera 2 CAM2 into camera 1 CAM1",
    )


def test_a_late_wall_is_seen_in_programme_as_shot_and_nowhere_else(late_studio):
    """The cue is at 100, the mixer cuts at 101, the wall follows at 104: three wrong frames."""
    for frame in (99, 100, 101, 103, 104, 105):
        found = measured(late_studio, draw_pair(late_studio, frame, PROGRAMME_AS_SHOT))
        wrong = frame in (101, 103)
        assert (found["wall"].psnr_db < 30) == wrong, frame
        assert found["whole"].identical != wrong, frame
    assert elsewhere_of(late_studio, range(90, 120)) == [(101, 103)]
    cuts = cuts_of(late_studio, range(90, 120))
    assert [(cut.frame, cut.on_air) for cut in cuts] == [(90, "CAM1"), (101, "CAM2")]


def test_regions_follow_the_view_that_a_late_return_shows(late_studio):
    compared = draw_pair(late_studio, MOVING, RETURN_AS_SHOT, "CAM2")
    then = late_studio.timeline.at(MOVING - 3).camera("CAM2").view
    assert compared.views == (then, late_studio.timeline.at(MOVING).camera("CAM2").view)


# -- the return's delay ------------------------------------------------------------------------


def test_a_late_return_is_found_from_one_frame(late_studio):
    compared = draw_pair(late_studio, MOVING, RETURN_PROGRAMME)
    assert compared.camera == "CAM2"
    offset = search_at(late_studio, compared, 5)
    assert offset.late_frames == 3
    assert offset.psnr_db[3] == inf and max(v for late, v in offset.psnr_db.items() if late != 3) < 60
    assert list(offset.psnr_db) == list(range(-5, 6))
    assert offset.said == "the return is 3 frames late (the pictures are identical there)"


def test_a_late_return_is_found_over_a_run_of_frames(late_studio):
    search = OffsetSearch(4)
    for frame in range(MOVING - 5, MOVING + 6):
        search.add(draw_pair(late_studio, frame, RETURN_PROGRAMME))
    offset = search.result()
    assert (offset.late_frames, offset.frames) == (3, 3), "eleven frames have three whole windows of nine"
    assert offset.psnr_db[3] == inf


def test_a_return_in_time_is_said_to_be(studio):
    offset = search_at(studio, draw_pair(studio, MOVING, RETURN_PROGRAMME), 3)
    assert offset.late_frames == 0
    assert "in time" in offset.said


def test_a_picture_that_stands_still_cannot_tell(late_studio):
    offset = search_at(late_studio, draw_pair(late_studio, STILL, RETURN_PROGRAMME), 3)
    assert offset.late_frames is None
    assert "stands still" in offset.said


def test_a_window_that_ends_too_early_says_that_the_truth_may_lie_beyond(late_studio):
    offset = search_at(late_studio, draw_pair(late_studio, MOVING, RETURN_PROGRAMME), 2)
    assert offset.late_frames == 2
    assert "may lie beyond" in offset.said and "identical" not in offset.said


def test_programmes_of_other_cameras_are_left_out_of_the_search(late_studio):
    """At 118 the push in has begun; one of the 37 programmes looked at is before the mixer's cut at 101."""
    offset = search_at(late_studio, draw_pair(late_studio, 118, RETURN_PROGRAMME), 18)
    assert offset.late_frames == 3
    assert min(offset.psnr_db) == -18 and max(offset.psnr_db) == 17
    assert "1 offset was left out" in offset.said


def test_off_air_there_is_no_offset_and_the_numbers_do_not_judge(late_studio):
    compared = draw_pair(late_studio, MOVING, RETURN_PROGRAMME, "CAM1")
    offset = search_at(late_studio, compared, 3)
    assert (offset.late_frames, dict(offset.psnr_db)) == (None, {})
    assert "off air" in offset.said
    assert "two different views" in unrelated(compared)
    assert measured(late_studio, compared)["whole"].psnr_db < 20
    assert unrelated(draw_pair(late_studio, MOVING, RETURN_PROGRAMME)) is None
    assert unrelated(draw_pair(late_studio, MOVING, RETURN_AS_SHOT, "CAM1")) is None


def test_a_run_too_short_for_its_window_finds_nothing(late_studio):
    search = OffsetSearch(4)
    for frame in range(MOVING, MOVING + 8):
        search.add(draw_pair(late_studio, frame, RETURN_PROGRAMME))
    offset = search.result()
    assert offset.late_frames is None and "no 9 frames in a row" in offset.said


def test_a_run_over_a_cut_uses_only_windows_of_one_camera():
    """Flat pictures whose level is the frame's number, so every return is exactly in time."""
    studio = FakeStudio(starter_show())
    search = OffsetSearch(2)
    for frame in range(94, 107):
        search.add(draw_pair(studio, frame, RETURN_PROGRAMME))
    offset = search.result()
    assert offset.frames == 2 + 3, "96, 97 before the cut; 102, 103, 104 after it"
    assert offset.late_frames == 0
    assert offset.psnr_db[1] == pytest.approx(48.1308, abs=1e-4)


def test_frames_with_a_gap_are_refused():
    studio = FakeStudio(starter_show())
    search = OffsetSearch(2)
    search.add(draw_pair(studio, 10, RETURN_PROGRAMME))
    with pytest.raises(ValueError, match="12 does not follow 10"):
        search.add(draw_pair(studio, 12, RETURN_PROGRAMME))


def test_the_window_reaches_past_every_delay_of_the_show():
    assert chosen_window(None, starter_show().file) == 6
    assert chosen_window(None, starter_with(return_frames=9).file) == 11
    assert chosen_window(3, starter_with(return_frames=9).file) == 3


# -- what is asked -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    "call, part",
    [
        (lambda: chosen_pair("return:programe"), "did you mean 'return:programme'"),
        (lambda: chosen_pair("as-shot:return"), "did you mean 'return:as-shot'"),
        (lambda: chosen_pair("x"), "there are return:as-shot"),
        (lambda: chosen_camera("CAM3", RETURN_AS_SHOT, ("CAM1", "CAM2")), "no camera of this show"),
        (lambda: chosen_camera("CAM1", PROGRAMME_AS_SHOT, ("CAM1",)), "always of the camera on air"),
        (lambda: chosen_window(0, starter_show().file), "from 1 to"),
        (lambda: chosen_window(103, starter_show().file), "from 1 to"),
    ],
)
def test_what_cannot_be_had_is_said_in_a_sentence(call, part):
    with pytest.raises(RequestError, match=part):
        call()


def test_the_camera_on_air_is_the_default_and_can_be_named():
    for asked in (None, "on air"):
        assert chosen_camera(asked, RETURN_AS_SHOT, ("CAM1", "CAM2")) is None
        assert chosen_camera(asked, PROGRAMME_AS_SHOT, ("CAM1", "CAM2")) is None
    assert chosen_camera(" CAM2 ", RETURN_PROGRAMME, ("CAM1", "CAM2")) == "CAM2"


def test_an_interleaved_wall_follows_nobody():
    show = starter_with({"mode": "interleaved"}, wall_switch_frames=4)
    studio = FakeStudio(show)
    assert Timeline(show).at(101).wall_camera == "CAM1"
    assert elsewhere_of(studio, range(90, 120)) == []
