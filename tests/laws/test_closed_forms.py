"""Every part of every wall is its closed form, to 1e-12 of gross + area x relief."""

import math
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
import pytest
import shapely

from terrain.base.frame import LocalFrame
from tests.laws.shapes import SHAPES, Shape
from tests.laws.site import CLOSED_FORM, Dug, design, excavate, flat
from tests.oracles.exact import frustum, simpson, tilted

FLOOR = 96.0


@dataclass
class Place:
    """Where a pit is put: turned about the origin, then moved."""

    name: str
    cosine: float
    sine: float
    shift: tuple[float, float]

    def plan(self, corners: np.ndarray) -> np.ndarray:
        """Site coordinates of corners (n, 2) as drawn."""
        turn = np.array([[self.cosine, -self.sine], [self.sine, self.cosine]])
        return corners @ turn.T + self.shift


COS_37, SIN_37 = math.cos(math.radians(37)), math.sin(math.radians(37))
PLACES = [
    Place("as drawn", 1.0, 0.0, (0.0, 0.0)),
    Place("moved to easting 2,000,000", 1.0, 0.0, (2_000_000.0, 600_000.0)),
    Place("turned by 37 degrees", COS_37, SIN_37, (0.0, 0.0)),
    Place("turned by 37 degrees and moved", COS_37, SIN_37, (2_000_000.0, 600_000.0)),
]


def dig_at(shape: Shape, place: Place) -> tuple[Dug, float]:
    """The shape dug at a place, and what rounding of its corners there may be worth.

    A corner at easting 2,000,000 is stored to 2.3e-10; a turned outline therefore is another
    outline by up to that along its whole daylight line.
    """
    site = place.plan(shape.plan())
    frame = LocalFrame.near(site)
    local = frame.to_local(site)
    overdig = [float(o) for o in shape.overdig]
    sides = [s if isinstance(s, list) else float(s) for s in shape.side]
    wanted = design(local, overdig, sides, FLOOR)
    ground = flat(FLOOR + float(shape.depth), 150.0)
    dug = excavate(wanted, ground)
    rounding = 0.0
    if place.sine and place.shift[0]:
        perimeter = 2 * float(np.ptp(site, axis=0).sum()) + 8 * 16.0
        rounding = float(np.spacing(place.shift[0])) * perimeter * float(shape.depth)
    return dug, rounding


def assert_closed_form(dug: Dug, seen: float, wanted: float, rounding: float) -> None:
    allowed = CLOSED_FORM * dug.scale + rounding
    assert abs(seen - wanted) <= allowed, f"{seen!r}, wanted {wanted!r}, allowed {allowed:.2g}"


@pytest.mark.parametrize("place", PLACES, ids=lambda p: p.name)
@pytest.mark.parametrize("shape", SHAPES, ids=lambda s: s.name)
def test_the_whole_pit_is_its_closed_form(shape, place):
    dug, rounding = dig_at(shape, place)
    assert_closed_form(dug, dug.total, shape.total, rounding)


@pytest.mark.parametrize("place", PLACES, ids=lambda p: p.name)
@pytest.mark.parametrize("shape", SHAPES, ids=lambda s: s.name)
def test_every_part_of_every_wall_is_its_closed_form(shape, place):
    dug, rounding = dig_at(shape, place)
    for wall in range(len(shape.corners)):
        overdig = dug.parts.get((wall, "overdig"), 0.0)
        assert_closed_form(dug, overdig, float(shape.strips[wall]), rounding)
        side = dug.parts.get((wall, "side"), 0.0)
        assert_closed_form(dug, side, float(shape.swept[wall]), rounding)
    cores = [dug.parts.get((wall, "core"), 0.0) for wall in range(len(shape.corners))]
    if isinstance(shape.core, list):
        for seen, core in zip(cores, shape.core, strict=True):
            assert_closed_form(dug, seen, float(core), rounding)
    else:
        assert_closed_form(dug, math.fsum(cores), float(shape.core), rounding)


@pytest.mark.parametrize(
    "runs", [(1.0, 0.5, 1.5, 0.75), (0.0, 1.0, 0.25, 1.0), (1.0, 0.0, 1.0, 0.0)]
)
@pytest.mark.parametrize("grade", [0.125, -0.0625, 0.25])
def test_a_pit_in_tilted_ground_is_its_closed_form(runs, grade):
    """Ground 8 above the floor at the left wall and tilted along the front, exact in fractions."""
    start = 8.0 if grade > 0 else 12.0
    corners = np.array([[0.0, 0], [48, 0], [48, 28], [0, 28]])
    ground = flat(0.0, 90.0, (24.0, 14.0))
    ground[:, 2] = FLOOR + start + grade * ground[:, 0]
    dug = excavate(design(corners, 0.0, runs, FLOOR), ground)
    wanted = tilted(
        (Fraction(48), Fraction(28)),
        [Fraction(r) for r in runs],
        (Fraction(start), Fraction(grade)),
    )
    assert_closed_form(dug, dug.total, float(wanted), 0.0)


