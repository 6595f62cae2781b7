"""``preview new`` gives a show that loads at once, and never touches what is there."""

import numpy as np
import pytest
import trimesh

from preview.errors import OutputError
from preview.show.load import load_show
from preview.starter import write_starter
from preview.timeline.timeline import Timeline


def test_the_show_loads_without_a_word(tmp_path):
    show = load_show(write_starter(tmp_path / "mine"))
    assert show.notes == ()
    assert Timeline(show).frame_count == 11 * 25
    assert sorted(path.name for path in (tmp_path / "mine").rglob("*.*")) == ["garden_room.glb", "show.toml"]


def test_the_scene_stands_right_on_the_stage_in_metres(tmp_path):
    """Read by another library, whose file is Y up: floor at zero, 4.2 m high, lawn beyond the far end."""
    write_starter(tmp_path)
    scene = trimesh.load(tmp_path / "scenes" / "garden_room.glb")
    assert {"floor", "plaster", "timber", "leaves"} <= set(scene.geometry)
    _, high, deep = scene.geometry["plaster"].bounds.T
    assert high == pytest.approx([0, 4.2])
    assert deep == pytest.approx([-10.0, 8.1])
    assert scene.geometry["floor"].bounds[1][1] == pytest.approx(0, abs=1e-6)
    assert scene.geometry["lawn"].bounds[0][2] < -10
    for mesh in scene.geometry.values():
        assert mesh.is_volume or mesh.body_count > 1
        assert np.isfinite(mesh.vertices).all()


@pytest.mark.parametrize("name", ["show.toml", "notes.txt"])
def test_a_folder_with_anything_in_it_is_left_alone(tmp_path, name):
    (tmp_path / name).write_text("mine")
    with pytest.raises(OutputError, match="is not empty; name a new or an empty folder"):
        write_starter(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).read_text() == "mine"


def test_an_empty_folder_may_be_there_already(tmp_path):
    assert write_starter(tmp_path).is_file()


def test_a_file_in_the_way_is_told(tmp_path):
    (tmp_path / "mine").write_text("x")
    with pytest.raises(OutputError, match="a file stands where"):
        write_starter(tmp_path / "mine")
