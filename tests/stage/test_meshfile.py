"""OBJ, PLY and STL files, merging of parts, and what is refused."""

from __future__ import annotations

import struct

import numpy as np
import pytest
import trimesh
from PIL import Image

from preview.colour import srgb_to_linear
from preview.errors import AssetError
from preview.stage.meshfile import DEFAULT_MATERIAL, load_mesh_file, merge_parts, read_mesh_file
from preview.stage.normals import area_normals, corner_normals
from preview.stage.placement import placement_matrix
from tests.stage.gltf_builder import QUAD_UV, Gltf, quad_file

Z_UP = placement_matrix()

TWO_GROUPS = """# two walls
mtllib greenhouse.mtl
o Greenhouse
v 0 0 0
v 2 0 0
v 2 0 1
v 0 0 1
vt 0 0
vt 1 0
vt 1 1
vt 0 1
vn 0 -1 0
g Pane
usemtl glass
f 1/1/1 2/2/1 3/3/1 4/4/1
o Screen left
usemtl leaf
f -4/1 -3/2 -2/3
"""


def write(folder, text, name="mesh.obj"):
    (folder / name).write_text(text)
    return folder / name


def refusal(path) -> str:
    with pytest.raises(AssetError) as caught:
        read_mesh_file(path, Z_UP)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def area(part):
    return np.linalg.norm(area_normals(part.positions, part.triangles), axis=1).sum() / 2


def fronts(part):
    normals = area_normals(part.positions, part.triangles)
    return normals / np.linalg.norm(normals, axis=1, keepdims=True)


# -- OBJ -----------------------------------------------------------------------------------------


def test_obj_groups_materials_and_textures(tmp_path):
    Image.fromarray(np.full((2, 4, 3), (0, 128, 0), dtype=np.uint8)).save(tmp_path / "leaf veins.png")
    (tmp_path / "greenhouse.mtl").write_text(
        "newmtl glass\nKd 0.1 0.2 0.3\nd 0.25\nNs 98\nnewmtl leaf\nKd 1 1 1\nKe 0.5 0 2\n"
        "map_Kd -s 2 3 1 -o 0.25 0.5 -clamp on leaf veins.png\nPm 0.5\nPr 0.4\n"
    )
    scene = read_mesh_file(write(tmp_path, TWO_GROUPS), placement_matrix(units="cm"))
    assert scene.notes == ()
    pane, screen = scene.parts
    assert (pane.name, screen.name) == ("Pane", "Screen left")
    assert (pane.material.name, screen.material.name) == ("glass", "leaf")
    np.testing.assert_allclose(pane.positions.max(axis=0), [0.02, 0, 0.01], atol=1e-7)  # Z stays up
    np.testing.assert_allclose(pane.normals, [[0, -1, 0]] * 4, atol=1e-7)
    assert (len(pane.triangles), len(screen.triangles)) == (2, 1)
    assert pane.material.base_color == (0.1, 0.2, 0.3, 0.25) and pane.material.alpha_mode == "blend"
    assert pane.material.roughness == pytest.approx(np.sqrt(2 / 100))
    leaf = screen.material
    assert (leaf.emissive, leaf.metallic, leaf.roughness) == ((0.5, 0.0, 2.0), 0.5, 0.4)
    texture = leaf.base_color_texture
    assert texture.srgb and texture.image.shape == (2, 4, 4) and texture.wrap_s == "clamp"
    # OBJ's v points up, ours down: file (u, v) = (1, 1) is ours (1, 0) and reads (2.25, 3.5) upwards.
    np.testing.assert_allclose(texture.uv_transform @ [1, 0, 1], [2.25, 1 - 3.5, 1])
    at_top = pane.uv0[pane.positions[:, 2] > 0.005]
    np.testing.assert_array_equal(at_top[:, 1], 0)


def test_obj_missing_material_file_and_texture_are_named(tmp_path):
    scene = read_mesh_file(write(tmp_path, TWO_GROUPS), Z_UP)
    assert any("material file greenhouse.mtl does not exist" in note for note in scene.notes)
    assert scene.parts[0].material.base_color == DEFAULT_MATERIAL.base_color
    assert scene.parts[0].material.name == "glass"
    (tmp_path / "greenhouse.mtl").write_text("newmtl glass\nmap_Kd pane.png\n")
    scene = read_mesh_file(tmp_path / "mesh.obj", Z_UP)
    assert any("texture pane.png does not exist" in note for note in scene.notes)
    assert any("not described in any .mtl file are drawn plain: leaf" in note for note in scene.notes)


