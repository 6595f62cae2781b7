"""A stand-in's head: skull, face and ears, two haircuts, eyeballs, and the picture painted on the face.

Head coordinates: metres for a person of 1.72 m, X to the person's right, Y the way the face looks,
Z up; origin between the ears at the height of the eyes. Proportions follow the artist's canon (eyes
half way up the head, head five eyes wide, face in thirds); values from memory.
"""

from __future__ import annotations

import numpy as np

from preview.conventions import Array
from preview.stage.field import Field, chain, common, cut, ellipsoid, grown, half_space, limb, mirrored, union

EYE_X, EYE_Y = 0.0315, 0.0715
FACE_LOW, FACE_HIGH, FACE_HALF_WIDTH = -0.125, 0.105, 0.085
"""The face picture covers this part of the head, seen from the front (metres)."""
FACE_BACK = 0.012
"""The picture is on the head in front of this Y."""
NECK_LOW = -0.265
"""The neck ends at this Z, inside the collar."""
HAIRCUTS = 3
_PICTURE_PX = (400, 540)


def head_field() -> Field:
    """Bare head and neck, down to inside the collar."""
    skull = union(
        [
            ellipsoid((0, -0.012, 0.025), (0.0735, 0.0945, 0.078)),
            ellipsoid((0, 0.012, 0.035), (0.066, 0.074, 0.058)),
        ],
        0.03,
    )
    middle_face = ellipsoid((0, 0.018, -0.040), (0.0590, 0.060, 0.064))
    jaw = mirrored(chain([(0.052, 0.000, -0.040), (0.0425, 0.010, -0.073), (0.012, 0.058, -0.0985)],
                         [0.012, 0.0135, 0.012], 0.02))  # fmt: skip
    chin = ellipsoid((0, 0.063, -0.0965), (0.017, 0.0160, 0.0140))
    muzzle = ellipsoid((0, 0.052, -0.068), (0.034, 0.0295, 0.036))
    cheeks = mirrored(
        union(
            [
                ellipsoid((0.040, 0.047, -0.030), (0.021, 0.023, 0.020)),
                ellipsoid((0.037, 0.036, -0.058), (0.0235, 0.0245, 0.0270)),
            ],
            0.02,
        )
    )
    brows = mirrored(limb((0.010, 0.080, 0.017), (0.046, 0.062, 0.020), 0.0085, 0.0085))
    face = union([skull, middle_face, jaw, chin, muzzle, cheeks, brows], 0.026)
    sockets = mirrored(ellipsoid((0.031, 0.092, 0.000), (0.021, 0.0135, 0.0125)))
    face = cut(face, sockets, 0.016)
    lids = mirrored(ellipsoid((EYE_X, EYE_Y - 0.0005, 0.0), (0.0160, 0.0138, 0.0135)))
    nose = union(
        [
            limb((0, 0.078, 0.010), (0, 0.0965, -0.034), 0.0072, 0.0095),
            mirrored(ellipsoid((0.0118, 0.0885, -0.0385), (0.0080, 0.0105, 0.0078))),
            ellipsoid((0, 0.0955, -0.0350), (0.0105, 0.0100, 0.0095)),
        ],
        0.010,
    )
    face = union([union([face, lids], 0.005), nose], 0.011)
    lips = union(
        [
            mirrored(limb((0.0045, 0.0825, -0.0655), (0.0225, 0.0735, -0.0695), 0.0046, 0.0020)),
            mirrored(limb((0.0, 0.0815, -0.0755), (0.0215, 0.0735, -0.0715), 0.0058, 0.0020)),
        ],
        0.0025,
    )
    face = union([face, lips], 0.006)
    lean = np.array([[1, 0, 0], [0, 0.96, -0.28], [0, 0.28, 0.96]])
    ear = cut(
        ellipsoid((0.0755, -0.012, -0.012), (0.0085, 0.0185, 0.0315), lean),
        ellipsoid((0.0865, -0.008, -0.010), (0.0085, 0.0115, 0.0210), lean),
        0.005,
    )
    neck = union(
        [
            limb((0, -0.030, -0.050), (0, -0.034, -0.130), 0.0450, 0.0470),
            limb((0, -0.034, -0.130), (0, -0.030, -0.260), 0.0470, 0.0660),
            mirrored(limb((0.050, -0.030, -0.060), (0.014, 0.008, -0.195), 0.010, 0.009)),
        ],
        0.02,
    )
    return union([union([face, neck], 0.024), mirrored(ear)], 0.006)


