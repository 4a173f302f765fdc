"""What the lot's pictures show, against the heights of ground and limits sampled spot by spot."""

from pathlib import Path

import numpy as np
import pytest
import shapely

from terrain.job.grade import graded_told
from terrain.job.graded import grade_out
from terrain.job.load import load_job
from terrain.job.lot_layers import lot_layers_of
from terrain.job.lot_pictures import lot_pictures_of
from terrain.job.volumes import work_out
from terrain.surface.locate import heights_at
from terrain.surface.sampling import heights_over

DEMO = Path(__file__).parents[2] / "terrain" / "cli" / "demo_job" / "job.toml"


@pytest.fixture(scope="module")
def graded():
    return grade_out(work_out(load_job(DEMO)), lambda _: None)


@pytest.fixture(scope="module")
def pictures(graded):
    return lot_pictures_of(graded, lot_layers_of(graded, graded_told(graded), "2026-01-31"))


def ground(graded, plan):
    return heights_at(graded.worked.existing.tin, plan)


def finished(graded, plan):
    """Existing ground held between the limits; where the lot has none, as it was."""
    held = ground(graded, plan)
    lower, upper = heights_over(graded.lot.lower, plan), heights_over(graded.lot.upper, plan)
    return np.where(np.isnan(lower), held, np.minimum(np.maximum(held, lower), upper))


def test_changes_are_finished_less_existing_ground_where_they_stand(graded, pictures):
    changes = pictures.plan.changes
    plan = np.array([change.place for change in changes])
    told = np.array([change.upward for change in changes])
    assert np.abs(finished(graded, plan) - ground(graded, plan) - told).max() < 1e-9
    assert {change.upward > 0 for change in changes if change.is_greatest} == {True, False}


def test_the_deepest_change_is_near_the_greatest_of_a_finer_look(graded, pictures):
    low, high = graded.lot.design.boundary.min(axis=0), graded.lot.design.boundary.max(axis=0)
    rng = np.random.default_rng(4)
    plan = rng.uniform(low, high, (20_000, 2))
    plan = plan[shapely.contains_xy(graded.lot.region, plan[:, 0], plan[:, 1])]
    change = finished(graded, plan) - ground(graded, plan)
    told = [spot.upward for spot in pictures.plan.changes]
    assert min(told) == pytest.approx(change.min(), abs=0.1)
    assert max(told) == pytest.approx(change.max(), abs=0.1)


def test_arrows_point_where_finished_ground_is_lower_by_their_fall(graded, pictures):
    step = 1e-3
    own = 0
    for arrow in pictures.plan.arrows:
        ends = np.array([arrow.place, arrow.place + step * arrow.downhill])
        before, after = finished(graded, ends)
        aside = arrow.place + step * np.array([-arrow.downhill[1], arrow.downhill[0]])
        (beside,) = finished(graded, aside[None])
        if np.isnan([before, after, beside]).any():
            continue
        # on one plane the fall is exact; near a crease it is that of both sides
        own += abs((before - after) / step - arrow.fall) < 1e-6 and abs(beside - before) < 1e-9
    assert own > 0.8 * len(pictures.plan.arrows)


def test_contours_lie_at_their_elevation(graded, pictures):
    for lines, height in ((pictures.plan.before, ground), (pictures.plan.after, finished)):
        assert lines
        for contour in lines:
            middles = (contour.line[1:] + contour.line[:-1]) / 2
            inside = shapely.contains_xy(graded.lot.region, middles[:, 0], middles[:, 1])
            up = height(graded, middles[inside])
            assert np.abs(up[~np.isnan(up)] - contour.upward).max(initial=0.0) < 1e-5


def area(rings):
    return sum(shapely.Polygon(ring).area for ring in rings)


def between(heights, stations):
    """The integral over stations by trapezes, of what is above nought only."""
    return float(np.trapezoid(np.maximum(heights, 0.0), stations))


def test_section_areas_are_those_between_the_grounds(graded, pictures):
    for own in pictures.sections:
        section = own.section
        stations = np.linspace(1e-6, section.high - 1e-6, 40_001)
        out = (section.end - section.start) / (section.high - section.low)
        plan = section.start + (stations - section.low)[:, None] * out
        before, after = ground(graded, plan), finished(graded, plan)
        dig = heights_over(graded.worked.dig.surface, plan)
        hole = np.nan_to_num(np.minimum(before, after) - dig)
        for rings, heights in (
            (own.fill, after - before), (own.trimmed, before - after), (own.backfill, hole),
        ):  # fmt: skip
            assert area(rings) == pytest.approx(between(heights, stations), abs=2e-3)


def test_the_fall_is_that_of_the_finished_line_as_far_as_the_ground_is_the_wall_s_own(pictures):
    for own in pictures.sections:
        assert own.apron is not None
        line = np.concatenate(own.finished)
        there = np.interp(own.reach, line[:, 0], line[:, 1])
        assert own.fall == pytest.approx(own.grade - there, abs=1e-6)
        assert own.fall > 0.04 * own.reach  # IRC R401.3, as quoted, less over the terrace
        if not own.is_cut_short:
            assert own.fall == pytest.approx(own.grade - own.apron[1])


def test_the_ground_is_another_wall_s_where_that_one_is_nearer(pictures):
    design = pictures.plan.design
    house, ends = design.house, np.roll(design.house, -1, axis=0)
    walls = dict(zip(design.walls, shapely.linestrings(np.stack([house, ends], 1)), strict=True))
    cut_short = {}
    for own in pictures.sections:
        section = own.section
        out = (section.end - section.start) / (section.high - section.low)
        face = section.start - section.low * out
        for share in (0.1, 0.5, 0.99):
            here = shapely.Point(face + share * own.reach * out)
            assert here.distance(walls[section.wall]) <= min(map(here.distance, walls.values())) + (
                1e-4
            )
        if own.is_cut_short:
            (other,) = own.onto
            past = shapely.Point(face + (own.reach + 0.1) * out)
            assert past.distance(walls[other]) < past.distance(walls[section.wall])
            cut_short[section.wall] = other
    assert cut_short["street"] == "porch west"
    (patio,) = [own for own in pictures.sections if own.section.wall == "patio"]
    assert (patio.onto, patio.is_cut_short) == (("terrace",), False)


def test_stone_is_not_drawn_above_finished_ground(graded, pictures):
    for own in pictures.sections:
        top = np.concatenate(own.finished)
        for ring in own.section.built.stone:
            beyond = ring[ring[:, 0] > 1e-6]
            lid = np.interp(beyond[:, 0], top[:, 0], top[:, 1])
            assert (beyond[:, 1] <= lid + 1e-9).all()
