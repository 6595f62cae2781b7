"""A stand-in's pose and clothes: joints, jacket, shirt, trousers, shoes, hands, as distance fields.

Body coordinates: metres for a person of 1.72 m, X to the person's right, Y the way the person faces,
Z up from the floor point. Heights of the upper body hang from the eyes, which are lower when seated.
Segment lengths are shares of body height (upper arm 0.186, forearm 0.146, thigh 0.245, shank 0.246,
foot 0.152): Drillis and Contini's, as commonly reproduced; values from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator

from preview.conventions import Array
from preview.stage.field import Field, chain, common, cut, ellipsoid, grown, half_space, limb, mirrored, union

REFERENCE_HEIGHT_M = 1.72
HEAD_Y = -0.040
NECK_Y = -0.031
"""Where the head stands on the body, and the neck under the head."""
_THIGH_M, _SHANK_M, _ANKLE_M = 0.245 * 1.72, 0.246 * 1.72, 0.080

# Jacket cross-sections: height below the eyes, half width, half depth, Y of the middle.
_JACKET = np.array(
    [
        [-0.140, 0.070, 0.072, -0.060],
        [-0.190, 0.082, 0.078, -0.054],
        [-0.230, 0.116, 0.090, -0.044],
        [-0.270, 0.148, 0.103, -0.036],
        [-0.330, 0.164, 0.116, -0.024],
        [-0.400, 0.165, 0.124, -0.015],
        [-0.520, 0.151, 0.114, -0.008],
        [-0.630, 0.164, 0.120, -0.010],
        [-0.740, 0.180, 0.131, -0.012],
        [-0.860, 0.186, 0.134, -0.012],
    ]
)


@dataclass(frozen=True)
class Pose:
    """Joints on the person's right side (x >= 0); the left mirrors them. Body coordinates."""

    eye_z: float
    hem_z: float
    shoulder: Array
    elbow: Array
    wrist: Array
    hand_way: Array
    palm_way: Array
    hip: Array
    knee: Array
    ankle: Array
    seat_z: float | None

    @property
    def sole_z(self) -> float:
        """Height of the soles: 0 on the floor, more on a foot-rest."""
        return float(self.ankle[2]) - _ANKLE_M


def pose(eye_z: float, seat_z: float | None) -> Pose:
    """Standing with hands clasped (``seat_z`` None), or seated with hands in the lap.

    Parameters
    ----------
    eye_z, seat_z : heights above the floor point in body coordinates
    """
    shoulder = np.array([0.158, -0.038, eye_z - 0.262])
    if seat_z is None:
        return Pose(
            eye_z, eye_z - 0.800, shoulder,
            elbow=np.array([0.236, -0.050, eye_z - 0.515]),
            wrist=np.array([0.092, 0.148, eye_z - 0.602]),
            hand_way=_unit([-0.84, 0.16, -0.42]), palm_way=_unit([-0.16, -0.97, -0.10]),
            hip=np.array([0.080, -0.012, eye_z - 0.735]),
            knee=np.array([0.098, 0.004, eye_z - 1.118]),
            ankle=np.array([0.104, -0.022, _ANKLE_M]), seat_z=None,
        )  # fmt: skip
    hip = np.array([0.082, -0.030, seat_z + 0.080])
    knee_z = float(np.clip(_ANKLE_M + _SHANK_M, seat_z - 0.010, seat_z + 0.110))
    forward = float(np.sqrt(_THIGH_M**2 - (knee_z - hip[2]) ** 2))
    knee = np.array([0.108, hip[1] + forward, knee_z])
    drop = knee_z - _ANKLE_M
    if drop <= 1.06 * _SHANK_M:  # feet flat on the floor
        ankle_y = knee[1] + np.sqrt(max(_SHANK_M**2 - drop**2, 0.0)) - 0.03
    else:  # drawn back onto the foot-rest of a high seat
        ankle_y = knee[1] - 0.16
        drop = float(np.sqrt(_SHANK_M**2 - 0.16**2))
    ankle = np.array([0.105, ankle_y, knee_z - drop])
    return Pose(
        eye_z, seat_z + 0.012, shoulder,
        elbow=np.array([0.244, -0.055, eye_z - 0.500]),
        wrist=np.array([0.090, 0.178, seat_z + 0.198]),
        hand_way=_unit([-0.90, 0.30, -0.16]), palm_way=_unit([-0.25, -0.72, -0.64]),
        hip=hip, knee=knee, ankle=ankle, seat_z=seat_z,
    )  # fmt: skip


