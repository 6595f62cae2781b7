"""The stage built from a show file: surfaces, headroom, set, seats, and light levels."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh

from preview.errors import AssetError, ShowError
from preview.show.load import load_show
from preview.show.model import Person, StageLight
from preview.stage.build import build_stage, seat_under, stage_ambient, stage_lights
from preview.stage.people import person_parts
from preview.stage.placement import METRES_PER_UNIT, default_up, placement_matrix
from preview.stage.sky import sky_radiance

SHOW = """
format = 1
[show]
title = "Potting Bench"
frame_rate = "25"

[stage]
eye_point_m = [0.0, -1.0, 1.5]
{white}

[[stage.surfaces]]
name = "back"
tile_size_mm = [500, 500]
pixel_pitch_mm = 2.5
columns = 8
rows = 5
peak_luminance_cd_m2 = 1500
position_m = [0, 4, 0]

[[stage.surfaces]]
name = "side"
mesh = "side.obj"
canvas_px = [400, 300]
up = "z"
peak_luminance_cd_m2 = 900

[[stage.set]]
name = "bench"
mesh = "bench.obj"
position_m = [1.0, 2.0, 0.0]
pan_deg = 90
units = "cm"
{people}

[virtual]
mesh = "bench.obj"

[[cameras]]
name = "CAM1"
number = 1
sensor = {{size_mm = [9.59, 5.39], photosites = [1920, 1080]}}
lens = {{focal_length_mm = [8, 160]}}
position_m = [0, -4, 1.6]
[[cameras.framings]]
name = "wide"
pan_deg = 0
tilt_deg = 0
focal_length_mm = 9

