"""Everything a glTF scene says arrives: by value, in stage coordinates.

Source of the expected behaviour: glTF 2.0 (ISO/IEC 12113:2022) and the Khronos extension texts. With
``placement_matrix(up="y")``, file (x, y, z) becomes stage (x, -z, y).
"""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
import trimesh

from preview.errors import AssetError
from preview.stage.gltf_file import as_numbers
from preview.stage.meshfile import load_mesh_file, read_mesh_file
from preview.stage.normals import area_normals
from preview.stage.placement import placement_matrix
from tests.stage.gltf_builder import (
    QUAD,
    QUAD_NORMALS,
    QUAD_TRIANGLES,
    QUAD_UV,
    Gltf,
    glb,
    png_bytes,
    quad_file,
)

Y_UP = placement_matrix(up="y")
RED = np.full((2, 2, 3), (255, 0, 0), dtype=np.uint8)


def stage(points):
    x, y, z = np.asarray(points, dtype=np.float64).reshape(-1, 3).T
    return np.stack([x, -z, y], axis=1)


def read(gltf: Gltf, folder: Path, name: str = "scene.gltf", matrix=Y_UP):
    return read_mesh_file(gltf.save(folder / name), matrix)


def one_part(gltf: Gltf, folder: Path):
    (part,) = read(gltf, folder).parts
    return part


def material_of(folder: Path, gltf: Gltf | None = None, **entry):
    gltf = gltf or Gltf()
    gltf.node(name="Card", mesh=gltf.mesh(gltf.primitive(gltf.material(**entry), TEXCOORD_0=QUAD_UV)))
    return one_part(gltf, folder).material


def fronts(part):
    """Unit normals from the triangles' winding, one each."""
    normals = area_normals(part.positions, part.triangles)
    return normals / np.linalg.norm(normals, axis=1, keepdims=True)


# -- geometry ------------------------------------------------------------------------------------


def test_axes_units_and_names(tmp_path):
    scene = read_mesh_file(quad_file(tmp_path / "a.gltf"), placement_matrix((10, 20, 30), up="y", units="cm"))
    (part,) = scene.parts
    assert part.name == "Card"
    corners = part.positions[np.unique(part.triangles)]
    expected = stage(QUAD) * 0.01 + (10, 20, 30)
    assert {tuple(p) for p in corners.round(4)} == {tuple(p) for p in expected.astype(np.float32).round(4)}
    np.testing.assert_allclose(fronts(part), [[0, -1, 0]] * 2, atol=1e-6)  # +Z faces the cameras (-Y)


def test_nested_transforms_multiply(tmp_path):
    gltf = Gltf()
    half = math.sqrt(0.5)
    outer = gltf.node(name="Outer", translation=[1, 2, 3], rotation=[0, half, 0, half])  # +90 about Y
    inner = gltf.node(outer, name="Inner", scale=[2, 2, 2])
    gltf.node(inner, name="Card", translation=[0, 0, 1], mesh=gltf.mesh(gltf.primitive(NORMAL=QUAD_NORMALS)))
    part = one_part(gltf, tmp_path)
    # Local (x, y, z + 1), doubled, turned: (x, y, z) -> (z, y, -x), moved.
    local = np.add(QUAD, (0, 0, 1)) * 2
    world = np.stack([local[:, 2], local[:, 1], -local[:, 0]], axis=1)
    world += (1, 2, 3)
    np.testing.assert_allclose(part.positions, stage(world), atol=1e-5)
    np.testing.assert_allclose(part.normals, stage([[1, 0, 0]] * 4), atol=1e-6)


def test_column_major_matrix(tmp_path):
    gltf = Gltf()
    matrix = np.eye(4)
    matrix[:3, 3] = 5, 6, 7
    gltf.node(name="Card", matrix=matrix.T.reshape(-1).tolist(), mesh=gltf.mesh(gltf.primitive()))
    part = one_part(gltf, tmp_path)
    np.testing.assert_allclose(part.positions.min(axis=0), stage([[5, 6, 7]])[0], atol=1e-6)


def test_world_matrices_agree_with_trimesh(tmp_path):
    rng = np.random.default_rng(4)
    gltf, parent = Gltf(), None
    for depth in range(5):
        turn = rng.normal(size=4)
        parent = gltf.node(
            parent,
            name=f"N{depth}",
            translation=rng.normal(size=3).tolist(),
            rotation=(turn / np.linalg.norm(turn)).tolist(),
            scale=rng.uniform(0.5, 2, size=3).tolist(),
            mesh=gltf.mesh(gltf.primitive(NORMAL=QUAD_NORMALS)),
        )
    path = gltf.save(tmp_path / "chain.gltf")
    ours = {part.name: part for part in read_mesh_file(path, np.eye(4)).parts}
    theirs = trimesh.load_scene(path, process=False)
    for name, part in ours.items():
        matrix, geometry = theirs.graph[name]
        vertices = trimesh.transform_points(theirs.geometry[geometry].vertices, matrix)
        np.testing.assert_allclose(np.sort(part.positions, axis=0), np.sort(vertices, axis=0), atol=1e-5)
        # A plane's transformed normal is still square to it.
        np.testing.assert_allclose(np.abs((fronts(part) * part.normals[:2]).sum(axis=1)), 1, atol=1e-5)


