"""Sections square to each wall: existing grade, dig, foundation, levels, in exact figures."""

from dataclasses import dataclass
from typing import Literal, NamedTuple, TypeAlias

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.job.foundation_section import BuiltSection, built_section
from terrain.job.volumes import Worked
from terrain.pit.dig import PARTS, part_of, row_of
from terrain.pit.levels import Level
from terrain.surface.cut import CutRun, cut_along
from terrain.surface.profile import Profile, lower_of, profiles_along

Place: TypeAlias = Literal["middle", "deepest"]
PLACES = np.linspace(0.1, 0.9, 9)
"""Shares of a wall's length at which the deepest cut is looked for."""

INSIDE, BEYOND = 1.3, 0.5
"""How far a section goes in from the face and on past the cut, in reaches of the dig."""

SHALLOW = 0.1
"""The reach of a dig is its deepest cut, or this share of the house's longer side if more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CutStretch:
    """What is dug over one row and part: `ring` (m, 2) of station and elevation.

    `kind` is wall, pit, ramp or trench; `part` is None for all but walls.
    """

    name: str
    kind: str
    part: str | None
    ring: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A cut square to a wall. Stations run from 0 at the outside face, outward positive.

    Args:
        wall: the wall's name.
        number: of the section, from 1, in the order of the job's walls.
        place: at the wall's middle, or, where nothing is dug there, at the deepest of `PLACES`.
        start: (2,) the inside end in the local frame, at station `low`.
        end: (2,) the outside end, at station `high`.
        low: the first station, negative.
        high: the last station.
        heading: where one looks, degrees clockwise from north; outside is then to the right.
        ground: lines (m, 2) of station and elevation: the existing grade.
        dig: the same, the dig as far as it is below ground.
        cut: what is dug, from inside out.
        dig_line: station of the dig line, None where the wall has none.
        daylight: station and elevation where the cut at the wall meets the ground, or None.
        grade_at_face: elevation of the existing grade at the outside face, None off the survey.
        floor: elevation of the floor of the dig.
        cut_at_face: how far the floor is below that grade; None where it is not.
        levels: the levels the job fixes, the highest first.
        built: foundation wall, footing and stone as the job draws them.
    """

    wall: str
    number: int
    place: Place
    start: FloatArray
    end: FloatArray
    low: float
    high: float
    heading: float
    ground: tuple[FloatArray, ...]
    dig: tuple[FloatArray, ...]
    cut: tuple[CutStretch, ...]
    dig_line: float | None
    daylight: tuple[float, float] | None
    grade_at_face: float | None
    floor: float
    cut_at_face: float | None
    levels: tuple[Level, ...]
    built: BuiltSection


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ray:
    """The line square to a wall through a spot on its outside face."""

    spot: FloatArray
    outward: FloatArray
    place: Place

    def at(self, station: float) -> FloatArray:
        place: FloatArray = self.spot + station * self.outward
        return place

    def line(self, low: float, high: float) -> FloatArray:
        return np.stack([self.at(low), self.at(high)])


def sections_of(worked: Worked) -> tuple[Section, ...]:
    """One section through every wall, in the order the job names them."""
    rows = np.argsort(worked.layout.design.number).tolist()
    rays = _rays(worked, rows)
    far, low = _far(worked), np.array([_inside(worked, ray) for ray in rays])
    lines = np.stack([ray.line(begin, far) for ray, begin in zip(rays, low, strict=True)])
    dig = worked.dig
    surfaces = (worked.existing.ground.surface, dig.surface, dig.main)
    ground, whole, main = (profiles_along(surface, lines, low) for surface in surfaces)
    taken = [profiles_along(step.after, lines, low) for step in dig.taken]
    own = [
        _Along(ground[k], whole[k], main[k], tuple(profiles[k] for profiles in taken))
        for k in range(len(rows))
    ]
    return tuple(_section(worked, rows[k], k + 1, rays[k], own[k]) for k in range(len(rows)))


def _rays(worked: Worked, rows: list[int]) -> list[_Ray]:
    """Where each wall is cut: at its middle, or, where nothing is dug there, where most is."""
    design = worked.layout.design
    starts = design.corners[rows]
    runs = np.roll(design.corners, -1, axis=0)[rows] - starts
    along = runs / np.hypot(*runs.T)[:, None]
    outward = np.column_stack([along[:, 1], -along[:, 0]])
    shares = np.array([0.5, *PLACES])
    spots = starts[:, None] + shares[:, None] * runs[:, None]  # (wall, place, 2)
    step = 1e-3 * max(worked.figures.deepest_cut, 1.0) * outward[:, None]
    lines = np.stack([spots - step, spots + step], axis=2).reshape(-1, 2, 2)
    own = profiles_along(worked.existing.ground.surface, lines, np.full(len(lines), -1.0))
    middles = [profile.at(-1.0 + 0.5 * float(np.hypot(*(line[1] - line[0]))))
               for profile, line in zip(own, lines, strict=True)]  # fmt: skip
    depth = np.array([-np.inf if up is None else up - design.floor for up in middles])
    rays = []
    for k, deep in enumerate(depth.reshape(len(rows), -1)):
        best = 0 if deep[0] > 0 or deep.max() <= 0 else int(np.argmax(deep))
        place: Place = "deepest" if best else "middle"
        rays.append(_Ray(spot=spots[k, best], outward=outward[k], place=place))
    return rays


