"""Where a camera's mount puts its sensor.

A pedestal, tripod or free mount is simply where its framing says. A jib is a rigid arm on a pivot:

- ``swing_deg`` turns the arm about the vertical, 0 along +Y, positive to the left (as +pan);
- ``boom_deg`` lifts it, 0 level, positive up;
- a parallelogram keeps the platform at the arm's end level at every boom angle, so a camera's
  orientation never depends on the boom;
- ``head_offset_m`` (right, forward, up) leads from the arm's end to the sensor. It is fixed to that
  level platform: it turns with the arm's swing, and neither with the boom nor with the head's own
  pan, tilt and roll, whose axes are taken to pass through the sensor;
- pan, tilt and roll of a framing are stage angles and so independent of the swing: the operator
  corrects for the arm.

Positions are geometric. They do not cover load, balance, wind, floor, overhead clearance or
exclusion zones. Rigging and operation are for trained operators under local law, site rules and the
equipment's manual.

Source: plain trigonometry of an arm; parallelogram heads are common practice.
"""

from __future__ import annotations

from math import atan2, cos, degrees, hypot, pi, radians, sin

from preview.show.model import Camera, Framing, Mount, Point

OFF_ARC_M = 0.01
"""How far from where an arm can put it a sensor may be: one between two frames lies on the chord."""


def arm_end_m(mount: Mount, swing_deg: float, boom_deg: float) -> Point:
    """Stage position (metres) of the end of a jib's arm.

    Raises
    ------
    ValueError : the mount has no pivot or no arm, so it is not a jib.
    """
    if mount.pivot_m is None or mount.arm_m is None:
        raise ValueError("a jib needs pivot_m and arm_m; write both under mount")
    x, y, z = mount.pivot_m
    swing, boom = radians(swing_deg), radians(boom_deg)
    reach = mount.arm_m * cos(boom)
    return (x - reach * sin(swing), y + reach * cos(swing), z + mount.arm_m * sin(boom))


def jib_position_m(mount: Mount, swing_deg: float, boom_deg: float) -> Point:
    """Stage position (metres) of the sensor on a jib: arm end plus the head's offset.

    Raises
    ------
    ValueError : as ``arm_end_m``.
    """
    x, y, z = arm_end_m(mount, swing_deg, boom_deg)
    right, forward, up = mount.head_offset_m
    swing = radians(swing_deg)
    return (
        x + right * cos(swing) - forward * sin(swing),
        y + right * sin(swing) + forward * cos(swing),
        z + up,
    )


def arm_angles_of(mount: Mount, position_m: Point) -> tuple[float, float]:
    """Swing (-180 to 180) and boom (degrees) at which a jib has its sensor at a stage position (metres).

    The inverse of ``jib_position_m``. Of two answers the one that fits better, else the one with the arm
    not over the top. Where the sensor stands straight over the pivot any swing does; it is 0 then.

    Raises
    ------
    ValueError : the mount has no pivot or no arm, or the arm does not reach there.
    """
    if mount.pivot_m is None or mount.arm_m is None:
        raise ValueError("a jib needs pivot_m and arm_m; write both under mount")
    right, forward, up = mount.head_offset_m
    x, y, z = (at - pivot for at, pivot in zip(position_m, mount.pivot_m, strict=True))
    rise = z - up
    level = max(mount.arm_m**2 - rise**2, 0.0) ** 0.5
    # The platform is level, so height gives the boom alone, up to the side of the pivot the arm is on.
    reach = min(level, -level, key=lambda reach: abs(hypot(x, y) - hypot(right, reach + forward)))
    miss = max(abs(hypot(x, y) - hypot(right, reach + forward)), abs(rise) - mount.arm_m)
    if miss > OFF_ARC_M:
        where = ", ".join(f"{value:.3f}" for value in position_m)
        raise ValueError(f"an arm of {mount.arm_m:g} m does not reach [{where}]: {miss:.3f} m off")
    swing = atan2(-x, y) - atan2(-right, reach + forward) if hypot(x, y) > 1e-9 else 0.0
    swing = (swing + pi) % (2 * pi) - pi
    return degrees(swing), degrees(atan2(rise, reach))


def arm_angles_deg(camera: Camera, framing: Framing) -> tuple[float, float] | None:
    """Swing and boom of a framing on a jib; None on any other mount.

    Raises
    ------
    ValueError : a jib's framing leaves one of them out.
    """
    if camera.mount.kind != "jib":
        return None
    if framing.swing_deg is None or framing.boom_deg is None:
        raise ValueError("the arm's angles are not known; write swing_deg and boom_deg")
    return (framing.swing_deg, framing.boom_deg)


def sensor_position_m(camera: Camera, framing: Framing) -> Point:
    """Stage position (metres) of the sensor in one framing.

    Raises
    ------
    ValueError : neither framing nor camera says where it is, or a jib has no pivot, arm or angles.
    """
    angles = arm_angles_deg(camera, framing)
    if angles is not None:
        return jib_position_m(camera.mount, *angles)
    position = framing.position_m if framing.position_m is not None else camera.position_m
    if position is None:
        raise ValueError("there is no position; write position_m here or under the camera")
    return position
