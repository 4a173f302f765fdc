"""Piles and trucks as far from the edge as the cut is deep there, where the job asks for it."""

import numpy as np
import pytest
import shapely

from terrain.job.dig_plan import plan
from terrain.job.load import load_job
from tests.job.made_job import small, write_job


def planned(folder, **spoil):
    return plan(load_job(write_job(folder, small() | {"spoil": spoil, "machine": {}})))


@pytest.fixture(scope="module")
def plans(tmp_path_factory):
    """The made job with piles a setback from the edge, and as far as the cut is deep."""
    return {
        deep: planned(tmp_path_factory.mktemp(f"deep{deep}"), setback=2.0, as_deep=deep)
        for deep in (False, True)
    }


def nearest(answer):
    """How near what is heavy comes to the cut's edge."""
    heavy = [place.ground for place in answer.places if place.kind == "side"]
    heavy += [shapely.Polygon(truck.ring) for truck in answer.trucks]
    return min(shape.distance(answer.site.daylight) for shape in heavy if not shape.is_empty)


def test_what_is_heavy_keeps_the_setback_or_the_depth(plans):
    low, high = (
        agg(cut.depth[which] for cut in plans[True].ground.cuts)
        for agg, which in ((min, 0), (max, 1))
    )
    assert low > 4.0
    assert 2.0 - 0.01 <= nearest(plans[False]) < low
    assert nearest(plans[True]) >= low - 0.01
    assert nearest(plans[True]) <= high + 0.5


def test_every_spot_of_the_edge_is_as_far_from_piles_as_the_dig_is_deep_there(plans):
    answer = plans[True]
    edge = answer.site.daylight.boundary
    ground = shapely.union_all([p.ground for p in answer.places if p.kind == "side"])
    lowest = min(cut.depth[0] for cut in answer.ground.cuts)
    for share in np.linspace(0.0, 1.0, 60):
        assert ground.distance(edge.interpolate(share, normalized=True)) >= lowest - 0.01


def test_the_pages_caution_says_which_of_both_it_is(plans):
    said = {
        deep: next(c.message for c in answer.cautions if c.code == "plan-surcharge")
        for deep, answer in plans.items()
    }
    assert "as far from the edge as the cut is deep there" in said[True]
    assert "Piles and tracks are 2 ft from the edge" in said[False]
    assert (plans[True].spoil.as_deep, plans[False].spoil.as_deep) == (True, False)
