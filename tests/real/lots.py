"""Real ground as jobs: three 40 m lots of a hillside, and 52 hand-surveyed spot heights.

Run as `python -m tests.real.lots flat|medium|steep|heights FOLDER` it writes one of the jobs.
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


FEET_PER_UNIT = 50.0
"""Plan unit of the spot heights; elevations are in feet (SOURCES, section 9)."""

HEIGHTS_HOUSE = np.array([[130.0, 140.0], [178.0, 140.0], [178.0, 168.0], [130.0, 168.0]])
HEIGHTS_WALLS = ["w0", "w1", "w2", "w3"]
HEIGHTS_RUNS = np.array([1.0, 0.75, 1.0, 0.5])
HEIGHTS_FLOOR = 815.0


def spot_heights(cache: Path) -> np.ndarray:
    """The spot heights (52, 3) in feet."""
    rows = open_data.spot_heights(cache).read_text(encoding="utf-8").splitlines()[1:]
    values = np.array([[float(v) for v in row.split(",")[-3:]] for row in rows])
    return values * [FEET_PER_UNIT, FEET_PER_UNIT, 1.0]


def write_heights(cache: Path, folder: Path) -> Path:
    """A house dug into the spot heights, as a job in a folder."""
    sides = "".join(
        f"[dig.walls.{wall}]\nside = {run}\n"
        for wall, run in zip(HEIGHTS_WALLS, HEIGHTS_RUNS, strict=True)
    )
    dig = f"floor = {HEIGHTS_FLOOR}\noverdig = 2.0\nside = 1.0\n{sides}"
    points = spot_heights(cache)
    return write_job(
        folder, points, HEIGHTS_HOUSE, HEIGHTS_WALLS, dig, title="52 hand-surveyed heights"
    )


def write_lot(name: str, cache: Path, folder: Path) -> Path:
    """The job of one real ground, written to a folder."""
    if name == "heights":
        return write_heights(cache, folder)
    points = cells(cache)[name]
    _, corners = placed(points)
    dig = dig_text(floor_of(name, points, corners))
    return write_job(folder, points, corners, WALLS, dig, unit="m", title=f"A {name} real lot")


if __name__ == "__main__":
    if len(sys.argv) != 3 or sys.argv[1] not in (*LOTS, "heights"):
        sys.exit("usage: real-ground flat|medium|steep|heights [FOLDER]")
    to = Path(sys.argv[2])
    kept = Path(".pytest_cache/d/open-data")
    kept.mkdir(parents=True, exist_ok=True)
    to.mkdir(parents=True, exist_ok=True)
    write_lot(sys.argv[1], kept, to)
