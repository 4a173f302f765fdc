"""Cut and fill of finished lots that are known in closed form, to 1e-12 of the gross."""

from fractions import Fraction

import numpy as np
import pytest
import shapely

from terrain.lot.design import Apron
from terrain.surface.overlay import overlay
from tests.lot.made_lot import HOUSE, LOT, design, lot, pad, plane, rotation, swale

F = Fraction
LENGTH, WIDTH = F(40), F(30)
FALL, REACH, SLOPE = F(1, 20), F(10), F(3)


def apron(grades, cut=3.0, fill=3.0, fall=0.05):
    pairs = np.array([g if isinstance(g, tuple) else (g, g) for g in grades], dtype=float)
    return Apron(grades=pairs, fall=fall, fall_distance=10.0, cut_slope=cut, fill_slope=fill)


def changes(finished, ground):
    """Cubic units of cut and fill by cause."""
    count = len(finished.causes)
    cut, fill = overlay(ground, finished.upper), overlay(finished.lower, ground)
    return (
        np.bincount(finished.upper.label[cut.b], cut.volume_above, count),
        np.bincount(finished.lower.label[fill.a], fill.volume_above, count),
    )


def assert_close(seen, wanted, gross=None):
    gross = abs(float(wanted)) if gross is None else float(gross)
    assert abs(float(seen) - float(wanted)) <= 1e-12 * gross, (float(seen), float(wanted))


def strip(length, grow, first, per_run, run):
    """The integral over distances 0 to `run` of a wall that grows, times a height that changes."""
    length, grow, first, per_run, run = map(F, (length, grow, first, per_run, run))
    return (
        length * first * run
        + (length * per_run + grow * first) * run**2 / 2
        + grow * per_run * run**3 / 3
    )


def banked(length, grow, above, ground_fall=0, slope=SLOPE):
    """Fill at one wall: the apron `above` the ground at the wall, then the slope till it catches.

    The ground falls away from the wall by `ground_fall` per run.
    """
    ground_fall = F(ground_fall)
    near = strip(length, grow, above, ground_fall - FALL, REACH)
    edge = above + (ground_fall - FALL) * REACH
    closing = 1 / slope - ground_fall
    return near + strip(length + grow * REACH, grow, edge, -closing, edge / closing)


@pytest.mark.parametrize("degrees", [0.0, 37.0])
def test_fill_round_a_rectangle_on_level_ground(degrees):
    cut, fill = changes(lot(degrees=degrees, apron=apron([101] * 4)), plane(100.0, degrees=degrees))
    wanted = [banked(x, 2, F(1)) for x in (LENGTH, WIDTH) * 2]
    assert cut.sum() == 0.0
    for seen, volume in zip(fill, wanted, strict=True):
        assert_close(seen, volume, sum(wanted))


def test_cut_round_a_rectangle_on_level_ground():
    """The mirror image: the apron falls further, so the cut deepens to its end."""
    cut, fill = changes(lot(apron=apron([99] * 4, cut=2.0)), plane(100.0))
    assert fill.sum() == 0.0
    for seen, length in zip(cut, (LENGTH, WIDTH) * 2, strict=True):
        near = strip(length, 2, 1, FALL, REACH)
        edge = 1 + FALL * REACH
        assert_close(seen, near + strip(length + 20, 2, edge, F(-1, 2), edge * 2), cut.sum())


@pytest.mark.parametrize("ground_fall", [F(1, 32), F(1, 8), F(1, 4)])
def test_fill_slopes_catch_on_a_plane_that_falls_away(ground_fall):
    """At the front wall each line at one distance is level on ground and finished grade alike."""
    ground = plane(100.0, 0.0, float(ground_fall))
    _, fill = changes(lot(apron=apron([102] * 4)), ground)
    assert_close(fill[0], banked(LENGTH, 2, F(2), ground_fall), fill.sum())


