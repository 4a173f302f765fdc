"""What is measured of a hole for its check: walls by their lines, floor by its shots."""

import numpy as np

from terrain.asdug.judge import Limits
from terrain.asdug.ring import Sides, along_sides, corner_shots
from terrain.asdug.told_apart import Kind
from terrain.asdug.walls import FEWEST, WallDug, WallLine, wall_dug
from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.job.asdug import CORNER, DayHole, plan_sigma_of, sides_of
from terrain.job.verify_record import Narrow, WallChecked
from terrain.job.worked import Worked
from terrain.pit.dig import PARTS, part_of
from terrain.surface.patches import Surface, picked
from terrain.surface.sampling import heights_over


def floor_of(worked: Worked) -> Surface:
    """The faces of the design that are floor: under core and overdig, and the level ones of pits.

    Trenches for footings are left out: they are dug when the floor stands.
    """
    surface = worked.dig.surface
    row, part = surface.label // len(PARTS), part_of(surface.label)
    main = (row < len(worked.layout.design.walls)) & (part < PARTS.index("side"))
    extra = row >= len(worked.layout.design.walls)
    level = (surface.plane[:, 3:] == 0.0).all(axis=1)
    return picked(surface, np.flatnonzero(main | (extra & level)))


def floor_errors(day: DayHole, design: Surface) -> tuple[IntArray, FloatArray]:
    """The shots of floor and toe that stand over the design's floor, and how far above it each."""
    kind = day.hole.kind
    own = np.flatnonzero((kind == Kind.FLOOR) | (kind == Kind.TOE)).astype(np.int32)
    points = day.hole.points[own]
    off = points[:, 2] - heights_over(design, points[:, :2])
    held = np.isfinite(off)
    return own[held], off[held]


def lines_of(worked: Worked, day: DayHole) -> list[WallDug | None]:
    """Every wall of the design as dug, in the order of its ring; None where it can't be judged."""
    sigma = plan_sigma_of(day.later.errors)
    return [
        wall_dug(line_of(worked, row), *shots_of(worked, day, row), sigma)
        for row in range(len(worked.layout.design.walls))
    ]


def line_of(worked: Worked, row: int) -> WallLine:
    """The outside face of a wall of the ring."""
    corners = worked.layout.design.corners
    return WallLine(start=corners[row], end=corners[(row + 1) % len(corners)])


def shots_of(worked: Worked, day: DayHole, row: int) -> tuple[FloatArray, FloatArray]:
    """The toes and the shots of the face (n, 3) of a wall of the ring; a corner's toe is both
    walls'. None of a wall whose side of the dig line vanished.
    """
    hole, sides = day.hole, sides_of(worked)
    own = np.flatnonzero(sides.wall == row)
    toe = hole.points[hole.kind == Kind.TOE]
    face = hole.points[np.isin(hole.kind, (Kind.FACE, Kind.TOP))]
    if not len(own):
        return toe[:0], face[:0]
    at_corner = corner_shots(sides, toe[:, :2], CORNER[worked.job.unit.name])
    held = _of_side(sides, toe, own)
    held |= np.isin(np.arange(len(toe)), at_corner[np.unique([own, (own + 1) % len(sides)])])
    return toe[held], face[_of_side(sides, face, own)]


def _of_side(sides: Sides, points: FloatArray, own: IntArray) -> BoolArray:
    """Which of the points (n, 3) lie nearest to one of the wall's own sides."""
    if not len(points):
        return np.zeros(0, dtype=np.bool_)
    nearest, _, _ = along_sides(sides, points[:, :2])
    held: BoolArray = np.isin(nearest, own)
    return held


def steep_spot(
    worked: Worked, day: DayHole, row: int, line: WallDug | None, limits: Limits
) -> tuple[float, float] | None:
    """How far earth of a face stands above the slope asked for, and how high above the floor that
    is; None where no shot of the face shows that beyond tolerance and doubt.

    The slope is taken as much farther in as the wall itself was dug too narrow, and as tolerance
    and doubt allow, so that the edge of a bench raises no alarm.
    """
    face = day.hole.points[day.hole.kind == Kind.FACE]
    if line is None or not len(face):
        return None
    surface, wanted = worked.dig.main, worked.layout.design.walls[row].overdig
    own = picked(surface, np.flatnonzero(surface.label // len(PARTS) == row))
    face = face[np.isfinite(heights_over(own, face[:, :2]))]
    east, north = line_of(worked, row).along
    beyond = limits.line + limits.factor * (limits.plan_sigma or 0.0)
    farther = beyond + max(wanted - line.least.value, 0.0)
    asked = heights_over(surface, face[:, :2] + farther * np.array([north, -east]))
    over = face[:, 2] - asked - limits.floor - limits.factor * (limits.height_sigma or 0.0)
    if not (over > 0.0).any():
        return None
    k = int(np.nanargmax(over))
    return float(face[k, 2] - heights_over(own, face[k : k + 1, :2])[0]), float(
        face[k, 2] - worked.layout.design.floor
    )


def _row_of(worked: Worked, wall: WallChecked) -> int:
    names = [own.name for own in worked.layout.design.walls]
    return names.index(wall.wall)


def narrow_spots(
    worked: Worked, day: DayHole, wall: WallChecked, limits: Limits
) -> tuple[Narrow, ...]:
    """Where shots of a wall to trim lie farther in than its line may: the spot on the design's dig
    line square out from each, and how far that is, in order along the wall.
    """
    if wall.verdict != "trim":
        return ()
    row = _row_of(worked, wall)
    line = line_of(worked, row)
    toes, faces = shots_of(worked, day, row)
    along, out = line.measured((toes if len(toes) >= FEWEST else faces)[:, :2])
    narrow = np.flatnonzero(out < wall.asked - limits.line)
    narrow = narrow[np.argsort(along[narrow], kind="stable")]
    east, north = line.along
    asked = line.start + along[narrow, None] * line.along
    asked = asked + wall.asked * np.array([north, -east])
    site = worked.layout.frame.to_site(asked)
    return tuple(
        Narrow(at=(float(e), float(n)), along=float(along[k]), short=float(wall.asked - out[k]))
        for (e, n), k in zip(site, narrow, strict=True)
    )
