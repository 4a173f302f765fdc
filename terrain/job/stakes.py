"""Where to drive stakes: dig line, daylight, finished ground; cut or fill at each."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.base.errors import Fault, JobError
from terrain.job.volumes import Worked
from terrain.lot.finish import Finished
from terrain.surface.cut import CutRun, cut_along
from terrain.surface.locate import heights_at, triangle_grid
from terrain.surface.profile import profile_along
from terrain.surface.sampling import heights_over

Kind: TypeAlias = Literal["dig corner", "daylight", "apron", "grid"]
"""`apron` is finished ground beside the house, at the wall and where the fall away from it ends;
`grid` is finished ground over the lot. Both are for grading, after the backfill."""
LETTERS: dict[Kind, str] = {
    "dig corner": "D", "daylight": "L", "apron": "A", "grid": "G",
}  # fmt: skip
FOR_THE_DIG: tuple[Kind, ...] = ("dig corner", "daylight")
MOST_STAKES = 20_000
DECIMALS = 4
"""No stake is driven to a tenth of this; figures as written read back as they are."""
HAIR = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class StakesAsked:
    """What to stake, lengths in the job's unit.

    Args:
        spacing: along a wall, between daylight and finished-ground stakes.
        grid: between the stakes of the grid over the lot; None for no grid.
        set_back: how far beyond the edge of the cut each dig stake stands, so that it outlasts
            the dig; 0 to stand on the point itself.
        instrument: height of the instrument, for rod readings; None for none.
    """

    spacing: float
    grid: float | None
    set_back: float
    instrument: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stake:
    """One stake: where it stands on the site's grid, and what it says.

    Args:
        point: its name.
        station: along its wall from the wall's first corner; None for the grid.
        offset: of the point it stands for from the wall's outside face, outward; None for the grid.
        set_back: how much further out the stake itself stands.
        existing: ground at the stake; None off the survey.
        design: elevation of the point it stands for.
        cut: existing less design: cut where positive, fill where negative.
        rod: what the rod reads on the design elevation, None without an instrument height.
    """

    point: str
    kind: Kind
    wall: str | None
    station: float | None
    offset: float | None
    set_back: float
    easting: float
    northing: float
    existing: float | None
    design: float
    cut: float | None
    rod: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Spot:
    """A point to stake in the local frame, and which way it is set back.

    `to_edge` is how far the cut still reaches that way.
    """

    kind: Kind
    wall: str | None
    station: float | None
    offset: float | None
    plan: FloatArray
    outward: FloatArray
    design: float
    to_edge: float = 0.0


def instrument_height(marks: dict[str, float], mark: str, backsight: float) -> float:
    """The instrument's height from a backsight on a mark of the job.

    Raises:
        JobError: the job has no such mark.
    """
    if mark not in marks:
        known = ", ".join(marks) or "none"
        message = f'the job has no mark "{mark}"; its marks are: {known}'
        raise JobError(Fault(key="existing.marks", message=message))
    return marks[mark] + backsight


def stakes_of(worked: Worked, lot: Finished | None, asked: StakesAsked) -> tuple[Stake, ...]:
    """All stakes of a job, dig corners first; finished ground where there is a lot of it.

    Raises:
        JobError: the spacing makes more stakes than anybody could drive.
    """
    spots = [*_dig_corners(worked), *_daylights(worked, asked.spacing)]
    if lot is not None:
        spots += _aprons(worked, lot, asked.spacing)
        if asked.grid is not None:
            _check_count(lot, asked.grid)
            spots += _grid(worked, lot, asked.grid)
    stands = np.array([s.plan + _set_back(s, asked) * s.outward for s in spots]).reshape(-1, 2)
    tin = worked.existing.tin
    ground = heights_at(tin, stands, triangle_grid(tin))
    site = worked.layout.frame.to_site(stands)
    names = _Names()
    return tuple(
        _stake(spot, names.of(spot.kind, at), at, existing, asked)
        for spot, at, existing in zip(spots, site, ground.tolist(), strict=True)
    )


class _Names:
    """Names of stakes; stakes of one kind on one spot are one stake with one name."""

    def __init__(self) -> None:
        self._given: dict[tuple[Kind, float, float], str] = {}
        self._counts = dict.fromkeys(LETTERS, 0)

    def of(self, kind: Kind, at: FloatArray) -> str:
        key = (kind, round(float(at[0]), DECIMALS), round(float(at[1]), DECIMALS))
        if key not in self._given:
            self._counts[kind] += 1
            self._given[key] = f"{LETTERS[kind]}{self._counts[kind]}"
        return self._given[key]


def _stake(spot: _Spot, name: str, at: FloatArray, existing: float, asked: StakesAsked) -> Stake:
    known = None if np.isnan(existing) else existing
    return Stake(
        point=name,
        kind=spot.kind,
        wall=spot.wall,
        station=_rounded(spot.station),
        offset=_rounded(spot.offset),
        set_back=round(_set_back(spot, asked), DECIMALS),
        easting=round(float(at[0]), DECIMALS),
        northing=round(float(at[1]), DECIMALS),
        existing=_rounded(known),
        design=round(spot.design, DECIMALS),
        cut=None if known is None else round(known - spot.design, DECIMALS) + 0.0,
        rod=None if asked.instrument is None else round(asked.instrument - spot.design, DECIMALS),
    )


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, DECIMALS) + 0.0


def _set_back(spot: _Spot, asked: StakesAsked) -> float:
    if spot.kind not in FOR_THE_DIG or asked.set_back == 0.0:
        return 0.0
    return spot.to_edge + asked.set_back


@dataclass(frozen=True, slots=True, kw_only=True)
class _Face:
    """A wall's outside face in plan."""

    name: str
    start: FloatArray
    along: FloatArray
    outward: FloatArray
    length: float

    def spot(self, station: float, offset: float) -> FloatArray:
        plan: FloatArray = self.start + station * self.along + offset * self.outward
        return plan


