"""House-sized pits in three real lots: flat, medium, steep."""

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from terrain.job.design import lay_out
from terrain.job.ground import existing_ground, read_survey
from terrain.job.load import load_job
from terrain.job.volumes import volumes
from tests.laws.jobs import figures, ledger, write_job
from tests.oracles import pointwise, sampling, solids
from tests.oracles.dig import Pit
from tests.oracles.moving import Front
from tests.real.lots import LOTS, OVERDIG, RUNS, WALLS, dig_text, floor_of, placed

NAMES = list(LOTS)


def triangles_of(path: Path, middle: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The triangles the job stands on, round the lot's middle.

    Cells of a grid may be cut along either diagonal, so an independent answer has to stand on
    the same ones; that they cover the lot once is checked here.
    """
    job = load_job(path)
    survey = read_survey(job)
    frame = lay_out(job, survey.shots).frame
    tin = existing_ground(job, survey, frame).tin
    shift = np.append(frame.origin - middle, 0.0)
    points = tin.points + shift
    corners = tin.triangles.astype(np.int64)
    a, b, c = (points[corners[:, k], :2] for k in range(3))
    twice = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    assert len(corners) == 2 * 39 * 39
    assert twice.min() > 0.99
    assert twice.max() < 1.01
    return points, corners


def heights_over(points: np.ndarray, corners: np.ndarray) -> Callable[[np.ndarray], np.ndarray]:
    """The ground's height at plan points (n, 2): of the two triangles of a cell, the one around."""
    at = points[corners]
    cell = np.round(at[:, :, :2].min(axis=1) - points[:, :2].min(axis=0)).astype(int)
    order = np.lexsort([cell[:, 0], cell[:, 1]]).reshape(39, 39, 2)

    def height(plan: np.ndarray) -> np.ndarray:
        east, north = np.floor(plan - points[:, :2].min(axis=0)).astype(int).T
        best, found = np.full(len(plan), -np.inf), np.zeros(len(plan))
        for half in range(2):
            a, b, c = (at[order[north, east, half], k] for k in range(3))
            sides = np.stack([b[:, :2] - a[:, :2], c[:, :2] - a[:, :2]], axis=2)
            share = np.linalg.solve(sides, (plan - a[:, :2])[:, :, None])[:, :, 0]
            share = np.column_stack([1 - share.sum(axis=1), share])
            here = (share * np.column_stack([a[:, 2], b[:, 2], c[:, 2]])).sum(axis=1)
            inside = share.min(axis=1)
            found = np.where(inside > best, here, found)
            best = np.maximum(best, inside)
        return found

    return height


@pytest.fixture(params=NAMES)
def lot(request, lots, tmp_path):
    points = lots[request.param]
    middle, corners = placed(points)
    floor = floor_of(request.param, points, corners)
    job = write_job(tmp_path, points, corners, WALLS, dig_text(floor), unit="m")
    return points, middle, corners, floor, job


def test_each_lot_is_as_steep_as_the_sources_say(lots):
    """1.2, 18 and 43 per cent: the mean fall of a plane through each lot."""
    for name, grade in zip(NAMES, (0.012, 0.18, 0.43), strict=True):
        points = lots[name] - lots[name].mean(axis=0)
        east, north = np.linalg.lstsq(points[:, :2], points[:, 2], rcond=None)[0]
        assert math.hypot(east, north) == pytest.approx(grade, rel=0.08)


def test_the_pit_is_the_closed_solids_volume(lot):
    points, middle, corners, floor, job = lot
    tin, triangles = triangles_of(job, middle)
    front = Front.of(corners - middle)
    height = float(np.ptp(points[:, 2])) + 10.0
    pit = solids.sloped_pit(front.normal, front.reach + OVERDIG, RUNS, floor, height)
    earth = solids.prisms(tin, triangles, floor - 50.0)
    wanted = (earth ^ pit).volume()
    assert ledger(job).total.quantity.bank == pytest.approx(wanted, rel=1e-9)


def test_sampling_finds_the_pits_volume(lot):
    _, middle, corners, floor, job = lot
    tin, triangles = triangles_of(job, middle)
    existing = heights_over(tin, triangles)
    pit = Pit(corners - middle, OVERDIG.tolist(), [[(float(r), 1.0)] for r in RUNS], floor)
    seen, doubt = sampling.volume(
        existing,
        lambda p: pointwise.convex_dig(pit, p, 40.0),
        (-19.0, -19.0, 19.0, 19.0),
        400,
    )
    bank = ledger(job).total.quantity.bank
    assert doubt < 2e-3 * bank
    assert abs(seen - bank) < 4 * doubt


def test_walls_sum_to_the_pit_and_parts_to_walls(lot):
    answer = ledger(lot[-1])
    assert min(w.quantity.bank for w in answer.walls) > 0.0
    assert math.fsum(w.quantity.bank for w in answer.walls) == pytest.approx(
        answer.total.quantity.bank, rel=1e-13
    )
    for wall in answer.walls:
        parts = wall.parts
        assert parts.core + parts.overdig + parts.side == pytest.approx(
            wall.quantity.bank, rel=1e-13
        )


def test_drawing_the_house_backwards_changes_nothing(lot, tmp_path):
    points, _, corners, floor, job = lot
    folder = tmp_path / "backwards"
    folder.mkdir()
    backwards, walls = np.roll(corners[::-1], 1, axis=0), WALLS[::-1]
    other = write_job(folder, points, backwards, walls, dig_text(floor), unit="m")
    seen, wanted = figures(ledger(other)), figures(ledger(job))
    for name, volume in wanted.items():
        assert seen[name] == pytest.approx(volume, abs=1e-11 * wanted["total"]), name


def test_moving_the_lot_by_whole_metres_changes_nothing(lot, tmp_path):
    points, middle, corners, floor, job = lot
    folder = tmp_path / "moved"
    folder.mkdir()
    shift = np.array([*middle, 0.0])
    other = write_job(folder, points - shift, corners - middle, WALLS, dig_text(floor), unit="m")
    seen, wanted = figures(ledger(other)), figures(ledger(job))
    for name, volume in wanted.items():
        assert seen[name] == pytest.approx(volume, abs=1e-11 * wanted["total"]), name


def test_topsoil_is_the_strip_times_the_area_cut_where_the_cut_is_deep(lot):
    """No row holds more than its plan area times the strip, and the whole nearly that."""
    answer = volumes(load_job(lot[-1])).ledger
    for wall in answer.walls:
        assert 0.0 < wall.topsoil <= 0.15 * wall.plan_area * (1 + 1e-9)
        assert wall.topsoil <= wall.quantity.bank
    assert answer.total.topsoil > 0.9 * 0.15 * answer.daylight_area
