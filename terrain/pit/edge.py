"""The survey's edge: the ground must cover the floors, and the dig must come out before it ends.

Nothing is extrapolated. Where the survey falls short, the fault names the wall, the stretch, the
height still to climb and how much further to survey at least.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon

from terrain.base.arrays import FloatArray
from terrain.base.errors import EdgeError, Fault
from terrain.base.frame import LocalFrame
from terrain.base.units import LengthUnit
from terrain.pit.design import Design
from terrain.pit.dig import Dig, row_of
from terrain.surface.boundary import boundary_edges, boundary_rings
from terrain.surface.moves import Side, run_to_climb
from terrain.surface.segments import SegmentPieces, segments_over
from terrain.surface.tin_record import Tin

ABOVE_DIG = 1e-7
"""Ground at the survey's edge counts as above the dig beyond so many length units."""

UNCOVERED = 1e-9
"""A floor counts as uncovered beyond this share of its area."""

NO_DISTANCE = 1e-6
"""Floor this near the ground, in length units, is held by it: what is missing is a hole."""

_OFF_THE_SURVEY = (
    "Check that northing and easting are not swapped, and that survey and foundation are on one "
    "grid and in one unit"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Words:
    """What messages need: the frame, the unit and each row's name, side and key."""

    frame: LocalFrame
    unit: LengthUnit
    names: tuple[str, ...]
    sides: tuple[Side, ...]
    keys: tuple[str, ...]

    def spot(self, plan: FloatArray) -> str:
        easting, northing = self.frame.to_site(plan)
        return f"({easting:.2f}, {northing:.2f})"

    def length(self, value: float) -> str:
        return f"{value:.2f} {self.unit.name}"


def require_surveyed(
    design: Design, dig: Dig, tin: Tin, frame: LocalFrame, unit: LengthUnit
) -> None:
    """Check that the survey holds all of the dig.

    Raises:
        EdgeError: with a fault for every floor that is not covered and, if they all are, for
            every wall whose side is still below ground where the survey ends.
    """
    words = _Words(
        frame=frame,
        unit=unit,
        names=(
            *(f"wall {w.name}" for w in design.walls),
            *(f"{e.kind} {e.name}" for e in design.extras),
        ),
        sides=(*(w.side for w in design.walls), *(e.side for e in design.extras)),
        keys=(*(w.key for w in design.walls), *(e.key for e in design.extras)),
    )
    faults = list(_floor_faults(dig, tin, words)) or list(_side_faults(dig, tin, words))
    if faults:
        raise EdgeError(*faults)


def _floor_faults(dig: Dig, tin: Tin, words: _Words) -> Iterator[Fault]:
    """A fault for every floor that the ground does not cover."""
    rings = [Polygon(tin.points[ring, :2]) for ring in boundary_rings(tin)]
    outer = [p for p in rings if p.exterior.is_ccw]
    holes = [p for p in rings if not p.exterior.is_ccw]
    ground = shapely.union_all(outer).difference(shapely.union_all(holes))
    floors = [(None, dig.line), *dig.extra_lines]
    for row, line in floors:
        floor = Polygon(line.ring.corners)
        bare = floor.difference(ground)
        if bare.area <= UNCOVERED * floor.area:
            continue
        spots = shapely.get_coordinates(bare)
        away = shapely.distance(ground, shapely.points(spots))
        far = float(away.max())
        within = bare.representative_point().coords[0]
        worst = spots[int(np.argmax(away))] if far > NO_DISTANCE else np.array(within)
        at = row if row is not None else _nearest_wall(dig, worst)
        if not ground.intersects(floor):
            said = (
                f"all of it lies off the survey, which {_reach(ground, words)}. {_OFF_THE_SURVEY}"
            )
        else:
            said = (
                f"{bare.area:.1f} {words.unit.area_sign} of floor have no ground over them, near "
                f"{words.spot(worst)}; {_further_there(far, words)}"
            )
        message = f"the survey does not cover the floor at {words.names[at]}: {said}"
        yield Fault(key=words.keys[at], message=message)


def _further_there(far: float, words: _Words) -> str:
    if far <= NO_DISTANCE:
        return "the survey has a hole there: shoot the ground within it"
    return f"survey at least {words.length(far)} further there, or fill the hole in the survey"


def _reach(ground: shapely.Geometry, words: _Words) -> str:
    west, south, east, north = ground.bounds
    low, high = words.spot(np.array([west, south])), words.spot(np.array([east, north]))
    return f"reaches from {low} to {high} (easting, northing)"


def _nearest_wall(dig: Dig, spot: FloatArray) -> int:
    ring = dig.line.ring
    point = shapely.Point(spot)
    away = [
        shapely.LineString([start, end]).distance(point) if front.owner >= 0 else np.inf
        for front, start, end in zip(ring.fronts, ring.corners, ring.ends, strict=True)
    ]
    return ring.fronts[int(np.argmin(away))].owner


def _side_faults(dig: Dig, tin: Tin, words: _Words) -> Iterator[Fault]:
    """A fault for every row whose side is below ground where the survey ends."""
    rim = tin.points[boundary_edges(tin)]
    pieces = segments_over(dig.surface, rim)
    share, depth = _below_ground(pieces)
    short = depth.max(axis=1) > ABOVE_DIG
    rows = row_of(dig.surface.label[pieces.face])
    first, along = rim[pieces.segment, 0], rim[pieces.segment, 1] - rim[pieces.segment, 0]
    spots = first[:, None, :] + share[:, :, None] * along[:, None, :]
    for row in np.unique(rows[short]):
        own = short & (rows == row)
        ends, depths = spots[own].reshape(-1, 3), depth[own].ravel()
        deepest = int(np.argmax(depths))
        height = float(depths[deepest])
        reached = float(ends[deepest, 2]) - height
        yield Fault(
            key=words.keys[row],
            message=f"the survey ends before the side of {words.names[row]} comes out of the "
            f"ground: along the survey's edge from {_stretch(ends, words)} it is still up to "
            f"{words.length(height)} below ground; "
            + _further(dig, int(row), reached, height, words),
        )


def _below_ground(pieces: SegmentPieces) -> tuple[FloatArray, FloatArray]:
    """Each piece's two ends (n, 2) drawn in to where the dig is below ground, and their depths."""
    share = np.stack([pieces.start, pieces.end], axis=1)
    depth = np.stack([pieces.depth_start, pieces.depth_end], axis=1)
    crosses = depth[:, 0] * depth[:, 1] < 0
    low, high = depth[crosses, 0], depth[crosses, 1]
    nought = share[crosses, 0] + (share[crosses, 1] - share[crosses, 0]) * low / (low - high)
    share[crosses] = np.where(depth[crosses] < 0, nought[:, None], share[crosses])
    return share, np.maximum(depth, 0.0)


def _stretch(ends: FloatArray, words: _Words) -> str:
    """Where along the survey's edge, by the two ends farthest apart."""
    plan = ends[:, :2]
    first = plan[int(np.argmax(np.hypot(*(plan - plan.mean(axis=0)).T)))]
    second = plan[int(np.argmax(np.hypot(*(plan - first).T)))]
    return f"{words.spot(first)} to {words.spot(second)}"


def _further(dig: Dig, row: int, reached: float, height: float, words: _Words) -> str:
    """How much further to survey at least, taking the ground beyond for level."""
    side = words.sides[row]
    risen = max(reached - dig.floors[row], 0.0)
    run = run_to_climb(side, risen + height) - run_to_climb(side, risen)
    if run == 0.0:
        return "its side is upright there: survey past the dig line"
    return f"survey at least {words.length(run)} further out, more if the ground rises"
