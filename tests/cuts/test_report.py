"""The whole report on a small show: what is told is what is drawn, pixel by pixel, before and after."""

from __future__ import annotations

import csv
import json
from dataclasses import replace

import pytest
from PIL import Image

from preview.checks.coverage import coverage_over
from preview.checks.cut import cuts_of
from preview.checks.proof import SAME_CODE
from preview.cuts.report import drawn_size, report_cuts
from preview.errors import FrameFailed
from preview.frame import Studio
from preview.review.film_strip import WIDTH_PX
from preview.suggest.changed import with_overscan, with_picture_delay
from tests.checks.shows import changed, whip_show
from tests.fake_studio import FakeStudio

SIZE = (160, 90)


@pytest.fixture(scope="module")
def report(tmp_path_factory):
    """The wall two frames late, tracking three, the mixer not at all."""
    show = changed(whip_show(), delays={"wall_switch_frames": 2, "tracking_frames": 3.0})
    told = []
    folder = tmp_path_factory.mktemp("cuts")
    found = report_cuts(show, folder, SIZE, command="preview cuts", on_frame=lambda *at: told.append(at))
    return found, told


def test_two_wrong_frames_as_set_and_the_pictures_differ_on_these_alone(report):
    data = report[0].data
    cut, mix = data["checks"][0]["findings"]
    assert (cut["grade"], cut["measures"]["wrong_frames"]) == ("fault", 2)
    assert (mix["grade"], mix["measures"]["wrong_frames"]) == ("compromise", 0)
    drawn = {one["frame"]: one for one in data["frames"]}
    assert {frame for frame, one in drawn.items() if one["state"] == "wrong"} == {25, 26}
    assert {frame for frame, one in drawn.items() if one["state"] == "mix"} == set(range(75, 81))
    for frame, one in drawn.items():
        apart = one["largest_difference_code"]
        assert (apart <= SAME_CODE) == (frame not in {25, 26, *range(75, 81)}), frame
        assert one["verdict"] == "as told"
    assert set(range(22, 29)) <= set(drawn), "three frames either side of the cut"
    assert drawn[25]["differing_percent"] > 10


def test_with_the_suggested_delay_nothing_is_wrong_and_nothing_differs(report):
    delay = report[0].data["picture_delay"]
    assert (delay["suggested_frames"], delay["by_camera_frames"]) == (2, {"CAM1": 2, "CAM2": 2})
    assert (delay["changes"], delay["wrong_frames"]) == (True, 0)
    cut = [one for one in delay["frames"] if one["shot"] == "Whip pan"]
    assert {27 - 3, 27, 27 + 3} <= {one["frame"] for one in cut}
    assert all(one["state"] == "own" and one["largest_difference_code"] <= SAME_CODE for one in cut)
    assert delay["as_told_frames"] == delay["drawn_frames"] == len(delay["frames"])


def test_overscan_is_proved_at_the_full_picture_size(report):
    still, whip = report[0].data["overscan"]
    assert (still["suggested_percent"], still["enough"]) == (0.0, True)
    assert whip["proofs"][0]["with_suggestion"] == 0 < whip["proofs"][0]["with_less"]
    assert report[0].data["checks"][1]["findings"][0]["grade"] == "fault"


def test_advice_is_in_sentences(report):
    delay, overscan = report[0].data["advice"]
    assert delay.startswith(
        "picture delay: hold every cut back 2 frames (picture_frames = 2); 0 wrong frames"
    )
    assert "19.6 % instead of 5 %" in overscan
    assert report[0].data["checks"][0]["findings"][0]["remedy"].startswith("hold the mixer back 2 frames")