def test_cut_slopes_catch_on_a_plane_that_rises():
    ground = plane(100.0, 0.0, 0.125)
    cut, _ = changes(lot(apron=apron([101] * 4)), ground)
    above = 100 + F(30, 8) - 101
    per_run = F(1, 8) + FALL
    near = strip(LENGTH, 2, above, per_run, REACH)
    edge, closing = above + per_run * REACH, F(1, 3) - F(1, 8)
    assert_close(cut[2], near + strip(LENGTH + 20, 2, edge, -closing, edge / closing), cut.sum())


def test_an_apron_over_a_tilted_plane():
    """Filled everywhere as far as the lot goes: each wall's trapezoid at its centroid."""
    boundary = [[-10, -10], [50, -10], [50, 40], [-10, 40]]
    finished = lot(boundary=boundary, apron=apron([110] * 4))
    _, fill = changes(finished, plane(100.0, 0.0625, 0.03125))
    total = F(0)
    for k, length in enumerate((LENGTH, WIDTH) * 2):
        area = strip(length, 2, 1, 0, REACH)
        away = strip(length, 2, 0, 1, REACH) / area
        middle = {0: (20, -away), 1: (40 + away, 15), 2: (20, 30 + away), 3: (-away, 15)}[k]
        ground = 100 + F(1, 16) * F(middle[0]) + F(1, 32) * F(middle[1])
        wanted = area * (110 - FALL * away - ground)
        total += wanted
        assert_close(fill[k], wanted, 10 * area)
    assert_close(fill.sum(), total)


def test_at_inside_corners_the_nearest_wall_rules():
    house = np.array([[0, 0], [60, 0], [60, 25], [30, 25], [30, 55], [0, 55]], dtype=float)
    names = tuple("abcdef")
    finished = lot(house=house, walls=names, apron=apron([101] * 6))
    cut, fill = changes(finished, plane(100.0))
    # the two walls at the inside corner lose there what they gain at their outside corner
    grow = (2, 2, 0, 0, 2, 2)
    wanted = [banked(F(x), g, F(1)) for x, g in zip((60, 25, 30, 30, 30, 55), grow, strict=True)]
    assert cut.sum() == 0.0
    for seen, volume in zip(fill, wanted, strict=True):
        assert_close(seen, volume, sum(wanted))


def test_a_linear_wall_grade():
    boundary = [[-10, -10], [50, -10], [50, 40], [-10, 40]]
    finished = lot(boundary=boundary, apron=apron([(102, 104), 104, (104, 102), 102]))
    _, fill = changes(finished, plane(100.0))
    ends = strip(0, 1, 2, -FALL, REACH) + strip(0, 1, 4, -FALL, REACH)
    for wall in (0, 2):
        assert_close(fill[wall], strip(LENGTH, 0, 3, -FALL, REACH) + ends, fill.sum())
    assert_close(fill[1], strip(WIDTH, 2, 4, -FALL, REACH), fill.sum())
    assert_close(fill[3], strip(WIDTH, 2, 2, -FALL, REACH), fill.sum())


def frustum(length, width, depth, run):
    length, width, depth, run = map(F, (length, width, depth, run))
    return length * width * depth + run * (length + width) * depth**2 + F(4, 3) * run**2 * depth**3


FAR = [[60, -50], [80, -50], [80, -30], [60, -30]]


@pytest.mark.parametrize(("upward", "which"), [(98.0, 0), (101.5, 1)])
def test_a_pad_in_level_ground_is_a_frustum(upward, which):
    finished = lot(apron=apron([100] * 4, fall=0.0), pads=(pad(FAR, upward),))
    found = changes(finished, plane(100.0))
    assert_close(found[which][4], frustum(20, 20, F(abs(upward - 100)), 3))
    assert found[1 - which].sum() == 0.0


def test_a_pad_that_lies_as_the_plane_does_is_the_same_frustum():
    """Its sides lean with it, so depths are what they are in level ground."""
    east, north = 0.03125, 0.0625
    at_corner = 100 + 60 * east - 50 * north
    finished = lot(apron=apron([101] * 4, fall=0.0), pads=(pad(FAR, at_corner - 1.5, east, north),))
    cut, _ = changes(finished, plane(100.0, east, north))
    # heights are of 100: rounding is of their size, not of the cut's
    assert_close(cut[4], frustum(20, 20, F(3, 2), 3), 10 * cut.sum())


