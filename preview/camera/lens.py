"""What a lens makes of its settings: projection distance, distortion, and the camera's view."""

from __future__ import annotations

from preview.camera.distortion import Distortion
from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.show.model import Lens, Sensor


def projection_mm(focal_length_mm: float, focus_m: float, breathing: float = 0.0) -> float:
    """Pinhole (projection) distance of a lens focused at ``focus_m``.

    Parameters
    ----------
    focal_length_mm : projection distance with focus at infinity
    focus_m : focus distance, taken from the sensor as on a focus scale
    breathing : 0 keeps the angle of view; 1 is a thin lens that extends as it focuses

    Raises
    ------
    ValueError : focus is not beyond one focal length, where a thin lens forms no image.

    Source: thin-lens extension f (1 + m) with m = f / (s - f), common practice; the share
    ``breathing`` of it is this project's own one-number model. A thin lens counts s from the lens,
    a focus scale from the sensor; the difference is left out.

    >>> projection_mm(50, 0.1, breathing=1)
    100.0
    """
    focus_mm = 1000.0 * focus_m
    if not focus_mm > focal_length_mm > 0:
        raise ValueError(
            f"focus_m {focus_m} is not beyond the focal length of {focal_length_mm} mm; "
            f"focus farther than {focal_length_mm / 1000.0} m"
        )
    return focal_length_mm * (1.0 + breathing * focal_length_mm / (focus_mm - focal_length_mm))


def lens_distortion(lens: Lens) -> Distortion:
    """The lens's distortion coefficients; they hold over its whole zoom and focus range."""
    return Distortion(lens.k1, lens.k2, lens.p1, lens.p2, lens.k3)


def default_focus_m(lens: Lens, aim_distance_m: float | None) -> float:
    """Focus for a framing that does not say: the aim's distance, else 5 m, never under the minimum."""
    return max(5.0 if aim_distance_m is None else aim_distance_m, lens.minimum_focus_m)


def view_through(
    sensor: Sensor, lens: Lens, pose: Pose, focal_length_mm: float, focus_m: float
) -> CameraView:
    """The view of a camera with these settings.

    Raises
    ------
    ValueError : as ``projection_mm``.
    """
    return CameraView(
        pose=pose,
        sensor_mm=sensor.size_mm,
        projection_mm=projection_mm(focal_length_mm, focus_m, lens.breathing),
        entrance_pupil_offset_m=lens.entrance_pupil_offset_m,
        distortion=lens_distortion(lens),
        focal_length_mm=focal_length_mm,
        focus_m=focus_m,
        t_stop=lens.t_stop,
    )
