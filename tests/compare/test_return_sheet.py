"""The operator's page: what it says in words for each state of the stage, and that it shows both pictures."""

from dataclasses import replace

import numpy as np
import pytest

from preview.compare.return_sheet import LEAST_PANEL_PX, SHEET_PX, Facts, facts_of, return_sheet
from preview.review.lettering import fitted, font
from preview.timeline.timeline import Timeline
from tests.compare.shows import starter_with
from tests.starter_show import starter_show


def facts(camera, frame, show=None):
    show = show or starter_show()
    timeline = Timeline(show)
    return facts_of(show.file, timeline, timeline.at(frame), camera)


PLAIN = Facts(
    number=2,
    camera="CAM2",
    operator="Close",
    tally="on air",
    framing="mid shot",
    timecode="10:00:05:00",
    shot="shot 2  Presenter",
    on_air="camera 2 CAM2",
    wall="The wall shows camera 2 CAM2 (this camera) alone",
    late_frames=0,
    late="",
)


# -- words -------------------------------------------------------------------------------------


def test_a_camera_off_air_that_comes_next():
    said = facts("CAM2", 50)
    assert (said.number, said.operator, said.tally, said.framing) == (2, "Close", "next", "mid shot")
    assert said.wall == "The wall shows camera 1 CAM1 alone"
    assert said.on_air == "camera 1 CAM1"
    assert (said.timecode, said.shot) == ("10:00:02:00", "shot 1  Opening wide")


def test_a_camera_on_air_on_the_move():
    said = facts("CAM2", 140)
    assert said.tally == "on air"
    assert said.framing == "mid shot > close-up (moving)"
    assert said.wall == "The wall shows camera 2 CAM2 (this camera) alone"


def test_both_cameras_of_a_mix_are_on_air():
    for camera in ("CAM1", "CAM2"):
        said = facts(camera, 203)
        assert said.tally == "on air"
        assert said.on_air == "mix from camera 2 CAM2 to camera 1 CAM1, 29% there"


def test_a_camera_of_no_further_shot_is_off():
    assert facts("CAM2", 240).tally == "off"


def test_the_wall_that_is_late_shows_the_camera_before():
    show = starter_with(wall_switch_frames=4)
    assert facts("CAM2", 102, show).wall == "The wall shows camera 1 CAM1 alone"
    assert facts("CAM2", 102, show).tally == "on air"
    assert "(this camera)" in facts("CAM2", 104, show).wall


def test_the_other_ways_to_drive_a_wall():
    shared = starter_with({"mode": "shared"})
    assert facts("CAM2", 50, shared).wall == "The wall shows every camera, camera 1 CAM1 on top"
    slots = starter_with({"mode": "interleaved", "crosstalk": 0.02})
    assert facts("CAM2", 50, slots).wall == (
        "The wall shows this camera alone in its own slot of each frame; "
        "2% of the light comes from other slots"
    )


@pytest.mark.parametrize(
    "frames, sentence",
    [
        (0, ""),
        (1, "It arrives 1 frame (40 ms) late and shows 10:00:01:24"),
        (3, "It arrives 3 frames (120 ms) late and shows 10:00:01:22"),
        (60, "It arrives 60 frames (2400 ms) late and shows 10:00:00:00; the rundown begins later than that"),
    ],
)
def test_a_late_return_says_how_late_and_what_it_shows(frames, sentence):
    said = facts("CAM2", 50, starter_with(return_frames=frames))
    assert (said.late_frames, said.late) == (frames, sentence)


def test_a_cameras_own_delay_wins_over_the_shows():
    show = starter_with(return_frames=3)
    cameras = tuple(
        c.model_copy(update={"delays": c.delays.model_copy(update={"return_frames": 0})})
        if c.name == "CAM2"
        else c
        for c in show.file.cameras
    )
    show = replace(show, file=show.file.model_copy(update={"cameras": cameras}))
    assert facts("CAM2", 50, show).late == ""
    assert facts("CAM1", 50, show).late_frames == 3


# -- the page ----------------------------------------------------------------------------------


def pictures(size):
    dice = np.random.default_rng(5)
    height, width = size
    return [dice.integers(60, 256, (height, width, 3), dtype=np.uint8) for _ in range(2)]