class _Along(NamedTuple):
    """The profiles along a ray: the ground, the whole dig, and what it is made from in order."""

    ground: Profile
    dig: Profile
    main: Profile
    taken: tuple[Profile, ...]

    def between(self, low: float, high: float) -> "_Along":
        return _Along(
            self.ground.between(low, high),
            self.dig.between(low, high),
            self.main.between(low, high),
            tuple(profile.between(low, high) for profile in self.taken),
        )


def _section(worked: Worked, row: int, number: int, ray: _Ray, whole: _Along) -> Section:
    layout, design = worked.layout, worked.layout.design
    dig_line = _dig_line(worked, ray)
    low = _inside(worked, ray)
    high, daylight = _outside(worked, ray, dig_line, whole)
    along = whole.between(low, high)
    cut = cut_along(along.ground, along.dig)
    grade = cut.ground.at(0.0)
    facing = np.degrees(np.arctan2(-ray.outward[1], ray.outward[0]))
    return Section(
        wall=design.walls[row].name,
        number=number,
        place=ray.place,
        start=ray.at(low),
        end=ray.at(high),
        low=low,
        high=high,
        heading=float(facing % 360.0),
        ground=cut.ground.lines(),
        dig=tuple(_dig_line_of(run, low, high) for run in cut.runs),
        cut=_stretches(worked, along),
        dig_line=dig_line,
        daylight=daylight,
        grade_at_face=grade,
        floor=design.floor,
        cut_at_face=None if grade is None or grade <= design.floor else grade - design.floor,
        levels=layout.levels.chain,
        built=built_section(worked.job.foundation, layout.levels, layout.projection, low),
    )


def _dig_line(worked: Worked, ray: _Ray) -> float | None:
    """The first station outward at which the dig line is met."""
    met = _crossings(worked.dig.line.ring.corners, ray, _far(worked))
    return min((station for station in met if station >= -1e-9), default=None)


def _far(worked: Worked) -> float:
    """A station past everything: the diagonal of the ground with all that the dig might reach."""
    rings = [*(ring.corners for ring in worked.dig.outline), worked.layout.design.corners]
    plan = worked.existing.tin.points[:, :2]
    corners = np.concatenate([*rings, plan.min(axis=0)[None], plan.max(axis=0)[None]])
    return float(np.hypot(*np.ptp(corners, axis=0)))


def _reach(worked: Worked) -> float:
    side = float(np.ptp(worked.layout.design.corners, axis=0).max())
    return max(worked.figures.deepest_cut, SHALLOW * side)


def _crossings(ring: FloatArray, ray: _Ray, far: float) -> list[float]:
    """The stations at which the ray crosses a closed ring, from its face outward."""
    met = shapely.intersection(shapely.LinearRing(ring), shapely.LineString(ray.line(-1e-9, far)))
    return sorted(float((spot - ray.spot) @ ray.outward) for spot in shapely.get_coordinates(met))


def _inside(worked: Worked, ray: _Ray) -> float:
    """The first station: a little past the footing, at most to the middle of the house."""
    inward = _Ray(spot=ray.spot, outward=-ray.outward, place=ray.place)
    across = _crossings(worked.layout.design.corners, inward, _far(worked))
    reach = INSIDE * _reach(worked)
    return -min([reach, *(station / 2 for station in across if station > 1e-6)])


def _outside(
    worked: Worked, ray: _Ray, dig_line: float | None, whole: _Along
) -> tuple[float, tuple[float, float] | None]:
    """The last station, and where the cut at the wall meets the ground, if it does.

    Where the line comes to the house again, across a court, the section ends just inside it.
    """
    met = _crossings(worked.layout.design.corners, ray, _far(worked))
    again = next((station for station in met if station > 1e-6), np.inf)
    near = whole.between(-1.0, again)
    runs = cut_along(near.ground, near.dig).runs
    run = next((run for run in runs if run.low <= 1e-9 < run.high), None)
    last, daylight = dig_line or 0.0, None
    if run is not None and run.high < again - 1e-9:
        daylight = (run.high, run.top_at_high)
        last = max(last, run.high)
    elif run is not None:
        last = again
    return last + BEYOND * _reach(worked), daylight


def _dig_line_of(run: CutRun, low: float, high: float) -> FloatArray:
    """The dig along a run; where the section itself ends there is no face up to the ground."""
    line, near = run.bottom_line(), 1e-9 * (high - low)
    deep_low = run.top[0, 0] > run.bottom[0, 0] and run.low - low <= near
    deep_high = run.top[-1, 1] > run.bottom[-1, 1] and high - run.high <= near
    return line[int(deep_low) : len(line) - int(deep_high)]


def _stretches(worked: Worked, along: _Along) -> tuple[CutStretch, ...]:
    """What each row and part takes, as the ledger has it: main dig, trench, extras in order."""
    design = worked.layout.design
    runs = list(cut_along(along.ground, along.main).runs)
    so_far = lower_of(along.ground, along.main)
    for taken in along.taken:
        runs += cut_along(so_far, taken).runs
        so_far = lower_of(so_far, taken)
    found = []
    for label, ring in (piece for run in runs for piece in run.rings()):
        row = int(row_of(np.array(label)))
        if row < len(design.walls):
            part = PARTS[int(part_of(np.array(label)))]
            name, kind = design.walls[row].name, "wall"
        else:
            extra, part = design.extras[row - len(design.walls)], None
            name, kind = extra.name, extra.kind
        found.append(CutStretch(name=name, kind=kind, part=part, ring=ring))
    return tuple(found)
