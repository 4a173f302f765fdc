"""How far a dig is, against closed forms of a rectangular pit with plumb sides in level ground."""

import numpy as np
import pytest
import shapely

from terrain.asdug.measured import SurveyTerms, doubt_from, total
from terrain.asdug.progress import Sheet, hole_dug, plain_sheet, standing, subsoil_dug
from terrain.ledger.doubt import Terms
from terrain.ledger.errors_said import SurveyErrors
from terrain.ledger.ground import Ground
from terrain.pit.design import Design, Wall
from terrain.pit.dig import CORE, OVERDIG, SIDE, dig_of
from terrain.surface.minimum import within
from terrain.surface.overlay import overlay
from terrain.surface.patches import join_faces, labelled, picked
from terrain.surface.tin import build_tin, tin_surface, triangle_faces

CORNERS = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 30.0], [0.0, 30.0]])
NAMES = ("front", "right", "back", "left")
WALLS = tuple(Wall(name=n, overdig=2.0, side=((0.0, 1.0),)) for n in NAMES)
DESIGN = Design(corners=CORNERS, walls=WALLS, number=(0, 1, 2, 3), floor=92.0)
LINE = (-2.0, -2.0, 42.0, 32.0)
AREA = 44.0 * 34.0


def ground(move=0.0, noise=None):
    """Level ground at 100, shot every 10 ft."""
    u = np.arange(-40.0, 90.0, 10.0)
    east, north = (a.ravel() for a in np.meshgrid(u, u))
    up = np.full(len(east), 100.0 + move)
    if noise is not None:
        up += noise(len(up))
    tin = build_tin(np.column_stack([east, north, up]))
    return plain_sheet(
        Ground(surface=tin_surface(tin), points=tin.points, triangles=tin.triangles), "existing"
    )


def dug_to(before: Sheet, floor, box=LINE, key="day"):
    """The ground with a hole of plumb sides in it: `floor(e, n)` over a box, shots every few ft."""
    w, s, e, n = box
    east, north = (a.ravel() for a in np.meshgrid(np.linspace(w, e, 9), np.linspace(s, n, 8)))
    tin = build_tin(np.column_stack([east, north, floor(east, north)]))
    old = before.ground
    around = within(old.surface, shapely.box(-39, -39, 79, 79).difference(shapely.box(*box)))
    own = tin_surface(tin)
    faces = labelled(own, own.label + len(old.triangles))
    sheet = Ground(
        surface=join_faces(around, faces),
        points=np.concatenate([old.points, tin.points]),
        triangles=np.concatenate([old.triangles, tin.triangles + len(old.points)]),
    )
    return Sheet(
        ground=sheet,
        surveys=("existing", key),
        of=np.repeat([0, 1], [len(old.points), len(tin.points)]),
        number=np.concatenate([np.arange(len(old.points)), np.arange(len(tin.points))]),
    )


def level(height):
    return lambda e, n: np.full(len(e), float(height))


def dig():
    return dig_of(DESIGN, np.array([[0.0, 0.0, 100.0], [80.0, 80.0, 100.0]]))


def amount(by_label):
    return sum(m.amount for m in by_label.values())


def test_half_way_down_half_is_dug_and_half_left_on_every_wall_and_part():
    before = ground()
    seen = standing(before, dug_to(before, level(96.0)), dig())
    whole = AREA * 8.0
    assert amount(seen.design) == pytest.approx(whole, rel=1e-9)
    assert amount(seen.left) == pytest.approx(whole / 2, rel=1e-9)
    assert amount(seen.beyond) == pytest.approx(0.0, abs=1e-6 * whole * 1e-3)
    # the core of the long walls is a trapezoid of the hip roof, of the short ones a triangle
    core = {0: 15.0 * (40 + 10) / 2, 1: 15.0 * 30 / 2}
    over = {0: 2.0 * (40 + 44) / 2, 1: 2.0 * (30 + 34) / 2}
    for row in range(4):
        assert seen.dug(row * 4 + CORE).amount == pytest.approx(core[row % 2] * 4.0, rel=1e-9)
        assert seen.dug(row * 4 + OVERDIG).amount == pytest.approx(over[row % 2] * 4.0, rel=1e-9)
    assert total([seen.dug(k) for k in seen.labels]).amount == pytest.approx(whole / 2, rel=1e-9)


def test_what_is_dug_too_deep_is_beyond_the_design_and_still_dug():
    before = ground()
    seen = standing(before, dug_to(before, level(91.5)), dig())
    assert amount(seen.left) == pytest.approx(0.0, abs=1e-6)
    assert amount(seen.beyond) == pytest.approx(AREA * 0.5, rel=1e-9)
    dug = total([seen.dug(k) for k in seen.labels])
    assert dug.amount == pytest.approx(AREA * 8.5, rel=1e-9)


