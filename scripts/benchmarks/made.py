"""Made ground and pits whose volumes are known exactly; all of it from fixed seeds."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scripts.benchmarks.rows import FOLDS, edges_of
from terrain.surface.patches import Surface, from_polygons, height_on, tilted
from terrain.surface.tin import Line

Floats = NDArray[np.float64]
Indices = NDArray[np.integer]

HALF = 300.0  # of the square lot's side
CROSSING = (0.1, 0.07)  # slopes per easting and northing of one ground over another
FOLD_HEIGHT = 4.0
ROUGHNESS = 0.05
GROUND = np.array([0.0, 0.0, 50.0, 0.04, -0.03])  # a plane as in `Surface.plane`
SIDES, PIT_RADIUS, PIT_DEPTH, PIT_RUN, PIT_ABOVE = 59, 20.0, 9.0, 1.5, 1.0


def lot_plan(count: int, seed: int) -> Floats:
    """Random plan points (n, 2) of the lot, its corners among them."""
    plan = np.random.default_rng(seed).uniform(-HALF, HALF, (count, 2))
    plan[:4] = HALF * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    return plan


def plane_shots(count: int, seed: int, plane: Floats = GROUND) -> Floats:
    """Shots (n, 3) of a plane."""
    plan = lot_plan(count, seed)
    return np.column_stack([plan, height_on(plane, plan)])


def plane_volume(plane: Floats = GROUND) -> float:
    """The volume between a plane over the lot and level 0."""
    return float(height_on(plane, np.zeros((1, 2)))[0]) * (2 * HALF) ** 2


def rough_shots(count: int, seed: int) -> Floats:
    """Shots (n, 3) about the plane of the ground."""
    shots = plane_shots(count, seed)
    shots[:, 2] += np.random.default_rng(seed + 1000).normal(0.0, ROUGHNESS, count)
    return shots


def folded_shots(count: int) -> tuple[Floats, list[Line]]:
    """Shots (n, 3) of a ground folded up and down, and its folds as lines from shot to shot.

    Only a TIN that has every fold for an edge has the ground's volume.
    """
    across = -HALF + 2 * HALF * (np.arange(FOLDS) + 0.5) / FOLDS
    along = np.linspace(-HALF, HALF, edges_of(count) // FOLDS + 1)
    folds = np.stack(np.meshgrid(across, along, indexing="ij"), axis=-1).reshape(-1, 2)
    plan = np.concatenate([lot_plan(count - len(folds), 3), folds])
    bends = np.concatenate([[-HALF], across, [HALF]])
    heights = np.full(FOLDS + 2, FOLD_HEIGHT / 2)
    heights[1:-1] = FOLD_HEIGHT * (np.arange(FOLDS) % 2)
    chains = np.arange(count - len(folds), count).reshape(FOLDS, -1)
    lines = [Line(name=f"fold {k}", shots=chain) for k, chain in enumerate(chains)]
    return np.column_stack([plan, np.interp(plan[:, 0], bends, heights)]), lines


def folded_volume() -> float:
    """The volume between the folded ground and level 0: folds go up as often as down."""
    return FOLD_HEIGHT / 2 * (2 * HALF) ** 2


def crossing_planes() -> tuple[Floats, Floats, float]:
    """Two planes that cross aslant in the middle, and the volume where the first is higher.

    With slopes a > b it is the integral over northing of a/2 (half + b/a northing)^2.
    """
    second = np.array([0.0, 0.0, 0.0, 0.0, 0.05])
    first = second + np.array([0.0, 0.0, 0.0, *CROSSING])
    a, b = CROSSING
    return first, second, a * HALF**3 * (1 + (b / a) ** 2 / 3)


def volume_under(points: Floats, triangles: Indices) -> float:
    """The volume between triangles and level 0: plan area times mean height."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    ab, ac = b - a, c - a
    area = np.abs(ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0]) / 2
    return float((area * (a[:, 2] + b[:, 2] + c[:, 2]) / 3).sum())


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundPit:
    """A pit of 59 equal sides about a floor, all of it tilted like the ground.

    Args:
        surface: floor and sides, which end above the ground.
        floor: (59, 3) corners, counter-clockwise.
        rim: (59, 3) where the sides end.
        outward: (59, 2) direction in plan in which each side climbs.
        volume: below the ground: a frustum, since the tilt is a shear.
    """

    surface: Surface
    floor: Floats
    rim: Floats
    outward: Floats
    volume: float


def round_pit() -> RoundPit:
    """The pit that all peers dig."""
    angle = 2 * np.pi * np.arange(SIDES) / SIDES
    ring = np.column_stack([np.cos(angle), np.sin(angle)])
    middle = angle + np.pi / SIDES
    outward = np.column_stack([np.cos(middle), np.sin(middle)])
    far = _radius(PIT_DEPTH + PIT_ABOVE)
    polygons, planes = [PIT_RADIUS * ring], [[0.0, 0.0, -PIT_DEPTH, 0.0, 0.0]]
    for k in range(SIDES):
        p, q = ring[k], ring[(k + 1) % SIDES]
        polygons.append(np.array([PIT_RADIUS * p, far * p, far * q, PIT_RADIUS * q]))
        planes.append([*(PIT_RADIUS * p), -PIT_DEPTH, *(outward[k] / PIT_RUN)])
    level = from_polygons(polygons, np.array(planes), np.arange(SIDES + 1, dtype=np.int32))
    low, high = (
        SIDES / 2 * r**2 * np.sin(2 * np.pi / SIDES) for r in (PIT_RADIUS, _radius(PIT_DEPTH))
    )
    return RoundPit(
        surface=tilted(level, GROUND),
        floor=_on_ground(PIT_RADIUS * ring, -PIT_DEPTH),
        rim=_on_ground(far * ring, PIT_ABOVE),
        outward=outward,
        volume=float(PIT_DEPTH / 3 * (low + high + np.sqrt(low * high))),
    )


def pit_heights(pit: RoundPit, plan: Floats) -> Floats:
    """The pit's height at plan points (n, 2): the highest of floor and sides, all going on."""
    inner = PIT_RADIUS * np.cos(np.pi / SIDES)
    beyond = np.zeros(len(plan))
    for outward in pit.outward:
        np.maximum(beyond, plan @ outward - inner, out=beyond)
    return height_on(GROUND, plan) - PIT_DEPTH + beyond / PIT_RUN


def _radius(climbed: float) -> float:
    """Of the corners, so high above the floor."""
    return float(PIT_RADIUS + PIT_RUN * climbed / np.cos(np.pi / SIDES))


def _on_ground(plan: Floats, above: float) -> Floats:
    return np.column_stack([plan, height_on(GROUND, plan) + above])
