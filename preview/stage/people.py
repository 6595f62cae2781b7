"""Stand-ins for presenters and guests: neutral mannequins in a jacket, standing or on a stool."""

from __future__ import annotations

import functools
import hashlib
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from preview.colour import hex_to_linear, linear_to_srgb
from preview.conventions import Array
from preview.show.model import Person
from preview.stage import figure, head
from preview.stage.field import Field, axis_samples, boxed, common, half_space, openness, polygonise
from preview.stage.mesh import Material, MeshPart, Texture
from preview.stage.people_dims import eye_height_m
from preview.stage.placement import turn_about_z
from preview.stage.tailoring import (
    Mesh,
    button,
    front_edge,
    jacket_collar,
    lapels,
    lathe,
    pocket_flaps,
    shirt_collar,
)

Axes = tuple[Array, Array, Array]

_SHIRT, _SHOE, _STOOL = np.array([0.62, 0.61, 0.59]), np.full(3, 0.017), np.array([0.060, 0.062, 0.066])
_STOOL_NAME = "stool"
_IRISES = ("#5b4636", "#4a3a2a", "#5a5442", "#3f2f26")
_SHADE_REACH = 0.16
_DEEPEST_SHADE = 0.45  # vertex colour of a fully enclosed fold


def person_parts(person: Person, stool: bool = True) -> tuple[MeshPart, ...]:
    """The person's triangles on the stage; the same for the same values.

    Every part carries linear vertex colours; the face also a picture (texture coordinates 0). The
    haircut and the eyes follow from the name.

    Parameters
    ----------
    person : from the show file
    stool : also give a seated person something to sit on
    """
    turn = turn_about_z(person.pan_deg)
    parts = []
    for part in _parts(person.model_copy(update={"position_m": (0.0, 0.0, 0.0), "pan_deg": 0.0})):
        if part.name == _STOOL_NAME and not stool:
            continue
        positions = part.positions.astype(np.float64) @ turn.T + np.asarray(person.position_m)
        normals = part.normals.astype(np.float64) @ turn.T
        parts.append(
            replace(
                part,
                name=person.name,
                positions=positions.astype(np.float32),
                normals=normals.astype(np.float32),
            )
        )
    return tuple(parts)


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
    axes = {
        "jacket": _jacket_axes(at),
        "shirt": _shirt_axes(at),
        "trousers": _trousers_axes(at),
        "hands": _hand_axes(at),
    }
    bare_head = head.head_field()

    enclosed = [_boxed(solids[name], axes[name]) for name in solids]
    enclosed.append(
        _boxed(lambda points: bare_head(points - eye), [axis + eye[i] for i, axis in enumerate(_HEAD_AXES)])
    )

    def body(points: Array) -> Array:
        return np.minimum.reduce([field(points) for field in enclosed])

    look = hashlib.sha256(person.name.encode()).digest()
    skin, hair = _linear(person.skin_color), _linear(person.hair_color)
    top, trousers = _linear(person.top_color), _linear(person.trousers_color)
    shirt = _SHIRT * (0.8 + 0.2 * top / max(float(top.max()), 1e-3))
    closed = figure.jacket_field(at, opened=False)
    neck = eye + np.array([0.0, figure.NECK_Y, 0.0])
    clothes: list[tuple[Mesh, Array, float]] = [
        (polygonise(solids["jacket"], axes["jacket"]), top, 0.92),
        (jacket_collar(neck), top * 0.88, 0.92),
        (lapels(closed, at.eye_z), top * 0.88, 0.92),
        (polygonise(solids["shirt"], axes["shirt"]), shirt, 0.9),
        (shirt_collar(neck), shirt, 0.9),
        (polygonise(figure.cuffs_field(at), _cuff_axes(at)), shirt, 0.9),
        (polygonise(solids["trousers"], axes["trousers"]), trousers, 0.92),
        (polygonise(figure.shoes_field(at), _shoe_axes(at)), _SHOE, 0.45),
        (polygonise(solids["hands"], axes["hands"]), skin, 0.6),
    ]
    if seat_z is None:
        clothes += [
            (pocket_flaps(closed, at.eye_z), top * 0.88, 0.92),
            (front_edge(closed, at.eye_z - 0.530, at.hem_z + 0.012), top, 0.92),
        ]
    heights = (0.548, 0.645) if seat_z is None else (0.548,)
    clothes += [(button(closed, at.eye_z - height), top * 0.25, 0.5) for height in heights]
    parts = [_part(mesh, color, rough, body, scale) for mesh, color, rough in clothes]
    hair_mesh = polygonise(head.hair_field(int.from_bytes(look[:4], "big") % head.HAIRCUTS), _HAIR_AXES)
    parts.append(_part((hair_mesh[0] + eye, *hair_mesh[1:]), hair, 0.62, body, scale))
    iris = _linear(_IRISES[look[1] % len(_IRISES)])
    picture = head.face_picture(skin, hair, iris, 0.35 + 0.35 * look[2] / 255.0)
    cropped = common(bare_head, half_space((0, 0, head.NECK_LOW), (0, 0, -1)), 0.004)
    parts += _head_parts(polygonise(cropped, _HEAD_AXES), eye, skin, picture, body, scale)
    if seat_z is not None:
        stool = _part(_stool(seat_z, at.sole_z), _STOOL, 0.6, body, scale)
        parts.append(replace(stool, name=_STOOL_NAME))
    return tuple(parts)


