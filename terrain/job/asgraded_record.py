"""What verifying the lot as graded answers, ready for report and export to show."""

from dataclasses import dataclass

import shapely

from terrain.asdug.graded_falls import Verdict
from terrain.base.arrays import FloatArray
from terrain.base.frame import LocalFrame
from terrain.job.drainage import Drainage, Spot
from terrain.job.rasters import Raster
from terrain.lot.falls import Why
from terrain.survey.read import FileFacts


@dataclass(frozen=True, slots=True, kw_only=True)
class GradedSide:
    """A side of the house as graded: areas in square length units, volumes in the volume unit.

    `wall` is None for the lot as a whole. Volumes as in `SideCheck`; `is_significant` says whether
    the net is larger than its own doubt, None where that isn't known.
    """

    wall: str | None
    area: float
    share_within: float | None
    high: float
    low: float
    to_trim: float
    to_fill: float
    net: float
    net_plus_minus_95: float | None
    is_significant: bool | None
    thin_cut: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class GradedFall:
    """How the ground as graded falls from one wall, lengths in length units.

    From `spot` to `to` is where it falls least for what is asked, None where nothing is measured;
    `why` is what fails there, None if nothing does.

    Args:
        along: how far along the wall that is from `first_corner`, the one between two walls.
        lacking: how much more it would have to fall; below nought where it falls more than asked.
        high_out: how far out the ground is highest there.
    """

    wall: str
    verdict: Verdict
    stations: int
    asked: int
    failing: int
    mean_per_run: float | None
    spot: Spot | None
    to: Spot | None
    distance: float | None
    fall: float | None
    needed: float | None
    plus_minus_95: float | None
    why: Why | None
    along: float | None
    first_corner: tuple[str, str] | None
    lacking: float | None
    high_out: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class WorstShot:
    """The shot furthest off one way: how far, as graded less finished, and where."""

    error: float
    spot: Spot
    place: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GradedMap:
    """What a map of one survey shows, in the local frame `frame`.

    Args:
        boundary, house: (n, 2) rings; `pads` likewise; `walls` are the names of the house's walls.
        high, low: where the ground is off by more than the tolerance.
        shots: (k, 2), those on the lot, with their `errors` (k,).
    """

    frame: LocalFrame
    boundary: FloatArray
    house: FloatArray
    walls: tuple[str, ...]
    pads: tuple[FloatArray, ...]
    high: shapely.MultiPolygon
    low: shapely.MultiPolygon
    shots: FloatArray
    errors: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class GradedSurvey:
    """One survey of the lot as graded.

    Args:
        shots: how many are on the lot, `shots_within` of them no further off than the tolerance.
        mean, deviation, rmse, at_95: of the shots' errors, in length units; `at_95` is 1.96 RMSE.
        not_judged: shots beside the finished surface: in the house or beyond the lot line.
        drainage: failing falls, ponds and flow on the ground as graded; `before` of a pond is how
            deep water would stand there on the finished ground asked for.
    """

    date: str
    vertical_datum: str | None
    tolerance: float
    shots: int
    shots_within: int
    not_judged: int
    mean: float
    deviation: float
    rmse: float
    at_95: float
    worst_high: WorstShot | None
    worst_low: WorstShot | None
    sides: tuple[GradedSide, ...]
    total: GradedSide
    falls: tuple[GradedFall, ...]
    drainage: Drainage
    rasters: tuple[Raster, ...]
    map: GradedMap
    files: tuple[FileFacts, ...]
    notes: tuple[str, ...]
