"""Dig plans of made lots, every order of each. Error: earth placed against the ledger."""

import sys
from pathlib import Path

import numpy as np

from scripts.benchmarks.case import Case
from scripts.benchmarks.rows import lots_of
from terrain.job.dig_plan import plan_out
from terrain.job.dig_plan_planned import Planned
from terrain.job.load import load_job
from terrain.job.volumes import work_out

SHOTS = """point,northing,easting,elevation
1,-150,-150,{0}
2,-150,250,{1}
3,250,250,{2}
4,250,-150,{3}
"""
JOB = """[site]
length_unit = "ft"
[existing]
shots = ["{name}.csv"]
[soil]
material = "common earth"
[foundation]
corners = {corners}
walls = {walls}
[dig]
floor = 92.0
overdig = 2.0
side = {side}
[haul]
truck = 14.0
[machine]
weight_tonnes = {weight}
[spoil]
height = {height}
[lot]
boundary = {line}
"""


def orders(count: int, folder: Path) -> Case[list[Planned]]:
    """All orders of rectangles and jogs on slopes, with machines of several sizes."""
    jobs = [_job(np.random.default_rng(seed), seed, folder) for seed in range(lots_of(count))]

    def error(plans: list[Planned]) -> float:
        saved = [1 - one.hours / one.nearest for plan in plans for one in plan.orders]
        assert min(saved) >= -1e-9, "an order is dearer than casting to the nearest side"
        print(
            f"  {len(plans)} lots: against casting to the nearest side the best order saves "
            f"{np.mean([1 - p.best.hours / p.best.nearest for p in plans]):.1%} of the "
            f"machine-hours, any order {np.mean(saved):.1%} and up to {max(saved):.1%}",
            file=sys.stderr,
        )
        return max(_misplaced(plan) for plan in plans)

    return Case(work=lambda: [plan_out(work_out(load_job(job))) for job in jobs], error=error)


def _misplaced(plan: Planned) -> float:
    """What the best order casts and leaves against the ledger, as a share of it."""
    best, total = plan.best, plan.worked.figures.total
    cast = float(best.shipped.cast.sum()) / (1.0 + plan.terms.swell)
    return abs(cast + best.left_bank - total) / total


def _job(rng: np.random.Generator, seed: int, folder: Path) -> Path:
    """A job file of a made lot."""
    width, height = rng.uniform(34, 60), rng.uniform(28, 44)
    corners = [[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]]
    if seed % 2:
        across, down = rng.uniform(8, 16), rng.uniform(8, 14)
        corners[2:3] = [[width, height - down], [width - across, height - down],
                        [width - across, height]]  # fmt: skip
    room = rng.uniform(20, 60, 4)
    line = [[-room[0], -room[1]], [width + room[2], -room[1]],
            [width + room[2], height + room[3]], [-room[0], height + room[3]]]  # fmt: skip
    text = JOB.format(
        name=f"lot{seed}",
        corners=[[float(v) for v in corner] for corner in corners],
        walls=[f"w{k}" for k in range(len(corners))],
        side=rng.choice([0.75, 1.0]),
        weight=rng.choice([8.0, 14.0, 20.0]),
        height=rng.uniform(4.0, 8.0),
        line=[[float(v) for v in corner] for corner in line],
    )
    (folder / f"lot{seed}.csv").write_text(SHOTS.format(*rng.uniform(98.5, 101.5, 4)))
    job = folder / f"lot{seed}.toml"
    job.write_text(text.replace("'", '"'))
    return job