def jacket_field(at: Pose, opened: bool = True) -> Field:
    """Jacket with sleeves. ``opened`` leaves room for neck and shirt; closed, it is what lapels and
    other panels are draped on."""
    eye = np.array([0.0, 0.0, at.eye_z])
    hem = half_space((0, 0, at.hem_z), (0, 0, -1))
    if at.seat_z is not None:  # in front it rests on the lap
        hem = common(hem, half_space((0, -0.04, at.hem_z), (0, 0.95, -1.0)), 0.01)
    torso = common(_torso(at), hem, 0.012)
    yoke = mirrored(
        union(
            [
                limb(_moved(eye, 0.050, -0.056, -0.200), _moved(at.shoulder, 0.002, 0, 0.006), 0.034, 0.047),
                limb(_moved(eye, 0.0, -0.056, -0.285), at.shoulder, 0.070, 0.052),
            ],
            0.03,
        )
    )
    sleeve = chain([at.shoulder, at.elbow, at.wrist], [0.0555, 0.0490, 0.0385], 0.012)
    end = _unit(at.wrist - at.elbow)
    sleeve = mirrored(common(sleeve, half_space(at.wrist - 0.014 * end, end), 0.004))
    whole = union([union([torso, yoke], 0.045), sleeve], 0.024)
    if opened:
        axis = _moved(eye, 0, HEAD_Y + NECK_Y, 0)
        neck_hole = union(
            [
                limb(_moved(axis, 0, 0.012, -0.180), _moved(axis, 0, 0, -0.10), 0.058, 0.064),
                half_space(_moved(axis, 0, 0, -0.176), (0, -0.40, -0.92)),
            ],
            0.01,
        )
        whole = cut(cut(whole, neck_hole, 0.006), _shirt_wedge(at), 0.004)
    return grown(whole, lambda points: _sleeve_folds(points, at))


def _shirt_wedge(at: Pose) -> Field:
    """What the open front shows of the shirt: a V from the button up, ahead of the body's middle."""
    slope = np.array([0.982, -0.190])

    def distance(points: Array) -> Array:
        side = np.abs(points[..., 0]) * slope[0] + (points[..., 2] - at.eye_z + 0.552) * slope[1]
        return np.maximum(side, -0.03 - points[..., 1])

    return distance


def _torso(at: Pose) -> Field:
    sections = _JACKET + np.array([at.eye_z, 0.0, 0.0, 0.0])
    if at.seat_z is not None:  # hips spread and the jacket with them
        sections[-3:, 1:3] += [[0.008, 0.006], [0.016, 0.010], [0.018, 0.012]]
    return _loft(sections)


def shirt_field(at: Pose) -> Field:
    """Front of the shirt, buttoned to the neck."""
    eye = np.array([0.0, HEAD_Y, at.eye_z])
    neck = limb(_moved(eye, 0, -0.030, -0.270), _moved(eye, 0, -0.033, -0.140), 0.070, 0.0515)
    body = union([grown(_torso(at), -0.009), neck], 0.035)
    body = common(body, half_space(_moved(eye, 0, -0.05, -0.158), (0, 0.40, 0.92)), 0.004)
    body = common(body, half_space((0, -0.030, 0), (0, -1, 0)), 0.004)
    body = common(body, half_space((0, 0, at.eye_z - 0.550), (0, 0, -1)), 0.004)
    return mirrored(common(body, half_space((0.095, 0, 0), (1, 0, 0)), 0.004))


def trousers_field(at: Pose) -> Field:
    """Trousers from the waist, hidden by the jacket, to the shoes."""
    legs = mirrored(
        chain([at.hip, at.knee, at.ankle], [0.086 if at.seat_z is None else 0.080, 0.063, 0.050], 0.02)
    )
    if at.seat_z is None:
        pelvis = ellipsoid(at.hip * [0, 1, 1] + [0, -0.004, 0.045], (0.150, 0.108, 0.130))
        body = union([pelvis, legs], 0.035)
    else:
        pelvis = ellipsoid(at.hip * [0, 1, 1] + [0, 0.010, 0.005], (0.148, 0.112, 0.085))
        body = union([pelvis, legs], 0.035)
    shin = _unit(at.ankle - at.knee)
    body = common(body, half_space(at.ankle + 0.030 * shin, shin), 0.005)
    return grown(body, lambda points: _leg_folds(points, at))


def shoes_field(at: Pose) -> Field:
    """Both shoes, flat underneath."""
    sole_z = at.sole_z
    x, y = at.ankle[:2]
    out = np.array([0.16, 1.0, 0.0])
    heel = np.array([x, y - 0.030, sole_z + 0.034])
    ball = np.array([x, y, sole_z + 0.030]) + 0.125 * out
    toe = np.array([x, y, sole_z + 0.024]) + 0.170 * out
    shoe = union(
        [
            limb(heel, ball, 0.036, 0.042),
            limb(ball, toe, 0.042, 0.033),
            limb((x, y - 0.010, sole_z + 0.075), _moved(ball, 0, -0.02, 0.006), 0.043, 0.030),
        ],
        0.02,
    )
    return mirrored(common(shoe, half_space((0, 0, sole_z + 0.001), (0, 0, -1)), 0.006))