@pytest.mark.parametrize("scale", [[-1, 1, 1], [1, -1, 1], [-1, -1, -1]])
def test_mirrored_nodes_keep_their_fronts(tmp_path, scale):
    gltf = Gltf()
    gltf.node(name="Card", scale=scale, mesh=gltf.mesh(gltf.primitive(NORMAL=QUAD_NORMALS)))
    part = one_part(gltf, tmp_path)
    front = stage([[0, 0, scale[2]]])[0]
    np.testing.assert_allclose(part.normals, [front] * 4, atol=1e-6)
    np.testing.assert_allclose(fronts(part), [front] * 2, atol=1e-6)


def test_missing_normals_are_flat_even_across_a_shallow_edge(tmp_path):
    roof = np.array([[0, 0, 0], [1, 0.1, 0], [1, 0.1, 1], [0, 0, 1], [2, 0, 0], [2, 0, 1]], dtype=np.float32)
    gltf = Gltf()
    indices = np.array([0, 2, 1, 0, 3, 2, 1, 2, 5, 1, 5, 4], dtype=np.uint16)
    gltf.node(name="Roof", mesh=gltf.mesh(gltf.primitive(POSITION=roof, indices=indices)))
    part = one_part(gltf, tmp_path)
    assert len(part.positions) == 8  # the ridge's two points twice, once for each side
    expected = np.repeat(fronts(part)[:, None], 3, axis=1)
    np.testing.assert_allclose(part.normals[part.triangles], expected, atol=1e-6)
    assert len({tuple(n) for n in part.normals.round(3)}) == 2


def test_zero_length_normals_are_replaced_and_noted(tmp_path):
    gltf = Gltf()
    gltf.node(name="Card", mesh=gltf.mesh(gltf.primitive(NORMAL=np.zeros_like(QUAD_NORMALS))))
    scene = read(gltf, tmp_path)
    np.testing.assert_allclose(scene.parts[0].normals, [[0, -1, 0]] * 4, atol=1e-6)
    assert any("normals have no length" in note for note in scene.notes)


def test_without_indices_and_as_strip_and_fan(tmp_path):
    gltf = Gltf()
    corners = QUAD[QUAD_TRIANGLES]
    plain = gltf.primitive(POSITION=corners, indices=None)
    strip = gltf.primitive(indices=np.array([0, 1, 3, 2], dtype=np.uint8)) | {"mode": 5}
    fan = gltf.primitive(indices=np.array([0, 1, 2, 3], dtype=np.uint32)) | {"mode": 6}
    for name, primitive in (("plain", plain), ("strip", strip), ("fan", fan)):
        gltf.node(name=name, mesh=gltf.mesh(primitive))
    for part in read(gltf, tmp_path).parts:
        np.testing.assert_allclose(fronts(part), [[0, -1, 0]] * 2, atol=1e-6, err_msg=part.name)
        assert np.linalg.norm(
            area_normals(part.positions, part.triangles), axis=1
        ).sum() / 2 == pytest.approx(2)


def test_points_and_lines_are_left_out_with_a_note(tmp_path):
    gltf = Gltf()
    modes = [gltf.primitive(indices=None) | {"mode": mode} for mode in (0, 1, 3)]
    gltf.node(name="Mixed", mesh=gltf.mesh(gltf.primitive(), *modes))
    scene = read(gltf, tmp_path)
    assert len(scene.parts) == 1
    assert [n for n in scene.notes if "left out" in n] == [
        "scene.gltf: points are left out; only surfaces are drawn",
        "scene.gltf: lines are left out; only surfaces are drawn",
    ]


def test_instances_duplicate_names_and_the_scene_chosen(tmp_path):
    gltf = Gltf()
    mesh = gltf.mesh(gltf.primitive())
    for x in (0, 5):
        gltf.node(name="Sign", translation=[x, 0, 0], mesh=mesh)
    gltf.append("nodes", {"name": "Elsewhere", "mesh": mesh})
    gltf.document["scenes"].append({"nodes": [2]})
    scene = read(gltf, tmp_path)
    assert [part.name for part in scene.parts] == ["Sign", "Sign"]
    assert [part.positions[:, 0].min() for part in scene.parts] == [0, 5]
    assert any("2 scenes" in note for note in scene.notes)
    gltf.document["scene"] = 1
    assert one_part(gltf, tmp_path).name == "Elsewhere"


def test_names_fall_back_to_the_mesh(tmp_path):
    gltf = Gltf()
    gltf.node(mesh=gltf.mesh(gltf.primitive(), name="Lattice"))
    gltf.node(mesh=gltf.mesh(gltf.primitive()))
    assert [part.name for part in read(gltf, tmp_path).parts] == ["Lattice", "node 1"]


def test_sparse_accessors(tmp_path):
    gltf = Gltf()
    position = gltf.accessor(QUAD)
    changed = {"count": 1, "indices": {"bufferView": gltf.view(b"\x02\0"), "componentType": 5123}}
    changed["values"] = {"bufferView": gltf.view(np.float32([3, 4, 5]).tobytes())}
    gltf.list("accessors")[position]["sparse"] = changed
    zeros = gltf.append("accessors", {"componentType": 5126, "count": 4, "type": "VEC2"})
    gltf.node(
        name="Card", mesh=gltf.mesh(gltf.primitive(POSITION=position, NORMAL=QUAD_NORMALS, TEXCOORD_0=zeros))
    )
    part = one_part(gltf, tmp_path)
    np.testing.assert_allclose(part.positions[2], stage([[3, 4, 5]])[0])
    np.testing.assert_allclose(part.positions[1], stage(QUAD[1:2])[0])
    np.testing.assert_array_equal(part.uv0, np.zeros((4, 2)))


