"""Noisy holes through the whole check: false alarms, and what is stated of holes with a fault."""

from collections import defaultdict
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import binom

from terrain.asdug.told_apart import Kind
from terrain.job.asdug import surveyed_hole
from terrain.job.load import load_job
from terrain.job.progress import progress_surveys
from terrain.job.progress_days import days_from
from terrain.job.verify import checked
from terrain.job.verify_judge import judged
from terrain.job.verify_measure import steep_spot
from terrain.job.verify_slope import is_steeper
from terrain.job.volumes import work_out
from tests.job.made_hole import FLOOR, MadeHole, hole_job, ring

SIGMA, HOLES = 0.05, 1000
TIGHT = {"line_tolerance": 1e-9, "floor_tolerance": 1e-9}


def leaning():
    """A hole with sides of one to one, faces shot at a third and two thirds of the depth."""
    hole = MadeHole()
    rows = [f"{e!r},{n!r},{z!r},toe" for e, n, z in hole.toe.tolist()]
    rows += [f"{e!r},{n!r},{z!r},floor" for e, n, z in hole.floor.tolist()]
    for high in (2.5, 5.0):
        rows += [f"{e!r},{n!r},{FLOOR + high!r},face" for e, n in ring(2.0 + high).tolist()]
    return "\n".join(["easting,northing,elevation,code", *rows]) + "\n"


@pytest.mark.parametrize("tolerance", [{}, TIGHT])
@pytest.mark.parametrize("side", [0.0, 1.0])
def test_of_holes_dug_to_design_at_most_five_in_a_hundred_have_any_fault(tmp_path, side, tolerance):
    """Walls, floor and steep faces together, as the command judges them."""
    shots = MadeHole() if side == 0.0 else leaning()
    job = hole_job(
        tmp_path, shots, asdug={"accuracy": SIGMA}, dig={"side": side}, verify=tolerance
    )  # fmt: skip
    worked = work_out(load_job(job))
    day, generator, alarms = surveyed_hole(worked, 0), np.random.default_rng(2028), 0
    for _ in range(HOLES):
        points = day.hole.points + generator.normal(0.0, SIGMA, day.hole.points.shape)
        noisy = replace(day, hole=replace(day.hole, points=points))
        found = judged(worked, noisy)
        steep = any(
            steep_spot(worked, noisy, row, found.lines[row], found.limits)
            or is_steeper(worked, noisy, row, found.lines[row], found.limits)
            for row in range(4)
        )
        alarms += found.verdict != "ready" or steep
    assert (day.hole.kind == Kind.FACE).any() == (side > 0.0)
    assert alarms <= binom.ppf(0.999, HOLES, 0.05)
    if tolerance:
        assert alarms > 0.005 * HOLES


def faulty(fault):
    hole = MadeHole()
    if fault == "moved":
        hole.moved(0.3, 0.0)
    elif fault == "turned":
        hole.turned(0.5)
    elif fault == "bowed":
        hole.toe[3, 1] -= 0.4
    else:
        hole.toe[0, 2] += 0.5
    return hole


def figures(found):
    """Every figure with a plus-or-minus, by name."""
    for wall in found.walls:
        for name in ("least", "mean", "most", "turn_degrees", "bow"):
            yield name, getattr(wall, name)
        for name in ("overdug", "underdug", "net"):
            yield name, getattr(wall.amounts, name)
    for corner in found.corners:
        yield "offset", corner.offset
        yield "angle", corner.angle_degrees
    for one in found.diagonals:
        yield "diagonal", one.dug
    yield "undercut", found.undercut
    yield "high", found.floor.high_volume
    yield "low", found.floor.low_volume


def test_what_is_stated_of_holes_with_a_fault_holds(tmp_path):
    """Against the same hole without noise: moved, turned, bowed, a corner left high; 12 of each."""
    worked = work_out(load_job(hole_job(tmp_path, MadeHole(), asdug={"accuracy": SIGMA})))

    def seen(hole):
        (tmp_path / "asdug.csv").write_text(hole.text())
        return checked(worked, surveyed_hole(worked, 0))

    held = defaultdict(list)
    for fault in ("moved", "turned", "bowed", "high"):
        truth = list(figures(seen(faulty(fault))))
        for seed in range(12):
            generator, hole = np.random.default_rng(700 + seed), faulty(fault)
            for points in (hole.toe, hole.floor):
                points += generator.normal(0.0, SIGMA, points.shape)
            for (name, one), (_, other) in zip(figures(seen(hole)), truth, strict=True):
                held[name].append(abs(one.value - other.value) <= one.plus_minus_95)
    for name, told in held.items():
        # the same noise is on all four faults: so many figures tell as much as a quarter of them
        few = len(told) // 4
        assert np.mean(told) >= binom.ppf(0.001, few, 0.95) / few, name


def test_what_is_stated_of_progress_holds_where_upright_faces_stand_in_the_dig(tmp_path):
    """Dug half a foot short of the line all round, so that faces in error count: 40 holes."""
    path = hole_job(tmp_path, MadeHole(), asdug={"accuracy": SIGMA})
    worked = work_out(load_job(path))

    def dug(hole):
        (tmp_path / "asdug.csv").write_text(hole.text())
        (day,) = progress_surveys(worked, days_from(worked, [surveyed_hole(worked, 0)]))
        return [row.dug for row in (*day.rows, day.total)]

    truth, off = dug(MadeHole(toe=ring(1.5))), []
    for seed in range(40):
        generator, hole = np.random.default_rng(900 + seed), MadeHole(toe=ring(1.5))
        for points in (hole.toe, hole.floor):
            points += generator.normal(0.0, SIGMA, points.shape)
        off += [
            (one.volume - other.volume) / one.plus_minus_95
            for one, other in zip(dug(hole), truth, strict=True)
        ]
    held = np.abs(off) <= 1.0
    assert np.mean(held) >= binom.ppf(0.001, len(held), 0.95) / len(held)
    assert 0.8 < 1.96 * np.sqrt(np.mean(np.square(off))) < 1.2