def hands_field(at: Pose) -> Field:
    """Both hands, lightly clasped."""
    arm = _unit(at.wrist - at.elbow)
    flip = np.array([-1.0, 1.0, 1.0])
    over = _unit(at.hand_way * flip + (0.0, 0.30, 0.10))  # the left hand lies over the right
    right = _hand(at.wrist, arm, at.hand_way, at.palm_way)
    left = _hand(at.wrist * flip, arm * flip, over, at.palm_way * flip)
    return union([right, left], 0.0)


def cuffs_field(at: Pose) -> Field:
    """Shirt cuffs between sleeve and hand."""
    way = _unit(at.wrist - at.elbow)
    ring = limb(at.wrist - 0.05 * way, at.wrist + 0.03 * way, 0.0345, 0.0340)
    return mirrored(common(ring, half_space(at.wrist + 0.002 * way, way), 0.003))


def _hand(wrist: Array, arm_way: Array, way: Array, palm: Array) -> Field:
    palm = _unit(palm - way * float(palm @ way))
    side = np.cross(way, palm) * (1.0 if wrist[0] > 0 else -1.0)  # towards the thumb
    frame = np.column_stack([side, palm, way])

    def at(across: float, deep: float, along: float) -> Array:
        return wrist + frame @ np.array([across, deep, along])

    pieces = [ellipsoid(at(0, 0.002, 0.052), (0.040, 0.0155, 0.048), frame)]
    curl = 1.25
    for across, length in ((0.029, 0.066), (0.010, 0.074), (-0.009, 0.070), (-0.027, 0.056)):
        joint = at(across, 0.004, 0.088)
        bend = way * np.cos(curl * 0.5) + palm * np.sin(curl * 0.5)
        middle = joint + 0.52 * length * bend
        tip = middle + 0.48 * length * (way * np.cos(curl) + palm * np.sin(curl))
        pieces.append(chain([joint, middle, tip], [0.0096, 0.0086, 0.0072], 0.003))
    thumb = [at(0.024, 0.006, 0.018), at(0.047, 0.014, 0.048), at(0.042, 0.022, 0.080)]
    pieces.append(chain(thumb, [0.0135, 0.0108, 0.0088], 0.004))
    arm = chain([wrist - 0.05 * arm_way, wrist, at(0, 0, 0.03)], [0.0270, 0.0255, 0.0265], 0.01)
    return union([union(pieces, 0.0065), arm], 0.022)


def _loft(sections: Array) -> Field:
    """Solid through level, slightly boxy oval sections (z, half width, half depth, Y of the middle)."""
    order = np.argsort(sections[:, 0])
    curve = PchipInterpolator(sections[order, 0], sections[order, 1:])
    low, high = sections[order[0], 0], sections[order[-1], 0]
    power = 2.35

    def distance(points: Array) -> Array:
        z = points[..., 2]
        size = curve(np.clip(z, low, high))
        across = np.abs(points[..., 0]) / size[..., 0]
        deep = np.abs(points[..., 1] - size[..., 2]) / size[..., 1]
        ring = (across**power + deep**power) ** (1.0 / power)
        round_off = (ring - 1.0) * np.minimum(size[..., 0], size[..., 1])
        return np.maximum(round_off, np.maximum(z - high, low - z))

    return distance


def _sleeve_folds(points: Array, at: Pose) -> Array:
    """Relief of cloth near the elbows and the buttoned waist, metres."""
    folded = points.copy()
    folded[..., 0] = np.abs(points[..., 0])
    bend = np.exp(-((np.linalg.norm(folded - at.elbow, axis=-1) / 0.085) ** 2))
    x, y, z = points[..., 0], points[..., 1], points[..., 2]
    ripple = np.sin(95 * z + 38 * y + 9 * np.sin(21 * x)) * bend
    drape = np.exp(-(((z - at.eye_z + 0.56) / 0.10) ** 2)) * np.sin(34 * np.abs(x) + 26 * z)
    return 0.0030 * ripple + 0.0016 * drape


def _leg_folds(points: Array, at: Pose) -> Array:
    folded = points.copy()
    folded[..., 0] = np.abs(points[..., 0])
    knee = np.exp(-((np.linalg.norm(folded - at.knee, axis=-1) / 0.11) ** 2))
    shoe = np.exp(-((np.linalg.norm(folded - at.ankle, axis=-1) / 0.10) ** 2))
    x, y, z = folded[..., 0], points[..., 1], points[..., 2]
    return 0.0032 * knee * np.sin(70 * z + 30 * y + 16 * x) + 0.0038 * shoe * np.sin(
        110 * z + 14 * x + 20 * y
    )


def _moved(point: Array, x: float, y: float, z: float) -> Array:
    return point + np.array([x, y, z])


def _unit(vector: Array | list[float]) -> Array:
    array = np.asarray(vector, dtype=np.float64)
    return array / np.linalg.norm(array)