def test_what_is_dug_too_wide_is_beyond_the_design_on_its_own_wall():
    """3 ft too far at the right: a strip of 3 by 34 ft, 8 ft deep, on that wall's side."""
    before = ground()
    seen = standing(before, dug_to(before, level(92.0), (-2.0, -2.0, 45.0, 32.0)), dig())
    strip = 3.0 * 34.0 * 8.0
    far = seen.elsewhere.amount
    assert amount(seen.beyond) + far == pytest.approx(strip, rel=1e-9)
    assert amount(seen.left) == pytest.approx(0.0, abs=1e-6)


def test_dug_is_design_less_left_with_beyond_on_a_floor_of_any_shape():
    before = ground()
    now = dug_to(before, lambda e, n: 92.0 + 0.6 * np.sin(e) * np.cos(n / 3))
    seen = standing(before, now, dig())
    pairs = overlay(before.ground.surface, now.ground.surface)
    net = float(pairs.volume_above.sum() - pairs.volume_below.sum())
    dug = total([seen.dug(k) for k in seen.labels])
    assert dug.amount + seen.elsewhere.amount == pytest.approx(net, rel=1e-9)
    assert amount(seen.left) > 0
    assert amount(seen.beyond) > 0


def test_the_weights_of_what_is_dug_are_the_hole_by_both_surveys():
    """Raise the ground by one and the hole grows by its area; raise the floor and it shrinks so."""
    before = ground()
    for floor in (96.0, 91.5):
        seen = standing(before, dug_to(before, level(floor)), dig())
        dug = total([seen.dug(k) for k in seen.labels])
        assert dug.weights["existing"].plan_area == pytest.approx(AREA, rel=1e-9)
        assert dug.weights["day"].plan_area == pytest.approx(-AREA, rel=1e-9)


def test_a_shot_moved_changes_what_is_dug_by_its_weight():
    before = ground()

    def tilt(e, n):
        return 95.0 + 0.02 * e - 0.01 * n

    seen = total_dug(before, dug_to(before, tilt))
    for shot in (11, 30, 52):
        day = dug_to(before, tilt)
        own = np.flatnonzero(day.of == 1)[shot]
        points = day.ground.points.copy()
        points[own, 2] += 0.01
        moved = resurfaced(day, before, points)
        change = (total_dug(before, moved).amount - seen.amount) / 0.01
        at = np.searchsorted(seen.weights["day"].shot, shot)
        assert seen.weights["day"].by_elevation[at] == pytest.approx(change, rel=1e-6)


def resurfaced(day, before, points):
    """The day's ground with its points moved in height."""
    old = len(before.ground.triangles)
    own = triangle_faces(points, day.ground.triangles[old:])
    around = np.flatnonzero(day.ground.surface.label < old)
    surface = join_faces(picked(day.ground.surface, around), labelled(own, own.label + old))
    ground_moved = Ground(surface=surface, points=points, triangles=day.ground.triangles)
    return Sheet(ground=ground_moved, surveys=day.surveys, of=day.of, number=day.number)


def total_dug(before, day):
    seen = standing(before, day, dig())
    return total([seen.dug(k) for k in seen.labels])


def test_since_last_rests_on_the_two_days_and_not_on_the_ground_before():
    before = ground()
    first = total_dug(before, dug_to(before, level(97.0), key="mon"))
    second = total_dug(before, dug_to(before, level(94.0), key="tue"))
    since = second - first
    assert since.amount == pytest.approx(3.0 * AREA, rel=1e-9)
    assert np.abs(since.weights["existing"].by_elevation).max() == pytest.approx(0.0, abs=1e-6)
    assert since.weights["mon"].plan_area == pytest.approx(AREA, rel=1e-9)
    assert since.weights["tue"].plan_area == pytest.approx(-AREA, rel=1e-9)


def test_the_95_per_cent_of_dug_and_since_last_hold_over_made_surveys():
    """400 made jobs of two days, shots 0.1 and marks 0.05 off, fixed seed."""
    random = np.random.default_rng(904)
    errors = SurveyErrors(accuracy=0.1, datum_accuracy=0.05)
    held = np.zeros(2)
    trials = 400
    for _ in range(trials):
        marks = random.normal(0.0, 0.05, 3)
        before = ground(marks[0], lambda n: random.normal(0.0, 0.1, n))
        days = [
            dug_to(before, lambda e, n, z=z, m=m: z + m + random.normal(0.0, 0.1, len(e)), key=key)
            for z, m, key in ((97.0, marks[1], "mon"), (93.0, marks[2], "tue"))
        ]
        surveys = {
            key: SurveyTerms(terms=Terms(errors=errors, plan=plan), setup=key)
            for key, plan in (
                ("existing", before.ground.points[:, :2]),
                *((d.surveys[1], d.ground.points[d.of == 1, :2]) for d in days),
            )
        }
        dug = [total_dug(before, day) for day in days]
        for k, (seen, true) in enumerate(((dug[1], 7.0 * AREA), (dug[1] - dug[0], 4.0 * AREA))):
            doubt = doubt_from(seen, surveys).together
            held[k] += abs(seen.amount - true) <= doubt
    assert ((held / trials >= 0.93) & (held / trials <= 0.97)).all(), held / trials


