"""Shots read from CSV. Error: how far the worst is off its plane, as a share of the dig's depth."""

from pathlib import Path

import numpy as np

from scripts.benchmarks.case import Case
from scripts.benchmarks.files import (
    FLOOR,
    MIDDLE,
    PER_EASTING,
    PER_NORTHING,
    UPWARD,
    made_apart,
)
from scripts.benchmarks.made import Floats
from terrain.base.units import METRE
from terrain.survey.read import ReadOptions, Survey, read_shots

SHOTS = "shots.csv"


def _off_plane(plan: Floats, elevation: Floats) -> float:
    upward = UPWARD + (plan - MIDDLE) @ np.array([PER_EASTING, PER_NORTHING])
    return float(np.abs(elevation - upward).max() / (UPWARD - FLOOR))


def ours(count: int, folder: Path) -> Case[Survey]:
    """Read, checked, its checksum made, repeats merged."""
    made_apart("job", count, folder)
    options = ReadOptions(unit=METRE, folder=folder)
    return Case(
        work=lambda: read_shots([SHOTS], options),
        error=lambda survey: _off_plane(survey.shots.plan, survey.shots.elevation),
    )


def numpy(count: int, folder: Path) -> Case[Floats]:
    """The numbers alone by numpy.loadtxt."""
    made_apart("job", count, folder)
    return Case(
        work=lambda: np.loadtxt(folder / SHOTS, delimiter=",", skiprows=1),
        error=lambda table: _off_plane(table[:, [2, 1]], table[:, 3]),
    )