def hair_field(style: int) -> Field:
    """Hair as one closed cap. ``style`` 0: short with a parting; 1: to the jaw; 2: close-cropped."""
    skull = union(
        [
            ellipsoid((0, -0.013, 0.025), (0.0745, 0.0955, 0.079)),
            ellipsoid((0, 0.012, 0.035), (0.067, 0.075, 0.059)),
        ],
        0.03,
    )
    if style == 1:
        back = union(
            [
                limb((0, -0.045, 0.01), (0, -0.055, -0.105), 0.072, 0.060),
                mirrored(
                    chain(
                        [(0.050, -0.005, 0.055), (0.068, -0.004, -0.020), (0.066, 0.006, -0.105)],
                        [0.034, 0.026, 0.022],
                        0.02,
                    )
                ),
            ],
            0.03,
        )
        mass = union([grown(skull, _locks(0.0085, 0.0018)), grown(back, _locks(0.0, 0.0022))], 0.02)
        mass = common(mass, half_space((0, 0, -0.118), (0, 0.25, -1.0)), 0.012)
        opening = union(
            [
                mirrored(ellipsoid((0.016, 0.098, -0.042), (0.047, 0.086, 0.108))),
                ellipsoid((0, 0.080, -0.110), (0.052, 0.080, 0.090)),
            ],
            0.02,
        )
        return cut(mass, opening, 0.010)
    thick = (0.0090, 0.0015) if style == 0 else (0.0050, 0.0006)
    mass = grown(skull, _locks(*thick))
    if style == 0:
        top = ellipsoid((-0.006, 0.026, 0.070), (0.056, 0.062, 0.030))
        mass = union([mass, grown(top, _locks(0.0035, 0.002))], 0.02)
    nape = grown(limb((0, -0.034, -0.03), (0, -0.038, -0.085), 0.048, 0.0465), _locks(0.004, 0.0008))
    mass = union([mass, nape], 0.015)
    face = mirrored(ellipsoid((0.020, 0.104, -0.036), (0.0480, 0.086, 0.107)))
    below = half_space((0, -0.085, -0.074), (0, -0.30, 0.95))
    ears = mirrored(ellipsoid((0.083, -0.006, -0.030), (0.030, 0.0235, 0.0365)))
    front_of_ear = mirrored(ellipsoid((0.070, 0.052, -0.062), (0.030, 0.052, 0.068)))
    mass = cut(mass, face, 0.007)
    return cut(cut(mass, union([ears, front_of_ear], 0.01), 0.006), below, 0.010)


def _locks(thickness: float, relief: float) -> Field:
    """Thickness by point, as ``grown`` takes it, with combed locks of a given relief (metres)."""

    def by(points: Array) -> Array:
        x, y, z = points[..., 0], points[..., 1], points[..., 2]
        around = np.arctan2(x + 0.018, 0.15 - y)  # combed back from the front, parted to one side
        waves = np.sin(46 * around + 9 * np.sin(18 * y + 7 * z)) + 0.6 * np.sin(83 * around - 21 * z + 1.7)
        return thickness + relief * waves * 0.6

    return by


def face_uv(positions: Array) -> Array:
    """(n, 2) texture coordinates (v down) of head points on the face picture, seen from the front."""
    u = 0.5 + positions[:, 0] / (2.0 * FACE_HALF_WIDTH)
    v = (FACE_HIGH - positions[:, 2]) / (FACE_HIGH - FACE_LOW)
    return np.clip(np.column_stack([u, v]), 0.0, 1.0)