def _boxed(field: Field, axes: Sequence[Array]) -> Field:
    return boxed(field, [axis[0] for axis in axes], [axis[-1] for axis in axes], _SHADE_REACH)


def _linear(color: str) -> Array:
    return np.array(hex_to_linear(color))


def _head_parts(
    mesh: Mesh, eye: Array, skin: Array, picture: Array, body: Field, scale: float
) -> list[MeshPart]:
    """Face with its picture, and the rest of the head; both show the skin's colour where they meet."""
    positions, normals, triangles = mesh
    front = positions[triangles][:, :, 1].min(axis=1) > head.FACE_BACK
    image = np.full((*picture.shape[:2], 4), 255, dtype=np.uint8)
    image[..., :3] = np.round(np.clip(linear_to_srgb(picture), 0.0, 1.0) * 255.0)
    parts = []
    for chosen, texture in (
        (front, Texture(image, srgb=True, wrap_s="clamp", wrap_t="clamp")),
        (~front, None),
    ):
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
    shade = _DEEPEST_SHADE + (1.0 - _DEEPEST_SHADE) * openness(
        body, positions + 0.004 * normals, normals, _SHADE_REACH
    )
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


def _stool(seat_z: float, sole_z: float) -> Mesh:
    """Round seat on a column with a foot plate, and a foot-rest where the soles do not reach down."""
    rest: list[tuple[float, float]] = []
    if sole_z > 0.01:
        rest = [
            (0.028, sole_z - 0.034),
            (0.060, sole_z - 0.018),
            (0.330, sole_z - 0.014),
            (0.330, sole_z - 0.002),
        ]
        rest += [(0.050, sole_z), (0.027, sole_z + 0.012)]
    foot = [(0.0, 0.0), (0.205, 0.0), (0.205, 0.010), (0.190, 0.018), (0.040, 0.026), (0.028, 0.040)]
    seat = [
        (0.026, seat_z - 0.060), (0.060, seat_z - 0.046), (0.178, seat_z - 0.042), (0.188, seat_z - 0.030),
        (0.188, seat_z - 0.010), (0.178, seat_z), (0.0, seat_z),
    ]  # fmt: skip
    return lathe([*foot, *rest, *seat])


_HEAD_AXES = (
    axis_samples(
        -0.10, 0.10, 0.0135, [(-0.046, 0.046, 0.0066), (-0.086, -0.068, 0.007), (0.068, 0.086, 0.007)]
    ),
    axis_samples(-0.125, 0.125, 0.0135, [(0.055, 0.108, 0.0066)]),
    axis_samples(-0.285, 0.125, 0.0145, [(-0.082, 0.022, 0.0066)]),
)
_HAIR_AXES = (
    axis_samples(-0.13, 0.13, 0.0135),
    axis_samples(-0.15, 0.14, 0.0135),
    axis_samples(-0.16, 0.14, 0.0135),
)


def _jacket_axes(at: figure.Pose) -> Axes:
    across = at.elbow[0] + 0.09
    front = max(at.wrist[1] + 0.06, 0.17)
    return (
        axis_samples(-across, across, 0.0255),
        axis_samples(-0.20, front, 0.0255),
        axis_samples(at.hem_z - 0.05, at.eye_z - 0.10, 0.0255),
    )


def _shirt_axes(at: figure.Pose) -> Axes:
    return (
        axis_samples(-0.11, 0.11, 0.022),
        axis_samples(-0.05, 0.14, 0.022),
        axis_samples(at.eye_z - 0.57, at.eye_z - 0.13, 0.024, [(at.eye_z - 0.24, at.eye_z - 0.13, 0.014)]),
    )


def _trousers_axes(at: figure.Pose) -> Axes:
    reach = max(at.knee[1], at.ankle[1], 0.06) + 0.12
    bottom = at.ankle[2] - 0.07
    return (
        axis_samples(-0.23, 0.23, 0.0300, [(-0.012, 0.012, 0.010)]),
        axis_samples(-0.21, reach, 0.0300),
        axis_samples(bottom, at.hip[2] + 0.26, 0.0370),
    )


def _shoe_axes(at: figure.Pose) -> Axes:
    x, y, z = at.ankle
    return (
        axis_samples(-x - 0.11, x + 0.11, 0.022),
        axis_samples(y - 0.10, y + 0.25, 0.022),
        axis_samples(z - 0.10, z + 0.07, 0.0150),
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
        axis_samples(-x - 0.09, x + 0.09, 0.0108),
        axis_samples(y - 0.11, y + 0.23, 0.0108),
        axis_samples(z - 0.17, z + 0.12, 0.0108),
    )
