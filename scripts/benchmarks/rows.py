"""Which engines do which job; imports nothing heavy, so that no child inherits its memory."""

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from importlib.util import find_spec


@dataclass(frozen=True, slots=True, kw_only=True)
class Engine:
    """Who does a row's job: the case, and what must be installed for it."""

    label: str
    case: str
    module: str | None = None
    command: str | None = None

    def missing(self) -> str | None:
        """What isn't installed here, or None."""
        if self.module is not None and find_spec(self.module) is None:
            return self.module
        if self.command is not None and shutil.which(self.command) is None:
            return self.command
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One job: ours is the first engine, the others stand beside it."""

    name: str
    title: Callable[[int], str]
    engines: tuple[Engine, ...]


def edges_of(count: int) -> int:
    """How many breakline edges a ground of so many shots has: 2,000 from 10,000 shots on."""
    return FOLDS * max(1, min(100, count // 100))


def lots_of(count: int) -> int:
    """How many lots stand beside a ground of so many shots: 200 beside a million."""
    return max(2, min(200, count // 1000))


def points_of(count: int) -> int:
    """How many points a cloud has beside a ground of so many shots: ten times as many."""
    return 10 * count


def cells_of(count: int) -> int:
    """How many cells a raster over a ground of so many shots has."""
    return round((20 * count) ** 0.5) ** 2


FOLDS = 20
OURS = "spoilbank"

ROWS = (
    Row(
        name="tin",
        title=lambda n: f"TIN of {n:,} shots",
        engines=(
            Engine(label=OURS, case="tin.ours"),
            Engine(label="scipy Delaunay", case="tin.scipy"),
            Engine(label="VTK Delaunay2D, Hilbert-sorted", case="tin.vtk", module="vtk"),
        ),
    ),
    Row(
        name="breaklines",
        title=lambda n: f"TIN of {n:,} shots with {edges_of(n):,} breakline edges",
        engines=(
            Engine(label=OURS, case="tin.ours_with_lines"),
            Engine(label="scipy Delaunay, lines left out", case="tin.scipy_without_lines"),
            Engine(
                label="VTK, Hilbert-sorted, no lines",
                case="tin.vtk_without_lines",
                module="vtk",
            ),
        ),
    ),
    Row(
        name="pit",
        title=lambda n: f"Pit of 60 facets against a TIN of {2 * n:,} triangles",
        engines=(
            Engine(label=OURS, case="pit.ours"),
            Engine(
                label="manifold3d, the same TIN", case="solids.pit_from_tin", module="manifold3d"
            ),
            Engine(label="manifold3d, closed solids", case="solids.pit", module="manifold3d"),
            Engine(label="shapely, all triangles", case="pit.shapely"),
            Engine(label="scipy, grid under the pit", case="pit.scipy_grid"),
        ),
    ),
    Row(
        name="pit-from-shots",
        title=lambda n: f"The same pit, from {n:,} shots",
        engines=(
            Engine(label=OURS, case="pit.ours_from_shots"),
            Engine(label="scipy, Delaunay and grid", case="pit.scipy_from_shots"),
        ),
    ),
    Row(
        name="two-tins",
        title=lambda n: f"TIN against TIN, {2 * n:,} triangles each",
        engines=(
            Engine(label=f"{OURS}, cut and fill", case="two_tins.ours"),
            Engine(label=f"{OURS}, every pair kept", case="two_tins.ours_by_pair"),
            Engine(label="manifold3d, closed solids", case="solids.two_tins", module="manifold3d"),
            Engine(label="scipy, two grids", case="two_tins.scipy_grids"),
        ),
    ),
    Row(
        name="rough-tins",
        title=lambda n: f"The same, so rough that the depth changes sign all over; {2 * n:,} each",
        engines=(
            Engine(label=OURS, case="two_tins.ours_rough"),
            Engine(label="scipy, two grids", case="two_tins.scipy_grids_rough"),
        ),
    ),
    Row(
        name="two-tins-from-shots",
        title=lambda n: f"TIN against TIN, from {n:,} shots each",
        engines=(
            Engine(label=OURS, case="two_tins.ours_from_shots"),
            Engine(
                label="scipy Delaunays, manifold3d solids",
                case="solids.two_tins_from_shots",
                module="manifold3d",
            ),
            Engine(label="scipy Delaunays, shapely by pair", case="two_tins.shapely_from_shots"),
            Engine(label="scipy, Delaunays and grids", case="two_tins.scipy_from_shots"),
            Engine(label="gdal_grid, linear", case="commands.gdal_grid", command="gdal_grid"),
        ),
    ),
    Row(
        name="raster",
        title=lambda n: f"{2 * n:,} triangles to a raster of {cells_of(n):,} cells",
        engines=(
            Engine(label=OURS, case="raster.ours"),
            Engine(label="matplotlib", case="raster.matplotlib", module="matplotlib"),
            Engine(label="scipy", case="raster.scipy"),
            Engine(label="gdal_grid, linear", case="commands.gdal_raster", command="gdal_grid"),
        ),
    ),
    Row(
        name="csv",
        title=lambda n: f"CSV of {n:,} shots, read and checked",
        engines=(
            Engine(label=OURS, case="reading.ours"),
            Engine(label="numpy.loadtxt, numbers alone", case="reading.numpy"),
        ),
    ),
    Row(
        name="floor",
        title=lambda n: f"A dig's floor changed on a job of {n:,} shots, in one live process",
        engines=(
            Engine(label=OURS, case="floor.ours"),
            Engine(label=f"{OURS}, all of the job afresh", case="floor.afresh"),
            Engine(label="numpy, a grid, volume alone", case="floor.on_a_grid"),
        ),
    ),
    Row(
        name="volumes",
        title=lambda n: f"A whole job of {n:,} shots in CSV",
        engines=(
            Engine(label=f"{OURS}, volumes(load_job(...))", case="whole.volumes"),
            Engine(label="scipy, its Delaunay alone", case="whole.scipy_delaunay"),
        ),
    ),
    Row(
        name="command",
        title=lambda n: f"`spoilbank volumes` of {n:,} shots with all its files",
        engines=(
            Engine(label=f"{OURS}, the whole process", case="commands.volumes"),
            Engine(label="scipy, its Delaunay alone", case="whole.scipy_delaunay"),
        ),
    ),
    Row(
        name="cloud",
        title=lambda n: f"LAZ of {points_of(n):,} points, read and thinned to 0.05 m",
        engines=(
            Engine(label=OURS, case="clouds.thinned"),
            Engine(label="laspy, whole file, read alone", case="clouds.laspy_whole"),
        ),
    ),
    Row(
        name="cloud-ledger",
        title=lambda n: f"LAZ of {points_of(n):,} points to ledger and raster",
        engines=(
            Engine(label=OURS, case="clouds.ledger"),
            Engine(label="laspy, numpy sort, scipy on a grid", case="clouds.by_grid"),
        ),
    ),
    Row(
        name="wall-grade",
        title=lambda n: f"A wall grade changed on a lot of {n:,} shots, wanted under 1 s",
        engines=(
            Engine(label=OURS, case="lot.ours"),
            Engine(label="scipy, a grid, fill alone", case="lot.scipy_grid"),
        ),
    ),
    Row(
        name="batch",
        title=lambda n: f"`spoilbank batch` of {lots_of(n)} lots, figures alone",
        engines=(
            Engine(label=f"{OURS}, one process a core", case="lots.batch"),
            Engine(label=f"{OURS}, one process", case="lots.one_by_one"),
        ),
    ),
    Row(
        name="plans",
        title=lambda n: f"Dig plans of {lots_of(n)} made lots, every starting wall both ways round",
        engines=(Engine(label=OURS, case="plans.orders"),),
    ),
    Row(
        name="help",
        title=lambda n: "`spoilbank --help`, wanted under 0.3 s",
        engines=(
            Engine(label=f"{OURS}, the whole process", case="commands.show_help"),
            Engine(label="Python doing nothing", case="commands.nothing"),
        ),
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Growing:
    """A job measured at one size after another: what it is of, and the case's points a shot."""

    job: str
    of: str
    case: str
    points_a_shot: int = 1


GROWTH = (
    Growing(job="read CSV", of="shots", case="reading.ours"),
    Growing(job="read and thin LAZ", of="points", case="clouds.thinned", points_a_shot=10),
    Growing(job="TIN", of="shots", case="tin.ours"),
    Growing(job="pit", of="shots", case="pit.ours"),
    Growing(job="raster", of="shots", case="raster.ours"),
    Growing(job="two TINs", of="shots each", case="two_tins.ours"),
    Growing(job="volumes", of="shots", case="whole.volumes"),
)
