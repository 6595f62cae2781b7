"""A whole dossier of a small show: all of it is there, a second run reuses it, and a killed one goes on."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import textwrap
from dataclasses import replace
from pathlib import Path

import av
import pytest

from preview.checks.bleed import Bleed
from preview.checks.off_wall import OffWall
from preview.dossier.asked import Asked
from preview.dossier.run import write_dossier
from preview.dossier.stage import STAMP
from preview.frame import Studio, Wanted
from preview.kept.pictures import chosen_store
from preview.review.atomic import TEMP_PREFIX
from preview.show.load import load_show
from tests.starter_show import starter_path

ROOT = Path(__file__).resolve().parents[2]
CHECKS = (Bleed, OffWall)
ASKED = Asked(
    (20, 119), CHECKS, CHECKS, every=25, check_every=50, floor_step_m=None,
    clip_px=(320, 180), still_px=(320, 180), multiview_px=(1280, 720),
)  # fmt: skip


def show():
    return load_show(starter_path())


def wider(framing="mid shot"):
    """The starter with one framing of CAM2 a little wider."""
    made = show()
    cameras = []
    for camera in made.file.cameras:
        framings = tuple(
            one.model_copy(update={"focal_length_mm": one.focal_length_mm * 0.97})
            if (camera.name, one.name) == ("CAM2", framing)
            else one
            for one in camera.framings
        )
        cameras.append(camera.model_copy(update={"framings": framings}))
    return replace(made, file=made.file.model_copy(update={"cameras": tuple(cameras)}))


def parts(report):
    return {one["name"]: one for one in report.data["parts"]}


@pytest.fixture(scope="module")
def twice(tmp_path_factory):
    folder = tmp_path_factory.mktemp("dossier")
    store = chosen_store(folder / "kept", False)
    return folder / "out", store, [write_dossier(show(), folder / "out", ASKED, store) for _ in range(2)]


def test_everything_that_the_page_names_is_there(twice):
    folder, _, (report, _) = twice
    assert report.page == folder / "index.html" and report.page.stat().st_size > 50_000
    for name, told in parts(report).items():
        stamp = json.loads((folder / name / STAMP).read_text(encoding="utf-8"))
        assert len(stamp["files"]) == told["files"] > 0
        assert all((folder / name / file).stat().st_size for file in stamp["files"])
    assert set(parts(report)) == {"clips", "stills", "checks", "sheets", "plan"}
    text = report.page.read_text(encoding="utf-8")
    assert "ready for air" in text.lower() and "local codes" in text


def test_clips_are_as_long_as_the_stretch(twice):
    folder, _, _ = twice
    clips = sorted((folder / "clips").glob("*.mp4"))
    names = {path.stem for path in clips}
    assert {
        "multiview",
        "programme",
        "programme-as-shot",
        "return_CAM1",
        "as-shot_CAM2",
        "wall_Wall",
    } <= names
    for path in clips:
        with av.open(str(path)) as container:
            (video,) = container.streams.video
            assert video.duration * video.time_base * 25 == 100, path.name
            assert video.metadata["timecode"] == "10:00:00:20"


def test_a_second_run_makes_nothing_again(twice):
    _, _, (first, second) = twice
    assert not any(one["reused"] for one in parts(first).values())
    assert all(one["reused"] for one in parts(second).values())
    assert second.data["verdict"] == first.data["verdict"]
    assert "0 of 5 parts made" in second.data["reuse"]


def test_after_one_framing_changed_only_what_shows_it_is_drawn(twice):
    folder, store, (first, _) = twice
    changed = wider()
    report = write_dossier(changed, folder, ASKED, store)
    told = parts(report)["clips"]
    assert not told["reused"] and told["pictures"] == parts(first)["clips"]["pictures"]
    # Counted apart: pictures of the changed show that differ in no request from the show as it was.
    assert 0 < told["pictures_reused"] < told["pictures"]
    with Studio(changed, ASKED.clip_px) as fresh, Studio(changed, ASKED.clip_px, kept=store) as reusing:
        for frame in (20, 70, 95):
            wanted = Wanted(("return", "programme-as-shot", "wall"))
            for one, other in zip(
                fresh.pictures(frame, wanted), reusing.pictures(frame, wanted), strict=True
            ):
                assert other.reused and (one.code == other.code).all(), (frame, one.label)


def test_a_killed_run_goes_on_without_drawing_a_frame_twice(tmp_path):
    code = textwrap.dedent(
        """
        import sys
        from pathlib import Path
        from tests.dossier.test_run import ASKED, show
        from preview.dossier.run import write_dossier
        from preview.kept.pictures import chosen_store
        folder = Path(sys.argv[1])
        def tell(what, done, total):
            if what == "drawing clips":
                print(done, flush=True)
        write_dossier(show(), folder / "out", ASKED, chosen_store(folder / "kept", False), None, tell)
        """
    )
    run = subprocess.Popen(
        [sys.executable, "-c", code, str(tmp_path)], cwd=ROOT, stdout=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert run.stdout is not None
    for line in run.stdout:
        if int(line) >= 4:
            os.kill(run.pid, signal.SIGKILL)
            break
    run.wait(30)
    assert run.returncode == -signal.SIGKILL
    out = tmp_path / "out"
    assert not [path for path in out.glob("clips/*.mp4") if not path.name.startswith(TEMP_PREFIX)]
    assert not (out / "index.html").exists()
    report = write_dossier(show(), out, ASKED, chosen_store(tmp_path / "kept", False))
    told = parts(report)["clips"]
    with Studio(show(), ASKED.clip_px) as studio:
        first = len(
            list(studio.pictures(20, Wanted(("wall", "as-shot", "return", "programme", "programme-as-shot"))))
        )
    assert told["pictures_reused"] >= 4 * first, "four frames were finished"
    assert not list(out.rglob(TEMP_PREFIX + "*"))
    assert report.page.exists()
