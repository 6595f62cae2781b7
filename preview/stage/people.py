"""Stand-ins for presenters and guests: neutral mannequins in a jacket, standing or on a stool."""

from __future__ import annotations

import functools
import hashlib
from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from preview.conventions import Array
from preview.show.model import Person
from preview.stage import figure, head
from preview.stage.field import Field, axis_samples, common, half_space, limb, openness, polygonise, union
from preview.stage.mesh import Material, MeshPart, Texture
from preview.stage.people_dims import eye_height_m
from preview.stage.placement import turn_about_z
from preview.stage.tailoring import Mesh, buttons, front_edge, jacket_collar, join, lapels, pocket_flaps, shirt_collar

Axes = tuple[Array, Array, Array]

_SHIRT, _SHOE, _STOOL = np.array([0.62, 0.61, 0.59]), np.full(3, 0.017), np.array([0.060, 0.062, 0.066])
_IRISES = ("#5b4636", "#4c5a4a", "#54657a", "#3f2f26")
_DEEPEST_SHADE = 0.45  # vertex colour of a fully enclosed fold


def person_parts(person: Person) -> tuple[MeshPart, ...]:
    """The person's triangles on the stage, with a stool when seated; the same for the same values.

    Every part carries linear vertex colours; the face also a picture (texture coordinates 0).
    """
    turn = turn_about_z(person.pan_deg)
    parts = []
    for part in _parts(person.model_copy(update={"position_m": (0.0, 0.0, 0.0), "pan_deg": 0.0})):
        parts.append(
            MeshPart(
                name=person.name,
                positions=(part.positions @ turn.T + np.asarray(person.position_m)).astype(np.float32),
                normals=(part.normals @ turn.T).astype(np.float32),
                uv0=part.uv0,
                uv1=None,
                colors=part.colors,
                triangles=part.triangles,
                material=part.material,
            )
        )
    return tuple(parts)