def _faces(corners: FloatArray, names: Sequence[str]) -> list[_Face]:
    faces = []
    for name, start, end in zip(names, corners, np.roll(corners, -1, axis=0), strict=True):
        length = float(np.hypot(*(end - start)))
        along = (end - start) / length
        outward = np.array([along[1], -along[0]])
        faces.append(_Face(name=name, start=start, along=along, outward=outward, length=length))
    return faces


def _house_faces(worked: Worked) -> list[_Face]:
    design = worked.layout.design
    faces = _faces(design.corners, [w.name for w in design.walls])
    order = sorted(range(len(faces)), key=lambda row: design.number[row])
    return [faces[row] for row in order]


def _stations(length: float, spacing: float) -> FloatArray:
    """Stations at even spacing, no more than asked, ends included."""
    return np.linspace(0.0, length, max(2, int(np.ceil(length / spacing - 1e-9)) + 1))


def _dig_corners(worked: Worked) -> Iterator[_Spot]:
    """The two ends of every wall's dig line, as seen along that wall."""
    ring, design = worked.dig.line.ring, worked.layout.design
    faces = _faces(design.corners, [w.name for w in design.walls])
    for front, start, end in zip(ring.fronts, ring.corners, ring.ends, strict=True):
        if front.owner < 0:
            continue
        face = faces[front.owner]
        for corner in (start, end):
            yield _Spot(
                kind="dig corner",
                wall=face.name,
                station=float((corner - face.start) @ face.along),
                offset=float((corner - face.start) @ face.outward),
                plan=corner,
                outward=face.outward,
                design=design.floor,
                to_edge=_to_edge(worked, corner, face.outward),
            )


def _to_edge(worked: Worked, plan: FloatArray, outward: FloatArray) -> float:
    """How far the cut reaches from a spot, straight out; 0 where there is none."""
    run = _cut_from(worked, plan, outward)
    return 0.0 if run is None else run.high


