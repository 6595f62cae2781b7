"""A part is made again when anything that it is made from has changed or it is not whole, and never else."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace

import pytest

from preview.dossier.stage import STAMP, made_from, part
from preview.show.load import load_show
from preview.show.model import Screen
from tests.checks.shows import changed, whip_show
from tests.starter_show import starter_path


class Maker:
    """Writes one file and tells how often it was asked to."""

    def __init__(self, folder, name="a.txt"):
        self.folder, self.name, self.times = folder, name, 0

    def __call__(self):
        self.times += 1
        (self.folder / self.name).write_text(f"made {self.times} times")
        return {"times": self.times, "pair": (1, 2)}, [self.name]


@pytest.fixture
def maker(tmp_path):
    return Maker(tmp_path / "part")


def test_the_same_inputs_make_it_once(maker):
    first, second = (part(maker.folder, "abc", maker) for _ in range(2))
    assert (first.reused, second.reused, maker.times) == (False, True, 1)
    assert first.data == second.data == {"times": 1, "pair": [1, 2]}, (
        "told alike when fresh and when read back"
    )
    assert second.files == ("a.txt",)


def test_other_inputs_make_it_again(maker):
    part(maker.folder, "abc", maker)
    assert part(maker.folder, "abd", maker).data["times"] == 2


@pytest.mark.parametrize("harm", ["changed", "cut short", "gone"])
def test_a_file_that_is_not_as_it_was_makes_it_again(maker, harm):
    part(maker.folder, "abc", maker)
    path = maker.folder / "a.txt"
    if harm == "gone":
        path.unlink()
    else:
        path.write_text("made 7 times" if harm == "changed" else "made")
    found = part(maker.folder, "abc", maker)
    assert not found.reused and path.read_text() == "made 2 times"


@pytest.mark.parametrize("text", ["", "{", "[]", '{"format": 1}', '{"format": 99, "made_from": "abc"}'])
def test_a_damaged_stamp_makes_it_again(maker, text):
    part(maker.folder, "abc", maker)
    (maker.folder / STAMP).write_text(text)
    assert not part(maker.folder, "abc", maker).reused
    assert part(maker.folder, "abc", maker).reused


def test_a_run_that_died_leaves_no_stamp(maker):
    part(maker.folder, "abc", maker)

    def dies():
        (maker.folder / "a.txt").write_text("half")
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        part(maker.folder, "abd", dies)
    assert not (maker.folder / STAMP).exists()
    assert part(maker.folder, "abc", maker).data["times"] == 2, "nor does the old one come back"


def test_files_that_nothing_shows_any_more_go_and_those_of_others_stay(maker):
    part(maker.folder, "abc", maker)
    (maker.folder / "notes.txt").write_text("the user's own")
    part(maker.folder, "abd", Maker(maker.folder, "b.txt"))
    assert {path.name for path in maker.folder.iterdir()} == {"b.txt", "notes.txt", STAMP}
    assert set(json.loads((maker.folder / STAMP).read_text())["files"]) == {"b.txt"}


def test_a_show_is_told_by_its_values_scene_screens_and_options(tmp_path):
    show = whip_show()
    known = made_from(show, b"scene", 1, (2, 3))
    assert known == made_from(show, b"scene", 1, (2, 3))
    others = [
        made_from(changed(show, drive={"mode": "shared"}), b"scene", 1, (2, 3)),
        made_from(show, b"other", 1, (2, 3)),
        made_from(show, b"scene", 2, (2, 3)),
        made_from(show, b"scene", 1, (2, 4)),
        made_from(show, b"scene", 1, 2, 3),
    ]
    assert len({known, *others}) == 6
    assert made_from(replace(show, sha256="0" * 64), b"scene", 1, (2, 3)) == known, "comments change nothing"


def test_another_picture_on_a_screen_is_noticed(tmp_path):
    shutil.copytree(starter_path().parent, tmp_path, dirs_exist_ok=True)
    show = load_show(tmp_path / "show.toml")
    (tmp_path / "card.png").write_bytes(b"one")
    screens = (Screen(name="s", picture="card.png"),)
    virtual = show.file.virtual.model_copy(update={"screens": screens})
    show = replace(show, file=show.file.model_copy(update={"virtual": virtual}))
    before = made_from(show, b"")
    (tmp_path / "card.png").write_bytes(b"two")
    assert made_from(show, b"") != before
