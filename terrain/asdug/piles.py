"""Piles of spoil from shots of them: each is a surface over the ground it lies on."""

from dataclasses import dataclass, replace

import numpy as np

from terrain.asdug.graded import area_weights
from terrain.asdug.measured import Measured
from terrain.base.arrays import FloatArray
from terrain.ledger.errors_said import SurveyErrors
from terrain.ledger.ground import Ground
from terrain.ledger.weights import Weights
from terrain.surface.boundary import boundary_edges, triangle_areas
from terrain.surface.minimum import shared_out
from terrain.surface.overlay import overlay
from terrain.surface.patches import Surface, labelled, picked
from terrain.surface.tin import Tin, tin_surface

WHOLE = 1e-9
"""A pile lies on surveyed ground if no more than this share of its plan area does not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Foot:
    """Where a pile's outermost shots stand over the ground, in length and cubic units.

    Args:
        mean: along the rim; 0 where they are on it.
        most: at one shot, at `spot` in the local frame.
        missing: about what lies beyond the rim, if the pile goes on down at its slope there.
    """

    mean: float
    most: float
    spot: FloatArray
    missing: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Pile:
    """A pile as measured, in length, square and cubic length units.

    Args:
        name: its code, or its file.
        loose: net of what is above the ground and below it, so that noise leaves it true; its
            weights stand under the survey's key and that of the ground's.
        below: what of its surface lies below the ground, as volume >= 0.
        area: plan area within its outermost shots.
        height: of its highest shot over the ground, at `top` (3,).
        foot: its rim.
        by_side: (sides,), `loose` by the side of the house it lies on.
    """

    name: str
    loose: Measured
    below: float
    area: float
    height: float
    top: FloatArray
    foot: Foot
    by_side: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class PileShots:
    """A pile's TIN, how far each of its points is above the ground, what the survey errs by.

    `survey` is the key under which its shots' weights stand, numbered from `first` on.
    """

    name: str
    tin: Tin
    above: FloatArray
    errors: SurveyErrors
    survey: str
    first: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """Where piles lie: on which ground, under which key; whose side it is; how they lean.

    `owners` is labelled by side, from 0 to `sides`; `slope` is the rise per run of loose spoil.
    """

    ground: Ground
    survey: str
    owners: Surface
    sides: int
    slope: float


def pile_on(shots: PileShots, site: Site) -> Pile | None:
    """The pile over the ground, None if it does not lie on surveyed ground altogether."""
    tin, ground = shots.tin, site.ground
    surface = tin_surface(tin)
    near = _faces_under(surface, ground.surface)
    pairs = overlay(surface, near)
    area = float(triangle_areas(tin).sum())
    if pairs.area.sum() < (1.0 - WHOLE) * area:
        return None
    above, below = float(pairs.volume_above.sum()), float(pairs.volume_below.sum())
    own = Ground(surface=surface, points=tin.points, triangles=tin.triangles, errors=shots.errors)
    one = labelled(near, np.zeros(len(near), dtype=np.int32))
    heap = area_weights(own, one).get(0, Weights.nothing())
    base = area_weights(
        replace(ground, surface=near), labelled(surface, np.zeros(len(surface), dtype=np.int32))
    ).get(0, Weights.nothing())
    top = int(np.argmax(shots.above))
    return Pile(
        name=shots.name,
        loose=Measured(
            amount=above - below,
            weights={shots.survey: numbered_from(heap, shots.first), site.survey: base * -1.0},
        ),
        below=below,
        area=area,
        height=float(shots.above[top]),
        top=tin.points[top],
        foot=_foot(tin, shots.above, site.slope),
        by_side=_by_side(surface, near, site),
    )


def numbered_from(weights: Weights, first: int) -> Weights:
    """The weights of shots that are numbered from `first` on among those of a whole survey."""
    spots = replace(weights.spots, shots=weights.spots.shots + first)
    return replace(weights, shot=weights.shot + first, spots=spots)


def _faces_under(surface: Surface, ground: Surface) -> Surface:
    """The ground's faces that a pile lies over any of."""
    pairs = overlay(surface, ground)
    return picked(ground, np.unique(pairs.b[pairs.area > 0]))


def _by_side(surface: Surface, near: Surface, site: Site) -> FloatArray:
    shared = shared_out(surface, site.owners)
    pairs = overlay(shared, near)
    net = pairs.volume_above - pairs.volume_below
    return np.bincount(shared.label[pairs.a], net, site.sides).astype(np.float64)


def _foot(tin: Tin, above: FloatArray, slope: float) -> Foot:
    edges = boundary_edges(tin)
    length = np.hypot(*(tin.points[edges[:, 1], :2] - tin.points[edges[:, 0], :2]).T)
    gap = np.maximum(above, 0.0)
    one, two = gap[edges].T
    rim = np.unique(edges)
    highest = int(rim[np.argmax(gap[rim])])
    beyond = length * (one * one + one * two + two * two) / 3.0 / (2.0 * slope)
    return Foot(
        mean=float(np.sum(length * (one + two) / 2.0) / np.sum(length)),
        most=float(gap[highest]),
        spot=tin.points[highest, :2],
        missing=float(beyond.sum()),
    )