def test_interleaved_buffers(tmp_path):
    rows = np.concatenate([QUAD, QUAD_NORMALS, QUAD_UV], axis=1).astype(np.float32)
    gltf = Gltf()
    view = gltf.view(rows.tobytes(), stride=32)
    ids = [
        gltf.append(
            "accessors",
            {"bufferView": view, "byteOffset": at, "componentType": 5126, "count": 4, "type": kind},
        )
        for at, kind in ((0, "VEC3"), (12, "VEC3"), (24, "VEC2"))
    ]
    gltf.node(name="Card", mesh=gltf.mesh(gltf.primitive(POSITION=ids[0], NORMAL=ids[1], TEXCOORD_0=ids[2])))
    part = one_part(gltf, tmp_path)
    np.testing.assert_allclose(part.positions, stage(QUAD))
    np.testing.assert_allclose(part.uv0, QUAD_UV)


def test_quantised_attributes(tmp_path):
    gltf = Gltf()
    gltf.use("KHR_mesh_quantization", required=True)
    position = gltf.accessor((QUAD * 100).astype(np.int16))
    normal = gltf.accessor((QUAD_NORMALS * 127).astype(np.int8), normalized=True)
    uv = gltf.accessor((QUAD_UV * 65535).astype(np.uint16), normalized=True)
    primitive = gltf.primitive(POSITION=position, NORMAL=normal, TEXCOORD_0=uv)
    gltf.node(name="Card", scale=[0.01, 0.01, 0.01], mesh=gltf.mesh(primitive))
    part = one_part(gltf, tmp_path)
    np.testing.assert_allclose(part.positions, stage(QUAD), atol=1e-6)
    np.testing.assert_allclose(part.normals, [[0, -1, 0]] * 4, atol=1e-6)
    np.testing.assert_allclose(part.uv0, QUAD_UV)


def test_normalised_integers_follow_the_table():
    """glTF 2.0, 3.6.2.4: max(c / 127, -1), c / 255, max(c / 32767, -1), c / 65535."""
    cases = {
        np.int8: (-128, -127, 127),
        np.uint8: (0, 51, 255),
        np.int16: (-32768, 0, 32767),
        np.uint16: (0, 13107, 65535),
    }
    found = [as_numbers(np.array(values, dtype=kind), True).tolist() for kind, values in cases.items()]
    assert found == [[-1, -1, 1], [0, 0.2, 1], [-1, 0, 1], [0, 0.2, 1]]


def test_second_texture_coordinates(tmp_path):
    gltf = Gltf()
    gltf.node(
        name="Card",
        mesh=gltf.mesh(gltf.primitive(NORMAL=QUAD_NORMALS, TEXCOORD_0=QUAD_UV, TEXCOORD_1=QUAD_UV / 2)),
    )
    part = one_part(gltf, tmp_path)
    np.testing.assert_allclose(part.uv1, QUAD_UV / 2)


@pytest.mark.parametrize(
    ("colors", "extra", "expected"),
    [
        (np.float32([[0.25, 0.5, 2.0]] * 4), {}, [0.25, 0.5, 2.0, 1.0]),
        (np.uint8([[51, 102, 255, 128]] * 4), {"normalized": True}, [0.2, 0.4, 1.0, 128 / 255]),
        (np.uint16([[13107, 0, 65535]] * 4), {"normalized": True}, [0.2, 0.0, 1.0, 1.0]),
        (np.uint8([[51, 102, 255, 255]] * 4), {}, [0.2, 0.4, 1.0, 1.0]),
    ],
    ids=["float rgb", "u8 rgba", "u16 rgb", "u8 with the flag forgotten"],
)
def test_vertex_colours_are_linear(tmp_path, colors, extra, expected):
    gltf = Gltf()
    gltf.node(
        name="Card",
        mesh=gltf.mesh(gltf.primitive(NORMAL=QUAD_NORMALS, COLOR_0=gltf.accessor(colors, **extra))),
    )
    part = one_part(gltf, tmp_path)
    np.testing.assert_allclose(part.colors, [expected] * 4, rtol=1e-6)
    assert part.material.base_color == (1, 1, 1, 1)


def test_gpu_instancing(tmp_path):
    gltf = Gltf()
    gltf.use("EXT_mesh_gpu_instancing", required=True)
    where = gltf.accessor(np.float32([[0, 0, 0], [10, 0, 0], [0, 20, 0]]))
    size = gltf.accessor(np.float32([[1, 1, 1], [2, 2, 2], [1, 1, 1]]))
    extension = {"EXT_mesh_gpu_instancing": {"attributes": {"TRANSLATION": where, "SCALE": size}}}
    gltf.node(name="Pot", translation=[1, 0, 0], mesh=gltf.mesh(gltf.primitive()), extensions=extension)
    parts = read(gltf, tmp_path).parts
    assert [part.name for part in parts] == ["Pot"] * 3
    np.testing.assert_allclose([p.positions.max(axis=0) for p in parts], [[3, 0, 1], [15, 0, 2], [3, 0, 21]])


def test_hidden_nodes_and_their_children_are_not_drawn(tmp_path):
    gltf = Gltf()
    gltf.use("KHR_node_visibility")
    mesh = gltf.mesh(gltf.primitive())
    hidden = gltf.node(name="Hidden", mesh=mesh, extensions={"KHR_node_visibility": {"visible": False}})
    gltf.node(hidden, name="Below", mesh=mesh)
    gltf.node(name="Shown", mesh=mesh)
    assert [part.name for part in read(gltf, tmp_path).parts] == ["Shown"]


