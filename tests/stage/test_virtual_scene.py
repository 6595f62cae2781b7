"""The virtual scene as the show file asks for it: placed, lit, exposed, with its screens."""

from __future__ import annotations

import math
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image

from preview.colour import hex_to_linear
from preview.errors import AssetError, Problem, ShowError
from preview.show.model import Virtual
from preview.stage.sky import sky_radiance
from preview.stage.virtual_scene import flat_uv, load_virtual_scene
from tests.stage.gltf_builder import QUAD, QUAD_NORMALS, QUAD_UV, Gltf


def show_of(folder: Path, **virtual):
    def error(key, found, fix):
        return ShowError([Problem("show.toml", 1, 1, key, found, fix)])

    file = SimpleNamespace(virtual=Virtual(**{"mesh": "scene.gltf", **virtual}))
    return SimpleNamespace(file=file, root=folder, error=error, asset=lambda relative: folder / relative)


def glasshouse(folder: Path, *, lights=True, uv=QUAD_UV) -> Path:
    """Two walls of one material, an unlit sign, a screen; a key light of 3 lux and a lamp of 40 cd."""
    gltf = Gltf()
    wall = gltf.material(name="wall", emissiveFactor=[0.1, 0.2, 0.3])
    sign_unlit = {"KHR_materials_unlit": {}}
    sign = gltf.material(
        name="sign", extensions=sign_unlit, pbrMetallicRoughness={"baseColorFactor": [0.5, 0.25, 1, 1]}
    )
    glass = gltf.material(name="screen glass", doubleSided=True)
    card = {"NORMAL": QUAD_NORMALS, "TEXCOORD_0": uv}
    for x, name in ((0, "West wall"), (4, "East wall")):
        gltf.node(name=name, translation=[x, 0, 0], mesh=gltf.mesh(gltf.primitive(wall, **card)))
    gltf.node(name="Sign", mesh=gltf.mesh(gltf.primitive(sign, **card)))
    gltf.node(name="Caller", translation=[0, 5, 0], mesh=gltf.mesh(gltf.primitive(glass, **card)))
    gltf.node(name="Second", translation=[0, 9, 0], mesh=gltf.mesh(gltf.primitive(glass, **card)))
    if lights:
        listed = [{"type": "directional", "intensity": 3}, {"type": "point", "intensity": 40, "range": 8}]
        gltf.document["extensions"] = {"KHR_lights_punctual": {"lights": listed}}
        for number, name in enumerate(("Key", "Lamp")):
            gltf.node(name=name, extensions={"KHR_lights_punctual": {"light": number}})
    return gltf.save(folder / "scene.gltf")


def part_of(scene, screen):
    (found,) = [part for part in scene.parts if part.screen == screen]
    return found


def test_placed_and_merged(tmp_path):
    glasshouse(tmp_path)
    scene = load_virtual_scene(
        show_of(
            tmp_path,
            position_m=(0, 10, 1),
            pan_deg=90,
            scale=2,
            units="cm",
            sky={},
            screens=[{"name": "Caller"}],
        )
    )
    walls = next(part for part in scene.parts if part.material.name == "wall")
    assert walls.name == "West wall, East wall"
    # File (x, y, z) is stage (x, -z, y) times 0.02, turned 90 degrees to the left: (-y, x).
    np.testing.assert_allclose(walls.positions.min(axis=0), [0, 10, 1], atol=1e-6)
    np.testing.assert_allclose(walls.positions.max(axis=0), [0, 10.12, 1.02], atol=1e-6)
    np.testing.assert_allclose(walls.normals, [[1, 0, 0]] * 8, atol=1e-6)


def test_file_lights_scale_and_can_be_switched_off(tmp_path):
    glasshouse(tmp_path)
    key, lamp = load_virtual_scene(show_of(tmp_path, light_scale=0.5, exposure_stops=1, sky={})).lights
    assert (key.name, key.kind, key.intensity) == ("Key", "directional", pytest.approx(3.0))
    assert (lamp.intensity, lamp.range_m) == (pytest.approx(40.0), pytest.approx(8.0))
    assert load_virtual_scene(show_of(tmp_path, use_file_lights=False, sky={})).lights == ()


