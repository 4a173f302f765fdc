"""The walls of the house on a finished lot: what they are called, and finished ground at each."""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.base.errors import Fault
from terrain.base.frame import LocalFrame
from terrain.job.design import Layout
from terrain.job.faults import key_text
from terrain.job.load import Job
from terrain.job.lot_tables import Lot
from terrain.ledger.lot_dug import Sides
from terrain.pit.foundation import counter_clockwise

FACES_ALIKE = 0.7
"""Cosine of the turn (some 45 degrees) up to which two walls face the same way."""

SAME_GRADE = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class HouseWalls:
    """The house ring (n, 2), counter-clockwise, and the name of each of its walls.

    `turned` tells whether the job draws it clockwise, from each wall's last corner to its first.
    """

    corners: FloatArray
    names: tuple[str, ...]
    turned: bool


def house_walls(job: Job, layout: Layout) -> HouseWalls:
    """The house that the ground falls away from: as the job draws it, or the foundation."""
    design = layout.design
    if job.house is None or job.house.corners is None:
        names = tuple(wall.name for wall in design.walls)
        turned = design.number != tuple(range(len(names)))
        return HouseWalls(corners=design.corners, names=names, turned=turned)
    drawn = layout.frame.to_local(np.array(job.house.corners))
    corners, number = counter_clockwise(drawn)
    given = job.house.walls
    names = tuple(given[i] for i in number) if given else _names_nearby(corners, layout)
    return HouseWalls(corners=corners, names=names, turned=number != tuple(range(len(number))))


def _names_nearby(corners: FloatArray, layout: Layout) -> tuple[str, ...]:
    """For each wall the name of the foundation's wall that faces alike and lies nearest."""
    design = layout.design
    own, own_lines = _facing(corners)
    facing, lines = _facing(design.corners)
    first = np.argsort(design.number)
    names = []
    for wall, line in zip(own, own_lines, strict=True):
        alike = facing @ wall
        enough = min(FACES_ALIKE, float(alike.max()) - 1e-9)
        near = [k for k in first.tolist() if alike[k] >= enough]
        # corner to corner decides between walls that are equally near
        distance = [
            (round(shapely.distance(line, lines[k]), 9), shapely.hausdorff_distance(line, lines[k]))
            for k in near
        ]
        names.append(design.walls[near[distance.index(min(distance))]].name)
    return tuple(names)


def _facing(corners: FloatArray) -> tuple[FloatArray, list[shapely.LineString]]:
    """The outward normals (n, 2) of a counter-clockwise ring, and its walls as lines."""
    ends = np.roll(corners, -1, axis=0)
    along = (ends - corners) / np.hypot(*(ends - corners).T)[:, None]
    lines = [shapely.LineString([a, b]) for a, b in zip(corners, ends, strict=True)]
    return np.column_stack([along[:, 1], -along[:, 0]]), lines


def sides_of(layout: Layout, house: HouseWalls) -> Sides:
    """The rows of the lot: the foundation's walls in the job's order, then other names of house."""
    others = [name for name in dict.fromkeys(house.names) if name not in layout.figure.walls]
    names = (*layout.figure.walls, *others)
    return Sides(
        names=names,
        of_house=tuple(names.index(name) for name in house.names),
        of_foundation=tuple(names.index(wall.name) for wall in layout.design.walls),
    )


def wall_grades(
    lot: Lot, house: HouseWalls, frame: LocalFrame
) -> tuple[FloatArray | None, list[Fault]]:
    """Finished ground (n, 2) at the first and last corner of each wall of the ring.

    Returns:
        The grades, None where a wall has none; and what is wrong with them.
    """
    faults = list(_two_of_one_name(lot, house))
    found = []
    for name in house.names:
        own = lot.walls.get(name)
        grade = own.wall_grade if own is not None and own.wall_grade is not None else lot.wall_grade
        found.append(grade)
    lacking = [n for n, grade in zip(house.names, found, strict=True) if grade is None]
    if lacking:
        message = "give the finished ground at the house, to grade the lot"
        if len(lacking) < len(found):
            message += "; these walls have none: " + ", ".join(dict.fromkeys(lacking))
        return None, [*faults, Fault(key="lot.wall_grade", message=message)]
    grades = np.array(found, dtype=np.float64)
    grades = grades[:, ::-1].copy() if house.turned else grades
    return grades, [*faults, *_corner_faults(lot, house, grades, frame)]


def _two_of_one_name(lot: Lot, house: HouseWalls) -> list[Fault]:
    """A grade from corner to corner means nothing where two walls of the house have one name."""
    return [
        Fault(
            key=key_text(("lot", "walls", name, "wall_grade")),
            message=f"{house.names.count(name)} walls of the house are called {name}: tell them "
            "apart by house.walls, or give one elevation",
        )
        for name, wall in lot.walls.items()
        if wall.wall_grade is not None
        and wall.wall_grade[0] != wall.wall_grade[1]
        and house.names.count(name) > 1
    ]


def _corner_faults(
    lot: Lot, house: HouseWalls, grades: FloatArray, frame: LocalFrame
) -> list[Fault]:
    faults = []
    for i, name in enumerate(house.names):
        before = house.names[i - 1]
        one, two = float(grades[i - 1, 1]), float(grades[i, 0])
        stepped = any(n in lot.walls and lot.walls[n].step for n in (before, name))
        if stepped or abs(one - two) <= SAME_GRADE:
            continue
        given = [n for n in (name, before) if n in lot.walls and lot.walls[n].wall_grade]
        key = key_text(("lot", "walls", given[0], "wall_grade")) if given else "lot.wall_grade"
        easting, northing = frame.to_site(house.corners[i])
        faults.append(
            Fault(
                key=key,
                message=f"walls {before} and {name} meet at ({easting:.2f}, {northing:.2f}), where "
                f"{before} has {one:g} and {name} has {two:g}: give both one elevation there, or "
                f"step = true on one of them",
            )
        )
    return faults