def test_the_hole_and_its_topsoil_are_the_box_and_its_lid():
    before = ground()
    day = dug_to(before, level(96.0))
    assert hole_dug(before, day).amount == pytest.approx(4.0 * AREA, rel=1e-9)
    below = subsoil_dug(before, day, 0.5)
    assert below.amount == pytest.approx(3.5 * AREA, rel=1e-9)
    assert below.weights["existing"].plan_area == pytest.approx(AREA, rel=1e-9)
    assert below.weights["day"].plan_area == pytest.approx(-AREA, rel=1e-9)
    # where less than the topsoil is gone there is no subsoil
    assert subsoil_dug(before, dug_to(before, level(99.8)), 0.5).amount == 0.0


def sloped():
    """The same pit with sides of 1:1, which meet the ground 8 ft beyond the dig line."""
    walls = tuple(Wall(name=n, overdig=2.0, side=((1.0, 1.0),)) for n in NAMES)
    design = Design(corners=CORNERS, walls=walls, number=(0, 1, 2, 3), floor=92.0)
    return dig_of(design, np.array([[0.0, 0.0, 100.0], [80.0, 80.0, 100.0]]))


def test_what_is_dug_outside_where_the_design_meets_the_ground_is_that_walls_and_all_of_it():
    """A plumb hole to 12 ft beyond the dig line, 4 ft past daylight, sides and all dug away."""
    before = ground()
    box = (-14.0, -14.0, 54.0, 44.0)
    seen = standing(before, dug_to(before, level(92.0), box), sloped())
    area, depth = 68.0 * 58.0, 8.0
    side = 2 * (44.0 + 34.0) * depth**2 / 2 + 4 * depth**3 / 3
    design = AREA * depth + side
    assert amount(seen.design) == pytest.approx(design, rel=1e-9)
    assert amount(seen.left) == pytest.approx(0.0, abs=1e-6)
    dug = total([seen.dug(k) for k in seen.labels]) + seen.elsewhere
    assert dug.amount == pytest.approx(area * depth, rel=1e-9)
    assert amount(seen.beyond) + seen.elsewhere.amount == pytest.approx(
        area * depth - design, rel=1e-9
    )
    assert dug.weights["existing"].plan_area == pytest.approx(area, rel=1e-9)
    assert dug.weights["day"].plan_area == pytest.approx(-area, rel=1e-9)
    # alike on walls that face each other: on each its own side's strip
    past = {row: seen.beyond[4 * row + SIDE].amount for row in range(4)}
    assert past[0] == pytest.approx(past[2], rel=1e-9)
    assert past[1] == pytest.approx(past[3], rel=1e-9)
    assert sum(past.values()) + seen.elsewhere.amount == pytest.approx(
        area * depth - design, rel=1e-9
    )


def test_sides_still_to_be_dug_are_left_on_their_own_walls():
    """The box to the dig line is out, the sides stand: they are all that is left."""
    before = ground()
    seen = standing(before, dug_to(before, level(92.0)), sloped())
    long, short = (44.0 * 8.0**2 / 2 + 8.0**3 / 3, 34.0 * 8.0**2 / 2 + 8.0**3 / 3)
    left = {k: m.amount for k, m in seen.left.items() if m.amount > 1e-6}
    assert left == pytest.approx({2: long, 6: short, 10: long, 14: short}, rel=1e-9)


def test_surveys_of_one_mark_err_alike_and_their_difference_not_at_all():
    """Two areas of one size, read higher and taken from one another: the mark drops out."""
    before = ground()
    first = hole_dug(before, dug_to(before, level(97.0), key="mon"))
    second = hole_dug(before, dug_to(before, level(94.0), key="tue"))
    errors = SurveyErrors(datum_accuracy=0.05)

    def doubt(setups):
        surveys = {
            key: SurveyTerms(terms=Terms(errors=errors, plan=np.zeros((900, 2))), setup=setup)
            for key, setup in zip(("existing", "mon", "tue"), setups, strict=True)
        }
        return doubt_from(second - first, surveys).datum

    assert doubt(("old", "one", "one")) == pytest.approx(0.0, abs=1e-6)
    assert doubt(("old", "one", "two")) == pytest.approx(1.96 * 0.05 * AREA * 2**0.5, rel=1e-9)
