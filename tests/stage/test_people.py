"""Stand-ins: heights, eye line, closed bodies, colours, and the same triangles every time."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from preview.colour import hex_to_linear, srgb8_to_linear
from preview.show.model import Person
from preview.stage import head, people
from preview.stage.field import axis_samples, ellipsoid, limb, polygonise, union
from preview.stage.people import person_parts
from preview.stage.people_dims import eye_height_m, top_height_m

STANDING = Person(name="Ada", position_m=(1.0, 2.0, 0.3))
SEATED = Person(name="Gus", posture="seated", position_m=(-1.0, 2.0, 0.2), height_m=1.80, seat_height_m=0.5)
EVERYONE = [
    STANDING,
    SEATED,
    Person(name="Fay", height_m=1.55, hair_color="#8a5a2e"),
    Person(name="Dana", posture="seated", height_m=1.70, seat_height_m=0.75),
    Person(name="Lou", posture="seated", height_m=1.30, seat_height_m=0.40),
]


def points_of(parts):
    return np.concatenate([part.positions for part in parts]).astype(np.float64)


def in_the_persons_frame(person, points):
    """Points with the person's floor point at the origin, looking along +Y."""
    angle = -np.radians(person.pan_deg)
    turn = np.array([[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1]])
    return (points - person.position_m) @ turn.T