[[rundown]]
name = "hello"
on_air = "CAM1"
duration = 2
cameras = {{CAM1 = {{framing = "wide"}}}}
"""
SEATED = """
[[stage.people]]
name = "guest"
posture = "seated"
position_m = [{x}, {y}, 0.0]
seat_height_m = 0.45
"""


@pytest.fixture
def show(tmp_path):
    """Writes the show with its meshes and loads it; a bench 100 x 40 x 45 cm, and an upright screen."""

    def write(white="", people="", side_uv=((0, 0), (1, 0), (1, 1), (0, 1))):
        bench = trimesh.creation.box((100, 40, 45))
        bench.apply_translation((0, 0, 22.5))
        bench.export(tmp_path / "bench.obj")
        side = trimesh.Trimesh(
            [[-3, 0, 0], [-3, 3, 0], [-3, 3, 2], [-3, 0, 2]], [[0, 1, 2], [0, 2, 3]], process=False
        )
        side.visual = trimesh.visual.TextureVisuals(uv=np.array(side_uv, dtype=float))
        side.export(tmp_path / "side.obj")
        path = tmp_path / "show.toml"
        path.write_text(SHOW.format(white=white, people=people), encoding="utf-8")
        return load_show(path)

    return write


def test_surfaces_white_and_headroom(show):
    stage = build_stage(show())
    assert [surface.name for surface in stage.surfaces] == ["back", "side"]
    assert stage.white_cd_m2 == 900.0, "the lowest peak, as all walls are lined up to it"
    assert stage.headroom == pytest.approx((1500 / 900, 1.0))
    assert stage.eye_point_m == (0.0, -1.0, 1.5)
    np.testing.assert_allclose(stage.surfaces[1].normals, [[1, 0, 0]] * 2, atol=1e-9)
    assert build_stage(show(white="white_cd_m2 = 600.0")).headroom == pytest.approx((2.5, 1.5))


def test_set_pieces_are_scaled_turned_and_named(show):
    (bench,) = build_stage(show()).set.parts
    assert bench.name == "bench"
    low, high = bench.positions.min(axis=0), bench.positions.max(axis=0)
    np.testing.assert_allclose(low, (0.8, 1.5, 0.0), atol=1e-6)
    np.testing.assert_allclose(high, (1.2, 2.5, 0.45), atol=1e-6)


def test_a_seated_person_gets_a_stool_unless_the_set_has_a_seat(show):
    on_bench = build_stage(show(people=SEATED.format(x=1.0, y=2.3))).set.parts
    on_stool = build_stage(show(people=SEATED.format(x=-1.0, y=2.3))).set.parts
    assert len(on_stool) == len(on_bench) + 1
    assert {part.name for part in on_stool} == {"bench", "guest"}


@pytest.mark.parametrize(
    ("x", "y", "seat", "found"),
    [(1.0, 2.0, 0.45, True), (1.0, 2.0, 0.55, True), (1.0, 2.0, 0.60, False), (1.3, 2.0, 0.45, False)],
)
def test_what_counts_as_a_seat(show, x, y, seat, found):
    parts = list(build_stage(show()).set.parts)
    person = Person(name="guest", posture="seated", position_m=(x, y, 0.0), seat_height_m=seat)
    assert seat_under(person, parts) is found
    assert seat_under(person.model_copy(update={"posture": "standing"}), parts)


def test_people_stand_where_the_show_says(show):
    people = '[[stage.people]]\nname = "host"\nposition_m = [-1.5, 2.5, 0.2]\nheight_m = 1.8\n'
    stage = build_stage(show(people=people))
    host = np.concatenate([part.positions for part in stage.set.parts if part.name == "host"])
    np.testing.assert_allclose(np.median(host[:, :2], axis=0), (-1.5, 2.5), atol=0.1)
    assert host[:, 2].min() == pytest.approx(0.2, abs=0.005)
    expected = sum(len(part.triangles) for part in person_parts(Person(name="host", height_m=1.8)))
    assert sum(len(part.triangles) for part in stage.set.parts if part.name == "host") == expected


def card_radiance(light, normal):
    """What a white matt card reads: intensity / pi times the cosine (docstring of ``Light``)."""
    cosine = max(0.0, float(np.dot(normal, np.negative(light.direction))))
    return light.intensity / math.pi * cosine * np.array(light.color)


def test_key_and_fill_read_their_levels_on_a_card_facing_them():
    settings = StageLight(
        key_level=0.8, fill_level=0.3, key_pan_deg=-35, key_height_deg=40, key_color="#ffffff"
    )
    key, fill = stage_lights(settings)
    pan, height = math.radians(-35), math.radians(40)
    towards_key = (math.sin(pan) * math.cos(height), -math.cos(pan) * math.cos(height), math.sin(height))
    np.testing.assert_allclose(card_radiance(key, towards_key), 0.8)
    np.testing.assert_allclose(card_radiance(fill, np.negative(fill.direction)), 0.3)
    assert towards_key[0] < 0, "a negative pan comes from -X"
    assert -fill.direction[0] > 0 > fill.direction[2], "the fill comes from the other side, from above"
    assert -key.direction[1] < 0 and -fill.direction[1] < 0, "both come from the cameras' side"
    assert key.casts_shadow and key.softness_deg > 0 and not fill.casts_shadow
    assert stage_lights(StageLight(fill_level=0.0)) == (stage_lights(StageLight())[0],)


def test_ambient_light_is_even():
    """Under an even sky of radiance L a white matt card sends back L. Closed form."""
    sky = stage_ambient(StageLight(ambient_level=0.17))
    directions = np.random.default_rng(0).normal(size=(500, 3))
    directions /= np.linalg.norm(directions, axis=1, keepdims=True)
    np.testing.assert_allclose(sky_radiance(sky, directions), 0.17, rtol=1e-6)
    assert sky.ambient == 1.0


def test_unusable_files_are_named(show, tmp_path):
    ready = show(side_uv=((0, 0), (1, 0), (1, 1), (0, 9)))
    with pytest.raises(AssetError, match=r"side\.obj: texture coordinates run from 0 to 9"):
        build_stage(ready)
    ready = show()
    (tmp_path / "bench.obj").unlink()
    with pytest.raises(AssetError, match=r"bench\.obj"):
        build_stage(ready)


def test_problems_of_a_surface_keep_their_place_in_the_file(show):
    """Only what the loader does not check itself can get this far; it still gets line and key."""
    ready = show()
    file = ready.file
    broken = file.stage.surfaces[0].model_copy(update={"rows": None, "pixel_pitch_mm": None})
    stage = file.stage.model_copy(update={"surfaces": (broken, *file.stage.surfaces[1:])})
    ready = type(ready)(
        ready.path, ready.root, ready.sha256, file.model_copy(update={"stage": stage}), (), ready.document
    )
    with pytest.raises(ShowError) as caught:
        build_stage(ready)
    assert [problem.key for problem in caught.value.problems] == [
        "stage.surfaces[0].pixel_pitch_mm",
        "stage.surfaces[0].rows",
    ]
    assert all(problem.line > 0 for problem in caught.value.problems)


# Placement ------------------------------------------------------------------------------------------


def test_placement_of_a_y_up_file():
    matrix = placement_matrix(up="y")
    np.testing.assert_allclose(matrix @ [0, 0, -1, 1], [0, 1, 0, 1], atol=1e-12)
    np.testing.assert_allclose(matrix @ [1, 0, 0, 1], [1, 0, 0, 1], atol=1e-12)
    np.testing.assert_allclose(matrix @ [0, 1, 0, 1], [0, 0, 1, 1], atol=1e-12)


def test_placement_turns_left_scales_and_moves():
    matrix = placement_matrix((1, 2, 3), 90, 2.0, "ft", "z")
    np.testing.assert_allclose(matrix @ [0, 1, 0, 1], [1 - 0.6096, 2, 3, 1], atol=1e-12)
    assert np.linalg.det(matrix[:3, :3]) == pytest.approx(0.6096**3)


def test_units_and_up_axes():
    """International inch and foot: 25.4 mm and 12 inches exactly (1959 agreement)."""
    expected = {"m": 1, "cm": 0.01, "mm": 0.001, "in": 0.0254, "ft": 12 * 0.0254}
    assert pytest.approx(expected) == METRES_PER_UNIT
    assert [default_up(name) for name in ("a.GLB", "b.gltf", "c.obj", "d.ply", "e.stl")] == list("yyzzz")
    for wrong in ({"units": "yd"}, {"up": "x"}):
        with pytest.raises(ValueError, match=r"is (not one of|neither)"):
            placement_matrix(**wrong)
