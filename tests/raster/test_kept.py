"""What the raster keeps must equal what it would draw anew: screens, runs of triangles, buffers, zooms."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trimesh

from preview.camera.distortion import Distortion
from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.picture.display import Display
from preview.raster.gl.chunks import RUN, Chunks
from preview.raster.raster import Raster
from preview.raster.request import CameraPicture, CanvasPicture, Layer, OuterPicture, SceneImage
from preview.stage.mesh import Material, MeshPart, SceneMesh, Sky
from tests.twin.stages import faceted_wall

SIZE = (240, 136)


def part(mesh: trimesh.Trimesh, name: str, color: tuple[float, float, float], screen: str = "") -> MeshPart:
    uv = mesh.vertices[:, [0, 2]] - mesh.vertices[:, [0, 2]].min(axis=0)
    uv = np.array([0, 1]) + np.array([1, -1]) * uv / uv.max(axis=0)
    return MeshPart(
        name=name,
        positions=mesh.vertices.astype(np.float32),
        normals=mesh.vertex_normals.astype(np.float32),
        uv0=uv.astype(np.float32),
        uv1=None,
        colors=None,
        triangles=mesh.faces.astype(np.int32),
        material=Material(base_color=(*color, 1.0), unlit=True, emissive=(1, 1, 1) if screen else (0, 0, 0)),
        screen=screen,
    )


def garden() -> SceneMesh:
    """Balls in a ring, and a screen between two of them that carries a clip."""
    parts = []
    for number, pan in enumerate(np.radians(np.arange(0, 360, 24))):
        ball = trimesh.creation.icosphere(3, 0.9)
        ball.apply_translation([8 * np.sin(pan), 8 * np.cos(pan), 1.5])
        parts.append(part(ball, f"ball {number}", (0.2 + 0.05 * number, 0.6, 0.3)))
    screen = trimesh.creation.box((2.4, 0.02, 1.4))
    screen.apply_translation([1.6, 7.0, 2.4])
    return SceneMesh((*parts, part(screen, "screen", (0, 0, 0), "screen")), (), Sky((0.1, 0.2, 0.5)))


def guest(seed: int) -> np.ndarray:
    return np.random.default_rng(seed).integers(0, 256, (36, 64, 3), dtype=np.uint8)


@pytest.fixture
def raster():
    wall = faceted_wall(columns=9, joint_deg=14.0)
    with Raster([wall], [4.0], SceneMesh(()), garden(), np.array([0, 0, 1.6]), Display(), SIZE) as drawn:
        yield drawn


def view(pan_deg: float, focal_mm: float = 9.0, distortion: Distortion = Distortion()) -> CameraView:  # noqa: B008
    return CameraView(Pose((0.3, -1.5, 1.7), pan_deg), (9.59, 5.39), focal_mm, distortion=distortion)


def requests(views: list[CameraView]) -> list:
    layers = [Layer(SceneImage(each, 0.05)) for each in views]
    asked: list = [CanvasPicture(0, tuple(layers)), OuterPicture()]
    for each, layer in zip(views, layers, strict=True):
        asked += [layer.image, CameraPicture(each, (layer,)), CameraPicture(each, (layers[0],))]
    return asked


def test_a_new_screen_picture_gives_what_a_fresh_drawing_gives(raster):
    """Only the part of an image that can show the screen is drawn again; nobody can tell."""
    asked = requests([view(0.0), view(-20.0), view(160.0), view(-11.0, 40.0)])
    raster.set_screens({"screen": guest(1)})
    before = raster.draw(asked)
    raster.set_screens({"screen": guest(2)})
    patched = raster.draw(asked)
    raster.forget()
    fresh = raster.draw(asked)
    for kept, new in zip(patched, fresh, strict=True):
        np.testing.assert_array_equal(kept.pixels, new.pixels)
        assert kept.off_wall == new.off_wall
    seen = [not np.array_equal(old.pixels, new.pixels) for old, new in zip(before, fresh, strict=True)]
    assert seen[:4] == [True] * 4 and not seen[8], "the screen shows in front, and not behind the camera"


def test_pictures_are_kept_and_cannot_be_written_to(raster):
    asked = requests([view(0.0)])
    raster.set_screens({"screen": guest(1)})
    first, second = raster.draw(asked), raster.draw(asked)
    assert all(a.pixels is b.pixels for a, b in zip(first, second, strict=True))
    with pytest.raises(ValueError, match="read-only"):
        first[0].pixels[:] = 0


def test_a_zoom_through_a_distorting_lens_matches_a_fresh_raster(raster):
    """Buffers grow and are shared between sizes; no frame may see another's leftovers."""
    raster.set_screens({"screen": guest(1)})
    barrel = Distortion(k1=-0.1)
    zoom = [view(-8.0, focal, barrel) for focal in (6.0, 9.0, 22.0, 6.0)]
    along = [raster.draw([CameraPicture(each, (Layer(SceneImage(each, 0.3)),))])[0] for each in zoom]
    raster.forget()
    np.testing.assert_array_equal(along[0].pixels, along[3].pixels)
    again = raster.draw([CameraPicture(zoom[2], (Layer(SceneImage(zoom[2], 0.3)),))])[0]
    np.testing.assert_array_equal(along[2].pixels, again.pixels)