def painted_eyes(person):
    """Middle of the two irises on the stage: the darkest round spots of the face picture, looked up
    through the texture coordinates that are drawn."""
    face = next(part for part in person_parts(person) if part.material.base_color_texture is not None)
    image = srgb8_to_linear(face.material.base_color_texture.image[..., :3]).sum(axis=2)
    height, width = image.shape
    rows = slice(int(0.40 * height), int(0.52 * height))
    found = []
    for columns in (slice(0, width // 2), slice(width // 2, width)):
        window = image[rows, columns]
        y, x = np.nonzero(window <= np.quantile(window, 0.004))
        uv = np.array(
            [(columns.start + np.median(x) + 0.5) / width, (rows.start + np.median(y) + 0.5) / height]
        )
        corners = face.uv0[face.triangles].astype(np.float64)
        edges = corners[:, 1:] - corners[:, :1]
        mapped = np.abs(np.linalg.det(edges)) > 1e-12  # the neck lies below the picture
        corners, triangles = corners[mapped], face.triangles[mapped]
        weights = trimesh.triangles.points_to_barycentric(
            np.pad(corners, ((0, 0), (0, 0), (0, 1))), np.tile([*uv, 0.0], (len(corners), 1))
        )
        inside = np.flatnonzero(weights.min(axis=1) > -1e-9)
        places = np.einsum("kc,kcx->kx", weights[inside], face.positions[triangles[inside]])
        found.append(in_the_persons_frame(person, places))
    return [places[places[:, 1].argmax()] for places in found]


@pytest.mark.parametrize("person", EVERYONE, ids=lambda person: person.name)
def test_heights_and_eye_line(person):
    """The crown and the eyes are where cameras look for them (people_dims), within a centimetre."""
    points = in_the_persons_frame(person, points_of(person_parts(person, stool=False)))
    assert points[:, 2].max() == pytest.approx(top_height_m(person), abs=0.01)
    left, right = painted_eyes(person)
    for eye in (left, right):
        assert eye[2] == pytest.approx(eye_height_m(person), abs=0.01)
    assert abs(left[0] + right[0]) < 0.004, "the eyes are level either side of the middle"
    assert 0.055 < abs(left[0] - right[0]) * 1.72 / person.height_m < 0.070, "adult eye distance"
    assert left[1] > 0.02, "the face looks the way the person faces"


@pytest.mark.parametrize("person", EVERYONE, ids=lambda person: person.name)
def test_people_stand_and_sit_on_what_is_under_them(person):
    scale = person.height_m / 1.72
    points = in_the_persons_frame(person, points_of(person_parts(person, stool=False)))
    lowest = points[:, 2].min()
    if person.posture == "standing":
        assert 0.0 <= lowest < 0.005
    else:  # feet on the floor, or on a foot-rest where the seat is high
        assert 0.0 <= lowest < (0.005 if person.seat_height_m < 0.32 * person.height_m else 0.5)
        stool = in_the_persons_frame(person, person_parts(person)[-1].positions.astype(np.float64))
        sole = points[points[:, 2] < lowest + 0.01]
        if lowest > 0.005:
            near = stool[np.abs(stool[:, 2] - lowest) < 0.006]
            reach = np.linalg.norm(near[:, :2], axis=1).max()
            assert np.linalg.norm(sole[:, :2], axis=1).min() < reach, "the foot-rest is under the feet"
        hips = points[(np.abs(points[:, 0]) < 0.1 * scale) & (np.abs(points[:, 1]) < 0.08 * scale)]
        assert hips[:, 2].min() == pytest.approx(person.seat_height_m, abs=0.03)
    assert np.abs(points[:, 0]).max() < 0.31 * scale, "no wider than a person with bent arms"
    assert points[:, 1].min() > -0.25 * scale
    assert points[:, 1].max() < (0.25 if person.posture == "standing" else 0.75) * scale


def test_pan_zero_faces_away_from_the_cameras():
    person = Person(name="Ada", pan_deg=0.0)
    shoes = points_of(person_parts(person))
    shoes = shoes[shoes[:, 2] < 0.03]
    assert shoes[:, 1].max() > 0.12 > -shoes[:, 1].min(), "toes point along +Y"
    turned = person_parts(Person(name="Ada", pan_deg=90.0))
    np.testing.assert_allclose(
        points_of(turned), points_of(person_parts(person))[:, [1, 0, 2]] * (-1, 1, 1), atol=1e-6
    )


@pytest.mark.parametrize("person", [STANDING, SEATED], ids=lambda person: person.name)
def test_bodies_are_closed_and_wound_outwards(person):
    """Every garment is a closed solid; the face and the rest of the head close together."""
    parts = person_parts(person)
    solids = [part for part in parts if part.material.base_color_texture is None]
    face = next(part for part in parts if part.material.base_color_texture is not None)
    back = solids.pop(
        [len(part.positions) for part in solids].index(len(parts[parts.index(face) + 1].positions))
    )
    head_points = np.concatenate([face.positions, back.positions])
    head_triangles = np.concatenate([face.triangles, back.triangles + len(face.positions)])
    volume = 0.0
    for points, triangles in [(part.positions, part.triangles) for part in solids] + [
        (head_points, head_triangles)
    ]:
        mesh = trimesh.Trimesh(points.astype(np.float64), triangles, process=False)
        mesh.merge_vertices(merge_norm=True, merge_tex=True, digits_vertex=6)
        assert mesh.is_watertight
        assert mesh.volume > 0
        volume += mesh.volume
    assert 0.045 < volume * (1.72 / person.height_m) ** 3 < 0.14, "litres of a clothed adult"
    for part in parts:
        corners = part.positions[part.triangles]
        faces = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        area = np.linalg.norm(faces, axis=1)
        agree = np.einsum("ij,ij->i", faces, part.normals[part.triangles].mean(axis=1)) > 0
        assert area[agree].sum() > 0.99 * area.sum(), "normals point the way the triangles face"
        np.testing.assert_allclose(np.linalg.norm(part.normals, axis=1), 1.0, atol=1e-4)


@pytest.mark.parametrize("person", EVERYONE, ids=lambda person: person.name)
def test_size_of_the_mesh(person):
    count = sum(len(part.triangles) for part in person_parts(person))
    assert 8_000 < count < 30_000


def test_the_same_person_is_the_same_mesh():
    first = person_parts(STANDING)
    people._parts.cache_clear()
    again = person_parts(STANDING)
    assert len(first) == len(again)
    for one, other in zip(first, again, strict=True):
        np.testing.assert_array_equal(one.positions, other.positions)
        np.testing.assert_array_equal(one.colors, other.colors)
        np.testing.assert_array_equal(one.triangles, other.triangles)


def test_moving_a_person_does_not_build_it_again():
    people._parts.cache_clear()
    person_parts(STANDING)
    moved = person_parts(STANDING.model_copy(update={"position_m": (0.0, 9.0, 0.0), "pan_deg": 100.0}))
    assert people._parts.cache_info().misses == 1
    assert moved[0].positions[:, 1].min() > 8.0


def test_colours_are_the_show_files():
    """Vertex colours are the linear colour, darkened only in folds; open skin and cloth keep most of it."""
    person = Person(
        name="Ada", top_color="#2040c0", trousers_color="#c08020", skin_color="#704830", hair_color="#c0c0c0"
    )
    brightest = [
        part.colors[part.colors[:, :3].sum(axis=1).argmax(), :3]
        for part in person_parts(person)
        if part.material.base_color_texture is None
    ]
    for color in ("#2040c0", "#c08020", "#704830", "#c0c0c0"):
        wanted = np.array(hex_to_linear(color))
        gaps = [np.abs(seen - wanted).max() / wanted.max() for seen in brightest]
        assert min(gaps) < 0.05, color
    face = next(part for part in person_parts(person) if part.material.base_color_texture is not None)
    forehead = face.material.base_color_texture.image[40, 200, :3]
    np.testing.assert_allclose(srgb8_to_linear(forehead), hex_to_linear("#704830"), atol=0.01)


def test_names_give_different_haircuts():
    """The part that holds the crown is the hair: one of these names wears it to the jaw."""
    lengths = {}
    for person in EVERYONE[:3]:
        hair = max(person_parts(person, stool=False), key=lambda part: part.positions[:, 2].max())
        drop = person.position_m[2] + eye_height_m(person) - hair.positions[:, 2].min()
        lengths[person.name] = drop * 1.72 / person.height_m
    assert lengths["Fay"] > 0.11 > lengths["Ada"] > 0.06


def test_the_stool_is_a_part_of_its_own():
    with_stool, without = person_parts(SEATED), person_parts(SEATED, stool=False)
    assert len(with_stool) == len(without) + 1
    stool = in_the_persons_frame(SEATED, with_stool[-1].positions.astype(np.float64))
    assert stool[:, 2].min() == pytest.approx(0.0, abs=1e-6)
    assert stool[:, 2].max() == pytest.approx(SEATED.seat_height_m, abs=1e-6)
    assert len(person_parts(STANDING)) == len(person_parts(STANDING, stool=False))


def test_blended_solids_are_meshed_where_they_are():
    """A sphere's area and volume, and a blend that contains both its parts. Closed forms."""
    axis = axis_samples(-1.2, 1.2, 0.08)
    points, normals, triangles = polygonise(ellipsoid((0, 0, 0), (1, 1, 1)), (axis, axis, axis))
    np.testing.assert_allclose(np.linalg.norm(points, axis=1), 1.0, atol=1e-4)
    np.testing.assert_allclose(normals, points, atol=1e-3)
    mesh = trimesh.Trimesh(points, triangles, process=False)
    assert mesh.volume == pytest.approx(4 / 3 * np.pi, rel=0.01)
    both = union([limb((-1, 0, 0), (1, 0, 0), 0.2, 0.2), limb((0, -1, 0), (0, 1, 0), 0.2, 0.2)], 0.2)
    spots = np.array([[0.9, 0.1, 0], [0.1, 0.9, 0], [0.22, 0.22, 0.0], [0.9, 0.9, 0]])
    assert (both(spots) < 0).tolist() == [True, True, True, False]


def test_grids_are_finer_where_asked():
    axis = axis_samples(-1.0, 1.0, 0.2, [(0.3, 0.5, 0.02)])
    steps = np.diff(axis)
    assert axis[0] == -1.0 and axis[-1] == 1.0
    assert steps[(axis[:-1] > 0.3) & (axis[1:] < 0.5)].max() <= 0.0205
    assert steps.max() < 0.21


def test_the_face_picture_is_painted_where_its_coordinates_say():
    skin, hair = np.array([0.4, 0.3, 0.2]), np.array([0.02, 0.02, 0.02])
    picture = head.face_picture(skin, hair, np.array([0.05, 0.03, 0.02]), 0.5)
    height, width = picture.shape[:2]

    def at(x, z):
        u, v = head.face_uv(np.array([[x, 0.08, z]]))[0]
        return picture[int(v * height), int(u * width)]

    assert at(head.EYE_X, 0.0008).sum() < 0.1, "pupil"
    assert at(-head.EYE_X, 0.0008).sum() < 0.1
    np.testing.assert_allclose(at(0.0, 0.06), skin, rtol=0.05)
    lip = at(0.0, -0.0755)
    assert lip[1] / lip[0] < 0.9 * skin[1] / skin[0], "lips are redder than skin"