def test_skins_are_posed_at_rest(tmp_path):
    gltf = Gltf()
    joint = gltf.node(name="Bone", translation=[0, 3, 0])
    tip = gltf.node(joint, name="Tip", translation=[0, 1, 0], scale=[2, 2, 2])
    bind = np.tile(np.eye(4, dtype=np.float32), (2, 1, 1))
    bind[1, :3, 3] = 0, -1, 0
    matrices = gltf.accessor(bind.transpose(0, 2, 1).reshape(2, 16).copy())
    skin = gltf.append("skins", {"joints": [joint, tip], "inverseBindMatrices": matrices})
    joints = np.uint8([[0, 0, 0, 0], [0, 0, 0, 0], [1, 0, 0, 0], [0, 1, 0, 0]])
    # The second vertex has no weight at all and follows its first joint.
    weights = np.float32([[1, 0, 0, 0], [0, 0, 0, 0], [1, 0, 0, 0], [0.5, 0.5, 0, 0]])
    primitive = gltf.primitive(JOINTS_0=joints, WEIGHTS_0=weights, NORMAL=QUAD_NORMALS)
    # The skinned node's own transform must not count (glTF 2.0, 3.7.3.3).
    gltf.node(name="Body", translation=[100, 0, 0], mesh=gltf.mesh(primitive), skin=skin)
    gltf.append("animations", {"channels": [], "samplers": []})
    scene = read(gltf, tmp_path)
    bone, end = np.add(QUAD, (0, 3, 0)), np.add(QUAD * 2, (0, 2, 0))
    expected = [bone[0], bone[1], end[2], (bone[3] + end[3]) / 2]
    np.testing.assert_allclose(scene.parts[0].positions, stage(expected), atol=1e-5)
    np.testing.assert_allclose(scene.parts[0].normals, [[0, -1, 0]] * 4, atol=1e-6)
    assert "scene.gltf: has 1 skin and 1 animation; the rest pose is drawn" in scene.notes


def test_morph_weights_of_the_rest_pose(tmp_path):
    gltf = Gltf()
    primitive = gltf.primitive(NORMAL=QUAD_NORMALS) | {
        "targets": [
            {"POSITION": gltf.accessor(np.float32([[0, 0, 4]] * 4))},
            {"POSITION": gltf.accessor(QUAD)},
        ]
    }
    mesh = gltf.mesh(primitive, weights=[0.5, 0.0])
    gltf.node(name="A", mesh=mesh)
    gltf.node(name="B", mesh=mesh, weights=[0.0, 1.0])
    scene = read(gltf, tmp_path)
    np.testing.assert_allclose(scene.parts[0].positions, stage(np.add(QUAD, (0, 0, 2))))
    np.testing.assert_allclose(scene.parts[1].positions, stage(QUAD * 2))
    assert any("1 morphing mesh; the rest pose" in note for note in scene.notes)


# -- lights and cameras --------------------------------------------------------------------------


def test_lights_in_stage_coordinates(tmp_path):
    gltf = Gltf()
    gltf.use("KHR_lights_punctual", required=True)
    gltf.document["extensions"] = {
        "KHR_lights_punctual": {
            "lights": [
                {"type": "directional", "intensity": 3, "color": [1, 0.5, 0.25]},
                {"type": "point", "intensity": 40, "range": 8},
                {"type": "spot", "spot": {"innerConeAngle": 0.2, "outerConeAngle": 0.5}},
                {"type": "spot", "spot": {}},
            ]
        }
    }

    def lamp(index, parent=None, **entry):
        gltf.node(parent, extensions={"KHR_lights_punctual": {"light": index}}, **entry)

    half = math.sqrt(0.5)
    lamp(0, name="Key", rotation=[-half, 0, 0, half])  # -Z turned to -Y: straight down
    boom = gltf.node(name="Boom", translation=[0, 4, 0], rotation=[0, half, 0, half], scale=[3, 3, 3])
    lamp(1, boom, name="Bulb", translation=[0, 0, -1])  # 3 m along the boom's -Z, which is world -X
    lamp(2, boom, name="Spot")
    lamp(3, name="Plain spot")
    gltf.node(name="Card", mesh=gltf.mesh(gltf.primitive()))
    scene = read(gltf, tmp_path, matrix=placement_matrix((0, 0, 1), up="y", scale=2.0))
    key, bulb, spot, plain = scene.lights
    assert (key.kind, key.name, key.intensity, key.casts_shadow) == ("directional", "Key", 3.0, True)
    assert key.color == (1, 0.5, 0.25)
    np.testing.assert_allclose(key.direction, (0, 0, -1), atol=1e-9)
    np.testing.assert_allclose(bulb.position, (-6, 0, 9), atol=1e-9)
    # Twice the size: the same look needs four times the candela and twice the range.
    assert (bulb.kind, bulb.intensity, bulb.range_m) == ("point", pytest.approx(160), pytest.approx(16))
    np.testing.assert_allclose(spot.direction, (-1, 0, 0), atol=1e-9)
    assert spot.inner_cone_deg == pytest.approx(math.degrees(0.2))
    assert spot.outer_cone_deg == pytest.approx(math.degrees(0.5))
    assert spot.range_m is None and spot.intensity == pytest.approx(4.0)  # default 1 cd
    assert (plain.inner_cone_deg, plain.outer_cone_deg) == (0.0, pytest.approx(45.0))


