"""Two TINs of one lot. Error: the wedge where the first is higher, or the net of rough ones."""

from pathlib import Path

from scipy.spatial import Delaunay

from scripts.benchmarks.case import Case
from scripts.benchmarks.made import (
    GROUND,
    HALF,
    Floats,
    Indices,
    crossing_planes,
    plane_shots,
    rough_shots,
    volume_under,
)
from scripts.benchmarks.peers import (
    above,
    drawn,
    grid_over,
    interpolated,
    ready,
    turned_left,
    volume_by_polygons,
)
from terrain.surface.overlay import Overlay, OverlaySums, overlay, overlay_sums
from terrain.surface.patches import height_on
from terrain.surface.tin import build_tin, tin_surface, triangle_faces

SEEDS = (21, 22)


def crossing_shots(count: int) -> tuple[Floats, Floats, float]:
    """Shots of two planes, and the volume where the first is higher."""
    first, second, exact = crossing_planes()
    return plane_shots(count, SEEDS[0], first), plane_shots(count, SEEDS[1], second), exact


def ours(count: int, folder: Path) -> Case[OverlaySums]:
    """Cut and fill; the TINs are given."""
    *shots, exact = crossing_shots(count)
    a, b = (tin_surface(build_tin(s)) for s in shots)
    return Case(
        work=lambda: overlay_sums(a, b),
        error=lambda sums: float(abs(sums.volume_above[0] / exact - 1)),
    )


def ours_by_pair(count: int, folder: Path) -> Case[Overlay]:
    """The overlay with the figures of every pair; the TINs are given."""
    *shots, exact = crossing_shots(count)
    a, b = (tin_surface(build_tin(s)) for s in shots)
    return Case(
        work=lambda: overlay(a, b),
        error=lambda pairs: abs(pairs.volume_above.sum() / exact - 1),
        note=lambda pairs, _: f"{len(pairs):,} pairs",
    )


def ours_from_shots(count: int, folder: Path) -> Case[OverlaySums]:
    """Both TINs, cut and fill."""
    *shots, exact = crossing_shots(count)
    return Case(
        work=lambda: overlay_sums(*(tin_surface(build_tin(s)) for s in shots)),
        error=lambda sums: float(abs(sums.volume_above[0] / exact - 1)),
    )


def shapely_from_shots(count: int, folder: Path) -> Case[float]:
    """Scipy's triangles, then each pair of polygons by shapely, split at nought."""
    *shots, exact = crossing_shots(count)

    def wedge() -> float:
        made = [triangle_faces(s, turned_left(s, Delaunay(s[:, :2]).simplices)) for s in shots]
        return volume_by_polygons(drawn(made[0]), drawn(made[1]))

    return Case(work=wedge, error=lambda volume: abs(volume / exact - 1))


def scipy_grids(count: int, folder: Path) -> Case[float]:
    """Differences of interpolated heights; the triangles are given."""
    a, b, exact = crossing_shots(count)
    grid, cell = grid_over(HALF, count)
    over_a, over_b = ready(Delaunay(a[:, :2])), ready(Delaunay(b[:, :2]))
    return Case(
        work=lambda: above(interpolated(a, over_a, grid) - interpolated(b, over_b, grid), cell),
        error=lambda volume: abs(volume / exact - 1),
    )


def scipy_from_shots(count: int, folder: Path) -> Case[float]:
    """The same with the triangles made."""
    a, b, exact = crossing_shots(count)
    grid, cell = grid_over(HALF, count)

    def wedge() -> float:
        heights = [interpolated(shots, Delaunay(shots[:, :2]), grid) for shots in (a, b)]
        return above(heights[0] - heights[1], cell)

    return Case(work=wedge, error=lambda volume: abs(volume / exact - 1))


def _above_plane(points: Floats, triangles: Indices) -> float:
    """The volume between a rough TIN and its plane: small figures, so that rounding stays small."""
    above_plane = points.copy()
    above_plane[:, 2] -= height_on(GROUND, points[:, :2])
    return volume_under(above_plane, triangles)


def ours_rough(count: int, folder: Path) -> Case[OverlaySums]:
    """Cut and fill of two rough TINs about one plane."""
    a, b = (build_tin(rough_shots(count, seed)) for seed in SEEDS)
    net = _above_plane(a.points, a.triangles) - _above_plane(b.points, b.triangles)
    over_a, over_b = tin_surface(a), tin_surface(b)

    def error(sums: OverlaySums) -> float:
        cut, fill = float(sums.volume_above[0]), float(sums.volume_below[0])
        return abs(cut - fill - net) / (cut + fill)

    return Case(work=lambda: overlay_sums(over_a, over_b), error=error)


def scipy_grids_rough(count: int, folder: Path) -> Case[tuple[float, float]]:
    """Differences of interpolated heights of the same."""
    a, b = (rough_shots(count, seed) for seed in SEEDS)
    over_a, over_b = ready(Delaunay(a[:, :2])), ready(Delaunay(b[:, :2]))
    net = _above_plane(a, over_a.simplices) - _above_plane(b, over_b.simplices)
    grid, cell = grid_over(HALF, count)

    def cut_and_fill() -> tuple[float, float]:
        depth = interpolated(a, over_a, grid) - interpolated(b, over_b, grid)
        return above(depth, cell), above(-depth, cell)

    return Case(
        work=cut_and_fill,
        error=lambda found: abs(found[0] - found[1] - net) / (found[0] + found[1]),
    )