def test_obj_relative_indices_count_from_where_they_stand(tmp_path):
    text = "v 0 0 0\nv 1 0 0\nv 0 0 1\nf -3 -2 -1\nv 9 9 9\nv 8 8 8\n"
    (part,) = read_mesh_file(write(tmp_path, text), Z_UP).parts
    np.testing.assert_allclose(part.positions.max(axis=0), [1, 0, 1])


def test_obj_vertex_colours_are_srgb(tmp_path):
    text = "v 0 0 0 0.5 0 1\nv 1 0 0 0.5 0 1\nv 0 0 1 0.5 0 1\nf 1 2 3\n"
    (part,) = read_mesh_file(write(tmp_path, text), Z_UP).parts
    np.testing.assert_allclose(part.colors, [[srgb_to_linear(0.5), 0, 1, 1]] * 3, atol=1e-6)
    assert part.material.base_color == (1, 1, 1, 1)


@pytest.mark.parametrize("turn", [0, 1, 3, 5])
def test_obj_concave_polygons_keep_their_area(tmp_path, turn):
    """A wall with a notch, 4 x 3 less 2 x 2, from any first corner; a fan would cover the notch."""
    corners = [(0, 0), (4, 0), (4, 3), (3, 3), (3, 1), (1, 1), (1, 3), (0, 3)]
    lines = [f"v {x} 0 {z}" for x, z in corners]
    order = [(n + turn) % 8 + 1 for n in range(8)]
    (part,) = read_mesh_file(
        write(tmp_path, "\n".join([*lines, "f " + " ".join(map(str, order))])), Z_UP
    ).parts
    assert area(part) == pytest.approx(8.0)
    np.testing.assert_allclose(part.normals, [[0, -1, 0]] * len(part.normals), atol=1e-6)


def test_obj_continued_lines_tabs_and_lines_left_out(tmp_path):
    text = "v\t0 0 0\nv 1 0 \\\n 0\nv 0 0 1\nl 1 2\nf 1 2 3\n"
    scene = read_mesh_file(write(tmp_path, text), Z_UP)
    assert area(scene.parts[0]) == pytest.approx(0.5)
    assert any("points and lines are left out" in note for note in scene.notes)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("v 0 0 0\nv 1 0 0\nv 0 1\n", "line 3 cannot be understood (2 numbers where 3 belong): 'v 0 1'"),
        ("v 0 0 zero\n", "line 1 cannot be understood"),
        ("v 0 0 0\nv 1 0 0\nv 0 0 1\nf 1 2 4\n", "line 4 cannot be understood (position 4 of 3 so far)"),
        ("v 0 0 0\nv 1 0 0\nv 0 0 1\nf 1/1 2/1 3/1\n", "texture coordinate 1 of 0 so far"),
        ("v 0 0 0\nf 1 1\n", "a face has 2 corners"),
        ("v 0 0 0\nv 1 0 0\nv 2 0 0\nf 1 2 3\n", "has no area"),
        ("v 0 0 0\nv 1 0 0\nv 0 0 nan\nf 1 2 3\n", "not finite numbers"),
        ("v 0 0 0\n", "has no surfaces"),
        ("", "is empty"),
        ("a poem\nabout leaves\n", "has no surfaces"),
    ],
)
def test_obj_refusals(tmp_path, text, sentence):
    assert sentence in refusal(write(tmp_path, text))


def test_mtl_with_a_wrong_number(tmp_path):
    (tmp_path / "greenhouse.mtl").write_text("newmtl glass\nKd 0.1 0.2 much\n")
    assert "greenhouse.mtl: line 2 cannot be understood" in refusal(write(tmp_path, TWO_GROUPS))


def test_normals_stay_sharp_at_edges_and_smooth_on_a_ball():
    box = trimesh.creation.box()
    normals = corner_normals(box.vertices, box.faces).reshape(-1, 3, 3)
    np.testing.assert_allclose(normals, np.repeat(box.face_normals[:, None], 3, axis=1), atol=1e-9)
    ball = trimesh.creation.icosphere(subdivisions=3)
    normals = corner_normals(ball.vertices, ball.faces)
    np.testing.assert_allclose(normals, ball.vertices[ball.faces.reshape(-1)], atol=0.02)


def test_smooth_corners_become_one_vertex_again_and_hubs_stay_cheap(tmp_path):
    ball = trimesh.creation.icosphere(subdivisions=3)
    (tmp_path / "ball.stl").write_bytes(ball.export(file_type="stl"))
    (part,) = read_mesh_file(tmp_path / "ball.stl", Z_UP).parts
    assert len(part.positions) == len(ball.vertices)
    np.testing.assert_allclose(part.normals, part.positions, atol=0.02)
    disc = trimesh.creation.cylinder(radius=1, height=0.1, sections=5000)
    (tmp_path / "disc.stl").write_bytes(disc.export(file_type="stl"))
    (part,) = read_mesh_file(tmp_path / "disc.stl", Z_UP).parts
    caps = np.abs(fronts(part)[:, 2]) > 0.9
    np.testing.assert_allclose(np.abs(part.normals[part.triangles][caps][..., 2]), 1, atol=1e-5)