def test_cameras_are_counted(tmp_path):
    gltf = Gltf()
    gltf.append("cameras", {"type": "perspective", "perspective": {"yfov": 0.6, "znear": 0.1}})
    gltf.append(
        "cameras", {"type": "orthographic", "orthographic": {"xmag": 1, "ymag": 1, "zfar": 9, "znear": 0}}
    )
    pedestal = gltf.node(name="Pedestal", camera=0)
    gltf.node(pedestal, name="Nested", camera=1)
    gltf.node(name="Card", mesh=gltf.mesh(gltf.primitive()))
    assert "scene.gltf: its 2 cameras are not used; the show file's cameras are" in read(gltf, tmp_path).notes


# -- materials and textures ----------------------------------------------------------------------


def test_metallic_roughness_values_and_defaults(tmp_path):
    surface = {"baseColorFactor": [0.1, 0.2, 0.3, 0.4], "metallicFactor": 0.25, "roughnessFactor": 0.75}
    material = material_of(
        tmp_path, name="Slate", pbrMetallicRoughness=surface, doubleSided=True, emissiveFactor=[0.5, 0.25, 0]
    )
    assert material.name == "Slate" and material.base_color == (0.1, 0.2, 0.3, 0.4)
    assert (material.metallic, material.roughness, material.double_sided) == (0.25, 0.75, True)
    assert material.emissive == (0.5, 0.25, 0.0) and material.alpha_mode == "opaque"
    bare = material_of(tmp_path)
    assert (bare.metallic, bare.roughness, bare.double_sided) == (1.0, 1.0, False)
    assert bare.base_color == (1, 1, 1, 1) and bare.emissive == (0, 0, 0)


def test_emissive_strength_is_multiplied_in(tmp_path):
    strength = {"KHR_materials_emissive_strength": {"emissiveStrength": 8.0}}
    assert material_of(tmp_path, emissiveFactor=[1, 0.5, 0.1], extensions=strength).emissive == pytest.approx(
        (8, 4, 0.8)
    )


def test_unlit_shows_its_base_colour_only(tmp_path):
    material = material_of(tmp_path, emissiveFactor=[1, 1, 1], extensions={"KHR_materials_unlit": {}})
    assert material.unlit and material.emissive == (0, 0, 0)


@pytest.mark.parametrize("mode", ["OPAQUE", "MASK", "BLEND"])
def test_alpha_modes(tmp_path, mode):
    material = material_of(tmp_path, alphaMode=mode, alphaCutoff=0.3)
    assert (material.alpha_mode, material.alpha_cutoff) == (mode.lower(), 0.3)


def test_textures_know_whether_they_are_colour_or_data(tmp_path):
    gltf = Gltf()
    index = gltf.texture(RED)
    material = material_of(
        tmp_path,
        gltf,
        pbrMetallicRoughness={
            "baseColorTexture": {"index": index},
            "metallicRoughnessTexture": {"index": index},
        },
        emissiveTexture={"index": index},
        normalTexture={"index": index, "scale": 0.5},
        occlusionTexture={"index": index, "strength": 0.7, "texCoord": 1},
    )
    assert material.base_color_texture.srgb and material.emissive_texture.srgb
    assert not material.metallic_roughness_texture.srgb and not material.normal_texture.srgb
    assert (material.normal_scale, material.occlusion_strength) == (0.5, 0.7)
    assert (material.occlusion_texture.uv_set, material.base_color_texture.uv_set) == (1, 0)
    np.testing.assert_array_equal(material.base_color_texture.image, np.full((2, 2, 4), (255, 0, 0, 255)))
    np.testing.assert_array_equal(material.base_color_texture.uv_transform, np.eye(3))


def test_samplers(tmp_path):
    gltf = Gltf()
    index = gltf.texture(RED, {"wrapS": 33071, "wrapT": 33648, "magFilter": 9728})
    plain = gltf.texture(RED)
    material = material_of(
        tmp_path,
        gltf,
        pbrMetallicRoughness={"baseColorTexture": {"index": index}},
        emissiveTexture={"index": plain},
    )
    texture, default = material.base_color_texture, material.emissive_texture
    assert (texture.wrap_s, texture.wrap_t, texture.nearest) == ("clamp", "mirror", True)
    assert (default.wrap_s, default.wrap_t, default.nearest) == ("repeat", "repeat", False)


def test_texture_transform_of_the_extensions_own_example(tmp_path):
    """KHR_texture_transform, "Example JSON": lower left quadrant of the image, turned clockwise."""
    gltf = Gltf()
    transform = {"offset": [0, 1], "rotation": 1.57079632679, "scale": [0.5, 0.5], "texCoord": 1}
    info = {"index": gltf.texture(RED), "extensions": {"KHR_texture_transform": transform}}
    texture = material_of(tmp_path, gltf, pbrMetallicRoughness={"baseColorTexture": info}).base_color_texture
    assert texture.uv_set == 1
    corners = np.array([[0, 0, 1], [1, 0, 1], [1, 1, 1], [0, 1, 1]]) @ texture.uv_transform.T
    np.testing.assert_allclose(corners[:, 0].min(), 0, atol=1e-9)
    np.testing.assert_allclose(corners[:, :2].max(axis=0), [0.5, 1.0], atol=1e-9)
    np.testing.assert_allclose(corners[:, 1].min(), 0.5, atol=1e-9)
    # The surface's top left shows the quadrant's bottom left: the picture is turned clockwise.
    np.testing.assert_allclose(corners[0, :2], [0.0, 1.0], atol=1e-9)
    np.testing.assert_allclose(corners[1, :2], [0.0, 0.5], atol=1e-9)


