"""Brown-Conrady lens distortion, in OpenCV's order, units and direction."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from preview.conventions import Array


@dataclass(frozen=True)
class Distortion:
    """Maps undistorted to distorted image points, both divided by focal length, x right, y down.

    Source: OpenCV camera calibration documentation (calib3d), radial k1 k2 k3, tangential p1 p2.
    k1 < 0 is barrel.
    """

    k1: float = 0.0
    k2: float = 0.0
    p1: float = 0.0
    p2: float = 0.0
    k3: float = 0.0

    def __bool__(self) -> bool:
        return any((self.k1, self.k2, self.p1, self.p2, self.k3))

    @property
    def opencv(self) -> Array:
        """(5,) k1, k2, p1, p2, k3 as cv2 takes them."""
        return np.array([self.k1, self.k2, self.p1, self.p2, self.k3])

    def distort(self, points: Array) -> Array:
        """(n, 2) undistorted normalised points to (n, 2) distorted ones."""
        x, y = np.asarray(points, dtype=np.float64).T
        r2 = x * x + y * y
        radial = 1 + r2 * (self.k1 + r2 * (self.k2 + r2 * self.k3))
        xy = 2 * x * y
        return np.stack(
            [
                x * radial + self.p1 * xy + self.p2 * (r2 + 2 * x * x),
                y * radial + self.p1 * (r2 + 2 * y * y) + self.p2 * xy,
            ],
            axis=1,
        )

    def undistort(self, points: Array) -> tuple[Array, np.ndarray]:
        """Invert ``distort`` by Newton's method.

        Parameters
        ----------
        points : (n, 2) distorted normalised points

        Returns
        -------
        undistorted : (n, 2)
        valid : (n,) bool, False where the model folds over and no inverse was found
        """
        target = np.asarray(points, dtype=np.float64)
        guess = target.copy()
        if not self:
            return guess, np.ones(len(guess), dtype=bool)
        for _ in range(30):
            x, y = guess.T
            r2 = x * x + y * y
            radial = 1 + r2 * (self.k1 + r2 * (self.k2 + r2 * self.k3))
            slope = 2 * (self.k1 + r2 * (2 * self.k2 + 3 * r2 * self.k3))
            xx = radial + slope * x * x + 2 * self.p1 * y + 6 * self.p2 * x
            yy = radial + slope * y * y + 6 * self.p1 * y + 2 * self.p2 * x
            xy = slope * x * y + 2 * self.p1 * x + 2 * self.p2 * y
            determinant = xx * yy - xy * xy
            determinant = np.where(np.abs(determinant) < 1e-9, np.nan, determinant)
            ex, ey = (self.distort(guess) - target).T
            step = np.stack([yy * ex - xy * ey, xx * ey - xy * ex], axis=1) / determinant[:, None]
            step = np.nan_to_num(step)
            guess = guess - np.clip(step, -0.5, 0.5)
            if np.abs(step).max(initial=0.0) < 1e-13:
                break
        x, y = guess.T
        r2 = x * x + y * y
        growing = 1 + r2 * (3 * self.k1 + r2 * (5 * self.k2 + r2 * 7 * self.k3)) > 0
        error = np.abs(self.distort(guess) - target).max(axis=1, initial=0.0)
        return guess, (error < 1e-7) & growing
