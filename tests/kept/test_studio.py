"""Kept pictures stand for drawn ones: bit for bit the same, and drawn anew exactly when something changed."""

import random
from collections import Counter

import numpy as np
import pytest
from PIL import Image

from preview.frame import Studio, Wanted
from preview.kept import key
from preview.kept.key import DRAWING_FILES, DRAWING_PARTS
from preview.kept.pictures import PictureStore
from preview.kept.store import Store
from preview.raster.raster import Drawn
from preview.raster.request import OuterPicture
from preview.show.load import load_show
from tests.kept.small_show import SHOW, write_clip, write_desk, write_scene, write_show
from tests.test_arrows import ARROWS, part

KINDS = ("inner", "outer", "wall", "as-shot", "return", "programme", "programme-as-shot")
"""All but the house's, whose operators take longest to make."""
FRAMES = (3, 4, 17)
"""A camera moves and a screen plays its clip; the last is in a mix."""
FEW_KINDS = ("inner", "outer", "wall", "return")
FEW_FRAMES = (4,)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return write_show(tmp_path_factory.mktemp("small")).parent


@pytest.fixture(scope="module")
def fresh(folder):
    """Every picture of FRAMES, drawn without keeping any."""
    with Studio(load_show(folder / "show.toml")) as studio:
        return looked_at(studio)


def looked_at(studio, frames=FRAMES, kinds=KINDS):
    """Pictures by frame and label."""
    return {(f, picture.label): picture for f in frames for picture in studio.pictures(f, Wanted(kinds))}


def store(folder):
    return PictureStore(Store(folder, 10**9))


def run(path, kept_in, **how):
    """All pictures of a run of a show file with a store."""
    with Studio(load_show(path), kept=store(kept_in)) as studio:
        found = looked_at(studio, **how)
        assert not [note for note in studio.notes if "kept" in note]
        return found


class OnlyRead(PictureStore):
    """A store that nothing is put into."""

    def put(self, key, picture):
        pass


def looked_up(path, kept_in, frames=FRAMES, kinds=KINDS):
    """The same run without its drawing: the pictures that were found are real, the others are black. What was
    found is what a studio draws that keeps nothing."""
    with Studio(load_show(path), kept=OnlyRead(Store(kept_in, 10**9))) as studio:
        studio.raster.draw = lambda requests, linear: (
            [Drawn(np.zeros((1, 1, 3), np.uint8), 0.0)] * len(requests)
        )
        found = looked_at(studio, frames, kinds)
    reused = {name: picture for name, picture in found.items() if picture.reused}
    if reused:
        shown = tuple({picture.kind for picture in reused.values()})
        with Studio(load_show(path)) as studio:
            expected = looked_at(studio, frames, shown)
        assert_same(reused, {name: picture for name, picture in expected.items() if name in reused})
    return found


def assert_same(found, expected):
    assert found.keys() == expected.keys()
    for name, picture in found.items():
        np.testing.assert_array_equal(picture.code, expected[name].code, err_msg=str(name))
        assert picture.off_wall == expected[name].off_wall, name


def drawn(found):
    """How many pictures of each kind were drawn, kinds without any left out."""
    return Counter(picture.kind for picture in found.values() if not picture.reused)


@pytest.fixture(scope="module")
def first(folder, tmp_path_factory, fresh):
    """A store that the first run has filled, and that run's pictures."""
    kept_in = tmp_path_factory.mktemp("first")
    return kept_in, run(folder / "show.toml", kept_in)


def test_keeping_changes_no_picture(first, fresh):
    assert_same(first[1], fresh)
    assert not any(picture.reused for picture in fresh.values())


def test_a_second_run_draws_nothing_and_shows_the_same(folder, first, fresh):
    second = run(folder / "show.toml", first[0])
    assert drawn(second) == {}
    assert_same(second, fresh)