def _cut_from(worked: Worked, plan: FloatArray, outward: FloatArray) -> CutRun | None:
    """The run of the cut that begins at a spot, straight out."""
    spread = np.ptp(worked.existing.tin.points[:, :2], axis=0)
    line = np.stack([plan, plan + float(np.hypot(*spread)) * outward])
    cut = cut_along(
        profile_along(worked.existing.ground.surface, line, 0.0),
        profile_along(worked.dig.surface, line, 0.0),
    )
    return next((run for run in cut.runs if run.low <= HAIR < run.high), None)


def _daylights(worked: Worked, spacing: float) -> Iterator[_Spot]:
    """Where the side meets the ground, square out from each wall."""
    for face in _house_faces(worked):
        for station in _stations(face.length, spacing).tolist():
            run = _cut_from(worked, face.spot(station, 0.0), face.outward)
            if run is not None:
                yield _Spot(
                    kind="daylight",
                    wall=face.name,
                    station=station,
                    offset=run.high,
                    plan=face.spot(station, run.high),
                    outward=face.outward,
                    design=run.top_at_high,
                )


def _aprons(worked: Worked, lot: Finished, spacing: float) -> Iterator[_Spot]:
    """Finished ground at the face and where the fall ends, square out from each house wall."""
    design = lot.design
    for face in _faces(design.house, design.walls):
        pairs = [
            (station, offset)
            for station in _stations(face.length, spacing).tolist()
            for offset in (0.0, design.apron.fall_distance)
        ]
        # a hair outward: the face itself is the border of the lot
        plan = np.array([face.spot(station, max(offset, HAIR)) for station, offset in pairs])
        for (station, offset), height in zip(
            pairs, _finished_at(worked, lot, plan).tolist(), strict=True
        ):
            if not np.isnan(height):
                yield _Spot(
                    kind="apron",
                    wall=face.name,
                    station=station,
                    offset=offset,
                    plan=face.spot(station, offset),
                    outward=face.outward,
                    design=height,
                )


def _check_count(lot: Finished, spacing: float) -> None:
    count = lot.region.area / spacing**2
    if count > MOST_STAKES:
        raise JobError(
            f"a grid of {spacing:g} over the lot would be {count:,.0f} stakes, more than "
            f"{MOST_STAKES:,}; ask for a wider one"
        )


def _grid(worked: Worked, lot: Finished, spacing: float) -> Iterator[_Spot]:
    """Finished ground on whole multiples of the spacing of the site's grid."""
    low, high = (worked.layout.frame.to_site(np.array(b)) for b in _bounds(lot))
    east = np.arange(np.ceil(low[0] / spacing), np.floor(high[0] / spacing) + 1) * spacing
    north = np.arange(np.ceil(low[1] / spacing), np.floor(high[1] / spacing) + 1) * spacing
    site = np.stack(np.meshgrid(east, north), axis=-1).reshape(-1, 2)
    plan = worked.layout.frame.to_local(site)
    plan = plan[shapely.contains_xy(lot.region, plan[:, 0], plan[:, 1])]
    heights = _finished_at(worked, lot, plan)
    for spot, height in zip(plan, heights.tolist(), strict=True):
        if not np.isnan(height):
            yield _Spot(
                kind="grid", wall=None, station=None, offset=None,
                plan=spot, outward=np.zeros(2), design=height,
            )  # fmt: skip


def _bounds(lot: Finished) -> tuple[tuple[float, float], tuple[float, float]]:
    west, south, east, north = lot.region.bounds
    return (west, south), (east, north)


def _finished_at(worked: Worked, lot: Finished, plan: FloatArray) -> FloatArray:
    """Finished ground at spots (n, 2): the existing held between the limits; NaN off either."""
    ground = heights_at(worked.existing.tin, plan)
    held = np.maximum(ground, heights_over(lot.lower, plan))
    return np.asarray(np.minimum(held, heights_over(lot.upper, plan)))
