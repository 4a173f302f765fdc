"""The graded lot's own 95 % holds, its bias from noise is as told, and NSSDA's figures come out."""

import math

import numpy as np
import pytest

from terrain.asdug.graded import check_grade, finished_by_side, heights_above, shot_errors
from terrain.asdug.graded_falls import wall_falls
from terrain.base.units import FOOT
from terrain.ledger.errors_said import SurveyErrors
from terrain.ledger.ground import Ground
from terrain.lot.fall_rays import fall_rule
from terrain.lot.ground import finished_ground
from terrain.surface.tin import build_tin, tin_surface
from tests.lot.made_lot import HOUSE, apron, lot, plane

SCATTER = 0.05
TRIALS = 300


def shots_of(finished):
    """Where the lot is shot: round the house, and over the lawn, at finished height."""
    corners = HOUSE.mean(axis=0)
    rings = [corners + (HOUSE - corners) * (1 + off / np.abs(HOUSE - corners)) for off in
             (0.0, 5.0, 10.0)]  # fmt: skip
    spots = [
        ring[k] + share * (ring[(k + 1) % 4] - ring[k])
        for ring in rings
        for k in range(4)
        for share in np.arange(6) / 6
    ]
    east, north = np.meshgrid(np.arange(-58.0, 99.0, 12.0), np.arange(-58.0, 89.0, 12.0))
    spots += [s for s in np.column_stack([east.ravel(), north.ravel()])
              if max(abs(s[0] - 20) - 20, abs(s[1] - 15) - 15) > 13]  # fmt: skip
    plan = np.array(spots)
    upward = -heights_above(np.column_stack([plan, np.zeros(len(plan))]), finished)
    return np.column_stack([plan, upward])


def as_ground(points, accuracy):
    tin = build_tin(points)
    return Ground(
        surface=tin_surface(tin),
        points=tin.points,
        triangles=tin.triangles,
        errors=SurveyErrors(accuracy=accuracy),
    )


@pytest.fixture(scope="module")
def site():
    """A lot that falls at 1:20 for 10 ft and is level beyond, so that few shots make it exactly."""
    ground = plane(100.5)
    made = lot(apron=apron(fall=0.05, grade=101.0))
    finished = finished_by_side(ground, made, np.arange(4))
    return made, finished, shots_of(finished_ground(ground, made).whole)


def test_the_net_of_every_side_is_within_its_doubt_19_times_in_20(site):
    _, finished, points = site
    random = np.random.default_rng(77)
    exact = check_grade(as_ground(points, SCATTER), finished, 4, 0.1)
    held = np.zeros(5)
    for _ in range(TRIALS):
        seen = points + random.normal(0.0, SCATTER, len(points))[:, None] * [0.0, 0.0, 1.0]
        check = check_grade(as_ground(seen, SCATTER), finished, 4, 0.1)
        for k, (one, true) in enumerate(
            zip((*check.sides, check.whole), (*exact.sides, exact.whole), strict=True)
        ):
            held[k] += abs(one.net - true.net) <= one.doubt.together
    assert ((held / TRIALS > 0.92) & (held / TRIALS < 0.98)).all(), held / TRIALS


def test_the_fall_of_every_station_is_within_its_doubt_19_times_in_20(site):
    made, _, points = site
    random = np.random.default_rng(78)
    rule = fall_rule(FOOT)

    def stations(seen):
        walls = wall_falls(as_ground(seen, SCATTER), made, rule, None, 2.0)
        return [station for wall in walls for station in wall.stations]

    exact = [station.fall for station in stations(points)]
    assert exact == pytest.approx([0.5] * len(exact), abs=1e-6)
    held = np.zeros(len(exact))
    trials = 150
    for _ in range(trials):
        seen = points + random.normal(0.0, SCATTER, len(points))[:, None] * [0.0, 0.0, 1.0]
        for k, station in enumerate(stations(seen)):
            held[k] += abs(station.fall - 0.5) <= station.plus_minus_95
    assert 0.93 <= held.mean() / trials <= 0.97
    assert (held / trials > 0.86).all()


def test_noise_alone_makes_high_and_low_of_about_what_is_told_and_no_net(site):
    """The mean of the positive part of a normal error, 1 / sqrt(2 pi) of its deviation, is what
    every shot adds; between shots errors average, so a surface shows somewhat less."""
    _, finished, points = site
    random = np.random.default_rng(79)
    high, net = [], []
    for _ in range(100):
        seen = points + random.normal(0.0, SCATTER, len(points))[:, None] * [0.0, 0.0, 1.0]
        check = check_grade(as_ground(seen, SCATTER), finished, 4, 0.1).whole
        high.append(check.high)
        net.append(check.net)
    told = 0.4 * SCATTER * check.area
    assert check.thin_cut == pytest.approx(told, rel=1e-12)
    assert 0.55 * told < np.mean(high) < told
    assert abs(np.mean(net)) < 0.2 * told
    assert 1.0 / math.sqrt(2.0 * math.pi) == pytest.approx(0.4, abs=0.002)


def test_rmse_and_its_95_per_cent_are_nssda_s(site):
    """NSSDA: 1.96 RMSE, 0.0574002 -> 0.1125044; RMSE^2 = mean^2 + sd^2 (n - 1) / n (SOURCES 6)."""
    _, finished, points = site
    off = np.random.default_rng(80).normal(0.01, SCATTER, len(points))
    off *= 0.0574002 / math.sqrt(np.mean(off**2))
    seen = points.copy()
    seen[:, 2] += off
    told = shot_errors(as_ground(seen, None), finished)
    n = len(told.error)
    assert n == len(points)
    assert told.rmse == pytest.approx(0.0574002, abs=1e-9)
    assert told.at_95 == pytest.approx(0.1125044, abs=1e-7)
    assert told.rmse**2 == pytest.approx(told.mean**2 + told.deviation**2 * (n - 1) / n, rel=1e-9)
