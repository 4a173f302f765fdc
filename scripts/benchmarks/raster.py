"""Heights of a TIN on a grid of cells. Error: the mean height against the plane's."""

from importlib import import_module
from pathlib import Path

import numpy as np
from scipy.spatial import Delaunay

from scripts.benchmarks.case import Case
from scripts.benchmarks.made import HALF, Floats, plane_shots, plane_volume
from scripts.benchmarks.peers import grid_over, interpolated, ready
from scripts.benchmarks.rows import cells_of
from terrain.surface.sampling import sample_grid
from terrain.surface.tin import build_tin, tin_surface

SEED = 20


def _error(heights: Floats) -> float:
    """A cell without a height counts nothing, so that a gap shows."""
    volume = float(np.nansum(heights)) * (2 * HALF) ** 2 / heights.size
    return abs(volume / plane_volume() - 1)


def ours(count: int, folder: Path) -> Case[Floats]:
    """All cells; the TIN is given."""
    ground, side = tin_surface(build_tin(plane_shots(count, SEED))), round(cells_of(count) ** 0.5)
    return Case(
        work=lambda: sample_grid(ground, (-HALF, -HALF), 2 * HALF / side, (side, side)),
        error=_error,
    )


def matplotlib(count: int, folder: Path) -> Case[Floats]:
    """The same by matplotlib's linear interpolator, which makes its search tree first."""
    tri = import_module("matplotlib.tri")
    shots, (grid, _) = plane_shots(count, SEED), grid_over(HALF, cells_of(count))
    triangles = Delaunay(shots[:, :2]).simplices

    def work() -> Floats:
        given = tri.Triangulation(shots[:, 0], shots[:, 1], triangles)
        heights = tri.LinearTriInterpolator(given, shots[:, 2])(grid[:, 0], grid[:, 1])
        filled: Floats = heights.filled(np.nan)
        return filled

    return Case(work=work, error=_error)


def scipy(count: int, folder: Path) -> Case[Floats]:
    """The same by scipy's linear interpolator; what finds a point's triangle is given."""
    shots, (grid, _) = plane_shots(count, SEED), grid_over(HALF, cells_of(count))
    triangles = ready(Delaunay(shots[:, :2]))
    return Case(work=lambda: interpolated(shots, triangles, grid), error=_error)