def face_picture(skin: Array, hair: Array, iris: Array, lips: float) -> Array:
    """(h, w, 3) linear colours painted on the face: brows, eyes, nostrils, mouth, a little warmth.

    Parameters
    ----------
    skin, hair, iris : (3,) linear
    lips : how red the lips are, 0..1
    """
    width, height = _PICTURE_PX
    x = ((np.arange(width) + 0.5) / width * 2.0 - 1.0) * FACE_HALF_WIDTH
    z = FACE_HIGH - (np.arange(height) + 0.5) / height * (FACE_HIGH - FACE_LOW)
    x, z = np.meshgrid(x, z)
    side = np.abs(x)
    picture = np.tile(skin, (height, width, 1))

    def paint(cover: Array, color: Array | tuple[float, float, float], strength: float = 1.0) -> None:
        share = np.clip(cover * strength, 0.0, 1.0)[..., None]
        picture[:] = picture * (1.0 - share) + np.asarray(color) * share

    warm, dark = skin * (1.12, 0.80, 0.74), skin * (0.50, 0.40, 0.38)
    paint(_spot(side - 0.040, z + 0.036, 0.018, 0.016), warm, 0.45)  # cheeks
    paint(_spot(x, z + 0.037, 0.013, 0.013), warm, 0.35)  # tip of the nose
    paint(_spot(side - 0.030, z - 0.004, 0.018, 0.011), dark, 0.17)  # sockets
    paint(_spot(side - 0.031, z + 0.0155, 0.014, 0.005), dark, 0.12)  # under the eyes

    across = (side - EYE_X) / 0.0145  # -1 at the inner corner, 1 at the outer
    bow = np.clip(1.0 - across**2, 0.0, None)
    top = 0.0050 * bow**0.75 + 0.0012 * across
    bottom = -0.0042 * bow**0.85 + 0.0012 * across
    inside = np.where(np.abs(across) < 1.0, np.minimum(top - z, z - bottom), -1.0)
    eye = _edge(inside, 0.0004)
    paint(eye, (0.52, 0.50, 0.47))
    shade = np.clip((z - top + 0.0042) / 0.0042, 0.0, 1.0)
    paint(eye * shade, (0.20, 0.17, 0.15), 0.55)  # the lid's shadow on the eye
    away = np.hypot(side - EYE_X, z - 0.0008)
    paint(eye * _edge(0.0063 - away, 0.0005), iris * 0.45)
    paint(eye * _edge(0.0055 - away, 0.0006), iris)
    paint(eye * _edge(0.0026 - away, 0.0004), (0.012, 0.010, 0.010))
    glint = np.hypot(x - np.sign(x) * EYE_X - 0.0016, z - 0.0030)
    paint(eye * _edge(0.0009 - glint, 0.0004), (0.85, 0.85, 0.85), 0.45)
    reach = _edge(0.0152 - np.abs(side - EYE_X - 0.0004), 0.0015)
    lash = 0.0009 + 0.0005 * across
    paint(reach * _edge(lash - np.abs(z - top - 0.0003), 0.0004), hair * 0.35 + 0.004, 0.9)
    paint(reach * _edge(0.0006 - np.abs(z - bottom), 0.0005), dark * 0.7, 0.55)
    crease = 0.0042 + 0.0058 * bow**0.6
    paint(reach * _edge(0.0004 - np.abs(z - crease), 0.0008), dark, 0.55)

    along = np.clip((side - 0.0125) / 0.036, 0.0, 1.0)  # brow from its inner end to the temple
    arch = 0.0190 + 0.0058 * np.sin(np.clip(along * 1.15, 0, 1) * np.pi * 0.72) - 0.004 * along**3
    half = 0.0034 * (1.0 - along**1.8) + 0.0006
    hairs = 0.85 + 0.15 * np.sin(side * 4200 + z * 2600)
    ends = _edge(side - 0.0122, 0.0015) * _edge(0.0490 - side, 0.002)
    paint(_edge(half - np.abs(z - arch), 0.0012) * ends * hairs, hair * 0.8 + skin * 0.03, 0.88)

    paint(_spot(side - 0.0078, z + 0.0452, 0.0036, 0.0020), dark * 0.45, 1.1)  # nostrils
    paint(_spot(side - 0.0205, z + 0.040, 0.0022, 0.0075), dark, 0.22)  # wings of the nose
    paint(_spot(x, z + 0.0555, 0.0035, 0.006), dark, 0.12)  # groove above the lip

    mouth = np.clip(1.0 - (x / 0.0245) ** 2, 0.0, None)
    line = -0.0712 + 0.0024 * (x / 0.0245) ** 2 + 0.0006 * np.cos(x / 0.0245 * np.pi)
    peak = line + (0.0062 - 0.0015 * np.exp(-((x / 0.0035) ** 2))) * mouth**0.8
    floor = line - 0.0085 * mouth**0.75
    rouge = skin * (1.0 - lips) + np.array([0.86, 0.42, 0.40]) * skin * lips
    paint(_edge(np.minimum(peak - z, z - floor), 0.0009) * (mouth > 0), rouge * 0.88, 0.92)
    corner = _edge(0.0250 - side, 0.001)
    paint(corner * _edge(0.0005 - np.abs(z - line), 0.0006), dark * 0.45, 0.9)
    paint(_spot(x, z + 0.0835, 0.013, 0.0028), dark, 0.30)  # shadow under the lower lip
    return picture


def _edge(distance: Array, soft: float) -> Array:
    """0 outside, 1 inside (positive), over ``soft`` metres either way."""
    share = np.clip(0.5 + 0.5 * distance / soft, 0.0, 1.0)
    return share * share * (3.0 - 2.0 * share)


def _spot(x: Array, z: Array, half_width: float, half_height: float) -> Array:
    return np.exp(-((x / half_width) ** 2) - (z / half_height) ** 2)
