"""Lens settings to projection distance, default focus and view."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.camera.distortion import Distortion
from preview.camera.lens import default_focus_m, projection_mm, view_through
from preview.camera.pose import Pose
from preview.show.model import Lens, Sensor


@given(f=st.floats(4, 300), focus_m=st.floats(0.5, 100), share=st.floats(0, 1))
def test_breathing_is_that_share_of_the_thin_lens(f: float, focus_m: float, share: float) -> None:
    # Thin lens: 1/f = 1/s + 1/v, solved for the image distance v.
    image_mm = 1.0 / (1.0 / f - 1.0 / (1000.0 * focus_m))
    assert projection_mm(f, focus_m, 1.0) == pytest.approx(image_mm, rel=1e-9)
    assert projection_mm(f, focus_m, share) == pytest.approx(f + share * (image_mm - f), rel=1e-9)
    assert projection_mm(f, focus_m) == f


@pytest.mark.parametrize("focus_m", [0.05, 0.02, 0.0])
def test_focus_inside_the_focal_length_is_refused(focus_m: float) -> None:
    with pytest.raises(ValueError, match=r"focus farther than 0\.05 m"):
        projection_mm(50.0, focus_m, 1.0)


def test_default_focus() -> None:
    lens = Lens(focal_length_mm=(8, 80), minimum_focus_m=0.8)
    assert default_focus_m(lens, 3.25) == 3.25
    assert default_focus_m(lens, 0.5) == 0.8
    assert default_focus_m(lens, None) == 5.0
    assert default_focus_m(Lens(focal_length_mm=(400, 800), minimum_focus_m=6.0), None) == 6.0


def test_a_view_carries_every_setting() -> None:
    lens = Lens(
        focal_length_mm=(8, 80), t_stop=3.2, entrance_pupil_offset_m=0.15, breathing=1.0,
        k1=-0.1, k2=0.2, p1=0.3, p2=0.4, k3=0.5,
    )  # fmt: skip
    pose = Pose((1, 2, 3), 4, 5, 6)
    view = view_through(Sensor(size_mm=(9.59, 5.39), photosites=(1920, 1080)), lens, pose, 50.0, 0.45)
    assert (view.pose, view.sensor_mm) == (pose, (9.59, 5.39))
    assert view.projection_mm == pytest.approx(56.25)  # 50 (1 + 50 / 400)
    assert (view.entrance_pupil_offset_m, view.t_stop) == (0.15, 3.2)
    assert (view.focal_length_mm, view.focus_m) == (50.0, 0.45)
    assert view.distortion == Distortion(-0.1, 0.2, 0.3, 0.4, 0.5)
