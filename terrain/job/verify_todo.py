"""What is still to do in a hole, in the order a machine would: faces, high floor, low floor."""

from collections.abc import Iterator

import numpy as np

from terrain.asdug.judge import Limits, floor_faults
from terrain.asdug.told_apart import Kind
from terrain.base.arrays import FloatArray, IntArray
from terrain.job.asdug import DayHole
from terrain.job.verify_record import Todo, Verified
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
        *_walls(found, worked.layout.design.floor),
        *_floor(found, errors, day, worked, limits),
        *_shots(found, day),
    )


def _walls(found: Verified, floor: float) -> Iterator[Todo]:
    unit = found.length_unit
    for wall in found.walls:
        if wall.verdict != "trim" or wall.least is None:
            continue
        short = wall.asked - wall.least.value
        yield Todo(
            what="trim wall",
            wall=wall.wall,
            message=f"Trim wall {wall.wall}: at the worst {short:.2f} {unit} too little room "
            f"({wall.least.value:.2f} of {wall.asked:.2f}).",
            volume=None if wall.amounts is None else wall.amounts.underdug.value,
            at=tuple(
                (e, n, floor, f"{wall.wall}: dig {in_by:.2f} out to here")
                for (e, n), in_by in wall.narrow_at[:MOST_STAKES]
            ),
        )


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
    unit, volume = found.length_unit, found.volume_unit
    if high:
        yield Todo(
            what="trim floor",
            wall=None,
            message=f"Trim the floor: {floor.worst_high:.2f} {unit} high at the worst, beyond "
            f"tolerance over {floor.high_area:,.0f} square {unit}; {floor.high_volume.value:.1f} "
            f"{volume} above the design in all.",
            volume=floor.high_volume.value,
            at=_stakes(worked, day, errors, limits.floor, "high"),
        )
    if low:
        yield Todo(
            what="fill",
            wall=None,
            message=f"Fill low floor with stone, not with earth: {-floor.worst_low:.2f} {unit} low "
            f"at the worst; {floor.low_volume.value:.1f} {volume} below the design in all.",
            volume=floor.low_volume.value,
            at=_stakes(worked, day, errors, limits.floor, "low"),
        )


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