def test_whatever_part_is_missing_is_drawn_as_ever(folder, tmp_path, fresh):
    """Which pictures are drawn together, what was drawn before, and where clips start must not show."""
    run(folder / "show.toml", tmp_path)
    chance = random.Random(3)
    for _ in range(2):
        for path in sorted(tmp_path.rglob("*.kept")):
            if chance.random() < 0.5:
                path.unlink()
        frames = chance.sample(FRAMES, len(FRAMES))
        found = run(folder / "show.toml", tmp_path, frames=frames)
        assert 0 < sum(drawn(found).values()) < len(found)
        assert_same(found, fresh)


def test_a_framing_that_changes_draws_what_shows_it_and_nothing_else(folder, tmp_path, first):
    """The third camera's framing: its inner, as-shot and return pictures; never on air, never driven, and in
    no other camera's picture."""
    path = changed(folder, tmp_path, "look_at = [0.4, 4.0, 1.8]", "look_at = [0.5, 4.0, 1.8]")
    found = looked_up(path, first[0])
    assert drawn(found) == {"inner": 3, "as-shot": 3, "return": 3}
    assert {picture.subject for picture in found.values() if not picture.reused} == {"side"}


def test_a_camera_that_moves_is_drawn_anew_in_the_pictures_it_stands_in(folder, tmp_path, first):
    """The camera "near" stands in the picture of "far", whose own framing stays. The wall is switched to
    "near", so it is also behind what everybody shoots; the return of "side" shows neither."""
    text = SHOW.replace("position_m = [-1.4, -2.5, 1.6]", "position_m = [-1.3, -2.5, 1.6]")
    path = write_show(tmp_path / "show", text)
    found = looked_up(path, first[0], frames=(3,))
    redrawn = {picture.label for picture in found.values() if not picture.reused}
    assert redrawn == {
        "inner near", "wall Wall", "as-shot near", "as-shot far", "as-shot side", "return near", "return far",
        "programme", "programme-as-shot",
    }  # fmt: skip


ALL = {"inner": 3, "outer": 1, "wall": 1, "return": 3}
"""Of FEW_KINDS in FEW_FRAMES."""


def other_title(folder):
    Image.fromarray(np.full((18, 32, 3), 90, np.uint8)).save(folder / "title.png")


def other_clip(folder):
    write_clip(folder / "caller.mp4")
    write_clip(folder / "other.mp4")
    (folder / "caller.mp4").write_bytes((folder / "other.mp4").read_bytes())


@pytest.mark.parametrize(
    "change, anew",
    [
        (lambda folder: write_scene(folder / "scene.glb", texture_seed=4), ALL),
        (lambda folder: write_desk(folder / "desk.obj", 1.3), {"return": 3}),
        (other_title, ALL),
        (other_clip, {}),  # written again, and shows the same
    ],
    ids=["texture of the virtual scene", "set piece", "picture on a screen", "clip that shows the same"],
)
def test_a_file_that_changes_draws_what_may_show_it(folder, tmp_path, first, change, anew):
    path = write_show(tmp_path / "show")
    change(path.parent)
    assert drawn(looked_up(path, first[0], FEW_FRAMES, FEW_KINDS)) == anew


@pytest.mark.parametrize(
    "old, new, anew",
    [
        ("exposure_stops = -0.5", "exposure_stops = -0.4", ALL),
        ("eye_point_m = [0.5,", "eye_point_m = [0.6,", {"outer": 1, "wall": 1, "return": 3}),
        ("white_cd_m2 = 600.0", "white_cd_m2 = 610.0", {"wall": 1, "return": 3}),
        ('title = "The Glasshouse Hour"', 'title = "Another Hour"', {}),
    ],
)
def test_a_key_of_the_show_that_changes_draws_what_depends_on_it(folder, tmp_path, first, old, new, anew):
    path = changed(folder, tmp_path, old, new)
    assert drawn(looked_up(path, first[0], FEW_FRAMES, FEW_KINDS)) == anew


