"""The command, for real on a small show: what is written, and how it refuses."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image

from preview import cli
from preview.frame import Studio
from preview.moire.run import write_moire, write_moire_clip
from tests.checks.shows import whip_show
from tests.starter_show import starter_path


@pytest.fixture(scope="module")
def studio():
    show = whip_show()
    info = show.file.show.model_copy(update={"picture_size_px": (320, 180)})
    show = replace(show, file=show.file.model_copy(update={"show": info}))
    with Studio(show) as made:
        yield made


@pytest.fixture(scope="module")
def written(studio, tmp_path_factory):
    folder = tmp_path_factory.mktemp("moire")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("preview.moire.run.CROP_PHOTOSITES", (72, 64))  # a smaller page is drawn sooner
        return write_moire(studio, "CAM1", 0, folder, focus_m=7.2)


def test_a_map_a_synthesis_and_numbers_are_written_and_listed(written):
    names = {entry.name for entry in written.files}
    assert len(names) == 3
    assert {Path(name).suffix for name in names} == {".png", ".json"}
    listed = {file["name"] for file in json.loads((written.folder / "manifest.json").read_text())["files"]}
    assert names <= listed
    for name in names:
        if name.endswith(".png"):
            with Image.open(written.folder / name) as picture:
                assert picture.info["Timecode"] == "10:00:00:00"


def test_prediction_and_synthesis_agree_at_the_worst_place(written):
    (path,) = [p for p in written.folder.glob("*moire*.json")]
    data = json.loads(path.read_text())
    spots = data["worst"]["spots"]
    assert [round(spot["focus_m"], 3) for spot in spots] == [round(data["focus_m"], 3), 7.2]
    for spot in spots:
        assert spot["synthesised_contrast_percent"] > 0.2
        assert spot["synthesised_contrast_percent"] == pytest.approx(
            spot["expected_contrast_percent"], rel=0.1
        )
        assert spot["synthesised_cycles_per_photosite"] == pytest.approx(
            spot["expected_cycles_per_photosite"], abs=0.004
        )


def test_a_clip_holds_each_frame_and_tells_each(studio, tmp_path):
    result = write_moire_clip(studio, "CAM1", [0, 2, 4], 2, tmp_path)
    (clip,) = [entry for entry in result.files if entry.media == "clip"]
    import av

    with av.open(str(tmp_path / clip.name)) as opened:
        assert sum(1 for _ in opened.decode(video=0)) == 6
    assert [row["frame"] for row in result.data["frames"]] == [0, 2, 4]
    assert all(0.0 <= row["worst"]["risk"] <= 1.0 for row in result.data["frames"])


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--camera", "CAM9", "--at", "10:00:00:00"], "CAM1, CAM2"),
        (["--camera", "CAM1"], "--at"),
        (["--camera", "CAM1", "--from", "10:00:00:00", "--focus", "5"], "--focus compares one frame"),
        (["--camera", "CAM1", "--at", "10:00:00:00", "--focus", "0.1"], "focuses from"),
    ],
)
def test_mistakes_get_a_sentence_and_write_nothing(words, told, tmp_path, capsys):
    out = tmp_path / "out"
    status = cli.main(["moire", str(starter_path()), "--out", str(out), *words])
    error = " ".join(capsys.readouterr().err.split())
    assert status == cli.BAD_INPUT
    assert told in error
    assert not list(out.glob("*.png")) if out.exists() else True
