"""The report on a small show: what is found is what files, data and manifest say."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
from PIL import Image

from preview.errors import FrameFailed, OutputError
from preview.report.annotated import WIDTH_PX, drawn_size
from preview.report.run import SMALL_WIDTH_PX, Asked, programme_lanes, report_checks
from preview.review.atomic import TEMP_PREFIX
from preview.suggest.mend import Attempt, Mended
from preview.timeline.timeline import Timeline
from tests.checks.shows import changed, whip_show
from tests.fake_studio import FakeStudio
from tests.report.checks import ALL, Clean, Drawn, Stripe

MENDED = Mended("position", "move CAM2 by 0.2 m", "cameras[1].position_m", "", whip_show(), (30, 35), 3)
ASKED = Asked("checks", ALL, ALL, every=10, command="preview check")


class Studios(list):
    """Opens fake studios one at a time, and keeps them."""

    def __call__(self, show, size_px):
        assert all(studio.closed for studio in self), "one at a time"
        kinds: list[str] = []
        self.append(FakeStudio(show, size_px, lambda frame, kind: kinds.append(kind)))
        self[-1].kinds = kinds
        return self[-1]


@pytest.fixture(scope="module")
def report(tmp_path_factory):
    studios, steps = Studios(), []
    folder = tmp_path_factory.mktemp("report")
    found = report_checks(
        whip_show(), folder, ASKED, None, lambda *step: steps.append(step), open_studio=studios
    )
    return found, studios, steps


def strict(text):
    def refuse(word):
        raise ValueError(word)

    return json.loads(text, parse_constant=refuse)


def test_files_are_listed_in_order_and_in_the_manifest(report):
    found, *_ = report
    names = [entry.name for entry in found.files]
    assert names == [
        "check-stripe-02.png", "check-stripe-01.png", "check-drawn-01.png",
        "checks-timeline.png", "check-stripe.png", "checks.csv", "stripe.csv", "checks.json",
    ]  # fmt: skip
    manifest = json.loads((found.folder / "manifest.json").read_text(encoding="utf-8"))
    assert [entry["name"] for entry in manifest["files"]] == sorted(names)
    assert sorted(path.name for path in found.folder.iterdir()) == sorted([*names, "manifest.json"])
    run = manifest["runs"][0]
    assert (run["command"], run["finished"], run["graphics"]) == ("preview check", True, "a fake")
    still = next(entry for entry in manifest["files"] if entry["name"] == "check-stripe-01.png")
    assert (still["subject"], still["frame_range"], still["shots"]) == ("CAM2", [30, 30], ["Whip pan"])
    for entry in manifest["files"]:
        if entry["name"].endswith(".png"):
            with Image.open(found.folder / entry["name"]) as picture:
                assert list(picture.size) == entry["size_px"]


def test_data_is_strict_json_and_says_what_was_looked_at(report):
    found, *_ = report
    data = strict((found.folder / "checks.json").read_text(encoding="utf-8"))
    assert {**found.data, "folder": None, "files": None} == {**data, "folder": None, "files": None}
    looked = data["looked_at"]
    assert (looked["frames_in_range"], looked["every"], looked["sight_grid"]) == (100, 10, [192, 108])
    frames = {*range(0, 100, 10), 24, 25, 74, 75, 99}
    assert looked["frames"] == len(frames)
    assert looked["saw_every_frame"] == ["drawn"]
    assert [check["check"] for check in data["checks"]] == ["stripe", "clean", "drawn"]
    assert [check["grade"] for check in data["checks"]] == ["fault", "fine", "compromise"]
    assert data["verdict"].startswith(
        f"1 fault, 2 compromises in 3 checks; {len(frames)} of 100 frames looked at (1 in 10, and both "
    )
    assert data["cautions"][0].startswith("Stripes can be tripped over")
    assert "local codes" in data["cautions"][-1]
    assert data["thresholds"]["bleed"] == {"on_air_percent": 0.0, "off_air_percent": 1.0}
    assert data["not_looked_at"] == []
    assert data["show"]["shots"][1]["on_air"] == "CAM2"
    assert "files" not in data, "a file cannot list itself"
    assert [entry["name"] for entry in found.data["files"]] == [entry.name for entry in found.files]


def test_tables_read_again(report):
    found, *_ = report
    with open(found.folder / "checks.csv", newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [(row["check"], row["grade"], row["first_timecode"]) for row in rows] == [
        ("stripe", "fine", "10:00:00:00"), ("stripe", "compromise", "10:00:00:02"),
        ("stripe", "fault", "10:00:01:05"), ("clean", "fine", "10:00:00:00"),
        ("drawn", "compromise", "10:00:02:00"),
    ]  # fmt: skip
    with open(found.folder / "stripe.csv", newline="", encoding="utf-8") as file:
        own = list(csv.DictReader(file))
    assert [int(row["frame"]) for row in own] == sorted({*range(0, 100, 10), 24, 25, 74, 75, 99})
    assert (found.folder / "stripe.csv").read_bytes().count(b"\r\n") == len(own) + 1


def test_one_small_studio_for_checks_then_one_for_stills_and_no_picture_is_kept(report):
    _, (small, stills), steps = report
    assert small.size_px == (SMALL_WIDTH_PX, 108)
    assert stills.size_px == drawn_size((640, 360)) == (WIDTH_PX, 540)
    assert stills.asked == [2, 30, 50], "drawn in running order"
    assert (stills.most_alive, len(stills.alive)) == (1, 0)
    assert small.closed and stills.closed
    whats = list(dict.fromkeys(what for what, *_ in steps))
    assert whats == ["looking", "drawing"]
    assert ("looking", 100, 100) in steps, "the check that wants every frame has all of them"


def test_the_drawn_mark_is_on_the_left_fifth_of_the_still(report):
    found, *_ = report
    with Image.open(found.folder / "check-stripe-01.png") as picture:
        page = picture.convert("RGB")
    from preview.report.caption import GRADE_COLOR

    columns = [
        x for x in range(WIDTH_PX) for y in range(200, 300) if page.getpixel((x, y)) == GRADE_COLOR["fault"]
    ]
    assert columns and 180 < max(columns) < 205, "960 / 5 = 192, and half an outline"


def test_without_pictures_nothing_is_drawn_and_that_is_said(tmp_path):
    def no_studio(*_):
        raise AssertionError("nothing is to be drawn")

    found = report_checks(whip_show(), tmp_path, replace(ASKED, pictures=False), open_studio=no_studio)
    assert [entry.name for entry in found.files] == ["checks.csv", "stripe.csv", "checks.json"]
    (left_out,) = found.data["not_looked_at"]
    assert left_out["check"] == "drawn" and "--no-pictures" in left_out["why"]
    assert [check["check"] for check in found.data["checks"]] == ["stripe", "clean"]
    assert "in 2 checks" in found.data["verdict"]


def test_checks_not_asked_for_are_named_and_a_stretch_is_kept_to(tmp_path):
    asked = Asked("checks", (Clean,), ALL, frames=(10, 19), pictures=False)
    found = report_checks(whip_show(), tmp_path, asked)
    assert [one["check"] for one in found.data["not_looked_at"]] == ["stripe", "drawn"]
    assert found.data["looked_at"]["frames_in_range"] == 10
    assert found.data["verdict"].startswith(
        "no faults, no compromises in 1 check; 10 frames, every frame looked at in "
    )


def test_a_report_of_one_check_does_not_write_over_its_own_table(tmp_path):
    asked = Asked("stripe", (Stripe,), ALL, every=50, pictures=False)
    found = report_checks(whip_show(), tmp_path, asked)
    assert [entry.name for entry in found.files] == ["stripe-findings.csv", "stripe.csv", "stripe.json"]


def test_remedies_are_tried_for_faults_first_and_failure_is_said(tmp_path):
    tried = []

    def mend(plan, check, finding):
        tried.append((check.name, finding.grade))
        if finding.grade == "fault":
            return Attempt(MENDED, ("position",), 3, 9, False)
        return Attempt(None, ("position", "focal length"), 7, 9, False)

    steps = []
    found = report_checks(
        whip_show(), tmp_path, replace(ASKED, pictures=False), mend, lambda *step: steps.append(step)
    )
    assert tried == [("stripe", "fault"), ("stripe", "compromise")], "what is fine needs none"
    fine, compromise, fault = found.data["checks"][0]["findings"]
    assert fine["remedy"] == ""
    assert fault["remedy"].startswith("move CAM2 by 0.2 m (cameras[1].position_m)")
    assert compromise["remedy"].startswith(
        "none; nothing tried alone takes it away (position, focal length; 7"
    )
    assert [(one["cleared"], one["changed_shows"]) for one in found.data["remedies_tried"]] == [
        (True, 3), (False, 7),
    ]  # fmt: skip
    assert steps[-1] == ("trying remedies", 2, 2)


def test_a_still_that_fails_is_named_and_leaves_nothing_half_done(tmp_path):
    def fail(frame, kind):
        if frame == 30:
            raise RuntimeError("no picture")

    with pytest.raises(FrameFailed, match=r"frame 30 \(10:00:01:05\)"):
        report_checks(
            whip_show(), tmp_path, replace(ASKED, checks=(Stripe,)),
            open_studio=lambda show, px: FakeStudio(show, px, fail),
        )  # fmt: skip
    assert sorted(path.name for path in tmp_path.iterdir()) == ["check-stripe-02.png", "manifest.json"]
    manifest = json.loads((tmp_path / "manifest.json").read_text(encoding="utf-8"))
    assert not manifest["runs"][0]["finished"]


def test_what_concerns_no_place_is_shown_as_it_went_out(report):
    found, (_, stills), _ = report
    entry = next(one for one in found.files if one.name == "check-drawn-01.png")
    assert (entry.subject, entry.frame_range) == ("CAM2", (50, 50))
    assert stills.kinds == ["as-shot", "as-shot", "programme-as-shot"]


def test_an_interrupted_run_keeps_what_is_finished(tmp_path):
    def stop(frame, kind):
        if frame == 50:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        report_checks(whip_show(), tmp_path, ASKED, open_studio=lambda s, px: FakeStudio(s, px, stop))
    names = {path.name for path in tmp_path.iterdir()}
    assert not {name for name in names if name.startswith(TEMP_PREFIX)}
    assert "checks.json" not in names


def test_a_mark_that_fails_names_its_frame(tmp_path):
    class Broken(Stripe):
        def marks(self, look, finding):
            raise RuntimeError("no mask")

    with pytest.raises(FrameFailed, match="frame 30"):
        report_checks(whip_show(), tmp_path, replace(ASKED, checks=(Broken,)), open_studio=FakeStudio)


def test_a_file_where_the_folder_should_be_is_told_before_anything_is_looked_at(tmp_path):
    class Unseen(Stripe):
        def see(self, look):
            raise AssertionError("looked at")

    blocking = tmp_path / "taken"
    blocking.write_text("mine")
    with pytest.raises(OutputError, match="a file stands where"):
        report_checks(whip_show(), blocking, replace(ASKED, checks=(Unseen,)), open_studio=FakeStudio)


def test_a_second_run_replaces_files_and_keeps_others(tmp_path):
    (tmp_path / "mine.txt").write_text("mine")
    asked = replace(ASKED, checks=(Stripe,), pictures=False)
    for _ in range(2):
        report_checks(whip_show(), tmp_path, asked)
    assert (tmp_path / "mine.txt").read_text() == "mine"
    manifest = json.loads((tmp_path / "manifest.json").read_text(encoding="utf-8"))
    assert [run["run"] for run in manifest["runs"]] == [2]


@pytest.mark.parametrize("held", [0, 4])
def test_lanes_show_who_is_on_programme_frame_by_frame(held):
    show = changed(whip_show(), delays={"picture_frames": held})
    timeline = Timeline(show)
    plan = SimpleNamespace(timeline=timeline, show=show)
    lanes = dict(zip(("CAM1", "CAM2"), programme_lanes(plan), strict=True))
    for frame in range(timeline.frame_count):
        moment = timeline.at(frame)
        for name, lane in lanes.items():
            told = any(first <= frame <= last for first, last in lane.stretches)
            assert told == (moment.tally(name) == "on air"), (frame, name)


def test_plots_can_be_of_a_part_that_holds_no_cut(tmp_path):
    asked = replace(ASKED, checks=(Clean, Drawn), frames=(40, 44))
    found = report_checks(whip_show(), Path(tmp_path), asked, open_studio=FakeStudio)
    assert {"checks-timeline.png", "checks.json"} <= {entry.name for entry in found.files}
