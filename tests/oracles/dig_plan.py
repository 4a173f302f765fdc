"""A dig plan replayed stand by stand with shapely and nothing of the engine: what breaks is told.

Ground is cells with a polygon and a volume; the machine is a rectangle that must stand, and come,
on ground that is whole: or, on the floor, on ground that is all dug.
"""

import itertools
import math
from dataclasses import dataclass, field

import numpy as np
import shapely

HAIR = 0.02
"""Lengths below this are nothing: the planner's own tolerance is far less."""


@dataclass
class Excavator:
    """The figures a replay needs; `setback` is what its tracks keep from ground dug before.

    `tail` is how far round its middle nothing may stand: its tail swings there.
    """

    reach: float
    depth: float
    length: float
    width: float
    setback: float = 0.0
    tail: float = 0.0

    @property
    def cast(self) -> float:
        """How far out it empties a bucket: nine tenths of its reach."""
        return 0.9 * self.reach

    @property
    def loads(self) -> float:
        """How far out it loads a truck: four fifths of its reach."""
        return 0.8 * self.reach

    def lift(self, away: float) -> float:
        """How high above its tracks it empties one so far out: an ellipse of 0.78 of its reach."""
        return 0.78 * math.sqrt(max(self.reach**2 - away**2, 0.0))


@dataclass
class Loaded:
    """A truck loaded at a stand: its ground, its way out, where the bucket is emptied, how high."""

    ground: shapely.Geometry
    way: shapely.Geometry
    body: np.ndarray
    side: float


@dataclass
class Step:
    """One stand: where, facing which way (a unit vector), on the floor or not, and how it came.

    Before any wall is dug (`early`) earth lies beside the machine, not yet on all of a pile's
    ground.
    """

    spot: np.ndarray
    facing: np.ndarray
    on_floor: bool
    level: float
    way: np.ndarray
    takes: list[tuple[int, str, float]] = field(default_factory=list)
    trucks: list[Loaded] = field(default_factory=list)
    early: bool = False


@dataclass
class Plot:
    """The cells (polygon, bank volume, elevation of their bottom) and what places hold, loose.

    `dug` is what was dug before the plan begins, `pit` the floor within its faces,
    `free` where a truck may be, all round about if it is None.
    """

    polygons: list[shapely.Geometry]
    bank: np.ndarray
    bottom: np.ndarray
    swell: float
    capacity: dict[str, float]
    piles: dict[str, shapely.Geometry]
    dug: shapely.Geometry = field(default_factory=shapely.Polygon)
    pit: shapely.Geometry = field(default_factory=shapely.Polygon)
    free: shapely.Geometry | None = None


def rectangle(spot: np.ndarray, facing: np.ndarray, length: float, width: float) -> shapely.Polygon:
    """The tracks on the ground."""
    aside = np.array([facing[1], -facing[0]])
    corners = [
        spot + s * length / 2 * facing + t * width / 2 * aside
        for s, t in ((1, 1), (1, -1), (-1, -1), (-1, 1))
    ]
    return shapely.Polygon(corners)


def how_far(machine: Excavator, below: float) -> float:
    """Reach at a depth: an arc from full reach at the ground to 0.45 of it at the full depth."""
    if below > machine.depth:
        return -1.0
    share = max(below, 0.0) / machine.depth
    return machine.reach * math.sqrt(1.0 - (1.0 - 0.45**2) * share**2)


def replay(machine: Excavator, plot: Plot, steps: list[Step]) -> list[str]:
    """Everything that is wrong with a plan; nothing if it can be dug as told."""
    wrong: list[str] = []
    left = plot.bank.astype(float).copy()
    begun = np.zeros(len(left), dtype=bool)
    heaped: dict[str, float] = {}
    below = False
    for number, step in enumerate(steps):
        wrong += _standing(machine, plot, (begun, left), step, number)
        by_floor = step.on_floor or below
        bare = all(before.early for before in steps[:number])
        wrong += _coming(machine, plot, (begun, left), step, (number, by_floor, bare))
        below = step.on_floor
        wrong += _loading(machine, plot, begun, step, number)
        for cell, place, bank in step.takes:
            wrong += _taking(machine, plot, step, (number, cell))
            left[cell] -= bank
            begun[cell] = True
            heaped[place] = heaped.get(place, 0.0) + bank * (1.0 + plot.swell)
    for place, loose in heaped.items():
        if loose > plot.capacity[place] * (1.0 + 1e-9) + 1e-9:
            wrong.append(f"{place} holds {loose:.6f} of {plot.capacity[place]:.6f}")
    if left.min(initial=0.0) < -1e-9 * plot.bank.sum():
        wrong.append(f"cell {int(left.argmin())} is dug more than once")
    part = (left > 1e-9 * plot.bank.sum()) & begun
    if part.any():
        wrong.append(f"cell {int(np.flatnonzero(part)[0])} is begun and never finished")
    return wrong


def untouched(plot: Plot, steps: list[Step]) -> float:
    """The bank volume that no stand takes."""
    taken = sum(bank for step in steps for _, _, bank in step.takes)
    return float(plot.bank.sum() - taken)


def _shared(plot: Plot, cells: np.ndarray, shape: shapely.Geometry) -> float:
    """The area of some cells under a shape, less a hair round its edge."""
    inner = shape.buffer(-HAIR)
    own = [plot.polygons[k].buffer(0.0) for k in np.flatnonzero(cells)]
    return float(shapely.area(shapely.intersection(own, inner)).sum()) if own else 0.0


