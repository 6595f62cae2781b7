"""Each frame is drawn once, each picture lands where it belongs, and failures lose nothing finished."""

import json
from pathlib import Path

import av
import numpy as np
import pytest
from PIL import Image

from preview.errors import AssetError, FrameFailed, OutputError, RequestError
from preview.frame import Wanted
from preview.job import Job, StillFrame
from preview.run import render
from tests.fake_studio import CANVAS_PX, FakeStudio
from tests.starter_show import starter_show

SIZE = (64, 36)
PROGRAMME = Wanted(("programme",))
BOTH = Wanted(("return", "programme"), ("CAM2",))


def job(wanted=PROGRAMME, **options):
    return Job(wanted, SIZE, **options)


def names(folder):
    return sorted(path.name for path in Path(folder).iterdir())


def manifest(folder):
    return json.loads((Path(folder) / "manifest.json").read_text())


def levels(path):
    """Grey level of each frame of a clip; the fake's level is the frame number."""
    with av.open(str(path)) as container:
        return [round(float(f.to_ndarray(format="rgb24").mean())) for f in container.decode(video=0)]


def test_stills_and_clips_share_one_pass_in_running_order(tmp_path):
    stills = (StillFrame(12, 1, "middle"), StillFrame(4, 1, "start"), StillFrame(200, 3, "start"))
    studio = FakeStudio(starter_show())
    told = []
    summary = render(
        studio, job(stills=stills, clip=(10, 14)), tmp_path, on_frame=lambda *at: told.append(at)
    )
    assert studio.asked == [4, 10, 11, 12, 13, 14, 200]
    assert told == [(done, 7) for done in range(8)]
    assert names(tmp_path) == [
        "001-middle_10-00-00-12_programme.png",
        "001-start_10-00-00-04_programme.png",
        "003-start_10-00-08-00_programme.png",
        "10-00-00-10_10-00-00-14_programme.mp4",
        "manifest.json",
    ]
    assert [entry.name for entry in summary.files] == sorted(
        (entry.name for entry in summary.files), key=lambda name: (name.endswith("mp4"), name.split("_")[1])
    )
    assert summary.frame_count == 7


def test_each_file_holds_its_own_frame(tmp_path):
    render(FakeStudio(starter_show()), job(stills=(StillFrame(30, 1, "at"),), clip=(20, 40)), tmp_path)
    still = np.asarray(Image.open(tmp_path / "001-at_10-00-01-05_programme.png"))
    assert set(np.unique(still)) == {30}
    found = levels(tmp_path / "10-00-00-20_10-00-01-15_programme.mp4")
    assert found == pytest.approx(list(range(20, 41)), abs=1)


@pytest.mark.parametrize(
    "every, held", [(1, [40, 41, 42, 43, 44]), (2, [40, 40, 42, 42, 44]), (4, [40] * 4 + [44])]
)
def test_every_nth_frame_is_held_and_the_clip_keeps_its_length(tmp_path, every, held):
    studio = FakeStudio(starter_show())
    render(studio, job(clip=(40, 44), every=every), tmp_path)
    assert studio.asked == sorted(set(held))
    assert levels(tmp_path / "10-00-01-15_10-00-01-19_programme.mp4") == pytest.approx(held, abs=1)


def test_no_picture_is_kept_after_it_is_written(tmp_path):
    """The memory of a long run is that of one picture: never more than one, and the one being drawn."""
    studio = FakeStudio(starter_show())
    render(studio, job(Wanted(("as-shot", "return", "programme")), clip=(0, 20)), tmp_path)
    assert studio.most_alive <= 2


def test_one_clip_for_each_picture(tmp_path):
    render(FakeStudio(starter_show()), job(Wanted(("wall", "return", "programme")), clip=(0, 2)), tmp_path)
    span = "10-00-00-00_10-00-00-02"
    clips = [
        f"{span}_{name}.mp4"
        for name in ("programme", "return_CAM1", "return_CAM2", "wall_Floor", "wall_Wall")
    ]
    assert names(tmp_path) == [*clips, "manifest.json"]
    by_name = {entry["name"]: entry for entry in manifest(tmp_path)["files"]}
    assert by_name[clips[1]]["subject"] == "CAM1"
    width, height = CANVAS_PX
    assert by_name[clips[3]]["size_px"] == [width + 1, height + 1], "an odd canvas is evened for video"


def test_the_manifest_says_what_each_file_is(tmp_path):
    show = starter_show()
    stills = (StillFrame(137, 2, "middle"),)
    render(FakeStudio(show), job(stills=stills, clip=(95, 105)), tmp_path, command="preview render a b")
    document = manifest(tmp_path)
    (run,) = document["runs"]
    assert run["finished"] is True
    assert run["show"] == {"path": str(show.path), "sha256": show.sha256, "title": show.file.show.title}
    assert (run["command"], run["frame_rate"], run["size_px"]) == ("preview render a b", "25", [64, 36])
    assert (run["frame_range"], run["graphics"]) == ([95, 137], "a fake")
    assert run["notes"] == ["a note of the show"]
    assert {"preview", "python", "numpy", "av", "PyOpenGL", "trimesh"} <= set(run["versions"])
    still, clip = document["files"]
    assert (still["media"], still["place"], still["shots"]) == ("still", "middle", ["Presenter"])
    assert (still["start_timecode"], still["off_wall"]) == ("10:00:05:12", 0.137)
    assert (clip["media"], clip["frame_range"]) == ("clip", [95, 105])
    assert clip["shots"] == ["Opening wide", "Presenter"]
    assert (clip["off_wall"], clip["off_wall_timecode"]) == (0.105, "10:00:04:05"), "the worst frame's"


