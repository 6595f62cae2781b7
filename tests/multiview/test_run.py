"""The clip: every frame there once, the show's rate and timecode, held frames, the manifest, and refusals."""

from __future__ import annotations

import json
from fractions import Fraction

import av
import numpy as np
import pytest

from preview import cli
from preview.errors import FrameFailed
from preview.frame import KINDS, Studio
from preview.multiview.run import WANTED, Multiview, layout_of, write_multiview
from tests.fake_studio import replace_studio
from tests.multiview.fakes import CUT, fake_studio, flat_pictures, starter_stage, starter_view
from tests.starter_show import starter_path, starter_show

SIZE = (960, 540)


def decoded(path):
    with av.open(str(path)) as clip:
        stream = clip.streams.video[0]
        frames = [frame.to_ndarray(format="rgb24") for frame in clip.decode(stream)]
        return frames, Fraction(stream.average_rate), dict(stream.metadata), dict(clip.metadata)


def test_a_clip_holds_every_frame_and_draws_cuts_even_when_they_are_skipped(tmp_path):
    studio, told = fake_studio(), []
    result = write_multiview(
        studio, tmp_path, (CUT - 5, CUT + 6), 10, SIZE, "preview multiview", lambda *now: told.append(now)
    )
    assert studio.asked == list(result.drawn) == [CUT - 5, CUT, CUT + 5]
    assert told == [(0, 3), (1, 3), (2, 3), (3, 3)]
    (entry,) = result.files
    assert entry.name == "10-00-03-20_10-00-04-06_multiview.mp4"
    frames, rate, stream, container = decoded(tmp_path / entry.name)
    assert len(frames) == 12 and rate == 25 and frames[0].shape == (SIZE[1], SIZE[0], 3)
    assert stream["timecode"] == "10:00:03:20" and "Garden Room" in container["title"]
    assert "local codes" in container["comment"]
    # Held frames are alike but for the encoder's noise; the cut is a new picture.
    assert np.abs(frames[4].astype(int) - frames[0]).mean() < 1.0
    view = Multiview(studio, SIZE, 10)
    expected = []
    for frame in result.drawn:
        pictures = {(one.kind, one.subject): one.code for one in studio.pictures(frame, view.wanted)}
        expected.append(view.frame(frame, pictures).astype(int))
    for place, held in ((0, 0), (4, 0), (5, 1), (9, 1), (10, 2), (11, 2)):
        away = [float(np.abs(frames[place] - one).mean()) for one in expected]
        assert away.index(min(away)) == held and away[held] < 3.0, "4:2:0 and compression"
    listed = json.loads((tmp_path / "manifest.json").read_text(encoding="utf-8"))
    (file,) = listed["files"]
    assert file["kind"] == "multiview" and file["media"] == "clip" and file["every"] == 10
    assert file["frame_range"] == [CUT - 5, CUT + 6] and file["shots"] == ["Opening wide", "Presenter"]
    assert listed["runs"][0]["finished"] and listed["runs"][0]["command"] == "preview multiview"


def test_a_frame_that_fails_leaves_the_earlier_clip(tmp_path):
    write_multiview(fake_studio(), tmp_path, (0, 1), 1, SIZE)
    (clip,) = tmp_path.glob("*.mp4")
    before = clip.read_bytes()

    def fail(frame, kind):
        if frame == 1:
            raise RuntimeError("boom")

    with pytest.raises(FrameFailed, match="10:00:00:01"):
        write_multiview(fake_studio(before=fail), tmp_path, (0, 1), 1, SIZE)
    assert clip.read_bytes() == before
    assert {path.name for path in tmp_path.iterdir()} == {clip.name, "manifest.json"}


def test_it_asks_for_pictures_that_exist_and_knows_its_tile_size_before_a_studio():
    assert set(WANTED.kinds) < set(KINDS) and not WANTED.cameras
    assert Multiview.wanted is WANTED
    view = starter_view()
    assert layout_of(starter_show().file).tile_px == view.tile_px
    width, height = view.tile_px
    assert abs(width - height * 16 / 9) <= 1


def test_pictures_may_be_of_any_size():
    shape = (1080, 1920, 3)
    for size in ((32, 18), (1920, 1080)):
        assert starter_view().frame(3, flat_pictures(size)).shape == shape


def test_the_real_studio_s_pictures_come_in_untouched():
    show = starter_show()
    layout = layout_of(show.file, SIZE)
    with Studio(show, layout.tile_px) as studio:
        view = Multiview(studio, SIZE)
        pictures = {(one.kind, one.subject): one.code for one in studio.pictures(CUT, view.wanted)}
        shown = view.frame(CUT, pictures)
    box = layout.programme.picture
    programme = pictures["programme", ""]
    assert (shown[box.top : box.bottom, box.left : box.right] == programme).all()
    assert float(programme.std()) > 10, "a picture, not a flat field"
    own = layout.cameras[1].picture
    returned = shown[own.top : own.bottom, own.left : own.right].astype(float)
    assert abs(returned.mean() - programme.mean()) < 2, "on air and in time: the return is the programme"


@pytest.fixture
def fakes(monkeypatch):
    made = replace_studio(monkeypatch)
    monkeypatch.setattr("tests.fake_studio.SimpleNamespace", lambda **_: starter_stage())
    return made


def run(capsys, *words):
    status = cli.main(["multiview", str(starter_path()), *map(str, words)])
    return status, *capsys.readouterr()


def test_the_command_writes_one_clip_and_tells_its_caution(fakes, capsys, tmp_path):
    status, out, err = run(
        capsys,
        "--out",
        tmp_path,
        "--from",
        "10:00:01:00",
        "--to",
        "10:00:01:03",
        "--every",
        "2",
        "--size",
        "960x540",
    )
    assert status == 0, err
    assert out.splitlines() == [str(tmp_path / "10-00-01-00_10-00-01-03_multiview.mp4")]
    assert "2 frames drawn" in err and "local codes" in err
    assert fakes[0].size_px == layout_of(starter_show().file, SIZE).tile_px and fakes[0].closed


def test_the_command_s_json_is_one_document(fakes, capsys, tmp_path):
    status, out, err = run(capsys, "--out", tmp_path, "--to", "10:00:00:01", "--size", "960x540", "--json")
    assert status == 0, err
    data = json.loads(out)
    assert data["frame_count"] == 2 and data["files"][0]["kind"] == "multiview" and "codes" in data["caution"]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--every", "0"], "--every: '0' is not a whole number of at least 1"),
        (["--every", "two"], "--every: 'two'"),
        (["--size", "big"], "--size: 'big' is not a picture size"),
        (["--size", "961x541"], "ask for 962x542"),
        (["--size", "640x360"], "--size: a multiview cannot be 640x360"),
        (["--size", "1000x1000"], "4:3"),
        (["--from", "11:00:00:00"], "--from:"),
        (["--from", "10:00:05:00", "--to", "10:00:01:00"], "exchange them"),
    ],
)
def test_mistakes_get_a_sentence_and_write_nothing(fakes, words, told, capsys, tmp_path):
    status, out, err = run(capsys, "--out", tmp_path / "out", *words)
    assert status == 2 and not out
    assert told in err and "Traceback" not in err
    assert not (tmp_path / "out").exists() and not fakes