def _over_dug(plot: Plot, begun: np.ndarray, shape: shapely.Geometry) -> bool:
    """Whether a shape is over ground dug, by this plan or before."""
    before = plot.dug.intersection(shape.buffer(-HAIR)).area
    return before + _shared(plot, begun, shape) > HAIR**2


def _standing(
    machine: Excavator, plot: Plot, ground: tuple[np.ndarray, np.ndarray], step: Step, number: int
) -> list[str]:
    begun, left = ground
    tracks = rectangle(step.spot, step.facing, machine.length, machine.width)
    whole = left > 1e-9 * plot.bank.sum()
    if step.on_floor:
        if _shared(plot, whole, tracks) > HAIR**2:
            return [f"stand {number} is on the floor where ground is not dug yet"]
        swing = shapely.Point(step.spot).buffer(machine.tail)
        if swing.difference(plot.pit).area > HAIR * machine.tail:
            return [f"stand {number} swings its tail into a face"]
        if _shared(plot, whole, swing) > HAIR**2:
            return [f"stand {number} swings its tail into ground not dug yet"]
        return []
    margin = 2 * machine.setback
    wide = rectangle(step.spot, step.facing, machine.length + margin, machine.width + margin)
    if _over_dug(plot, begun, wide):
        return [f"stand {number} is on ground dug before, or too near it"]
    return [
        f"stand {number} is on the pile {name}"
        for name, pile in plot.piles.items()
        if not step.early and pile.intersection(tracks.buffer(-HAIR)).area > HAIR**2
    ]


def _coming(
    machine: Excavator, plot: Plot, ground: tuple[np.ndarray, np.ndarray], step: Step,
    at: tuple[int, bool, bool],
) -> list[str]:  # fmt: skip
    """Each stretch of the way is over ground that is whole, or to or from the floor on dug."""
    (begun, left), (number, by_floor, bare) = ground, at
    whole = left > 1e-9 * plot.bank.sum()
    wrong = []
    for start, end in itertools.pairwise(step.way):
        if np.hypot(*(end - start)) < HAIR:
            continue
        lane = shapely.LineString([start, end]).buffer(machine.width / 2, cap_style="flat")
        over_dug = _over_dug(plot, begun, lane)
        over_whole = _shared(plot, whole, lane) > HAIR**2
        if over_dug and (over_whole or not by_floor):
            wrong.append(f"the way to stand {number} is cut off at {np.round(start, 1)}")
        wrong += [
            f"the way to stand {number} crosses the pile {name}"
            for name, pile in plot.piles.items()
            if not bare and pile.intersection(lane.buffer(-HAIR)).area > HAIR**2
        ]
    return wrong


def _taking(machine: Excavator, plot: Plot, step: Step, at: tuple[int, int]) -> list[str]:
    number, cell = at
    polygon = plot.polygons[cell]
    ahead = (shapely.get_coordinates(polygon) - step.spot) @ step.facing
    wrong = []
    if ahead.min() < machine.length / 2 - HAIR:
        wrong.append(f"stand {number} digs cell {cell} beside or under its tracks")
    away = math.dist(step.spot, shapely.get_coordinates(polygon.centroid)[0])
    below = step.level - plot.bottom[cell]
    if away > how_far(machine, below) + HAIR:
        wrong.append(f"stand {number} does not reach cell {cell}")
    return wrong


def _loading(
    machine: Excavator, plot: Plot, begun: np.ndarray, step: Step, number: int
) -> list[str]:
    """A truck stands and drives on free ground, in reach, clear of the tail, the edge and piles."""
    wrong = []
    for truck in step.trucks:
        ground = shapely.union(truck.ground, truck.way)
        if _over_dug(plot, begun, truck.ground.buffer(machine.setback, join_style="mitre")):
            wrong.append(f"the truck at stand {number} is on ground dug, or too near it")
        if _over_dug(plot, begun, truck.way):
            wrong.append(f"the truck at stand {number} drives over ground dug")
        if plot.free is not None and ground.difference(plot.free).area > HAIR:
            wrong.append(f"the truck at stand {number} is not on free ground")
        if math.dist(step.spot, truck.body) > machine.loads + HAIR:
            wrong.append(f"the truck at stand {number} is out of reach")
        if truck.side - step.level > machine.lift(math.dist(step.spot, truck.body)) + HAIR:
            wrong.append(f"the truck at stand {number} is too high")
        if truck.ground.distance(shapely.Point(step.spot)) < machine.tail - HAIR:
            wrong.append(f"the truck at stand {number} is within the tail")
        wrong += [
            f"the truck at stand {number} is on the pile {name}"
            for name, pile in plot.piles.items()
            if pile.intersection(ground).area > HAIR
        ]
    return wrong


def too_near(
    machine: Excavator, plot: Plot, steps: list[Step], run: float
) -> list[tuple[int, int]]:
    """Takings (stand, cell) whose face is nearer to the tracks than the setback and `run` times its
    depth."""
    found = []
    for number, step in enumerate(steps):
        for cell, _, _ in step.takes:
            corners = shapely.get_coordinates(plot.polygons[cell])
            ahead = ((corners - step.spot) @ step.facing).min() - machine.length / 2
            deep = max(step.level - plot.bottom[cell], 0.0)
            if ahead < machine.setback + run * deep - HAIR:
                found.append((number, cell))
    return found