def test_a_fault_of_the_program_names_the_frame_and_keeps_what_was_finished(tmp_path):
    def before(frame, kind):
        if frame == 6 and kind == "programme":
            raise ZeroDivisionError("a fault")

    stills = (StillFrame(2, 1, "at"), StillFrame(6, 1, "at"))
    with pytest.raises(FrameFailed) as caught:
        render(FakeStudio(starter_show(), before=before), job(stills=stills, clip=(0, 9)), tmp_path)
    assert (caught.value.frame, caught.value.timecode) == (6, "10:00:00:06")
    assert isinstance(caught.value.__cause__, ZeroDivisionError)
    assert names(tmp_path) == ["001-at_10-00-00-02_programme.png", "manifest.json"]
    document = manifest(tmp_path)
    assert document["runs"][0]["finished"] is False
    assert [entry["name"] for entry in document["files"]] == ["001-at_10-00-00-02_programme.png"]


def test_a_user_error_while_drawing_says_at_which_frame(tmp_path):
    def before(frame, kind):
        if frame == 3:
            raise AssetError("guest.mp4", "ends after 3 frames", "use a longer clip")

    with pytest.raises(AssetError) as caught:
        render(FakeStudio(starter_show(), before=before), job(clip=(0, 9)), tmp_path)
    assert caught.value.__notes__ == ["while drawing 10:00:00:03"]


@pytest.mark.parametrize("problem", [KeyboardInterrupt, SystemExit])
def test_stopping_removes_unfinished_clips_only(tmp_path, problem):
    def before(frame, kind):
        if frame == 5:
            raise problem

    (tmp_path / "10-00-00-00_10-00-00-09_programme.mp4").write_bytes(b"earlier")
    with pytest.raises(problem):
        render(FakeStudio(starter_show(), before=before), job(clip=(0, 9)), tmp_path)
    assert names(tmp_path) == ["10-00-00-00_10-00-00-09_programme.mp4", "manifest.json"]
    assert (tmp_path / "10-00-00-00_10-00-00-09_programme.mp4").read_bytes() == b"earlier"


def test_a_disk_that_fills_up_loses_nothing_finished(tmp_path, monkeypatch):
    """The third still finds no room: the two before it stay, whole and listed."""
    from preview.review import stills as module

    real, count = module.write_bytes, iter(range(10))

    def full(path, data):
        if next(count) == 2:
            raise OutputError(path, "no room left to write it", "make room")
        real(path, data)

    monkeypatch.setattr(module, "write_bytes", full)
    stills = tuple(StillFrame(frame, 1, "at") for frame in (1, 2, 3, 4))
    with pytest.raises(OutputError, match="no room left"):
        render(FakeStudio(starter_show()), job(stills=stills), tmp_path)
    kept = ["001-at_10-00-00-01_programme.png", "001-at_10-00-00-02_programme.png"]
    assert names(tmp_path) == [*kept, "manifest.json"]
    assert [entry["name"] for entry in manifest(tmp_path)["files"]] == kept


def test_a_picture_missing_from_a_later_frame_is_no_silent_gap(tmp_path):
    studio = FakeStudio(starter_show(), skip=lambda frame, kind: frame == 4 and kind == "programme")
    with pytest.raises(FrameFailed) as caught:
        render(studio, job(BOTH, clip=(0, 9)), tmp_path)
    assert caught.value.frame == 4
    assert names(tmp_path) == ["manifest.json"]


def test_burn_in_marks_pictures_and_says_so(tmp_path):
    stills = (StillFrame(0, 1, "at"),)
    render(FakeStudio(starter_show(), (320, 180)), Job(PROGRAMME, (320, 180), stills, burn_in=True), tmp_path)
    picture = np.asarray(Image.open(tmp_path / "001-at_10-00-00-00_programme.png"))
    assert picture[150:].max() > 200
    assert manifest(tmp_path)["files"][0]["burn_in"] is True


def test_a_studio_of_another_size_is_refused(tmp_path):
    with pytest.raises(ValueError, match=r"\(64, 36\).*\(128, 72\)"):
        render(FakeStudio(starter_show()), Job(PROGRAMME, (128, 72), clip=(0, 1)), tmp_path)


def test_a_clip_of_an_odd_size_is_refused_before_anything_is_drawn():
    with pytest.raises(RequestError, match="66x36"):
        Job(PROGRAMME, (65, 36), clip=(0, 1))
    Job(PROGRAMME, (65, 36), stills=(StillFrame(0, 1, "at"),))
    Job(Wanted(("wall",)), (65, 36), clip=(0, 1))