def test_texture_transform_scales_before_it_turns(tmp_path):
    gltf = Gltf()
    transform = {"rotation": math.pi / 6, "scale": [2, 3]}
    info = {"index": gltf.texture(RED), "extensions": {"KHR_texture_transform": transform}}
    matrix = material_of(tmp_path, gltf, emissiveTexture=info).emissive_texture.uv_transform
    c, s = math.cos(math.pi / 6), math.sin(math.pi / 6)
    np.testing.assert_allclose(matrix[:2, :2], [[2 * c, 3 * s], [-2 * s, 3 * c]], atol=1e-12)


def test_specular_glossiness_is_converted_and_noted(tmp_path):
    gltf = Gltf()
    gloss = {
        "diffuseFactor": [0.2, 0.3, 0.4, 1],
        "glossinessFactor": 0.75,
        "diffuseTexture": {"index": gltf.texture(RED)},
    }
    gltf.use("KHR_materials_pbrSpecularGlossiness", required=True)
    material = gltf.material(extensions={"KHR_materials_pbrSpecularGlossiness": gloss})
    gltf.node(name="Card", mesh=gltf.mesh(gltf.primitive(material)))
    scene = read(gltf, tmp_path)
    result = scene.parts[0].material
    assert (result.base_color, result.metallic, result.roughness) == ((0.2, 0.3, 0.4, 1), 0.0, 0.25)
    assert result.base_color_texture.srgb
    assert any("specular-glossiness" in note for note in scene.notes)


def test_transmission_becomes_see_through(tmp_path):
    gltf = Gltf()
    gltf.use("KHR_materials_transmission")
    pane = gltf.material(extensions={"KHR_materials_transmission": {"transmissionFactor": 1.0}})
    gltf.node(name="Pane", mesh=gltf.mesh(gltf.primitive(pane)))
    scene = read(gltf, tmp_path)
    assert scene.parts[0].material.alpha_mode == "blend"
    assert scene.parts[0].material.base_color[3] == pytest.approx(0.25)
    assert any("transmission" in note for note in scene.notes)


def test_extensions_left_out_are_noted_once_each(tmp_path):
    gltf = Gltf()
    gltf.use("KHR_materials_clearcoat", "XYZ_something_new", "KHR_texture_basisu")
    gltf.node(
        name="Card", mesh=gltf.mesh(gltf.primitive(gltf.material(extensions={"KHR_materials_clearcoat": {}})))
    )
    assert read(gltf, tmp_path).notes == (
        "scene.gltf: clear coat is left out",
        "scene.gltf: the glTF extension XYZ_something_new is not read",
        "scene.gltf: KHR_texture_basisu is passed over in favour of the plain copy in the file",
    )


def test_parts_without_material_get_the_default(tmp_path):
    scene = read_mesh_file(quad_file(tmp_path / "a.gltf"), Y_UP)
    assert scene.parts[0].material.metallic == 0 and scene.parts[0].material.base_color == (0.4, 0.4, 0.4, 1)
    assert any("without a material" in note for note in scene.notes)


# -- where the bytes are -------------------------------------------------------------------------


def test_binary_container_gives_the_same_scene(tmp_path):
    gltf = Gltf()
    image = gltf.append("images", {"bufferView": gltf.view(png_bytes(RED)), "mimeType": "image/png"})
    texture = gltf.append("textures", {"source": image})
    material = gltf.material(pbrMetallicRoughness={"baseColorTexture": {"index": texture}})
    gltf.node(name="Card", mesh=gltf.mesh(gltf.primitive(material, TEXCOORD_0=QUAD_UV)))
    text, binary = read(gltf, tmp_path, "a.gltf").parts[0], read(gltf, tmp_path, "a.glb").parts[0]
    np.testing.assert_array_equal(text.positions, binary.positions)
    np.testing.assert_array_equal(binary.material.base_color_texture.image[0, 0], [255, 0, 0, 255])
    # Content decides, not the name.
    (tmp_path / "b.gltf").write_bytes((tmp_path / "a.glb").read_bytes())
    assert len(read_mesh_file(tmp_path / "b.gltf", Y_UP).parts) == 1


def test_external_files_with_encoded_names(tmp_path):
    gltf = Gltf()
    (tmp_path / "leaf & stem é.png").write_bytes(png_bytes(RED))
    image = gltf.append("images", {"uri": "leaf%20%26%20stem%20%C3%A9.png"})
    material = gltf.material(emissiveTexture={"index": gltf.append("textures", {"source": image})})
    gltf.node(name="Card", mesh=gltf.mesh(gltf.primitive(material)))
    gltf.document["buffers"] = [{"byteLength": len(gltf.blob), "uri": "my%20data.bin"}]
    scene = read_mesh_file(gltf.save(tmp_path / "scene.gltf", bin_name="my data.bin"), Y_UP)
    assert scene.parts[0].material.emissive_texture.image.shape == (2, 2, 4)


def test_webp_textures(tmp_path):
    from PIL import Image

    gltf = Gltf()
    Image.fromarray(RED).save(tmp_path / "a.webp", lossless=True)
    image = gltf.append("images", {"uri": "a.webp"})
    texture = gltf.append("textures", {"extensions": {"EXT_texture_webp": {"source": image}}})
    gltf.use("EXT_texture_webp", required=True)
    material = material_of(tmp_path, gltf, emissiveTexture={"index": texture})
    np.testing.assert_array_equal(material.emissive_texture.image[1, 1], [255, 0, 0, 255])


