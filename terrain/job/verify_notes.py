"""What there is to say of the shots of a hole: how they were told apart, which fit nowhere."""

from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from terrain.asdug.judge import Limits
from terrain.asdug.told_apart import Kind
from terrain.asdug.walls import WallDug
from terrain.job.asdug import NEAR, DayHole
from terrain.job.worked import Worked

MOST_TOLD = 5
"""Shots off their wall's line that are told one by one."""


def notes_of(
    worked: Worked, day: DayHole, lines: Sequence[WallDug | None], limits: Limits
) -> tuple[str, ...]:
    """Everything worth a note, the survey's own first; `lines` are the ring's walls in order."""
    return (
        *day.later.notes,
        *_told_apart(worked, day),
        *_off_line(worked, day, lines, limits.line),
        *_outside(day),
        *_accuracy(day, limits.plan_sigma),
    )


def _told_apart(worked: Worked, day: DayHole) -> Iterator[str]:
    unit = worked.job.unit.name
    if day.told == "scan":
        stations = int((day.hole.kind == Kind.TOE).sum())
        yield (
            f"The scan was cut into floor, faces and ground: {stations} toes from slices of the "
            "faces, carried down to the floor, and where they meet at corners; the floor by "
            "medians of cells. Each is taken to be as good as one shot."
        )
    if day.told == "place":
        yield (
            "The shots have no codes asked for: floor, toe, top and face were told apart by where "
            f"they lie; a floor shot within {NEAR[unit]:g} {unit} of the dig line counts as a toe. "
            "Codes are surer."
        )
    if day.hole.why_not:
        yield (
            f"No volumes by wall: {day.hole.why_not}. Shoot the toe round the hole, its corners "
            "too."
        )


def _off_line(
    worked: Worked, day: DayHole, lines: Sequence[WallDug | None], tolerance: float
) -> Iterator[str]:
    """Shots that stand off the line of their wall's others, by more than that may be off, each by
    its row: perhaps read wrong.
    """
    if day.told == "scan":
        return
    unit, plan, told = worked.job.unit.name, day.hole.points[:, :2], 0
    for wall, line in zip(worked.layout.design.walls, lines, strict=True):
        if line is None or not line.left_out:
            continue
        middle, along = line.line
        for spot in line.off:
            east, north = spot - middle
            out = float(east * along[1] - north * along[0])
            if abs(out) <= tolerance:
                continue
            shot = int(np.flatnonzero((plan == spot).all(axis=1))[0])
            told += 1
            if told <= MOST_TOLD:
                yield (
                    f"{day.later.shots.place(shot)} stands {abs(out):.2f} {unit} "
                    f"{'out' if out > 0 else 'in'} of the line of wall {wall.name}'s other shots: "
                    "turn and corners go without it. Was it read wrong?"
                )
    if told > MOST_TOLD:
        yield f"{told - MOST_TOLD} more shots stand off the line of their wall's others."


def _outside(day: DayHole) -> Iterator[str]:
    """Floor shots outside the toe ring, of which no surface is made."""
    if day.told == "scan" or day.hole.toes is None:
        return
    floor = np.flatnonzero(day.hole.kind == Kind.FLOOR)
    spots = day.hole.points[floor, :2]
    out = floor[~shapely.intersects_xy(day.hole.area, spots[:, 0], spots[:, 1])]
    if len(out):
        first = day.later.shots.place(int(out[0]))
        which = "is" if len(out) == 1 else f"are {len(out)}, the first is"
        yield f"Floor shots that lie outside the toes count in no volume; there {which} {first}."


def _accuracy(day: DayHole, plan_sigma: float | None) -> Iterator[str]:
    if plan_sigma is None:
        yield "No accuracy is given: every departure is taken as it was shot."
    elif day.later.errors.horizontal_accuracy is None:
        yield (
            f"Shots are taken to be as good in plan as in height, {plan_sigma:g}: give "
            f"{day.later.key}.horizontal_accuracy if you know it."
        )