def test_files_say_the_same(report):
    folder, entries = report[0].folder, report[0].files
    names = [entry.name for entry in entries]
    assert names == ["cuts-01.png", "cuts-suggested-01.png", "cuts.csv", "cuts.json"]
    written = json.loads((folder / "cuts.json").read_text(encoding="utf-8"))
    for key in ("show", "checks", "frames", "picture_delay", "advice"):
        assert written[key] == json.loads(json.dumps(report[0].data[key])), key
    with open(folder / "cuts.csv", newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [(row["check"], row["wrong_frames"]) for row in rows] == [
        ("cuts", "2"), ("cuts", "0"), ("coverage", ""),
    ]  # fmt: skip
    for name in names[:2]:
        with Image.open(folder / name) as page:
            assert page.width == WIDTH_PX
    manifest = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    assert [entry["name"] for entry in manifest["files"]] == sorted(names)
    assert manifest["runs"][0]["finished"]


def test_progress_counts_every_frame_drawn(report):
    data, told = report[0].data, report[1]
    total = len(data["frames"]) + data["picture_delay"]["drawn_frames"]
    assert told == [(done, total) for done in range(total + 1)]


def test_without_pictures_nothing_is_drawn_or_proved(tmp_path):
    def no_studio(*_):
        raise AssertionError("nothing is to be drawn")

    show = changed(whip_show(), delays={"wall_switch_frames": 2, "tracking_frames": 3.0})
    found = report_cuts(show, tmp_path, pictures=False, open_studio=no_studio)
    assert [entry.name for entry in found.files] == ["cuts.csv", "cuts.json"]
    assert found.data["checks"][0]["findings"][0]["measures"]["wrong_frames"] == 2
    assert found.data["checks"][0]["findings"][0]["measures"]["drawn_frames"] == 0
    assert found.data["picture_delay"]["suggested_frames"] == 2
    assert "not drawn" in found.data["advice"][0]
    assert found.data["overscan"][1]["proofs"] == ()


def test_a_stretch_holds_the_cues_inside_it(tmp_path):
    found = report_cuts(whip_show(), tmp_path, frames=(30, 99), pictures=False)
    assert [finding["shot"] for finding in found.data["checks"][0]["findings"]] == ["Wide again"]


def test_what_cannot_be_seen_is_told_as_such(tmp_path):
    """A studio that draws every picture alike: the wrong frames are there, and none of them shows."""
    show = changed(whip_show(), delays={"wall_switch_frames": 1})
    found = report_cuts(show, tmp_path, (64, 36), frames=(0, 50), open_studio=FakeStudio)
    (cut,) = found.data["checks"][0]["findings"]
    assert cut["sentence"].endswith("Drawn, nothing of it can be seen at 10:00:01:00.")
    assert (cut["measures"]["drawn_frames"], cut["measures"]["as_told_frames"]) == (7, 6)


def test_shared_drive_adds_edge_lines(tmp_path):
    show = changed(
        whip_show(), {"CAM2": {"overscan_percent": 0.0}}, show={"picture_size_px": (320, 180)},
        drive={"mode": "shared", "edge_width_mm": 60.0},
    )  # fmt: skip
    found = report_cuts(show, tmp_path, SIZE, frames=(0, 40))
    names = [check["check"] for check in found.data["checks"]]
    assert names == ["cuts", "coverage", "edge lines"]
    lines = found.data["checks"][2]["findings"]
    assert {line["cameras"][0] for line in lines} == {"CAM2"}
    assert lines[0]["remedy"].startswith("give CAM2")
    assert any(line.startswith("edge lines: give CAM2") for line in found.data["advice"])
    # Its pictures differ on the cut's right side for that reason, and the cut says so.
    assert "differs for another reason" in found.data["checks"][0]["findings"][0]["sentence"]


def test_a_frame_that_fails_is_named(tmp_path):
    def fail(frame, kind):
        if frame == 26:
            raise RuntimeError("no picture")

    with pytest.raises(FrameFailed, match=r"frame 26 \(10:00:01:01\)"):
        report_cuts(whip_show(), tmp_path, (64, 36), open_studio=lambda show, px: FakeStudio(show, px, fail))
    assert not list(tmp_path.glob("cuts*")), "nothing half done is left"


def test_pictures_are_drawn_small_in_the_shows_own_shape():
    assert drawn_size(whip_show()) == (320, 180)
    assert drawn_size(changed(whip_show(), show={"picture_size_px": (2048, 858)})) == (320, 134)
    assert drawn_size(changed(whip_show(), show={"picture_size_px": (128, 72)})) == (128, 72)


def test_the_studio_used_is_the_real_one_unless_told():
    assert report_cuts.__defaults__[-1] is Studio


def test_both_suggestions_together_leave_nothing(report):
    show = changed(whip_show(), delays={"wall_switch_frames": 2, "tracking_frames": 3.0})
    data = report[0].data
    overscan = {one["camera"]: one["suggested_percent"] for one in data["overscan"]}
    mended = with_overscan(with_picture_delay(show, data["picture_delay"]["suggested_frames"]), overscan)
    assert not [frame for cut in cuts_of(mended) for frame in cut.wrong_frames]
    covered = coverage_over(mended)
    assert covered and all(one.covered for one in covered)


def test_overscan_is_for_the_rundown_with_its_cuts_held_back(tmp_path):
    """The whip pan begins as CAM2 leaves programme; with the cut held back eight frames it is seen."""
    show = whip_show()
    shot = show.file.rundown[1]
    cue = shot.cameras["CAM2"].model_copy(update={"after_s": 2.2})
    late = shot.model_copy(update={"cameras": {**shot.cameras, "CAM2": cue}})
    rundown = (show.file.rundown[0], late, show.file.rundown[2])
    show = replace(show, file=show.file.model_copy(update={"rundown": rundown}))
    show = changed(show, delays={"wall_switch_frames": 8, "tracking_frames": 3.0})
    assert not coverage_over(show), "as set, CAM2 is gone before its image lags"
    found = report_cuts(show, tmp_path, pictures=False)
    assert found.data["checks"][1]["findings"] == []
    assert found.data["picture_delay"]["suggested_frames"] == 8
    _, whip = found.data["overscan"]
    assert whip["needed_percent"] > 5.0 and not whip["enough"]


def test_no_edge_lines_is_said_too(tmp_path):
    show = changed(whip_show(), drive={"mode": "shared"}, show={"picture_size_px": (320, 180)})
    found = report_cuts(show, tmp_path, (64, 36), frames=(0, 40))
    looked_at = found.data["edge_line_frames"]
    assert {0, 12, 22, 24, 25, 28} <= set(looked_at) and max(looked_at) <= 40
    assert found.data["advice"][-1] == f"edge lines: none seen in {len(looked_at)} frames looked at"
