"""The short way to moire risk against the long one, over random lattices, blurs and cameras."""

import numpy as np
import pytest

from preview.floor.risk import Risk
from preview.optics.alias import patterns
from preview.show.model import Sensor
from preview.stage.surface import build_surface
from tests.checks.flat_stage import FLOOR, WALL, camera, framing

SURFACES = [
    build_surface(WALL.model_copy(update={"emitter_share": 0.3})),
    build_surface(FLOOR.model_copy(update={"emitter_share": 0.7, "emitter_shape": "round"})),
]
SENSORS = {
    "three-chip": {},
    "small picture": {"photosites": (3840, 2160)},
    "low-pass": {"lowpass_photosites": 0.8, "photosite_aperture": 0.8},
    "bayer": {"color_filter": "bayer"},
}


@pytest.mark.parametrize("name", SENSORS)
def test_both_ways_agree(name):
    sensor = Sensor(**{"size_mm": (9.6, 5.4), "photosites": (1920, 1080), **SENSORS[name]})
    one = camera("CAM1", framing("one"), t_stop=4.0).model_copy(update={"sensor": sensor})
    risk = Risk(one, SURFACES, (1920, 1080))
    rng = np.random.default_rng(3)
    count = 20_000
    gradients = (rng.normal(0, 0.5, (4, count)) * 10 ** rng.uniform(-1.5, 0.5, count)).astype(np.float32)
    blur = (10 ** rng.uniform(-4, -1, count)).astype(np.float32)
    surface = rng.integers(-1, 2, count)
    found = risk(gradients, blur, surface)
    assert (found[surface < 0] == 0).all()
    assert (found > 0.2).mean() > 0.1
    for place in range(2):
        own = np.flatnonzero(surface == place)
        made = patterns(
            gradients[:, own], blur[own], risk._optics, risk._emitters[place], risk._viewing,
            sensor.photosites, sensor.color_filter,
        )  # fmt: skip
        assert found[own] == pytest.approx(made.risk, abs=1e-3)
