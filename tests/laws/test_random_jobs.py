"""Random jobs, whole: walls, pits, ramps and trenches of random kinds, row by row by the oracle."""

from pathlib import Path

import numpy as np
import pytest

from tests.laws.jobs import ledger, write_job
from tests.laws.test_independent import L_CORNERS, STEPS
from tests.oracles.job import expected

RECTANGLE = np.array([[-24.0, -14], [24, -14], [24, 14], [-24, 14]])
PIT_SIDES = ("0.0", "0.5", "1.0", "[[0.0, 2.0], [1.0, 0.0]]")
AGREES = 1e-9


def shots(random: np.random.Generator) -> np.ndarray:
    """Uneven ground (84, 3) to the thousandth, about 8 above the floor."""
    edge = [(-75.0, -75.0), (75.0, -75.0), (75.0, 75.0), (-75.0, 75.0)]
    plan = np.concatenate([random.uniform(-70, 70, (80, 2)), edge])
    upward = 100 + 0.05 * plan[:, 0] - 0.04 * plan[:, 1] + random.normal(0.0, 0.8, len(plan))
    return np.round(np.column_stack([plan, upward]), 3)


def line(random: np.random.Generator, points: int) -> list[list[float]]:
    """A line of so many points whose bends stay under 100 degrees."""
    at, heading = random.uniform(-25, 25, 2), random.uniform(0.0, 2 * np.pi)
    out = [at]
    for _ in range(points - 1):
        at = at + random.uniform(10, 24) * np.array([np.cos(heading), np.sin(heading)])
        heading += random.uniform(-1.7, 1.7)
        out.append(at)
    return np.round(out, 3).tolist()


def dig_of(random: np.random.Generator, walls: list[str], turn: np.ndarray) -> str:
    """What follows `[dig]`."""
    text = "floor = 92.0\noverdig = 2.0\nside = 1.0\ntopsoil_strip = 0.5\n"
    for wall in walls:
        steps = [list(s) for s in STEPS[random.choice(list(STEPS))]]
        text += f"[dig.walls.{wall}]\noverdig = {random.choice([1.0, 1.5, 2.0, 3.0])}\n"
        text += f"side = {steps}\n"
    for number in range(random.integers(0, 3)):
        half = random.uniform(1, 5, 2) * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
        corners = np.round(half @ turn.T + random.uniform(-24, 24, 2), 3).tolist()
        text += f'[[dig.pits]]\nname = "pit {number}"\ncorners = {corners}\n'
        text += f"floor = {random.uniform(90, 97):.2f}\noverdig = {random.choice([0.0, 0.5])}\n"
        text += f"side = {random.choice(PIT_SIDES)}\n"
    for number in range(random.integers(0, 3)):
        text += f'[[dig.ramps]]\nname = "ramp {number}"\nline = {line(random, 2)}\n'
        text += f"width = {random.uniform(8, 14):.1f}\n"
        text += f"run_per_rise = {random.uniform(2, 6):.1f}\n"
    for number in range(random.integers(0, 3)):
        text += f'[[dig.trenches]]\nname = "trench {number}"\nline = {line(random, 3)}\n'
        text += f"width = {random.uniform(1, 3):.1f}\nfloor = {random.uniform(90, 98):.2f}\n"
        text += f"side = {random.choice([0.0, 0.5, 1.0])}\n"
    return text


def random_job(folder: Path, seed: int) -> Path:
    """A job with a house that is turned at every other seed."""
    random = np.random.default_rng(seed)
    house = RECTANGLE if seed % 4 < 2 else L_CORNERS
    angle = random.uniform(0.0, 2 * np.pi) * (seed % 2)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    walls = [f"w{k}" for k in range(len(house))]
    dig = dig_of(random, walls, turn)
    corners = np.round(house @ turn.T, 2)
    return write_job(folder, shots(random), corners, walls, dig, existing="datum_accuracy = 0.02")


@pytest.mark.parametrize("seed", range(12))
def test_every_row_of_a_random_job_is_the_oracles(seed, tmp_path):
    job = random_job(tmp_path, seed)
    answer, wanted = ledger(job), expected(job)
    gross = wanted["total"]["bank"]

    def near(seen: float | None, known: float) -> None:
        assert seen == pytest.approx(known, abs=AGREES * gross)

    for row, known in zip(answer.walls, wanted["walls"], strict=True):
        for part, volume in known["parts"].items():
            near(getattr(row.parts, part), volume)
        near(row.topsoil, known["topsoil"])
        near(row.doubt.survey, known["survey_plus_minus_95"])
    for extra, known in zip(answer.pits, wanted["pits"], strict=True):
        near(extra.quantity.bank, known["bank"])
        near(extra.topsoil, known["topsoil"])
        near(extra.doubt.survey, known["survey_plus_minus_95"])
    near(answer.total.quantity.bank, gross)
    near(answer.daylight_area, wanted["daylight_area"])
    near(answer.deepest_cut, wanted["deepest_cut"])
