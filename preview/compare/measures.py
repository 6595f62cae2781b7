"""How far two pictures are apart, in numbers: PSNR, SSIM and CIEDE2000, for a whole picture and its regions.

PSNR   of the R'G'B' code values, all three channels together, full signal 255.
SSIM   of the luma Y' of the code values. It looks at neighbourhoods of 11 x 11 pixels, so it leaves out
       the outer 5 pixels, and along a region's border the neighbouring region has its say.
CIEDE2000   of the colours that a reference monitor shows: the display curve of Recommendation ITU-R BT.1886
       (03/2011), Annex 1, with no black lift (L = V^2.4), BT.709 primaries, CIELAB against D65. Code values
       themselves are no colours: without a display curve a difference in the shadows would count too little.

Sources: PSNR: common practice, no source. SSIM: Wang, Bovik, Sheikh, Simoncelli, IEEE Transactions on Image
Processing 13(4), 2004 (K1 0.01, K2 0.03, Gaussian 1.5). CIEDE2000: ISO/CIE 11664-6:2014. The last two as
scikit-image computes them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf, log10

import numpy as np
from skimage.color import deltaE_ciede2000, xyz2lab, xyz_tristimulus_values
from skimage.metrics import structural_similarity

from preview.conventions import BT709_LUMINANCE, Array

FULL_CODE = 255
DISPLAY_GAMMA = 2.4
"""Recommendation ITU-R BT.1886 (03/2011), Annex 1: exponent of the reference display."""

SSIM_BORDER_PX = 5
"""Half the neighbourhood: 3.5 standard deviations of 1.5 pixels, rounded. Narrower pictures have no SSIM."""

BT709_PRIMARIES_XY = ((0.640, 0.330), (0.300, 0.600), (0.150, 0.060))
D65_XY = (0.3127, 0.3290)
"""Recommendation ITU-R BT.709-6 (06/2015), items 1.3 and 1.4."""


@dataclass(frozen=True)
class Measures:
    """How far two pictures are apart in one region.

    Attributes
    ----------
    share : the region's share of the picture, 0..1
    psnr_db : peak signal-to-noise ratio; ``inf`` where every code value is equal
    ssim : structural similarity, 1 for equal pictures; None where the region has no pixel that is 5 or
        more pixels inside the picture
    de2000_mean, de2000_p95 : CIEDE2000, mean and 95th percentile over the region's pixels
    """

    share: float
    psnr_db: float
    ssim: float | None
    de2000_mean: float
    de2000_p95: float

    @property
    def identical(self) -> bool:
        """Every code value of the region is the same in both pictures."""
        return self.psnr_db == inf


def measure(
    first: np.ndarray, second: np.ndarray, regions: Mapping[str, np.ndarray]
) -> dict[str, Measures | None]:
    """Measures of each region.

    Parameters
    ----------
    first, second : (h, w, 3) uint8 BT.709-coded R'G'B', full range
    regions : name to (h, w) bool mask

    Returns
    -------
    name to Measures, in the order of ``regions``; None for a region without pixels

    Raises
    ------
    ValueError : pictures or masks of different sizes, or pictures that are not 8-bit.
    """
    _check_alike(first, second)
    squares = np.square(first.astype(np.int32) - second).sum(axis=2)
    similarity = ssim_map(first, second)
    distance = de2000_map(first, second)
    found: dict[str, Measures | None] = {}
    for name, mask in regions.items():
        if mask.shape != first.shape[:2] or mask.dtype != np.bool_:
            raise ValueError(f"region {name!r} is {mask.dtype} {mask.shape}, the pictures {first.shape[:2]}")
        if not mask.any():
            found[name] = None
            continue
        in_region, similar = distance[mask], similarity[mask]
        similar = similar[~np.isnan(similar)]
        found[name] = Measures(
            share=float(mask.mean()),
            psnr_db=psnr_db(float(squares[mask].mean()) / 3),
            ssim=float(similar.mean()) if similar.size else None,
            de2000_mean=float(in_region.mean()),
            de2000_p95=float(np.percentile(in_region, 95)),
        )
    return found


def psnr_db(mean_square: float) -> float:
    """Peak signal-to-noise ratio of a mean square difference of 8-bit code values; ``inf`` for none.

    >>> round(psnr_db(10.0**2), 6)
    28.130804
    """
    return 10 * log10(FULL_CODE**2 / mean_square) if mean_square else inf


def luma(code: np.ndarray) -> Array:
    """(h, w) Y' of (h, w, 3) code values, on the same scale. Source: ITU-R BT.709-6, item 3.2."""
    return code @ BT709_LUMINANCE