# -- PLY and STL ---------------------------------------------------------------------------------


@pytest.mark.parametrize("encoding", ["ascii", "binary"])
def test_ply_vertex_colours(tmp_path, encoding):
    box = trimesh.creation.box(extents=(2, 3, 4))
    box.visual = trimesh.visual.ColorVisuals(box, vertex_colors=np.tile([128, 64, 255, 255], (8, 1)))
    (tmp_path / "crate.ply").write_bytes(trimesh.exchange.ply.export_ply(box, encoding=encoding))
    (part,) = read_mesh_file(tmp_path / "crate.ply", Z_UP).parts
    assert part.name == "crate" and area(part) == pytest.approx(52)
    np.testing.assert_allclose(part.positions.max(axis=0), [1, 1.5, 2])
    expected = [*srgb_to_linear(np.array([128, 64, 255]) / 255), 1]
    np.testing.assert_allclose(part.colors, [expected] * len(part.colors), atol=1e-6)


def test_ply_face_colours_do_not_bleed(tmp_path):
    box = trimesh.creation.box()
    colors = np.zeros((12, 4), dtype=np.uint8)
    colors[:, 3], colors[3, 0] = 255, 255
    box.visual = trimesh.visual.ColorVisuals(box, face_colors=colors)
    (tmp_path / "box.ply").write_bytes(trimesh.exchange.ply.export_ply(box))
    (part,) = read_mesh_file(tmp_path / "box.ply", Z_UP).parts
    red = part.colors[part.triangles][..., 0]
    np.testing.assert_array_equal(red.sum(axis=1) == 3, np.arange(12) == 3)
    assert set(np.unique(red)) == {0.0, 1.0}


PLY_CARD = """ply
format ascii 1.0
comment TextureFile card.png
element vertex 3
property float x
property float y
property float z
property float nx
property float ny
property float nz
property float s
property float t
element face 1
property list uchar int vertex_indices
end_header
0 0 0 0 -1 0 0 0
1 0 0 0 -1 0 1 0
0 0 1 0 -1 0 0 1
3 0 1 2
"""


def test_ply_texture_and_normals(tmp_path):
    path = write(tmp_path, PLY_CARD, "card.ply")
    scene = read_mesh_file(path, Z_UP)
    assert any("texture card.png does not exist" in note for note in scene.notes)
    Image.fromarray(np.full((1, 1, 3), 9, dtype=np.uint8)).save(tmp_path / "card.png")
    (part,) = read_mesh_file(path, Z_UP).parts
    assert part.material.base_color_texture.image[0, 0, 0] == 9
    np.testing.assert_allclose(part.normals, [[0, -1, 0]] * 3, atol=1e-6)
    top = part.positions[:, 2] == 1
    np.testing.assert_allclose(part.uv0[top], [[0, 0]])  # t points up in the file, v down here


@pytest.mark.parametrize("kind", ["stl", "stl_ascii"])
def test_stl_is_grey_with_its_edges(tmp_path, kind):
    box = trimesh.creation.box()
    data = box.export(file_type=kind)
    (tmp_path / "step.STL").write_bytes(data if isinstance(data, bytes) else data.encode())
    (part,) = read_mesh_file(tmp_path / "step.STL", placement_matrix(units="ft")).parts
    assert part.material is DEFAULT_MATERIAL and part.colors is None
    assert area(part) == pytest.approx(6 * 0.3048**2, rel=1e-5)
    assert np.all(np.isclose(np.abs(part.normals).max(axis=1), 1, atol=1e-5))


def test_y_up_files_can_be_told(tmp_path):
    path = write(tmp_path, "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n")
    (part,) = read_mesh_file(path, placement_matrix(up="y")).parts
    np.testing.assert_allclose(part.positions.max(axis=0), [1, 0, 1], atol=1e-7)


BAD_FACE = PLY_CARD.replace("3 0 1 2", "3 0 1 7").replace("property float s\nproperty float t\n", "")
BAD_FACE = (
    BAD_FACE.replace("-1 0 0 0\n", "-1 0\n").replace("-1 0 1 0\n", "-1 0\n").replace("-1 0 0 1\n", "-1 0\n")
)