def places(sheet, picture):
    """Top left corners at which the sheet holds the picture, to the pixel."""
    height, width = picture.shape[:2]
    rows, columns = np.nonzero((sheet == picture[0, 0]).all(axis=2))
    return [
        (int(row), int(column))
        for row, column in zip(rows, columns, strict=True)
        if np.array_equal(sheet[row : row + height, column : column + width], picture)
    ]


def test_the_page_shows_as_shot_left_and_the_return_right_at_one_height():
    as_shot, returned = pictures((315, 600))
    sheet = return_sheet(PLAIN, as_shot, returned, (0.0, None))
    ((row, left),) = places(sheet, as_shot)
    ((other_row, right),) = places(sheet, returned)
    assert row == other_row
    assert left + 600 < right and right + 600 < sheet.shape[1]


@pytest.mark.parametrize(
    "size", [(36, 64), (180, 320), (1080, 1920), (2160, 3840), (1080, 1080), (540, 2340)]
)
def test_the_page_fits_a_laptop_whatever_the_pictures_size(size):
    sheet = return_sheet(PLAIN, *pictures(size), (0.1, 0.2))
    height, width = sheet.shape[:2]
    assert 2 * LEAST_PANEL_PX < width <= SHEET_PX
    assert sheet.dtype == np.uint8
    panel = min(max(size[1], LEAST_PANEL_PX), SHEET_PX // 2)
    assert height == pytest.approx(panel * size[0] / size[1], rel=0.05, abs=0.16 * width)


@pytest.mark.parametrize("tally, strongest", [("on air", 0), ("next", 1), ("off", None)])
def test_the_tally_is_a_box_of_its_colour(tally, strongest):
    sheet = return_sheet(replace(PLAIN, tally=tally), *pictures((180, 640)), (0.0, 0.0)).astype(int)
    corner = sheet[:40, :140]
    gap = (
        corner[..., strongest] - np.delete(corner, strongest, axis=2).max(axis=2)
        if strongest is not None
        else None
    )
    if gap is None:
        assert np.ptp(corner, axis=2).max() < 40, "no colour when off"
    else:
        assert (gap > 40).mean() > 0.2


def test_every_fact_changes_the_page():
    """Nothing that the page is told is left out of it."""
    shots = pictures((180, 640))
    plain = return_sheet(PLAIN, *shots, (0.0, 0.0))
    for change in (
        {"number": 7}, {"camera": "CAM9"}, {"operator": "Jo"}, {"tally": "off"}, {"framing": "wide"},
        {"timecode": "10:00:05:01"}, {"shot": "shot 3  Close"}, {"on_air": "camera 1 CAM1"},
        {"wall": "The wall shows camera 1 CAM1 alone"},
        {"late_frames": 3, "late": "It arrives 3 frames (120 ms) late and shows 10:00:04:22"},
    ):  # fmt: skip
        assert (return_sheet(replace(PLAIN, **change), *shots, (0.0, 0.0)) != plain).any(), change
    assert (return_sheet(PLAIN, *shots, (0.0, 0.2)) != plain).any()


def test_long_names_do_not_run_into_each_other():
    long = "A very long name " * 9
    crowded = replace(PLAIN, camera=long, operator=long, framing=long, shot=long, on_air=long, wall=long)
    sheet = return_sheet(crowded, *pictures((180, 640)), (0.0, 0.0))
    plain = return_sheet(PLAIN, *pictures((180, 640)), (0.0, 0.0))
    width = sheet.shape[1]
    # The timecode at the right of the first line, and the gap between the columns, are untouched.
    np.testing.assert_array_equal(sheet[:44, -width // 4 :], plain[:44, -width // 4 :])
    middle = slice(width // 2 - 3, width // 2 + 3)
    assert len(np.unique(sheet[-40:, middle].reshape(-1, 3), axis=0)) == 1


def test_text_is_cut_to_its_room_and_says_so():
    assert fitted("Presenter", 500, 20) == "Presenter"
    cut = fitted("Presenter at the potting bench", 120, 20)
    assert cut.endswith("…") and font(20).getlength(cut) <= 120
    assert "Presenter at the potting bench".startswith(cut[:-1].rstrip())
    assert fitted("Presenter", 0, 20) == "…"


def test_the_font_has_letters_beyond_english():
    """A name in Greek, Cyrillic or with accents is drawn, not shown as boxes."""
    box = font(24).getmask("\U0010fffd")
    for letter in "ÉåžŁΩЖ":
        assert bytes(font(24).getmask(letter)) != bytes(box)