@pytest.mark.parametrize("corners", [SHAPES[7], SHAPES[8], SHAPES[11]], ids=lambda s: s.name)
def test_vertical_pits_in_doubly_tilted_ground_are_area_times_depth_at_the_centroid(corners):
    plan = corners.plan()
    ground = flat(0.0, 90.0, (20.0, 15.0))
    ground[:, 2] = FLOOR + 12.0 + 0.0625 * ground[:, 0] - 0.125 * ground[:, 1]
    dug = excavate(design(plan, 0.0, 0.0, FLOOR), ground)
    body = shapely.Polygon(plan)
    depth = 12.0 + 0.0625 * body.centroid.x - 0.125 * body.centroid.y
    assert_closed_form(dug, dug.total, body.area * depth, 0.0)


def test_a_wall_that_leaves_the_dig_line_leaves_a_plain_corner():
    """A clip of 1 with an overdig of 3 between walls with 0.5: shifted, nothing is left of it."""
    corners = np.array([[0.0, 0], [40, 0], [40, 23], [39, 24], [0, 24]])
    overdig, runs = [0.5, 0.5, 3.0, 0.5, 0.5], [1.0, 0.5, 0.75, 1.0, 0.25]
    dug = excavate(design(corners, overdig, runs, FLOOR), flat(FLOOR + 8.0))
    wanted = frustum(
        (Fraction(40), Fraction(24)),
        [Fraction(1, 2)] * 4,
        [Fraction(1), Fraction(1, 2), Fraction(1), Fraction(1, 4)],
        Fraction(8),
    )
    assert_closed_form(dug, dug.total, float(wanted), 0.0)
    assert dug.dig.line.vanished == (2,)
    assert dug.parts.get((2, "side"), 0.0) == 0.0


@pytest.mark.parametrize("run", [0.0, 0.5])
def test_a_notch_narrower_than_its_overdigs_is_dug_out(run):
    """The dig line crosses itself in the notch: the floor is the union, the notch is no ground."""
    corners = np.array(
        [[0.0, 0], [30, 0], [30, 20], [16, 20], [16, 10], [14, 10], [14, 20], [0, 20]]
    )
    dug = excavate(design(corners, 2.0, run, FLOOR), flat(FLOOR + 8.0))
    size, runs = (Fraction(30), Fraction(20)), [Fraction(run)] * 4
    assert_closed_form(
        dug, dug.total, float(frustum(size, [Fraction(2)] * 4, runs, Fraction(8))), 0.0
    )


@pytest.mark.parametrize("run", [0.0, 0.5])
def test_a_court_shut_in_by_the_dig_line_is_dug_too(run):
    """The court's mouth, 2 wide, closes at overdigs of 2; the hole left inside is dug as well."""
    corners = np.array(
        [[0.0, 0], [40, 0], [40, 30], [21, 30], [21, 25], [30, 25], [30, 8], [10, 8], [10, 25],
         [19, 25], [19, 30], [0, 30]]
    )  # fmt: skip
    dug = excavate(design(corners, 2.0, run, FLOOR), flat(FLOOR + 8.0))
    size, runs = (Fraction(40), Fraction(30)), [Fraction(run)] * 4
    assert_closed_form(
        dug, dug.total, float(frustum(size, [Fraction(2)] * 4, runs, Fraction(8))), 0.0
    )


@pytest.mark.parametrize("depth", [1.0, 1.9, 2.1, 6.0, 9.0])
def test_a_court_whose_mouth_closes_on_the_way_up_is_the_integral_of_its_outlines(depth):
    """Mouth 2 wide, court 20 by 17, sides 1/2: shut at height 2, and gone at height 17."""
    corners = np.array(
        [[0.0, 0], [40, 0], [40, 30], [21, 30], [21, 25], [30, 25], [30, 8], [10, 8], [10, 25],
         [19, 25], [19, 30], [0, 30]]
    )  # fmt: skip
    dug = excavate(design(corners, 0.0, 0.5, FLOOR), flat(FLOOR + depth))
    height, run = Fraction(depth), Fraction(1, 2)

    def outside(h: Fraction) -> Fraction:
        return (40 + 2 * run * h) * (30 + 2 * run * h)

    def court(h: Fraction) -> Fraction:
        return (20 - 2 * run * h) * (17 - 2 * run * h)

    def mouth(h: Fraction) -> Fraction:
        return (2 - 2 * run * h) * (5 + 2 * run * h)

    wanted = simpson(outside, Fraction(0), height) - simpson(court, Fraction(0), height)
    wanted -= simpson(mouth, Fraction(0), min(height, Fraction(2)))
    assert_closed_form(dug, dug.total, float(wanted), 0.0)
