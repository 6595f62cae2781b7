"""What a multiview says, against the demo's rundown as it is written: tally, countdowns, wall, delays."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import cache

import pytest

from preview.multiview.run import drawn_frames
from preview.multiview.upcoming import Strip, changes, taken, time_left
from preview.multiview.words import drive_words, surface_words, words_at
from preview.show.load import load_show
from preview.show.model import Delays
from preview.show.resources import asset_dir
from preview.timeline.timeline import Timeline


@cache
def demo():
    return load_show(asset_dir() / "glasshouse" / "show.toml")


def changed(mode="switched", **delays):
    show = demo()
    drive = show.file.drive.model_copy(update={"mode": mode})
    file = show.file.model_copy(update={"drive": drive, "delays": Delays(**delays)})
    return replace(show, file=file)


def said(show, frame):
    timeline = Timeline(show)
    return words_at(show.file, timeline.at(frame), Strip(timeline, show.file.cameras).at(frame))


def tags(words):
    return {camera.name: camera.tag for camera in words.cameras}


@pytest.mark.parametrize(
    ("frame", "expected"),
    [
        # Titles: jib, 9 s; then Welcome: right.
        (0, {"left": "off", "right": "NEXT in 9.0 s", "jib": "ON AIR", "hand": "off"}),
        (224, {"left": "off", "right": "NEXT in 0.1 s", "jib": "ON AIR", "hand": "off"}),
        (225, {"left": "NEXT in 9.0 s", "right": "ON AIR", "jib": "off", "hand": "off"}),
        # Gardener explains mixes 18 frames from hand to left at 57 s; hand comes again 9 s after that.
        (1424, {"left": "NEXT in 0.1 s", "right": "off", "jib": "off", "hand": "ON AIR"}),
        (1434, {"left": "ON AIR", "right": "off", "jib": "off", "hand": "ON AIR"}),
        (1443, {"left": "ON AIR", "right": "off", "jib": "off", "hand": "NEXT in 8.3 s"}),
        (3074, {"left": "off", "right": "off", "jib": "ON AIR", "hand": "off"}),
    ],
)
def test_tally_and_countdown(frame, expected):
    assert tags(said(demo(), frame)) == expected


def test_a_mix_names_both_cameras_and_how_far_it_is():
    words = said(demo(), 1434)
    assert words.programme == "mix 4 → 1 left, 53%", "the 10th of 18 frames: 9.5 / 18"
    assert words.wall == "wall: 1 left" and not words.wall_wrong, "past the middle, and no mistake of timing"
    assert said(demo(), 1425).wall == "wall: 4 hand"


def test_the_strip_counts_to_every_coming_shot_in_running_order():
    cards = said(demo(), 250).cards
    assert [card.shot for card in cards[:4]] == [
        "2  Welcome", "3  Meet the guest", "4  Line one rings", "5  Both listen",
    ]  # fmt: skip
    # From 10:00:10:00 to shots that start at :18, :27 and :36.
    assert [card.when for card in cards[:4]] == ["now", "in 8.0 s", "in 17.0 s", "in 26.0 s"]
    assert [(card.number, card.camera) for card in cards[:4]] == [
        (2, "right"), (1, "left"), (4, "hand"), (2, "right"),
    ]  # fmt: skip
    assert cards[1].framing == "MS guest → MCU guest", "a move that begins after the cut is told as one"
    assert cards[3].framing == "Three-shot with caller"
    assert next(card for card in cards if card.camera == "left" and card.transition).transition == "mix 18 fr"
    assert cards[-1].shot == "16  Goodbye"


def test_the_strip_ends_with_the_rundown():
    words = said(demo(), 3074 - 24)
    assert [card.shot for card in words.cards] == ["16  Goodbye", "end of the rundown"]
    assert words.cards[1].when == "in 1.0 s" == "in " + words.left
    assert 0.85 < words.gone < 1.0


@pytest.mark.parametrize("mode", ["switched", "shared"])
def test_delays_count_and_a_wrong_wall_is_told(mode):
    """The mixer takes the cut of frame 225 two frames late, the wall follows four frames late."""
    show = changed(mode, picture_frames=2, wall_switch_frames=4, return_frames=3)
    before, cut, after = (said(show, frame) for frame in (226, 227, 229))
    assert tags(before)["right"] == "NEXT in 0.1 s" and tags(before)["jib"] == "ON AIR"
    assert before.cards[0].shot == "1  Titles" and before.cards[1].when == "in 0.1 s"
    assert tags(cut)["right"] == "ON AIR" and cut.cards[0].shot == "2  Welcome"
    assert cut.wall_wrong and cut.wall.startswith("WRONG") and cut.wall.endswith("3 jib")
    assert not after.wall_wrong and "2 right" in after.wall
    assert not before.wall_wrong
    assert {camera.late for camera in cut.cameras} == {"3 fr late"}
    assert {camera.late for camera in said(demo(), 227).cameras} == {""}


def test_an_interleaved_wall_is_wrong_for_nobody():
    words = said(changed("interleaved", picture_frames=0, wall_switch_frames=4), 226)
    assert words.wall == "wall: a slot for each camera" and not words.wall_wrong
    assert surface_words(changed("interleaved").file) == "mean of 4 slots"
    told = {mode: drive_words(changed(mode).file) for mode in ("switched", "shared", "interleaved")}
    assert all(mode in words for mode, words in told.items())


def test_moving_cameras_tell_both_ends():
    words = said(demo(), 250)
    jib = next(camera for camera in words.cameras if camera.name == "jib")
    assert jib.framing == "High wide → Wide" and jib.lens == "8.2 mm"


def test_the_strip_agrees_with_the_mixer_on_every_frame():
    """Who has "now" is who is on air, whatever is held back; countdowns fall by one frame a frame."""
    for show in (demo(), changed(picture_frames=7)):
        timeline = Timeline(show)
        strip, earlier = Strip(timeline, show.file.cameras), None
        for frame in range(0, timeline.frame_count, 3):
            running, moment = strip.at(frame), timeline.at(frame)
            assert running.now.shot.on_air == moment.on_air
            assert (running.following[0].shot.on_air if running.following else None) == moment.next_camera
            assert running.gone + running.left == running.length and running.left > 0
            if earlier is not None and earlier.now.shot is running.now.shot:
                assert earlier.left - running.left == 3
            earlier = running


def test_a_shot_that_the_mixer_never_takes_is_not_announced():
    show = demo()
    cameras = tuple(
        camera.model_copy(update={"delays": camera.delays.model_copy(update={"picture_frames": 225})})
        if camera.name == "right"
        else camera
        for camera in show.file.cameras
    )
    late = replace(show, file=show.file.model_copy(update={"cameras": cameras}))
    timeline = Timeline(late)
    names = [shot.name for shot, _ in taken(timeline)]
    assert "Welcome" not in names and "Meet the guest" in names, "9 s held back is its whole length"
    assert all(timeline.at(due).on_air == shot.on_air for shot, due in taken(timeline))


def test_held_frames_never_hide_a_cut():
    timeline = Timeline(changed(picture_frames=2, wall_switch_frames=4))
    assert changes(timeline, 215, 235) == [225, 227, 229], "cue, mixer, wall"
    assert drawn_frames(timeline, 215, 235, 8) == [215, 223, 225, 227, 229, 231]
    assert drawn_frames(timeline, 227, 230, 100) == [227, 229], "the first frame is drawn anyway"
    assert drawn_frames(timeline, 3, 6, 1) == [3, 4, 5, 6]
    with pytest.raises(ValueError):
        drawn_frames(timeline, 3, 2, 1)


def test_a_countdown_reads_zero_only_when_the_time_has_come():
    """A countdown of whole seconds shows what is at least left: common practice, no source."""
    rate = Fraction(30000, 1001)
    for frames in range(1, 2000):
        text = time_left(frames, rate)
        seconds = Fraction(frames) / rate
        if ":" in text:
            minutes, rest = text.split(":")
            assert seconds <= int(minutes) * 60 + int(rest) < seconds + 1
        else:
            shown = Fraction(text.removesuffix(" s"))
            assert seconds <= shown < seconds + Fraction(1, 10)
    assert time_left(0, rate) == "0.0 s"
