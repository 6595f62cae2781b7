"""Neighbouring triangles in runs, so that what a view cannot see is never handed to the driver."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from preview.conventions import Array

RUN = 768
"""Triangles in a run: small enough for a close shot to skip most of a scene, large enough to be few."""


@dataclass(frozen=True, eq=False)
class Chunks:
    """Runs of a part's triangles with their bounding spheres.

    Attributes
    ----------
    order : (m,) triangles' places in the part, neighbours in space next to each other
    starts : (k + 1,) first triangle of each run in ``order``, and the end
    centers, radii : (k, 3) and (k,) stage metres
    """

    order: npt.NDArray[np.int64]
    starts: npt.NDArray[np.int64]
    centers: Array
    radii: Array

    @classmethod
    def of(cls, positions: np.ndarray, triangles: np.ndarray) -> Chunks:
        """Sort triangles along a Morton curve through their middles and cut it into runs."""
        corners = positions[triangles].astype(np.float64)
        middles = corners.mean(axis=1)
        low = middles.min(axis=0)
        across = max(float((middles.max(axis=0) - low).max()), 1e-9)
        cells = ((middles - low) / across * 1023).astype(np.int64)
        code = np.zeros(len(cells), dtype=np.int64)
        for bit in range(10):
            for axis in range(3):
                code |= ((cells[:, axis] >> bit) & 1) << (3 * bit + axis)
        order = np.argsort(code, kind="stable")
        starts = np.append(np.arange(0, len(order), RUN), len(order))
        ends = corners[order].min(axis=1), corners[order].max(axis=1)
        lower = np.minimum.reduceat(ends[0], starts[:-1])
        upper = np.maximum.reduceat(ends[1], starts[:-1])
        return cls(order, starts, (lower + upper) / 2, np.linalg.norm(upper - lower, axis=1) / 2)

    def visible(self, planes: Array) -> list[tuple[int, int]]:
        """First triangle and count of each stretch of runs that may be inside all planes.

        Parameters
        ----------
        planes : (p, 4) unit normals and offsets, positive inside, stage metres
        """
        distance = self.centers @ planes[:, :3].T + planes[:, 3]
        seen = (distance > -self.radii[:, None]).all(axis=1)
        edges = np.flatnonzero(np.diff(np.concatenate([[0], seen.astype(np.int8), [0]])))
        return [
            (int(self.starts[a]), int(self.starts[b] - self.starts[a]))
            for a, b in zip(edges[::2], edges[1::2], strict=True)
        ]