@pytest.mark.parametrize(
    ("name", "data", "sentence"),
    [
        ("a.ply", b"", "is empty"),
        ("a.ply", b"not a mesh at all", "cannot be read as PLY"),
        ("a.ply", PLY_CARD[:150].encode(), "cannot be read as PLY"),
        ("a.ply", BAD_FACE.encode(), "has a face with corner 7 of 3"),
        ("a.stl", b"solid nothing\nendsolid nothing\n", "has no surfaces"),
        (
            "a.stl",
            b"\0" * 80 + struct.pack("<I", 7) + b"\0" * 50,
            "is damaged: 7 triangles take 434 bytes and it has 134",
        ),
        (
            "a.fbx",
            b"Kaydara",
            "is a .fbx file, not one of .gltf, .glb, .obj, .ply, .stl; export the mesh as .glb",
        ),
        ("a", b"", "is a nameless file"),
    ],
)
def test_unusable_files(tmp_path, name, data, sentence):
    (tmp_path / name).write_bytes(data)
    assert sentence in refusal(tmp_path / name)


@pytest.mark.parametrize("suffix", [".gltf", ".glb", ".obj", ".ply", ".stl"])
def test_files_that_are_not_there(tmp_path, suffix):
    assert "does not exist; check the name" in refusal(tmp_path / f"lost{suffix}")
    (tmp_path / f"folder{suffix}").mkdir()
    assert "is a folder, not a file" in refusal(tmp_path / f"folder{suffix}")


def test_point_cloud_has_no_surfaces(tmp_path):
    cloud = trimesh.PointCloud(np.eye(3))
    (tmp_path / "cloud.ply").write_bytes(cloud.export(file_type="ply"))
    assert "has no surfaces" in refusal(tmp_path / "cloud.ply")


# -- merging -------------------------------------------------------------------------------------


def many_cards(tmp_path):
    gltf = Gltf()
    wood, glass = gltf.material(name="wood"), gltf.material(name="glass", alphaMode="BLEND")
    cards = {
        "wood": gltf.mesh(gltf.primitive(wood)),
        "uv": gltf.mesh(gltf.primitive(wood, TEXCOORD_0=QUAD_UV)),
        "glass": gltf.mesh(gltf.primitive(glass)),
    }
    for number, (name, kind) in enumerate(
        [
            ("A", "wood"),
            ("B", "wood"),
            ("B", "wood"),
            ("Screen", "wood"),
            ("U", "uv"),
            ("G", "glass"),
            ("H", "glass"),
        ]
    ):
        gltf.node(name=name, translation=[3 * number, 0, 0], mesh=cards[kind])
    return gltf.save(tmp_path / "cards.gltf")


def test_parts_sharing_a_material_are_joined(tmp_path):
    path = many_cards(tmp_path)
    apart, joined = read_mesh_file(path, Z_UP), load_mesh_file(path, Z_UP, keep_names={"Screen"})
    assert [part.name for part in joined.parts] == ["A, B", "Screen", "U", "G", "H"]
    assert len(joined.parts[0].triangles) == 6
    corners = np.concatenate([part.positions[part.triangles] for part in apart.parts])
    same = np.concatenate([part.positions[part.triangles] for part in joined.parts])
    np.testing.assert_array_equal(
        np.sort(corners.reshape(-1, 9), axis=0), np.sort(same.reshape(-1, 9), axis=0)
    )


def test_material_names_can_be_kept_too(tmp_path):
    parts = read_mesh_file(many_cards(tmp_path), Z_UP).parts
    assert len(merge_parts(parts, {"wood"})) == len(parts)


def test_parts_without_area_are_left_out_with_a_note(tmp_path):
    gltf = Gltf()
    mesh = gltf.mesh(gltf.primitive())
    gltf.node(name="Hidden", mesh=mesh, scale=[0, 0, 0])
    gltf.node(name="Card", mesh=mesh)
    scene = read_mesh_file(gltf.save(tmp_path / "a.gltf"), Z_UP)
    assert [part.name for part in scene.parts] == ["Card"]
    assert "a.gltf: 1 part without any area left out" in scene.notes


def test_every_array_is_ready_for_the_graphics_card(tmp_path):
    for part in load_mesh_file(quad_file(tmp_path / "a.glb"), Z_UP).parts:
        assert part.positions.dtype == part.normals.dtype == part.uv0.dtype == np.float32
        assert part.triangles.dtype == np.int32 and part.triangles.flags.c_contiguous
        assert len(part.positions) == len(part.normals) == len(part.uv0)
        np.testing.assert_allclose(np.linalg.norm(part.normals, axis=1), 1, atol=1e-6)
