"""What the question `volumes` answers, ready for report and export to show."""

from dataclasses import dataclass

from terrain.base.arrays import FloatArray
from terrain.base.frame import LocalFrame
from terrain.job.doubt_record import DoubtTold
from terrain.ledger.entries import Ledger, LooseVolume
from terrain.ledger.soil import SoilFactors
from terrain.survey.cloud_facts import CloudFacts


@dataclass(frozen=True, slots=True, kw_only=True)
class InputFile:
    """A file that was read: its name as the job gives it, checksum, and what it held.

    `cloud` says what became of the points of a scan.
    """

    name: str
    kind: str
    sha256: str
    shots: int
    low: tuple[float, float, float]
    high: tuple[float, float, float]
    cloud: CloudFacts | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CutGrid:
    """Cut depth at cell centres for pictures: `depth` (rows, columns), NaN where nothing is cut.

    Row 0 is the southernmost; `easting`, `northing` are the south-west corner of the grid in the
    local frame.
    """

    easting: float
    northing: float
    cell: float
    depth: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtraOutline:
    """A pit, ramp or trench as drawn: its name, kind and rings (m, 2)."""

    name: str
    kind: str
    rings: tuple[FloatArray, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The lines of the plan drawing, all in the local frame `frame`.

    Wall i runs from `corners[i]` to the next. `daylight` are closed or open polylines (m, 2)
    where the cut meets the ground. `seams` (n, 2, 2) are the lines between faces of the sides.
    `shares` (m, 2) are the lines inside the house where one wall's share of it ends.
    """

    frame: LocalFrame
    corners: FloatArray
    walls: tuple[str, ...]
    dig_line: tuple[FloatArray, ...]
    daylight: tuple[FloatArray, ...]
    seams: FloatArray
    shares: tuple[FloatArray, ...]
    extras: tuple[ExtraOutline, ...]
    shots: FloatArray
    shot_upward: FloatArray
    breaklines: tuple[FloatArray, ...]
    cut: CutGrid


@dataclass(frozen=True, slots=True, kw_only=True)
class DigCorner:
    """A corner of the dig line on the site's grid, and the walls that meet there."""

    walls: tuple[str, ...]
    easting: float
    northing: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DeepestSpot:
    """Where the cut is deepest, on the site's grid; the walls of the dig line's corner nearest to
    it, and how far off that is, 0 where the spot lies at it.
    """

    easting: float
    northing: float
    corner: tuple[str, ...]
    away: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LooseRange:
    """Between what the loose total and its loads lie, by the survey's doubt and by the soil.

    `swell` are the least and most swell that it reckons with and `swell_of` says whose they are;
    both None where no range of the soil is known, so that the survey's doubt alone tells.
    """

    low: LooseVolume
    high: LooseVolume
    loads: tuple[int, int] | None
    swell: tuple[float, float] | None
    swell_of: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Volumes:
    """The whole answer: the ledger, the plan, what was read and what was noticed while reading.

    `inputs` name every file with its checksum; `notes` are plain sentences on what was merged,
    left out or assumed; `crs` is None for a local grid; `soil` is what loose and compacted measures
    were made with. `truck` is a load in the job's volume unit, None without one. `assumed` are
    titles and words on what else the job says. `dig_corners` go round the dig line. `doubt`
    tells of the total's plus-or-minus, None without one.

    `deepest_at` is None where the cut is as deep in several places, `loose_range` where nothing
    tells how far the loose total may be off. `warnings` are those of the notes that throw doubt on
    the answer. `has_finished_lot` says whether the job tells what backfill and grade keep back.
    """

    ledger: Ledger
    soil: SoilFactors
    plan: Plan
    inputs: tuple[InputFile, ...]
    notes: tuple[str, ...]
    truck: float | None
    assumed: tuple[tuple[str, str], ...]
    dig_corners: tuple[DigCorner, ...]
    crs: str | None
    job_file: str
    version: str
    date: str
    doubt: DoubtTold | None = None
    deepest_at: DeepestSpot | None = None
    loose_range: LooseRange | None = None
    warnings: tuple[str, ...] = ()
    has_finished_lot: bool = False