def test_show_lights_are_what_a_white_card_reads(tmp_path):
    """A matt white card reads intensity / pi, so a level of 1.5 is an intensity of 1.5 pi."""
    glasshouse(tmp_path, lights=False)
    lamps = [
        {"name": "Bench", "position_m": (1, 2, 3), "level": 2.0, "color": "#ff8000"},
        {
            "name": "Spot",
            "kind": "spot",
            "position_m": (0, 0, 5),
            "look_at_m": (0, 3, 1),
            "level": 1,
            "cone_deg": 40,
        },
        {"name": "Down", "kind": "spot", "position_m": (0, 0, 5), "level": 1},
    ]
    sun = {"pan_deg": 90, "height_deg": 30, "level": 1.5, "softness_deg": 2, "shadow": False}
    scene = load_virtual_scene(show_of(tmp_path, sun=sun, lights=lamps, sky={}))
    sun, bench, spot, down = scene.lights
    assert (sun.intensity, sun.softness_deg, sun.casts_shadow) == (pytest.approx(1.5 * math.pi), 2, False)
    # It stands 30 degrees high at -X (pan 90 is to the left), so its light travels to +X and down.
    np.testing.assert_allclose(sun.direction, (math.cos(math.radians(30)), 0, -0.5), atol=1e-9)
    assert bench.position == (1, 2, 3) and bench.color == hex_to_linear("#ff8000")
    assert bench.intensity == pytest.approx(2 * math.pi)
    np.testing.assert_allclose(spot.direction, (0, 0.6, -0.8), atol=1e-9)
    assert (spot.outer_cone_deg, spot.inner_cone_deg) == (20, pytest.approx(16))
    np.testing.assert_allclose(down.direction, (0, 0, -1))


def test_exposure_reaches_all_light_but_screens(tmp_path):
    glasshouse(tmp_path)
    settings = {
        "sky": {"zenith_color": "#ffffff"},
        "sun": {"level": 1},
        "screens": [{"name": "Caller", "level": 0.8}],
    }
    plain = load_virtual_scene(show_of(tmp_path, **settings))
    bright = load_virtual_scene(show_of(tmp_path, exposure_stops=2, **settings))
    np.testing.assert_allclose(
        [light.intensity for light in bright.lights], [4 * light.intensity for light in plain.lights]
    )
    up = [(0, 0, 1)]
    np.testing.assert_allclose(sky_radiance(bright.sky, up), 4 * sky_radiance(plain.sky, up))
    for before, after in zip(plain.parts, bright.parts, strict=True):
        if before.screen:
            assert after.material.emissive == before.material.emissive == (0.8, 0.8, 0.8)
        elif before.material.unlit:
            assert after.material.base_color == pytest.approx((2, 1, 4, 1))
        else:
            np.testing.assert_allclose(after.material.emissive, np.multiply(before.material.emissive, 4))
            assert after.material.base_color == before.material.base_color


def test_a_scene_without_light_gets_some_and_says_so(tmp_path):
    glasshouse(tmp_path, lights=False)
    scene = load_virtual_scene(show_of(tmp_path, exposure_stops=1))
    (sun,) = scene.lights
    assert sun.kind == "directional" and sun.direction[1] > 0 > sun.direction[2]  # from behind the cameras
    assert np.all(sky_radiance(scene.sky, [(0, 1, 0.1)]) > 0)
    assert any("neither the file nor the show has a light or a sky" in note for note in scene.notes)


def test_lights_without_a_sky_leave_it_black_and_say_so(tmp_path):
    glasshouse(tmp_path)
    scene = load_virtual_scene(show_of(tmp_path))
    assert np.all(sky_radiance(scene.sky, [(0, 0, 1)]) == 0)
    assert any("no sky in the show file" in note for note in scene.notes)


def test_lights_that_would_burn_everything_out_are_noted_with_a_remedy(tmp_path):
    gltf = Gltf()
    gltf.document["extensions"] = {"KHR_lights_punctual": {"lights": [{"type": "point", "intensity": 5435}]}}
    gltf.node(
        name="Lamp", extensions={"KHR_lights_punctual": {"light": 0}}
    )  # 100 W as some exporters write it
    gltf.node(name="Card", mesh=gltf.mesh(gltf.primitive()))
    gltf.save(tmp_path / "scene.gltf")
    (note,) = [n for n in load_virtual_scene(show_of(tmp_path, sky={})).notes if "light_scale" in n]
    assert "light 'Lamp' makes a white card about 192 times stage white" in note and "= 0.0052" in note
    assert not [
        n for n in load_virtual_scene(show_of(tmp_path, sky={}, light_scale=0.01)).notes if "light_scale" in n
    ]


