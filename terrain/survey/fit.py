"""Rigid fits of one set of points on another: turn, shift and, only when asked, scale.

The best turn is that of Kabsch (1976, Acta Cryst. A32:922) and the scale that of Umeyama (1991,
IEEE PAMI 13:376): least squares over all points, each of the same weight. Formulas from memory,
held by the tests against scipy's own fit of directions.
"""

from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import FloatArray

LEAST_SPREAD = 1e-3
"""Points whose spread across is less than this share of their spread along stand in a line."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """`site = scale * turn @ point + shift`, and how far it misses: `residuals` (n, d).

    A residual is fitted less given, in the unit of the site; d is 2 in plan, 3 in space.
    """

    turn: FloatArray
    scale: float
    shift: FloatArray
    residuals: FloatArray

    def to_site(self, points: FloatArray) -> FloatArray:
        """Points (m, d) put on the site."""
        moved: FloatArray = self.scale * points @ self.turn.T + self.shift
        return moved

    def from_site(self, points: FloatArray) -> FloatArray:
        """Points (m, d) of the site in the frame they came from."""
        back: FloatArray = (points - self.shift) @ self.turn / self.scale
        return back

    @property
    def misses(self) -> FloatArray:
        """How far each fitted point lies from where it should: (n,), never negative."""
        lengths: FloatArray = np.linalg.norm(self.residuals, axis=1)
        return lengths


def fit_rigid(points: FloatArray, site: FloatArray, *, scaled: bool, mirrored: bool = False) -> Fit:
    """The turn and shift that bring points (n, d) nearest to where they are on the site (n, d).

    With `mirrored` the best turned-over fit, which no body can make: to tell swapped axes by.
    """
    middle, there = points.mean(axis=0), site.mean(axis=0)
    own, wanted = points - middle, site - there
    left, size, right = np.linalg.svd(wanted.T @ own)
    sign = np.ones(len(size))
    if (np.linalg.det(left @ right) < 0) != mirrored:
        sign[-1] = -1.0
    turn = (left * sign) @ right
    scale = float((size * sign).sum() / (own**2).sum()) if scaled else 1.0
    shift = there - scale * turn @ middle
    return Fit(
        turn=turn,
        scale=scale,
        shift=shift,
        residuals=scale * points @ turn.T + shift - site,
    )


def spread_across(points: FloatArray) -> float:
    """How far points (n, d) spread across the line they spread along, as a share of that.

    0 where they stand in one line or at one spot: then a turn about it can't be told.
    """
    size = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)
    return float(size[1] / size[0]) if len(size) > 1 and size[0] > 0 else 0.0


def one_that_disagrees(
    points: FloatArray, site: FloatArray, *, scaled: bool, tolerance: float
) -> int | None:
    """The point without which all others agree to `tolerance`; None if there is no single one.

    Left out one at a time: where several such points would do, the one whose absence leaves the
    least. Three points in space, or two in plan, always agree too well to tell.
    """
    count, d = points.shape
    best: tuple[float, int] | None = None
    for k in range(count):
        rest = np.arange(count) != k
        if rest.sum() < d or spread_across(points[rest]) < (LEAST_SPREAD if d > 2 else 0.0):
            continue
        worst = float(fit_rigid(points[rest], site[rest], scaled=scaled).misses.max())
        if worst <= tolerance and (best is None or worst < best[0]):
            best = (worst, k)
    return None if best is None else best[1]