def linear_color(text: str) -> Array:
    """(3,) linear BT.709 of "#rrggbb". Source: IEC 61966-2-1:1999, 5.2."""
    coded = np.array([int(text[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0
    return np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)


@functools.lru_cache(maxsize=32)
def _parts(person: Person) -> tuple[MeshPart, ...]:
    """Parts of a person at the stage origin facing +Y."""
    scale = person.height_m / figure.REFERENCE_HEIGHT_M
    seat_z = person.seat_height_m / scale if person.posture == "seated" else None
    at = figure.pose(eye_height_m(person) / scale, seat_z)
    eye = np.array([0.0, figure.HEAD_Y, at.eye_z])
    solids = {
        "jacket": figure.jacket_field(at),
        "shirt": figure.shirt_field(at),
        "trousers": figure.trousers_field(at),
        "hands": figure.hands_field(at),
    }
    bare_head = head.head_field()

    def body(points: Array) -> Array:
        fields = [field(points) for field in solids.values()]
        return np.minimum.reduce([*fields, bare_head(points - eye)])

    look = hashlib.sha256(person.name.encode()).digest()
    skin, hair = linear_color(person.skin_color), linear_color(person.hair_color)
    top, trousers = linear_color(person.top_color), linear_color(person.trousers_color)
    shirt = _SHIRT * (0.8 + 0.2 * top / max(float(top.max()), 1e-3))
    closed = figure.jacket_field(at, opened=False)
    neck = eye + (0.0, -0.031, 0.0)
    clothes: list[tuple[Mesh, Array, float]] = [
        (polygonise(solids["jacket"], _jacket_axes(at)), top, 0.92),
        (jacket_collar(neck), top * 0.88, 0.92),
        (join([*lapels(closed, at.eye_z), *pocket_flaps(closed, at.eye_z)]), top * 0.88, 0.92),
        (front_edge(closed, at.eye_z, at.hem_z), top, 0.92),
        (join(buttons(closed, at.eye_z)), top * 0.25, 0.5),
        (polygonise(solids["shirt"], _shirt_axes(at)), shirt, 0.9),
        (shirt_collar(neck), shirt, 0.9),
        (polygonise(figure.cuffs_field(at), _cuff_axes(at)), shirt, 0.9),
        (polygonise(solids["trousers"], _trousers_axes(at)), trousers, 0.92),
        (polygonise(figure.shoes_field(at), _shoe_axes(at)), _SHOE, 0.45),
        (polygonise(solids["hands"], _hand_axes(at)), skin, 0.6),
    ]
    parts = [_part(mesh, color, rough, body, scale) for mesh, color, rough in clothes]
    hair_mesh = polygonise(head.hair_field(look[0] % head.HAIRCUTS), _HAIR_AXES)
    parts.append(_part((hair_mesh[0] + eye, *hair_mesh[1:]), hair, 0.62, body, scale))
    iris = linear_color(_IRISES[look[1] % len(_IRISES)])
    picture = head.face_picture(skin, hair, iris, 0.35 + 0.35 * look[2] / 255.0)
    cropped = common(bare_head, half_space((0, 0, head.NECK_LOW), (0, 0, -1)), 0.004)
    parts += _head_parts(polygonise(cropped, _HEAD_AXES), eye, skin, picture, body, scale)
    if seat_z is not None:
        parts.append(_part(_stool(seat_z), _STOOL, 0.6, body, scale))
    return tuple(parts)


def _head_parts(
    mesh: Mesh, eye: Array, skin: Array, picture: Array, body: Field, scale: float
) -> list[MeshPart]:
    """Face with its picture, and the rest of the head; both show the skin's colour where they meet."""
    positions, normals, triangles = mesh
    front = positions[triangles][:, :, 1].min(axis=1) > head.FACE_BACK
    coded = np.where(picture <= 0.0031308, picture * 12.92, 1.055 * np.maximum(picture, 0.0) ** (1 / 2.4) - 0.055)
    image = np.full((*picture.shape[:2], 4), 255, dtype=np.uint8)
    image[..., :3] = np.clip(np.round(coded * 255.0), 0, 255)
    parts = []
    for chosen, texture in ((front, Texture(image, srgb=True, wrap_s="clamp", wrap_t="clamp")), (~front, None)):
        used, renumbered = np.unique(triangles[chosen], return_inverse=True)
        piece = (positions[used] + eye, normals[used], renumbered.reshape(-1, 3).astype(np.int32))
        color = np.ones(3) if texture else skin
        uv = head.face_uv(positions[used]).astype(np.float32) if texture else None
        parts.append(_part(piece, color, 0.58, body, scale, uv, texture))
    return parts


def _part(
    mesh: Mesh,
    color: Array,
    roughness: float,
    body: Field,
    scale: float,
    uv: npt.NDArray[np.float32] | None = None,
    texture: Texture | None = None,
) -> MeshPart:
    """Part in metres of the real person, its colour darkened in folds and hollows of ``body``."""
    positions, normals, triangles = mesh
    shade = _DEEPEST_SHADE + (1.0 - _DEEPEST_SHADE) * openness(body, positions + 0.004 * normals, normals)
    colors = np.concatenate([color * shade[:, None], np.ones((len(positions), 1))], axis=1)
    return MeshPart(
        name="",
        positions=(positions * scale).astype(np.float32),
        normals=normals.astype(np.float32),
        uv0=uv,
        uv1=None,
        colors=colors.astype(np.float32),
        triangles=triangles,
        material=Material(roughness=roughness, base_color_texture=texture),
    )


def _stool(seat_z: float) -> Mesh:
    """Round seat on a column with a foot plate."""
    column = union(
        [
            _disc(seat_z - 0.020, 0.020, 0.185),
            limb((0, 0, seat_z - 0.03), (0, 0, 0.02), 0.026, 0.030),
            _disc(0.014, 0.014, 0.205),
        ],
        0.012,
    )
    around = axis_samples(-0.23, 0.23, 0.024)
    up = axis_samples(-0.02, seat_z + 0.03, 0.05, [(-0.01, 0.04, 0.012), (seat_z - 0.05, seat_z + 0.01, 0.012)])
    return polygonise(column, (around, around, up))


def _disc(middle_z: float, half_height: float, radius: float) -> Field:
    """Level disc on the Z axis with rounded edges."""
    edge = 0.6 * half_height

    def distance(points: Array) -> Array:
        across = np.hypot(points[..., 0], points[..., 1]) - radius + edge
        deep = np.abs(points[..., 2] - middle_z) - half_height + edge
        outside = np.hypot(np.maximum(across, 0.0), np.maximum(deep, 0.0))
        return outside + np.minimum(np.maximum(across, deep), 0.0) - edge

    return distance


_HEAD_AXES = (
    axis_samples(-0.10, 0.10, 0.0125, [(-0.046, 0.046, 0.0058), (-0.086, -0.068, 0.007), (0.068, 0.086, 0.007)]),
    axis_samples(-0.125, 0.125, 0.0135, [(0.055, 0.108, 0.0058)]),
    axis_samples(-0.285, 0.125, 0.0145, [(-0.082, 0.022, 0.0058)]),
)
_HAIR_AXES = (
    axis_samples(-0.13, 0.13, 0.0125),
    axis_samples(-0.15, 0.14, 0.0125),
    axis_samples(-0.16, 0.14, 0.0125),
)


def _jacket_axes(at: figure.Pose) -> Axes:
    across = at.elbow[0] + 0.09
    front = max(at.wrist[1] + 0.06, 0.17)
    return (
        axis_samples(-across, across, 0.0235),
        axis_samples(-0.20, front, 0.0235),
        axis_samples(at.hem_z - 0.05, at.eye_z - 0.10, 0.0235),
    )


def _shirt_axes(at: figure.Pose) -> Axes:
    return (
        axis_samples(-0.11, 0.11, 0.019),
        axis_samples(-0.05, 0.14, 0.019),
        axis_samples(at.eye_z - 0.57, at.eye_z - 0.13, 0.024, [(at.eye_z - 0.24, at.eye_z - 0.13, 0.014)]),
    )


def _trousers_axes(at: figure.Pose) -> Axes:
    reach = max(at.knee[1], at.ankle[1], 0.06) + 0.12
    bottom = at.ankle[2] - 0.02
    return (
        axis_samples(-0.23, 0.23, 0.0275, [(-0.012, 0.012, 0.010)]),
        axis_samples(-0.21, reach, 0.0275),
        axis_samples(bottom, at.hip[2] + 0.24, 0.0310),
    )


def _shoe_axes(at: figure.Pose) -> Axes:
    x, y, z = at.ankle
    return (
        axis_samples(-x - 0.11, x + 0.11, 0.019),
        axis_samples(y - 0.10, y + 0.25, 0.019),
        axis_samples(z - 0.10, z + 0.07, 0.0135),
    )


def _cuff_axes(at: figure.Pose) -> Axes:
    x, y, z = at.wrist
    return (
        axis_samples(-x - 0.09, x + 0.09, 0.0150),
        axis_samples(y - 0.11, y + 0.08, 0.0150),
        axis_samples(z - 0.09, z + 0.10, 0.0150),
    )


def _hand_axes(at: figure.Pose) -> Axes:
    x, y, z = at.wrist
    return (
        axis_samples(-x - 0.09, x + 0.09, 0.0100),
        axis_samples(y - 0.11, y + 0.23, 0.0100),
        axis_samples(z - 0.17, z + 0.12, 0.0100),
    )
