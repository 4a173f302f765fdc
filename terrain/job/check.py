"""The question `check`: what was understood of a job, before anything is computed."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.base.units import LengthUnit
from terrain.job.answer import InputFile
from terrain.job.design import Layout, lay_out
from terrain.job.ground import ExistingGround, existing_ground, input_files, read_survey
from terrain.job.load import Job
from terrain.ledger.soil import SoilFactors, soil_factors
from terrain.pit.design import Extra
from terrain.pit.foundation import Dimensions, dimensions, signed_area
from terrain.pit.levels import Level
from terrain.surface.boundary import triangle_areas
from terrain.surface.moves import Side
from terrain.survey.marks import MarkCheck
from terrain.survey.shots import Shots


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedShot:
    """A shot as it was read: where it is written, its point's name and where it lies."""

    place: str
    point: str
    easting: float
    northing: float
    elevation: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedGround:
    """The existing ground: shots on it, triangles, plan area and range of elevation.

    `first` is the first shot; columns that are swapped show there.
    """

    first: CheckedShot
    shots: int
    triangles: int
    area: float
    low: float
    high: float
    breaklines: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedSpike:
    """A shot that stands out, and how far off the ground round it (high positive)."""

    shot: CheckedShot
    off: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedFoundation:
    """The outside faces: `corners` (n, 2) on the site's grid, in the job's order.

    `misclosure` is None for drawn corners; `residuals` (n,), how far each stake stands from its
    corner, None without stakes. `beyond` is how far the ground as surveyed reaches past the walls
    to the west, south, east and north, negative where it ends before them.
    """

    form: str
    walls: tuple[str, ...]
    corners: FloatArray
    dimensions: Dimensions
    misclosure: float | None
    residuals: FloatArray | None
    beyond: tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedWall:
    """How one wall is dug. `working_room` is overdig less the footing's projection."""

    name: str
    overdig: float
    side: Side
    working_room: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedExtra:
    """A pit, ramp or trench: its lowest and highest floor, its area in plan, how it is dug."""

    kind: str
    name: str
    low: float
    high: float
    area: float
    overdig: float
    side: Side


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckResult:
    """What was understood of a job; lengths, areas and elevations in the job's unit."""

    title: str
    job_file: str
    unit: LengthUnit
    crs: str | None
    inputs: tuple[InputFile, ...]
    notes: tuple[str, ...]
    marks: tuple[MarkCheck, ...]
    ground: CheckedGround
    spikes: tuple[CheckedSpike, ...]
    foundation: CheckedFoundation
    levels: tuple[Level, ...]
    projection: float
    walls: tuple[CheckedWall, ...]
    extras: tuple[CheckedExtra, ...]
    soil: SoilFactors
    soil_class: str | None
    truck: float | None


def _quiet(stage: str) -> None:
    """Say nothing of the stage now begun."""


def check(job: Job, progress: Callable[[str], None] = _quiet) -> CheckResult:
    """Read everything a job names and tell what was understood; nothing is computed.

    Raises:
        SpoilbankError: whatever would keep the job from being computed, as far as it can be told
            without digging.
    """
    progress("reading the survey")
    survey = read_survey(job)
    layout = lay_out(job, survey.shots)
    progress("making the ground")
    ground = existing_ground(job, survey, layout.frame)
    soil = job.soil
    return CheckResult(
        title=job.title,
        job_file=job.file,
        unit=job.unit,
        crs=job.site.crs,
        inputs=input_files(job, survey),
        notes=ground.notes,
        marks=survey.marks,
        ground=_ground(survey.shots, ground),
        spikes=_spikes(survey.shots, ground),
        foundation=_foundation(layout, ground),
        levels=layout.levels.chain,
        projection=layout.projection,
        walls=_walls(layout),
        extras=tuple(_extra(extra) for extra in layout.design.extras),
        soil=soil_factors(soil.material, soil.swell, soil.shrink),
        soil_class=soil.soil_class,
        truck=job.haul.truck,
    )


def _ground(shots: Shots, ground: ExistingGround) -> CheckedGround:
    used = np.unique(ground.tin.triangles)
    upward = ground.tin.points[used, 2]
    return CheckedGround(
        first=_shot(shots, 0, float(shots.elevation[0])),
        shots=len(shots),
        triangles=len(ground.tin),
        area=float(triangle_areas(ground.tin).sum()),
        low=float(upward.min()),
        high=float(upward.max()),
        breaklines=len(ground.lines) + len(ground.draped),
    )


def _spikes(shots: Shots, ground: ExistingGround) -> tuple[CheckedSpike, ...]:
    return tuple(
        CheckedSpike(shot=_shot(shots, spike.shot, spike.elevation), off=spike.off)
        for spike in ground.spikes
    )


def _shot(shots: Shots, shot: int, elevation: float) -> CheckedShot:
    return CheckedShot(
        place=shots.place(shot),
        point=shots.point_name(shot),
        easting=float(shots.easting[shot]),
        northing=float(shots.northing[shot]),
        elevation=elevation,
    )


def _foundation(layout: Layout, ground: ExistingGround) -> CheckedFoundation:
    figure = layout.figure
    plan = ground.tin.points[np.unique(ground.tin.triangles), :2]
    before = figure.corners.min(axis=0) - plan.min(axis=0)
    past = plan.max(axis=0) - figure.corners.max(axis=0)
    return CheckedFoundation(
        form=figure.form,
        walls=figure.walls,
        corners=figure.frame.to_site(figure.corners),
        dimensions=dimensions(figure.corners),
        misclosure=figure.misclosure,
        residuals=None if figure.stakes is None else figure.stakes.misses,
        beyond=(float(before[0]), float(before[1]), float(past[0]), float(past[1])),
    )


def _walls(layout: Layout) -> tuple[CheckedWall, ...]:
    """Each wall in the job's order with its overdig, side and working room."""
    numbered = zip(layout.design.number, layout.design.walls, strict=True)
    return tuple(
        CheckedWall(
            name=wall.name,
            overdig=wall.overdig,
            side=wall.side,
            working_room=wall.overdig - layout.projection,
        )
        for _, wall in sorted(numbered, key=lambda pair: pair[0])
    )


def _extra(extra: Extra) -> CheckedExtra:
    floors = np.concatenate(
        [
            piece.plane[2] + (piece.corners - piece.plane[:2]) @ piece.plane[3:]
            for piece in extra.pieces
        ]
    )
    return CheckedExtra(
        kind=extra.kind,
        name=extra.name,
        low=float(floors.min()),
        high=float(floors.max()),
        area=sum(abs(signed_area(piece.corners)) for piece in extra.pieces),
        overdig=extra.overdig,
        side=extra.side,
    )
