"""A wall grade changed on a lot that is worked out. Error: the fill, in level ground."""

from pathlib import Path

import numpy as np
from scipy.spatial import Delaunay

from scripts.benchmarks.case import Case
from scripts.benchmarks.made import HALF, Floats, plane_shots
from scripts.benchmarks.peers import above, grid_over, interpolated, ready
from terrain.base.frame import LocalFrame
from terrain.base.units import FOOT
from terrain.ledger.lot_account import LotAccount, account_of
from terrain.ledger.lot_dug import Dug, Sides, dug_of
from terrain.lot.design import Apron, LotDesign
from terrain.lot.finish import Finished, finished
from terrain.lot.structure import Structure
from terrain.pit.design import Design, Wall
from terrain.pit.dig import dig_of
from terrain.surface.screen import screen_of
from terrain.surface.tin import build_tin, tin_surface

LEVEL = np.array([0.0, 0.0, 100.0, 0.0, 0.0])
NAMES = ("front", "right", "back", "left")
LENGTH, WIDTH, FALL, REACH, SLOPE = 40.0, 30.0, 0.05, 10.0, 3.0
CORNERS = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [LENGTH / 2, WIDTH / 2]
BEFORE, AFTER = 101.0, 101.1


def fill(height: float) -> float:
    """Round a house with its ground so far above level ground: apron and slope, mitred."""
    around, edge = 2 * (LENGTH + WIDTH), height - FALL * REACH
    near = around * (REACH * height - FALL * REACH**2 / 2)
    near += 8 * (height * REACH**2 / 2 - FALL * REACH**3 / 3)
    run = SLOPE * edge
    return near + (around + 8 * REACH) * edge * run / 2 + 8 * edge * run**2 / 6


def graded(shots: Floats, grade: float) -> Finished:
    """The finished lot at a wall grade."""
    apron = Apron(
        grades=np.full((4, 2), grade), fall=FALL, fall_distance=REACH, cut_slope=SLOPE,
        fill_slope=SLOPE,
    )  # fmt: skip
    line = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]]) * HALF
    design = LotDesign(house=CORNERS, walls=NAMES, apron=apron, boundary=line)
    return finished(design, shots, LocalFrame(), FOOT)


def known(shots: Floats) -> Dug:
    """What the dig alone fixes."""
    walls = tuple(Wall(name=n, overdig=2.0, side=((1.0, 1.0),)) for n in NAMES)
    design = Design(corners=CORNERS, walls=walls, number=(0, 1, 2, 3), floor=92.0)
    own = Structure(
        corners=CORNERS, underside=92.0, footing_width=1.67, footing_depth=0.67, projection=0.5,
        beyond=1.0, over=0.5,
    )  # fmt: skip
    sides = Sides(names=NAMES, of_house=(0, 1, 2, 3), of_foundation=(0, 1, 2, 3))
    ground = tin_surface(build_tin(shots))
    return dug_of(screen_of(ground), dig_of(design, shots), graded(shots, BEFORE), own, sides)


def ours(count: int, folder: Path) -> Case[LotAccount]:
    """The finished lot and its account anew; the survey and the dig are worked out already."""
    shots = plane_shots(count, 61, LEVEL)
    dug = known(shots)
    return Case(
        work=lambda: account_of(dug, graded(shots, AFTER)),
        error=lambda account: abs(account.grade_fill.sum() / fill(AFTER - LEVEL[2]) - 1),
    )


def scipy_grid(count: int, folder: Path) -> Case[float]:
    """Differences on a grid of as many cells as shots; heights of the ground there are given."""
    shots = plane_shots(count, 61, LEVEL)
    grid, cell = grid_over(HALF, count)
    ground = interpolated(shots, ready(Delaunay(shots[:, :2])), grid)

    def work() -> float:
        away = (np.abs(grid) - [LENGTH / 2, WIDTH / 2]).max(axis=1)
        top = AFTER - FALL * np.minimum(away, REACH) - np.maximum(away - REACH, 0.0) / SLOPE
        return above(np.where(away > 0, top - ground, 0.0), cell)

    return Case(work=work, error=lambda found: abs(found / fill(AFTER - LEVEL[2]) - 1))