# -- Draco ---------------------------------------------------------------------------------------


def draco_file(folder: Path, *, plain_copy: bool) -> Path:
    import DracoPy

    gltf = Gltf()
    data = DracoPy.encode(
        QUAD, QUAD_TRIANGLES.reshape(-1, 3), quantization_bits=14, tex_coord=QUAD_UV.astype(float)
    )
    ids = {a["attribute_type"]: a["unique_id"] for a in DracoPy.decode(data).attributes}
    if plain_copy:
        primitive = gltf.primitive(TEXCOORD_0=QUAD_UV)
    else:
        blank = [{"componentType": 5126, "count": 4, "type": kind} for kind in ("VEC3", "VEC2")]
        position, uv = (gltf.append("accessors", entry) for entry in blank)
        count = gltf.append("accessors", {"componentType": 5123, "count": 6, "type": "SCALAR"})
        primitive = gltf.primitive(POSITION=position, TEXCOORD_0=uv, indices=count)
    attributes = {"POSITION": ids[0], "TEXCOORD_0": ids[3]}  # Draco's own attribute type numbers
    extension = {"bufferView": gltf.view(data), "attributes": attributes}
    primitive["extensions"] = {"KHR_draco_mesh_compression": extension}
    gltf.use("KHR_draco_mesh_compression", required=not plain_copy)
    gltf.node(name="Card", mesh=gltf.mesh(primitive))
    return gltf.save(folder / "draco.gltf")


def test_draco_is_decoded(tmp_path):
    (part,) = read_mesh_file(draco_file(tmp_path, plain_copy=False), Y_UP).parts
    area = np.linalg.norm(area_normals(part.positions, part.triangles), axis=1).sum() / 2
    assert area == pytest.approx(2.0, rel=1e-3)
    np.testing.assert_allclose(fronts(part), [[0, -1, 0]] * 2, atol=1e-4)
    # u runs along +X and v down: the same picture as the plain card.
    np.testing.assert_allclose(part.uv0[:, 0], part.positions[:, 0] / 2, atol=1e-3)
    np.testing.assert_allclose(part.uv0[:, 1], 1 - part.positions[:, 2], atol=1e-3)


def test_draco_without_its_decoder(tmp_path, monkeypatch):
    required, optional = draco_file(tmp_path, plain_copy=False), tmp_path / "other"
    optional.mkdir()
    optional = draco_file(optional, plain_copy=True)
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    monkeypatch.setitem(__import__("sys").modules, "DracoPy", None)
    with pytest.raises(
        AssetError, match=r"KHR_draco_mesh_compression.*DracoPy is not installed; pip install DracoPy"
    ):
        read_mesh_file(required, Y_UP)
    scene = read_mesh_file(optional, Y_UP)
    assert len(scene.parts) == 1 and any("Draco data is passed over" in note for note in scene.notes)


# -- refusals ------------------------------------------------------------------------------------


def broken(change, folder: Path, name: str = "bad.gltf") -> str:
    """The sentence given for a card whose document was spoilt by ``change``."""
    gltf = Gltf()
    gltf.node(name="Card", mesh=gltf.mesh(gltf.primitive(TEXCOORD_0=QUAD_UV)))
    path = gltf.save(folder / name)
    document = json.loads(path.read_text())
    change(document)
    path.write_text(json.dumps(document))
    with pytest.raises(AssetError) as caught:
        read_mesh_file(path, Y_UP)
    assert str(path) in str(caught.value) and "\n" not in str(caught.value)
    return str(caught.value)


@pytest.mark.parametrize(
    ("extension", "sentence"),
    [
        ("EXT_meshopt_compression", "packed with meshopt"),
        ("KHR_texture_basisu", "KTX2/Basis Universal"),
        ("XYZ_secret_sauce", "without the glTF extension XYZ_secret_sauce"),
    ],
)
def test_required_extensions_that_cannot_be_read(tmp_path, extension, sentence):
    assert sentence in broken(lambda d: d.update(extensionsRequired=[extension]), tmp_path)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (
            lambda d: d["meshes"][0]["primitives"][0]["attributes"].update(POSITION=77),
            "accessors[77], but the file has 3",
        ),
        (lambda d: d["nodes"][0].update(mesh=5), "refers to meshes[5], but the file has 1 meshes"),
        (lambda d: d["nodes"][0].update(translation=[float("nan"), 0, 0]), "holds NaN where a number"),
        (lambda d: d["accessors"][0].update(count=10**12), "has 1000000000000 elements"),
        (lambda d: d["accessors"][0].update(count=400), "400 elements of 12 bytes do not fit"),
        (lambda d: d["bufferViews"][0].update(byteLength=10**6), "ends at byte 1000000"),
        (lambda d: d["buffers"][0].update(byteLength=10**6), "should have 1000000 bytes"),
        (lambda d: d["buffers"][0].update(uri="data:;base64,@@@"), "should have"),
        (lambda d: d["buffers"][0].update(uri="data:;base64"), "data: URI without data"),
        (lambda d: d["buffers"][0].update(uri="https://example.com/a.bin"), "is on a network"),
        (lambda d: d["buffers"][0].pop("uri"), "neither a uri nor data"),
        (lambda d: d["accessors"][0].update(componentType=1), "component type 1 is none of"),
        (lambda d: d["accessors"][0].update(type="VEC9"), "accessor type 'VEC9'"),
        (lambda d: d["accessors"][0].pop("count"), "has no 'count'"),
        (lambda d: d["accessors"][1].update(count=3), "TEXCOORD_0 has 3 values for 4 vertices"),
        (lambda d: d["nodes"][0].update(children=[0]), "is its own ancestor"),
        (lambda d: d["nodes"][0].update(rotation=[1, 2]), "is not valid glTF 2.0"),
        (lambda d: d["asset"].update(version="1.0"), "is glTF 1.0; export it as glTF 2.0"),
        (lambda d: d.pop("asset"), "without glTF's asset.version"),
        (lambda d: d["meshes"][0]["primitives"][0].update(mode=9), "primitive mode 9"),
        (
            lambda d: d["meshes"][0]["primitives"][0].update(material=0),
            "refers to materials[0], but the file has 0",
        ),
        (lambda d: d.update(nodes="all of them"), "is not valid glTF 2.0"),
        (
            lambda d: d["nodes"][0].update(extensions={"KHR_lights_punctual": {"light": 0}}),
            "refers to light 0",
        ),
        (lambda d: d["nodes"][0].update(scale=[0, 0, 0]), "has no area"),
        (lambda d: d["scenes"][0].update(nodes=[]), "has no surfaces"),
    ],
)
def test_broken_documents_get_one_sentence(tmp_path, change, sentence):
    assert sentence in broken(change, tmp_path)


