"""What equipment looks like: as large as its solids, and drawn only where it can be seen."""

from dataclasses import replace

import numpy as np
import pytest

from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.stage.appearance import COLOR, Body, bodies_in, equipment_at
from preview.timeline.timeline import Timeline
from tests.starter_show import starter_show


def solids_of(kind="pedestal", **mount):
    show = starter_show()
    camera = show.file.cameras[0]
    camera = camera.model_copy(update={"mount": camera.mount.model_copy(update={"kind": kind, **mount})})
    view = Timeline(show).at(0).cameras[0].view
    if kind == "jib":
        x, y, z = camera.mount.pivot_m
        view = replace(view, pose=replace(view.pose, position_m=(x, y + camera.mount.arm_m, z)))
    return equipment_at(camera, view)


@pytest.mark.parametrize("kind", ["pedestal", "tripod", "free"])
def test_every_solid_is_drawn_as_large_as_it_is(kind):
    for solid in solids_of(kind):
        vertices = Body(solid, facing_deg=20.0).vertices()
        assert vertices.dtype == np.float32
        assert vertices.shape[1] == 10 and len(vertices) % 3 == 0
        assert (vertices[:, 9] == 1.0).all(), "opaque"
        low, high = vertices[:, :3].min(axis=0), vertices[:, :3].max(axis=0)
        if solid.kind == "operator":  # a person inside the capsule's height, arms and all
            np.testing.assert_allclose([low[2], high[2]], solid.bounds_m[:, 2], atol=0.05)
            assert (low[:2] > solid.bounds_m[0, :2] - 0.15).all()
            assert (high[:2] < solid.bounds_m[1, :2] + 0.15).all()
        else:
            np.testing.assert_allclose(
                np.array([low, high]), solid.bounds_m, atol=0.04 * solid.radius_m + 1e-6
            )


def test_a_jib_has_its_arm_drawn_from_tail_to_head():
    solids = solids_of("jib", pivot_m=(0.0, -5.0, 1.5), arm_m=4.0)
    reach = np.concatenate([Body(solid).vertices()[:, :3] for solid in solids if solid.kind == "arm"])
    assert reach[:, 1].max() > -1.0 - 0.1
    assert reach[:, 1].min() < -5.0 - 4.0 / 3


def test_normals_are_unit_and_point_outwards():
    for solid in solids_of("pedestal"):
        vertices = Body(solid).vertices()
        np.testing.assert_allclose(np.linalg.norm(vertices[:, 3:6], axis=1), 1.0, atol=1e-3)
        if solid.kind != "operator":
            away = vertices[:, :3] - np.asarray(solid.middle_m)
            assert (np.einsum("ij,ij->i", away, vertices[:, 3:6]) > 0).all()


def test_a_face_without_its_picture_is_not_white():
    (operator,) = [solid for solid in solids_of("pedestal") if solid.kind == "operator"]
    assert Body(operator).vertices()[:, 6:9].max() < 0.75


def test_paint_is_as_dark_as_said():
    camera = next(solid for solid in solids_of("pedestal") if solid.kind == "camera")
    np.testing.assert_allclose(Body(camera).vertices()[:, 6:9], [COLOR["camera"]] * 36, rtol=1e-6)


def test_only_what_a_picture_may_show_is_given():
    solids = [(solid, 0.0) for solid in solids_of("pedestal")]
    middle = np.asarray(solids[0][0].middle_m)
    behind = Pose.looking_at(tuple(middle - [0, 4, 0]), tuple(middle))
    away = Pose.looking_at(tuple(middle - [0, 4, 0]), tuple(middle - [0, 8, 0]))
    view = CameraView(pose=behind, sensor_mm=(9.6, 5.4), projection_mm=5.0)
    assert len(bodies_in(view, solids)) == len(solids)
    assert bodies_in(replace(view, pose=away), solids) == ()


def test_equal_solids_make_equal_bodies_and_an_operator_turns_with_the_camera():
    first, second = solids_of("pedestal"), solids_of("pedestal")
    assert [Body(solid) for solid in first] == [Body(solid) for solid in second]
    operator = next(solid for solid in first if solid.kind == "operator")
    turned = Body(operator, 90.0).vertices()[:, :3] - np.asarray(operator.middle_m)
    plain = Body(operator, 0.0).vertices()[:, :3] - np.asarray(operator.middle_m)
    np.testing.assert_allclose(turned[:, 0], -plain[:, 1], atol=1e-5)
