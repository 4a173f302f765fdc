"""A LAZ cloud read and thinned, and from the cloud to ledger and raster.

Error: of the thinned points, how far the worst is off the plane they lie on, as a share of the
deepest cut; of the whole job, the volume dug. Imports nothing that one side alone needs.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from scripts.benchmarks.case import Case
from scripts.benchmarks.cloud_files import CELL, CLOUD, HALF, cloud_apart, plane_heights
from scripts.benchmarks.files import FLOOR, JOB, MIDDLE, UPWARD, dig_heights, job_volume
from scripts.benchmarks.rows import points_of

if TYPE_CHECKING:
    from scripts.benchmarks.made import Floats
    from terrain.survey.shots import Shots

RASTER_CELL = 0.1


def _off_plane(points: "Floats") -> float:
    import numpy as np

    worst = np.abs(points[:, 2] - plane_heights(points[:, :2])).max()
    return float(worst / (UPWARD - FLOOR))


def thinned(count: int, folder: Path) -> "Case[Shots]":
    """Read from the file, its checksum made, and one point kept in each cell."""
    import numpy as np

    from terrain.base.units import METRE
    from terrain.survey.read import ReadOptions, read_file

    cloud_apart(points_of(count), folder)
    options = ReadOptions(unit=METRE, folder=folder, cell=CELL)
    return Case(
        work=lambda: read_file(CLOUD, options)[0],
        error=lambda shots: _off_plane(np.column_stack([shots.plan, shots.elevation])),
    )


def laspy_whole(count: int, folder: Path) -> "Case[Floats]":
    """All points read at once, not thinned."""
    cloud_apart(points_of(count), folder)
    return Case(work=lambda: _read_whole(folder), error=_off_plane)


def _read_whole(folder: Path) -> "Floats":
    import laspy
    import numpy as np

    cloud = laspy.read(str(folder / CLOUD))
    points: Floats = np.column_stack([cloud.x, cloud.y, cloud.z])
    return points


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Answered:
    """The volume dug and the raster of what is cut, in depth."""

    bank: float
    cut: "Floats"


def ledger(count: int, folder: Path) -> Case[Answered]:
    """Job file and cloud to the ledger and a raster of the cut, 0.1 m a cell."""
    from terrain.job.load import load_job
    from terrain.job.volumes import told, work_out
    from terrain.surface.sampling import sample_grid

    cloud_apart(points_of(count), folder)

    def work() -> Answered:
        worked = work_out(load_job(folder / JOB))
        side = round(2 * HALF / RASTER_CELL)
        west, south = worked.layout.frame.to_local(_south_west())
        grid = ((float(west), float(south)), RASTER_CELL, (side, side))
        ground = sample_grid(worked.existing.ground.surface, *grid)
        cut = ground - sample_grid(worked.dig.surface, *grid)
        return Answered(bank=told(worked).ledger.total.quantity.bank, cut=cut)

    return Case(work=work, error=lambda answer: abs(answer.bank / job_volume() - 1))


def _south_west() -> "Floats":
    import numpy as np

    return np.array(MIDDLE) - HALF


def by_grid(count: int, folder: Path) -> Case[Answered]:
    """Whole-file read, medians by sorting with numpy, scipy's Delaunay, cells of a grid."""
    from scipy.interpolate import LinearNDInterpolator

    from scripts.benchmarks.peers import above, grid_over

    cloud_apart(points_of(count), folder)
    grid, cell = grid_over(HALF, round(2 * HALF / RASTER_CELL) ** 2)

    def work() -> Answered:
        points = _medians(_read_whole(folder) - [*MIDDLE, 0.0])
        ground = LinearNDInterpolator(points[:, :2], points[:, 2])(grid)
        cut = ground - dig_heights(grid)
        return Answered(bank=above(cut, cell), cut=cut)

    return Case(work=work, error=lambda answer: abs(answer.bank / job_volume() - 1))


def _medians(points: "Floats") -> "Floats":
    import numpy as np

    cell = np.floor(points[:, :2] / CELL).astype(np.int64) @ [1 << 20, 1]
    order = np.lexsort([points[:, 2], cell])
    first = np.flatnonzero(np.diff(cell[order], prepend=np.iinfo(np.int64).min))
    last = np.append(first[1:], len(points)) - 1
    kept: Floats = points[order[(first + last) // 2]]
    return kept
