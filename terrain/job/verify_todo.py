"""What is still to do in a hole, in the order a machine would: faces, high floor, low floor."""

from collections.abc import Iterator

import numpy as np

from terrain.asdug.judge import Limits, floor_faults
from terrain.asdug.told_apart import Kind
from terrain.asdug.walls import Figure
from terrain.base.arrays import FloatArray, IntArray
from terrain.base.units import LengthUnit
from terrain.job.asdug import DayHole
from terrain.job.verify_record import Spot, Todo, Verified, WallChecked
from terrain.job.worked import Worked

MOST_STAKES = 50


def todo_of(
    found: Verified,
    errors: tuple[IntArray, FloatArray],
    day: DayHole,
    worked: Worked,
    limits: Limits,
) -> tuple[Todo, ...]:
    """Everything to do: faces are trimmed from the rim first, what falls is cleared off the floor,
    high floor is shaved next, and low floor is filled last. Shots that lack come at the end.
    """
    return (
        *_walls(found, worked.layout.design.floor, worked.job.unit),
        *_floor(found, errors, day, worked, limits),
        *_shots(found, day),
    )


def _walls(found: Verified, floor: float, unit: LengthUnit) -> Iterator[Todo]:
    for wall in found.walls:
        if wall.verdict != "trim" or wall.least is None:
            continue
        short = wall.asked - wall.least.value
        told = f"{wall.least.value:.2f} of {wall.asked:.2f} {unit_sign(unit)} is there"
        yield Todo(
            what="trim wall",
            wall=wall.wall,
            message=f"Trim wall {wall.wall}: {_where(wall, unit)}dig {short:.2f} "
            f"{unit_sign(unit)} further out ({told}).",
            volume=None if wall.amounts is None else wall.amounts.underdug.value,
            at=tuple(
                (*one.at, floor, f"{wall.wall}: dig {one.short:.2f} out to here")
                for one in wall.narrow_at[:MOST_STAKES]
            ),
        )


def _where(wall: WallChecked, unit: LengthUnit) -> str:
    """Where a wall is too narrow, its worst spot last; nothing where no shot is."""
    if not wall.narrow_at:
        return ""
    spots, sign = wall.narrow_at, unit_sign(unit)
    worst = max(spots, key=lambda one: one.short)
    corner = " / ".join(wall.first_corner)
    told = ""
    if len(spots) > 1:
        first, last = spots[0].along, spots[-1].along
        told = f"{len(spots)} shots from {first:.1f} to {last:.1f} {sign} along it; at the worst, "
    return f"{told}{worst.along:.1f} {sign} along it from corner {corner}, at {place(worst.at)}, "


def place(at: Spot) -> str:
    """A place on the site's grid in words."""
    return f"E {at[0]:.2f} N {at[1]:.2f}"


def unit_sign(unit: LengthUnit) -> str:
    """The length unit as printed: both feet read `ft`."""
    return "m" if unit.is_metric else "ft"


def _floor(
    found: Verified,
    errors: tuple[IntArray, FloatArray],
    day: DayHole,
    worked: Worked,
    limits: Limits,
) -> Iterator[Todo]:
    floor = found.floor
    if floor is None:
        return
    high, low = floor_faults(floor.worst_high, floor.worst_low, limits)
    unit, volume = unit_sign(worked.job.unit), worked.job.unit.volume_sign
    area = worked.job.unit.area_sign
    if high:
        yield Todo(
            what="trim floor",
            wall=None,
            message=f"Trim the floor: {floor.worst_high:.2f} {unit} high at the "
            f"worst{_at(floor.high_at)}, beyond tolerance over {floor.high_area:,.0f} {area}"
            f"{_in_all(floor.high_volume, volume)}.",
            volume=floor.high_volume.value,
            at=_stakes(worked, day, errors, limits.floor, "high"),
        )
    if low:
        yield Todo(
            what="fill",
            wall=None,
            message=f"Fill low floor with stone, not with earth: {-floor.worst_low:.2f} {unit} low "
            f"at the worst{_at(floor.low_at)}{_in_all(floor.low_volume, volume)}.",
            volume=floor.low_volume.value,
            at=_stakes(worked, day, errors, limits.floor, "low"),
        )


def _at(spot: Spot | None) -> str:
    return "" if spot is None else f" at {place(spot)}"


def _in_all(volume: Figure, sign: str) -> str:
    """How much it is in all, where that is more than its doubt."""
    if volume.is_significant is False:
        return ""
    doubt = "" if volume.plus_minus_95 is None else f" ± {volume.plus_minus_95:.1f}"
    return f"; {volume.value:.1f}{doubt} {sign} in all"


def _stakes(
    worked: Worked, day: DayHole, errors: tuple[IntArray, FloatArray], tolerance: float, which: str
) -> tuple[tuple[float, float, float, str], ...]:
    """Spots beyond the tolerance, the worst first, with the elevation asked for at each."""
    shots, off = errors
    sign = 1.0 if which == "high" else -1.0
    beyond = np.flatnonzero(sign * off > tolerance)
    beyond = beyond[np.argsort(-sign * off[beyond], kind="stable")][:MOST_STAKES]
    points = day.hole.points[shots[beyond]]
    site = worked.layout.frame.to_site(points[:, :2])
    return tuple(
        (float(e), float(n), float(z - o), f"{abs(o):.2f} {which}")
        for (e, n), z, o in zip(site, points[:, 2], off[beyond], strict=True)
    )


def _shots(found: Verified, day: DayHole) -> Iterator[Todo]:
    for wall in found.walls:
        if wall.verdict == "not enough shots":
            yield Todo(
                what="shoot",
                wall=wall.wall,
                message=f"Shoot wall {wall.wall}: three shots or more along its toe.",
                volume=None,
            )
    if found.floor is None or not (day.hole.kind == Kind.FLOOR).any():
        yield Todo(
            what="shoot", wall=None, message="Shoot the floor: a shot every few paces.", volume=None
        )
