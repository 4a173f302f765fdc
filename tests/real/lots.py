"""Three 40 m lots of a real hillside, and a house-sized pit in each, as jobs.

Run as `python -m tests.real.lots flat|medium|steep FOLDER` it writes one of the jobs.
"""

import sys
from pathlib import Path

import numpy as np
import rasterio

from tests.laws.jobs import write_job
from tests.real import open_data

CELLS = 40
LOTS = {"flat": (160, 0), "medium": (140, 120), "steep": (300, 40)}
"""Row and column of each lot's north-west cell in the elevation model (SOURCES, section 9)."""

WALLS = ["low side", "clip", "right", "high side", "left"]
SHAPE = np.array([[-7.0, -4.5], [5.0, -4.5], [7.0, -2.5], [7.0, 4.5], [-7.0, 4.5]])
OVERDIG = np.array([0.6, 0.5, 0.6, 0.9, 0.6])
RUNS = np.array([0.75, 1.0, 0.5, 0.75, 0.5])
BELOW = {"flat": 2.4, "medium": 1.2, "steep": 0.3}
"""How far the floor lies below the lowest ground at a corner, in metres."""


def cells(cache: Path) -> dict[str, np.ndarray]:
    """Cell centres (1600, 3) of each lot: UTM easting, northing, elevation, in metres.

    The grid's origin is taken to the whole metre, so that a move of the lot loses no digit.
    """
    with rasterio.open(open_data.elevation_model(cache)) as model:
        assert model.crs.to_epsg() == 26915
        assert tuple(model.transform)[:6:2] == (1.0, model.transform.c, -1.0)
        upward = model.read(1).astype(np.float64)
        out = {}
        for name, (top, left) in LOTS.items():
            rows, columns = np.mgrid[top : top + CELLS, left : left + CELLS]
            easting = round(model.transform.c) + columns.ravel() + 0.5
            northing = round(model.transform.f) - rows.ravel() - 0.5
            here = upward[top : top + CELLS, left : left + CELLS].ravel()
            out[name] = np.column_stack([easting, northing, here])
    return out


def placed(points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The middle of a lot, and the house there with its low side square to the fall.

    Corners are whole 1024ths of a metre, so that a move loses no digit.
    """
    middle = np.round(points[:, :2].mean(axis=0))
    shifted = np.column_stack([points[:, :2] - middle, np.ones(len(points))])
    slope = np.linalg.lstsq(shifted, points[:, 2], rcond=None)[0][:2]
    up = slope / np.linalg.norm(slope)
    across = np.array([up[1], -up[0]])
    return middle, middle + np.round(SHAPE @ np.array([across, up]) * 1024) / 1024


def floor_of(name: str, points: np.ndarray, corners: np.ndarray) -> float:
    """So far below the lowest ground near a corner, to the centimetre."""
    near = [points[np.argmin(np.linalg.norm(points[:, :2] - c, axis=1)), 2] for c in corners]
    return round(float(min(near)) - BELOW[name], 2)


def dig_text(floor: float) -> str:
    """The dig as a job says it."""
    text = f"floor = {floor}\noverdig = 0.6\nside = 0.75\ntopsoil_strip = 0.15\n"
    for wall, overdig, run in zip(WALLS, OVERDIG, RUNS, strict=True):
        text += f'[dig.walls."{wall}"]\noverdig = {overdig}\nside = {run}\n'
    return text


def write_lot(name: str, cache: Path, folder: Path) -> Path:
    """The job of one lot, written to a folder."""
    points = cells(cache)[name]
    _, corners = placed(points)
    dig = dig_text(floor_of(name, points, corners))
    return write_job(folder, points, corners, WALLS, dig, unit="m", title=f"A {name} real lot")


if __name__ == "__main__":
    if len(sys.argv) != 3 or sys.argv[1] not in LOTS:
        sys.exit("usage: real-ground flat|medium|steep [FOLDER]")
    to = Path(sys.argv[2])
    kept = Path(".pytest_cache/d/open-data")
    kept.mkdir(parents=True, exist_ok=True)
    to.mkdir(parents=True, exist_ok=True)
    write_lot(sys.argv[1], kept, to)
