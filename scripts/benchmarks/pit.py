"""A pit of 60 facets in the TIN of a plane. Error: the volume dug, a frustum."""

from pathlib import Path

import numpy as np
from scipy.spatial import Delaunay

from scripts.benchmarks.case import Case
from scripts.benchmarks.made import Floats, pit_heights, plane_shots, round_pit
from scripts.benchmarks.peers import (
    above,
    drawn,
    grid_over,
    interpolated,
    ready,
    volume_by_polygons,
)
from terrain.surface.overlay import Overlay, overlay
from terrain.surface.tin import build_tin, tin_surface

SEED = 20


def ours(count: int, folder: Path) -> Case[Overlay]:
    """The overlay; the TIN is given."""
    ground, pit = tin_surface(build_tin(plane_shots(count, SEED))), round_pit()
    return Case(
        work=lambda: overlay(ground, pit.surface),
        error=lambda pairs: abs(pairs.volume_above.sum() / pit.volume - 1),
    )


def ours_from_shots(count: int, folder: Path) -> Case[Overlay]:
    """The TIN and the overlay."""
    shots, pit = plane_shots(count, SEED), round_pit()
    return Case(
        work=lambda: overlay(tin_surface(build_tin(shots)), pit.surface),
        error=lambda pairs: abs(pairs.volume_above.sum() / pit.volume - 1),
    )


def shapely(count: int, folder: Path) -> Case[float]:
    """Triangle by triangle; the triangles are given as polygons."""
    pit = round_pit()
    ground = drawn(tin_surface(build_tin(plane_shots(count, SEED))))
    return Case(
        work=lambda: volume_by_polygons(ground, drawn(pit.surface)),
        error=lambda volume: abs(volume / pit.volume - 1),
    )


def scipy_grid(count: int, folder: Path) -> Case[float]:
    """Interpolated differences under the pit; the triangles and the pit's heights are given."""
    shots, grid, design, cell = _gridded(count)
    triangles = ready(Delaunay(shots[:, :2]))
    return Case(
        work=lambda: above(interpolated(shots, triangles, grid) - design, cell),
        error=lambda volume: abs(volume / round_pit().volume - 1),
    )


def scipy_from_shots(count: int, folder: Path) -> Case[float]:
    """The same with the triangles made."""
    shots, grid, design, cell = _gridded(count)
    return Case(
        work=lambda: above(
            interpolated(shots, Delaunay(shots[:, :2]), grid) - design,
            cell,
        ),
        error=lambda volume: abs(volume / round_pit().volume - 1),
    )


def _gridded(count: int) -> tuple[Floats, Floats, Floats, float]:
    """Shots, as many cells as shots over the pit's square, the pit's heights there, a cell."""
    pit = round_pit()
    grid, cell = grid_over(float(np.abs(pit.rim[:, :2]).max()), count)
    return plane_shots(count, SEED), grid, pit_heights(pit, grid), cell