def test_sky_pictures_of_the_wrong_shape_are_noted(tmp_path):
    glasshouse(tmp_path)
    Image.fromarray(np.full((4, 4, 3), 255, dtype=np.uint8)).save(tmp_path / "sky.png")
    scene = load_virtual_scene(show_of(tmp_path, sky={"image": "sky.png", "level": 0.5}, exposure_stops=1))
    assert scene.sky.image.max() == pytest.approx(1.0)
    assert any("4 x 4 pixels" in note for note in scene.notes)


# -- screens -------------------------------------------------------------------------------------


def test_screens_by_node_name(tmp_path):
    glasshouse(tmp_path)
    part = part_of(
        load_virtual_scene(show_of(tmp_path, screens=[{"name": "Caller", "level": 1.2}])), "Caller"
    )
    assert part.name == "Caller" and part.material.double_sided and part.material.unlit
    assert part.material.base_color == (0, 0, 0, 1) and part.material.emissive == (1.2, 1.2, 1.2)
    np.testing.assert_allclose(part.uv0, QUAD_UV)
    assert part.positions[:, 2].min() == pytest.approx(5)


def test_screens_by_material_name(tmp_path):
    glasshouse(tmp_path)
    scene = load_virtual_scene(show_of(tmp_path, screens=[{"name": "screen glass"}]))
    assert [part.name for part in scene.parts if part.screen] == ["Caller", "Second"]
    assert any("screen 'screen glass' is 2 parts" in note for note in scene.notes)


def test_unknown_screens_are_all_reported_with_a_guess(tmp_path):
    glasshouse(tmp_path)
    with pytest.raises(ShowError) as caught:
        load_virtual_scene(show_of(tmp_path, screens=[{"name": "Caler"}, {"name": "Caller"}, {"name": "Zz"}]))
    first, second = caught.value.problems
    assert first.key == "virtual.screens[0].name" and second.key == "virtual.screens[2].name"
    assert first.found == "scene.gltf has no node or material called 'Caler'"
    assert first.fix.startswith(
        "did you mean 'Caller'? it has: Caller, East wall, Second, Sign, West wall, screen glass"
    )
    assert second.fix.startswith("it has: ")


@pytest.mark.parametrize("uv", [None, np.zeros((4, 2), dtype=np.float32)], ids=["none", "all in one place"])
def test_screens_without_texture_coordinates_are_fitted_upright(tmp_path, uv):
    glasshouse(tmp_path, uv=uv)
    scene = load_virtual_scene(
        show_of(tmp_path, screens=[{"name": "Caller"}], pan_deg=25, position_m=(3, 1, 0))
    )
    part = part_of(scene, "Caller")
    np.testing.assert_allclose(
        part.uv0, QUAD_UV, atol=1e-6
    )  # as the card was unwrapped: v down, left to right
    assert any("fitted to its bounding rectangle" in note for note in scene.notes)


def test_screens_that_use_part_of_an_atlas_are_noted(tmp_path):
    glasshouse(tmp_path, uv=QUAD_UV / 2)
    notes = load_virtual_scene(show_of(tmp_path, screens=[{"name": "Caller"}])).notes
    assert any("spans u 0.00 to 0.50 and v 0.00 to 0.50" in note for note in notes)


def test_flat_fit_on_floors_boxes_and_curves():
    # A floor seen from above: the picture's top is away from the cameras.
    floor = np.array([[0, 0, 0], [4, 0, 0], [4, 2, 0], [0, 2, 0]], dtype=float)
    triangles = np.array([[0, 1, 2], [0, 2, 3]])
    np.testing.assert_allclose(flat_uv(floor, triangles), [[0, 1], [1, 1], [1, 0], [0, 0]], atol=1e-6)
    # A closed box: directions cancel, so its largest side that faces the cameras counts.
    import trimesh

    box = trimesh.creation.box(extents=(4, 0.5, 2))
    uv = flat_uv(box.vertices, box.faces)
    front = box.vertices[:, 1] < 0
    np.testing.assert_allclose(uv[front, 0], box.vertices[front, 0] / 4 + 0.5, atol=1e-6)
    np.testing.assert_allclose(uv[front, 1], 0.5 - box.vertices[front, 2] / 2, atol=1e-6)
    # A screen that faces away from the cameras is read from its own front.
    away = QUAD[:, [0, 2, 1]] * (-1, 1, 1)
    np.testing.assert_allclose(flat_uv(away, triangles), QUAD_UV, atol=1e-6)


def test_missing_mesh(tmp_path):
    with pytest.raises(AssetError, match=r"scene.gltf: does not exist"):
        load_virtual_scene(show_of(tmp_path))