@pytest.mark.parametrize("degrees", [0.0, 51.0])
def test_a_swale_with_a_level_bottom_is_a_frustum(degrees):
    line = np.array([[80.0, -40.0], [80.0, 60.0]]) @ rotation(degrees)
    finished = lot(
        degrees=degrees, apron=apron([100] * 4, fall=0.0), swales=(swale(line, [98, 98]),)
    )
    cut, fill = changes(finished, plane(100.0, degrees=degrees))
    assert_close(cut[4], frustum(100, 2, 2, 3))
    assert fill.sum() <= 1e-20


def test_finished_ground_is_the_existing_held_by_the_house_then_by_the_pads_then_by_the_swales():
    """Point by point against the rule written out: distances to a rectangle with mitred corners."""
    pads = (pad(FAR, 98.0, 0.0, 0.02), pad([[-40, 0], [-20, 0], [-20, 30], [-40, 30]], 103.0, 0, 0))
    ditch = swale([[90.0, -55.0], [90.0, 85.0]], [96.0, 99.0])
    finished = lot(apron=apron([101, 101, 101, 101]), pads=pads, swales=(ditch,))
    rng = np.random.default_rng(3)
    spots = rng.uniform(LOT.min(axis=0) + 0.01, LOT.max(axis=0) - 0.01, (4000, 2))
    out = beyond(spots, HOUSE)
    spots, out = spots[out > 0.01], out[out > 0.01]
    ground = 100 + 3 * np.sin(spots[:, 0] / 17) + 2 * np.cos(spots[:, 1] / 11)
    edge = 101 - 0.05 * np.minimum(out, 10)
    further = np.maximum(out - 10, 0) / 3
    wanted = np.clip(ground, edge - further, edge + further)
    lows, highs = [], []
    for own in pads:
        on = own.plane[2] + (spots - own.plane[:2]) @ own.plane[3:]
        away = np.maximum(beyond(spots, own.corners), 0) / 3
        lows.append(on - away)
        highs.append(on + away)
    wanted = np.clip(wanted, np.max(lows, axis=0), np.min(highs, axis=0))
    box = np.array([[89.0, -55.0], [91.0, -55.0], [91.0, 85.0], [89.0, 85.0]])
    bottom = 96.0 + 3.0 * (spots[:, 1] + 55.0) / 140.0
    wanted = np.minimum(wanted, bottom + np.maximum(beyond(spots, box), 0) / 3)
    lower, upper = heights(finished.lower, spots), heights(finished.upper, spots)
    seen = np.minimum(np.maximum(ground, lower), upper)
    assert np.isfinite(seen).all()
    assert np.abs(seen - wanted).max() < 1e-9


def heights(surface, spots):
    """The height at each spot of the face that it lies in, NaN where there is none."""
    faces = [shapely.Polygon(surface.corners(face)) for face in range(len(surface))]
    spot, face = shapely.STRtree(faces).query(shapely.points(spots), predicate="within")
    found = np.full(len(spots), np.nan)
    plane_of = surface.plane[face]
    away = spots[spot] - plane_of[:, :2]
    found[spot] = plane_of[:, 2] + (away * plane_of[:, 3:]).sum(axis=1)
    return found


def beyond(spots, corners):
    """How far out a rectangle must move at unit speed to reach spots; negative inside."""
    low, high = corners.min(axis=0), corners.max(axis=0)
    return np.maximum(low - spots, spots - high).max(axis=1)


def test_the_house_may_be_drawn_from_any_corner():
    grades = [101.0, 102.0, 103.0, 104.0]
    first = changes(lot(apron=apron(grades)), plane(100.0, 0.05, 0.02))
    turned = design(
        house=np.roll(HOUSE, -1, axis=0),
        walls=("right", "back", "left", "front"),
        apron=apron(np.roll(grades, -1).tolist()),
    )
    again = changes(lot(house=turned.house, walls=turned.walls, apron=turned.apron),
                    plane(100.0, 0.05, 0.02))  # fmt: skip
    for one, other in zip(first, again, strict=True):
        assert np.roll(one, -1) == pytest.approx(other, abs=1e-11 * one.sum())