def ssim_map(first: np.ndarray, second: np.ndarray) -> Array:
    """(h, w) structural similarity of the luma around each pixel; NaN in the outer 5 pixels."""
    _check_alike(first, second)
    similarity = np.full(first.shape[:2], np.nan)
    if min(similarity.shape) <= 2 * SSIM_BORDER_PX:
        return similarity
    _, around = structural_similarity(
        luma(first),
        luma(second),
        data_range=FULL_CODE,
        gaussian_weights=True,
        sigma=1.5,
        use_sample_covariance=False,
        full=True,
    )
    inside = (slice(SSIM_BORDER_PX, -SSIM_BORDER_PX),) * 2
    similarity[inside] = around[inside]
    return similarity


def de2000_map(first: np.ndarray, second: np.ndarray) -> Array:
    """(h, w) CIEDE2000 of each pixel as a reference monitor shows it."""
    _check_alike(first, second)
    distance = np.zeros(first.shape[:2])
    rows, columns = np.nonzero((first != second).any(axis=2))
    for start in range(0, len(rows), _AT_ONCE):
        some = rows[start : start + _AT_ONCE], columns[start : start + _AT_ONCE]
        distance[some] = de2000(lab_on_monitor(first[some]), lab_on_monitor(second[some]))
    return distance


def de2000(first_lab: Array, second_lab: Array) -> Array:
    """(n,) CIEDE2000 of CIELAB colours (n, 3), with all weights 1. Source: ISO/CIE 11664-6:2014."""
    found: Array = deltaE_ciede2000(first_lab, second_lab, kL=1, kC=1, kH=1)
    return found


def lab_on_monitor(code: np.ndarray) -> Array:
    """(n, 3) CIELAB against D65 of (n, 3) uint8 code values on a BT.1886 display without black lift."""
    xyz = _DISPLAY_LIGHT[code] @ _XYZ_FROM_BT709.T
    # scikit-image's D65 is rounded elsewhere than BT.709's: matching whites keeps greys free of colour.
    white = xyz_tristimulus_values(illuminant="D65", observer="2")
    found: Array = xyz2lab(xyz / _XYZ_FROM_BT709.sum(axis=1) * white, illuminant="D65", observer="2")
    return found


def _xyz_from_rgb(primaries_xy: tuple[tuple[float, float], ...], white_xy: tuple[float, float]) -> Array:
    """(3, 3) XYZ (Y of white 1) of linear R, G, B. Source: SMPTE RP 177:1993, from memory."""
    columns = np.array([[x / y, 1.0, (1 - x - y) / y] for x, y in (*primaries_xy, white_xy)]).T
    primaries, white = columns[:, :3], columns[:, 3]
    return primaries * np.linalg.solve(primaries, white)


_XYZ_FROM_BT709 = _xyz_from_rgb(BT709_PRIMARIES_XY, D65_XY)
_AT_ONCE = 1 << 17
"""Pixels whose colours are worked out together: keeps the steps between in the processor's cache."""

_DISPLAY_LIGHT = (np.arange(FULL_CODE + 1) / FULL_CODE) ** DISPLAY_GAMMA


def _check_alike(first: np.ndarray, second: np.ndarray) -> None:
    if first.shape != second.shape or first.ndim != 3 or first.shape[2] != 3:
        raise ValueError(f"pictures of {first.shape} and {second.shape} cannot be compared")
    if first.dtype != np.uint8 or second.dtype != np.uint8:
        raise ValueError(f"8-bit pictures are compared, not {first.dtype} and {second.dtype}")