def test_another_size_or_driver_or_version_shares_no_picture(folder, monkeypatch):
    show, keys = load_show(folder / "show.toml"), []

    def ask(driver="", **how):
        with Studio(show, **how) as studio:
            studio.raster.context.version += driver
            keys.extend(studio._keys.of([OuterPicture()], {}))

    ask()
    ask()
    ask(size_px=(64, 36))
    ask(samples=1)
    ask(driver="another")
    monkeypatch.setattr(key, "_program", lambda: b"another version")
    ask()
    assert keys[0] == keys[1]
    assert len(set(keys)) == len(keys) - 1


def test_a_held_frame_is_drawn_once(tmp_path, folder):
    """ "side" stands still on a wall whose screens stand still for a frame: the same picture again."""
    with Studio(load_show(folder / "show.toml"), kept=store(tmp_path)) as studio:
        again = [list(studio.pictures(frame, Wanted(("return",), ("side",)))) for frame in (2, 2, 10)]
        assert [pictures[0].reused for pictures in again] == [False, True, True], "the clip has 8 frames"
        assert again[0][0].code is again[1][0].code, "not even read again"


def test_linear_light_is_drawn_and_not_kept(tmp_path, folder, fresh):
    with Studio(load_show(folder / "show.toml"), kept=store(tmp_path)) as studio:
        for _ in range(2):
            (picture,) = studio.pictures(3, Wanted(("return",), ("far",), linear=True))
            assert not picture.reused and picture.linear.dtype == np.float32
    np.testing.assert_array_equal(picture.code, fresh[3, "return far"].code)
    assert not list(tmp_path.iterdir())


def test_a_damaged_picture_is_drawn_again_and_said(folder, tmp_path, fresh):
    with Studio(load_show(folder / "show.toml"), kept=store(tmp_path)) as studio:
        looked_at(studio, (3,), ("return",))
    paths = sorted(tmp_path.rglob("*.kept"))
    assert len(paths) == 3
    paths[0].write_bytes(paths[0].read_bytes()[:-20])
    paths[1].write_bytes(bytes(500))
    with Studio(load_show(folder / "show.toml"), kept=store(tmp_path)) as studio:
        found = looked_at(studio, (3,), ("return",))
        assert [note for note in studio.notes if "damaged" in note]
    assert drawn(found) == {"return": 2}
    assert_same(found, {name: picture for name, picture in fresh.items() if name in found})


def test_every_module_that_drawing_imports_counts_as_the_program():
    """A picture of an older program must not pass for one of this: all that the way from a request to its
    pixels imports is in the digest. ``frame.py`` itself, which mixes, is among the files."""
    reached, todo = set(), ["preview.raster.raster", "preview.stage.appearance", "preview.kept.pictures"]
    while todo:
        module = todo.pop()
        if module not in reached and module in ARROWS:
            reached.add(module)
            todo += ARROWS[module]
    parts = {part(module) for module in reached} - {""}
    assert {"raster", "camera", "stage", "colour"} <= parts
    # What is said when drawing fails is in no picture.
    assert parts - {"errors"} <= {*DRAWING_PARTS, *(name.removesuffix(".py") for name in DRAWING_FILES)}


def test_a_changed_shader_counts_as_another_program(tmp_path, monkeypatch):
    package = tmp_path / "preview"
    for name in (*DRAWING_FILES, "kept/key.py", "raster/gl/shaders/scene.frag"):
        (package / name).parent.mkdir(parents=True, exist_ok=True)
        (package / name).write_text("one")
    monkeypatch.setattr(key, "__file__", str(package / "kept" / "key.py"))
    plain = key._program.__wrapped__
    before = plain()
    (package / "raster" / "gl" / "shaders" / "scene.frag").write_text("two")
    assert plain() != before


def changed(folder, tmp_path, old, new):
    """The show with one line changed, beside copies of its files."""
    assert SHOW.count(old) == 1
    return write_show(tmp_path / "show", SHOW.replace(old, new))