def test_ghosts_share_the_light(raster):
    """A picture with ghosts is the weighted mean of its stacks' pictures in linear light."""
    raster.set_screens({"screen": guest(1)})
    here, there = view(0.0), view(-20.0)
    own, other = (Layer(SceneImage(here, 0.1)),), (Layer(SceneImage(there, 0.3), dim=0.5),)
    alone = raster.draw([CameraPicture(here, own), CameraPicture(here, other)], linear=True)
    ghosted = raster.draw([CameraPicture(here, own, ((0.25, other),))], linear=True)[0]
    expected = 0.75 * alone[0].pixels + 0.25 * alone[1].pixels
    np.testing.assert_allclose(ghosted.pixels, expected, atol=2e-5)


def test_runs_hold_every_triangle_once_and_inside_their_sphere():
    mesh = trimesh.creation.icosphere(5, 2.0)
    chunks = Chunks.of(mesh.vertices, mesh.faces)
    assert sorted(chunks.order) == list(range(len(mesh.faces)))
    assert np.diff(chunks.starts).max() <= RUN
    for run, (first, end) in enumerate(zip(chunks.starts[:-1], chunks.starts[1:], strict=True)):
        corners = mesh.vertices[mesh.faces[chunks.order[first:end]]].reshape(-1, 3)
        away = np.linalg.norm(corners - chunks.centers[run], axis=1)
        assert away.max() <= chunks.radii[run] + 1e-9


def test_runs_out_of_view_are_left_out_and_no_visible_one_is():
    mesh = trimesh.creation.icosphere(5, 2.0)
    chunks = Chunks.of(mesh.vertices, mesh.faces)
    keeps_right = np.array([[1.0, 0.0, 0.0, -1.0]])  # x >= 1
    drawn = np.concatenate([np.arange(first, first + count) for first, count in chunks.visible(keeps_right)])
    right = mesh.vertices[mesh.faces][..., 0].max(axis=1) >= 1.0
    assert set(np.flatnonzero(right)) <= set(chunks.order[drawn])
    assert len(drawn) < 0.7 * len(mesh.faces)
    assert chunks.visible(np.array([[1.0, 0.0, 0.0, -9.0]])) == []


def test_an_image_is_drawn_alike_whatever_was_kept_before(raster):
    raster.set_screens({"screen": guest(1)})
    image = SceneImage(replace(view(5.0), projection_mm=14.0), 0.1)
    first = raster.draw([image])[0]
    raster.draw(requests([view(80.0), view(-120.0)]))
    np.testing.assert_array_equal(raster.draw([image])[0].pixels, first.pixels)
