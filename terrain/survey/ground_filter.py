"""The ground among points that no one has classed: plants, cars and roofs set apart.

Two ways. `cloth`: a cloth let down on the scan turned upside down (Zhang et al. 2016, Remote
Sensing 8:501, through their own library). `opening`: a grid of lowest points opened by growing
windows (Zhang et al. 2003, IEEE TGRS 41:872), through scipy's grey opening. Both as remembered from
their papers; the tests hold them to made clouds of known ground.

Both stand on the lowest points, so a few points far below the ground, as a scanner's stray echoes
are, would lift or sink all that is near them: they are set apart first.
"""

import contextlib
import os
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.base.units import LengthUnit

Way = Literal["cloth", "opening", "none"]
FEWEST = 1000
"""Points below which a file is no scan and is taken as it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundFilter:
    """How ground is told from what stands on it; lengths in metres, None for the usual.

    Args:
        way: which filter, or "none" to take every point.
        cell: of the cloth or the grid.
        threshold: how far above the filter's ground a point may lie and still be ground.
        stiffness: of the cloth, 1 for steep ground to 3 for flat.
        widest: the widest thing that is set apart by `opening`.
        slope: rise per run that ground may have, for `opening`.
    """

    way: Way = "cloth"
    cell: float = 0.5
    threshold: float = 0.1
    stiffness: int = 1
    widest: float = 20.0
    slope: float = 0.3


USUAL = GroundFilter()
STRAY, STRAY_CELL = 1.0, 0.5
"""Metres that a point lies below all round it to be a stray one, and cells that are looked at;
common practice, no source."""
ROUND, FEWEST_ROUND, MOST_STRAYS = 2, 8, 1
"""Cells that are looked at on each side, how many must hold points, and how many others may be as
low: more is a hole."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Told:
    """What a filter says of each point (n,): ground, or a stray one far below it."""

    ground: BoolArray
    stray: BoolArray


def ground_among(points: FloatArray, asked: GroundFilter, unit: LengthUnit) -> Told:
    """Which of the points (n, 3), in `unit`, are ground; their order changes nothing."""
    metres = (points - points.min(axis=0)) * float(unit.metres)
    if asked.way == "none":
        return Told(ground=np.ones(len(points), dtype=bool), stray=np.zeros(len(points), bool))
    stray = _strays(metres)
    rest = np.flatnonzero(~stray)
    rest = rest[np.lexsort(metres[rest].T)]
    found = _cloth(metres[rest], asked) if asked.way == "cloth" else _opening(metres[rest], asked)
    ground = np.zeros(len(points), dtype=bool)
    ground[rest] = found
    return Told(ground=ground, stray=stray)


def _lowest(points: FloatArray, cell: float) -> tuple[FloatArray, IntArray, IntArray]:
    """The lowest height of each cell (rows, columns), infinite for none; each point's cell."""
    column, row = ((points[:, k] // cell).astype(np.int64) for k in (0, 1))
    lowest = np.full((int(row.max()) + 1, int(column.max()) + 1), np.inf)
    np.minimum.at(lowest, (row, column), points[:, 2])
    return lowest, row, column


def _strays(points: FloatArray) -> BoolArray:
    """The points far below all that is round them, but for one cell as low at most."""
    lowest, row, column = _lowest(points, STRAY_CELL)
    rows, columns = lowest.shape
    padded = np.pad(lowest, ROUND, constant_values=np.inf)
    held, as_low = (np.zeros(lowest.shape, dtype=np.int64) for _ in range(2))
    for down in range(2 * ROUND + 1):
        for along in range(2 * ROUND + 1):
            if (down, along) != (ROUND, ROUND):
                other = padded[down : down + rows, along : along + columns]
                held += np.isfinite(other)
                as_low += other < lowest + STRAY
    alone = (held >= FEWEST_ROUND) & (as_low <= MOST_STRAYS)
    stray: BoolArray = alone[row, column]
    stray &= points[:, 2] < lowest[row, column] + STRAY / 2
    return stray


def _cloth(points: FloatArray, asked: GroundFilter) -> BoolArray:
    import CSF
    from threadpoolctl import threadpool_limits

    cloth = CSF.CSF()
    cloth.params.bSloopSmooth = True
    cloth.params.cloth_resolution = asked.cell
    cloth.params.rigidness = asked.stiffness
    cloth.params.class_threshold = asked.threshold
    found, others = CSF.VecInt(), CSF.VecInt()
    # On two threads its particles race one another, and no two runs find the same ground.
    with _unheard(), threadpool_limits(1, user_api="openmp"):
        cloth.setPointCloud(points)
        cloth.do_filtering(found, others, False)
    ground = np.zeros(len(points), dtype=bool)
    ground[np.array(found, dtype=np.int64)] = True
    return ground


def _opening(points: FloatArray, asked: GroundFilter) -> BoolArray:
    from scipy import ndimage

    lowest, row, column = _lowest(points, asked.cell)
    empty = ~np.isfinite(lowest)
    if empty.any():
        nearest = ndimage.distance_transform_edt(empty, return_indices=True)[1]
        lowest = lowest[tuple(nearest)]
    surface, kept, window = lowest, np.asarray(~empty), 1
    while window * asked.cell < asked.widest:
        before, window = window, 2 * window + 1
        opened = ndimage.grey_opening(surface, size=(window, window), mode="nearest")
        rise = asked.slope * (window - before) * asked.cell / 2.0 + asked.threshold
        kept &= surface - opened <= rise
        surface = opened
    if not kept.any():
        return np.zeros(len(points), dtype=bool)
    nearest = ndimage.distance_transform_edt(~kept, return_indices=True)[1]
    base = ndimage.gaussian_filter(lowest[tuple(nearest)], 1.0, mode="nearest")
    low = points[:, 2] - base[row, column] <= asked.threshold
    ground: BoolArray = low & kept[row, column]
    return ground


@contextlib.contextmanager
def _unheard() -> Iterator[None]:
    """Keep what a library writes past Python to standard output and error from being seen."""
    sys.stdout.flush()
    sys.stderr.flush()
    kept = [os.dup(1), os.dup(2)]
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        os.dup2(nowhere, 2)
        yield
    finally:
        for number, copy in zip((1, 2), kept, strict=True):
            os.dup2(copy, number)
            os.close(copy)
        os.close(nowhere)