def test_indices_past_the_vertices(tmp_path):
    gltf = Gltf()
    gltf.node(name="Card", mesh=gltf.mesh(gltf.primitive(indices=np.uint16([0, 1, 9]))))
    with pytest.raises(AssetError, match="a triangle uses vertex 9 of 4"):
        read(gltf, tmp_path)


def test_positions_that_are_not_numbers(tmp_path):
    gltf = Gltf()
    gltf.node(name="Card", mesh=gltf.mesh(gltf.primitive(POSITION=QUAD * np.float32(np.nan))))
    with pytest.raises(AssetError, match="'Card' has positions that are not finite numbers"):
        read(gltf, tmp_path)


def test_missing_and_damaged_images(tmp_path):
    gltf = Gltf()
    image = gltf.append("images", {"uri": "fern.png"})
    material = gltf.material(emissiveTexture={"index": gltf.append("textures", {"source": image})})
    gltf.node(name="Card", mesh=gltf.mesh(gltf.primitive(material)))
    with pytest.raises(
        AssetError, match=r"fern.png: does not exist \(images\[0\] of .*; put it beside scene.gltf"
    ):
        read(gltf, tmp_path)
    (tmp_path / "fern.png").write_bytes(b"no picture")
    with pytest.raises(AssetError, match=r"fern.png: is not a picture"):
        read(gltf, tmp_path)
    (tmp_path / "fern.png").write_bytes(
        png_bytes(np.random.default_rng(0).integers(0, 255, (64, 64, 3)).astype(np.uint8))[:4000]
    )
    with pytest.raises(AssetError, match=r"fern.png: is damaged"):
        read(gltf, tmp_path)


def test_missing_bin(tmp_path):
    gltf = Gltf()
    gltf.node(name="Card", mesh=gltf.mesh(gltf.primitive()))
    path = gltf.save(tmp_path / "scene.gltf", bin_name="data.bin")
    (tmp_path / "data.bin").unlink()
    with pytest.raises(AssetError, match=r"data.bin: does not exist \(buffers\[0\]"):
        read_mesh_file(path, Y_UP)


@pytest.mark.parametrize("length", [5, 14, 100, -7])
def test_binary_container_cut_short(tmp_path, length):
    gltf = Gltf()
    gltf.node(name="Card", mesh=gltf.mesh(gltf.primitive()))
    path = gltf.save(tmp_path / "a.glb")
    path.write_bytes(path.read_bytes()[:length])
    with pytest.raises(AssetError, match="cut short"):
        read_mesh_file(path, Y_UP)


def test_text_that_is_not_json_names_the_place(tmp_path):
    path = tmp_path / "a.gltf"
    path.write_text('{"asset":\n {"version" "2.0"}}')
    with pytest.raises(AssetError, match="line 2, column 13 is not JSON"):
        read_mesh_file(path, Y_UP)
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(AssetError, match="no UTF-8 text"):
        read_mesh_file(path, Y_UP)


def test_binary_version_one(tmp_path):
    data = bytearray(glb({"asset": {"version": "2.0"}}, b""))
    data[4] = 1
    (tmp_path / "a.glb").write_bytes(data)
    with pytest.raises(AssetError, match="GLB version 1"):
        read_mesh_file(tmp_path / "a.glb", Y_UP)


def test_fuzzed_bytes_never_show_a_traceback(tmp_path):
    """Whatever single byte is damaged: a scene or one AssetError, nothing else."""
    gltf = Gltf()
    material = gltf.material(emissiveTexture={"index": gltf.texture(RED)})
    gltf.node(name="Card", mesh=gltf.mesh(gltf.primitive(material, TEXCOORD_0=QUAD_UV)))
    data = gltf.save(tmp_path / "a.glb").read_bytes()
    rng = np.random.default_rng(1)
    refused = 0
    for _ in range(400):
        spoilt = bytearray(data)
        spoilt[rng.integers(len(data))] = rng.integers(256)
        (tmp_path / "b.glb").write_bytes(spoilt)
        try:
            load_mesh_file(tmp_path / "b.glb", Y_UP)
        except AssetError:
            refused += 1
    assert refused > 50
