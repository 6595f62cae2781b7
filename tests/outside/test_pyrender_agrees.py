"""Inner, outer, as-shot and return pictures against stock pyrender with OpenCV warps.

Source: pyrender 0.1.45, its own shaders, lights and 8-bit images; the wall lookups are numpy and
``cv2.remap`` (tests/benchmarks/baseline_pyrender.py). Nothing but the scene's values is shared: not the
shading, not the projection, not the compositing. The same pictures at full size are the benchmark's.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.benchmarks.frame_set import NAMES, Side, psnr_db

SIZE = (640, 360)


@pytest.fixture(scope="module")
def both() -> tuple[dict[str, np.ndarray], dict[str, np.ndarray]]:
    """One frame's pictures by the product and by the plain way, each drawn in its own process."""
    sides = [Side(name, 512, SIZE) for name in ("product", "baseline")]
    ours, plain = (side.draw(12, False, True)[1] for side in sides)
    for side in sides:
        side.stop()
    return ours, plain


@pytest.mark.parametrize("name", NAMES)
def test_picture_is_what_pyrender_and_opencv_make(both, name):
    """Above 32 dB: they differ on edges (our wall and set edges are smoothed together, theirs are cut
    out hard), in 8-bit rounding before the warp and in the specular model; a matt scene keeps that small."""
    ours, plain = both[0][name], both[1][name]
    assert ours.shape == plain.shape
    assert psnr_db(ours, plain) > 32
    # A picture shifted by two pixels is already told apart, as is a mirrored one.
    assert psnr_db(np.roll(ours, 2, axis=1), plain) < psnr_db(ours, plain) - 4
    assert psnr_db(ours[:, ::-1], plain) < 25
