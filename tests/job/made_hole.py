"""Made holes: a house on a plane of ground, its hole to design or with one known fault."""

import math
from pathlib import Path
from typing import Any

import numpy as np

from tests.job.made_job import small, write_job

FLOOR = 92.0
FACE = [[100.0, 200.0], [148.0, 200.0], [148.0, 236.0], [100.0, 236.0]]
OVERDIG = 2.0
WALLS = ["front", "right", "back", "left"]
EAST, NORTH, LEVEL = 0.02, -0.01, 100.0


def ground(plan: np.ndarray) -> np.ndarray:
    return LEVEL + EAST * (plan[:, 0] - 124.0) + NORTH * (plan[:, 1] - 218.0)


def ground_shots() -> str:
    plan = np.array([[e, n] for e in range(40, 221, 30) for n in range(140, 301, 20)], float)
    rows = [
        f"{e},{n},{z!r}" for (e, n), z in zip(plan.tolist(), ground(plan).tolist(), strict=True)
    ]
    return "easting,northing,elevation\n" + "\n".join(rows) + "\n"


def ring(overdig: float = OVERDIG, a_wall: int = 5) -> np.ndarray:
    """Spots round the dig line, each corner and so many between: (4 * (1 + a_wall), 2)."""
    low, high = np.array(FACE[0]) - overdig, np.array(FACE[2]) + overdig
    corners = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
    share = np.arange(a_wall + 1) / (a_wall + 1)
    return np.concatenate(
        [
            a + share[:, None] * (b - a)
            for a, b in zip(corners, np.roll(corners, -1, 0), strict=True)
        ]
    )


def floor_grid() -> np.ndarray:
    return np.array([[e, n] for e in np.linspace(101, 147, 8) for n in np.linspace(201, 235, 6)])


class MadeHole:
    """Shots of a plumb hole; change `toe`, `floor` (n, 3) before writing. Tops stand over toes."""

    def __init__(self, toe: np.ndarray | None = None, floor: np.ndarray | None = None) -> None:
        toe = ring() if toe is None else toe
        floor = floor_grid() if floor is None else floor
        self.toe = np.column_stack([toe, np.full(len(toe), FLOOR)])
        self.floor = np.column_stack([floor, np.full(len(floor), FLOOR)])

    def moved(self, east: float, north: float) -> "MadeHole":
        for points in (self.toe, self.floor):
            points[:, :2] += [east, north]
        return self

    def turned(self, degrees: float) -> "MadeHole":
        angle, middle = math.radians(degrees), np.mean(FACE, axis=0)
        turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
        for points in (self.toe, self.floor):
            points[:, :2] = (points[:, :2] - middle) @ turn + middle
        return self

    def text(self, codes: bool = True) -> str:
        top = np.column_stack([self.toe[:, :2], ground(self.toe[:, :2])])
        rows = ["easting,northing,elevation,code"]
        for points, code in ((self.floor, "floor"), (self.toe, "toe"), (top, "top")):
            for e, n, z in points.tolist():
                rows.append(f"{e!r},{n!r},{z!r},{code if codes else ''}")
        return "\n".join(rows) + "\n"


CODES = {
    "floor_codes": ["floor"], "toe_codes": ["toe"], "top_codes": ["top"], "face_codes": ["face"],
}  # fmt: skip


def hole_job(folder: Path, hole: MadeHole | str, **changes: Any) -> Path:
    """A job with upright sides and one as-dug survey."""
    job = small()
    job["foundation"] = {"corners": FACE, "walls": WALLS}
    job["dig"] = {"floor": FLOOR, "overdig": OVERDIG, "side": 0.0}
    asdug: dict[str, Any] = {"date": "2027-05-04", "shots": ["asdug.csv"]} | CODES
    asdug |= changes.pop("asdug", {})
    job["asdug"] = [asdug, *changes.pop("more", [])]
    for table, keys in changes.items():
        job[table] = job.get(table, {}) | keys
    path = write_job(folder, job)
    (folder / "shots.csv").write_text(ground_shots())
    (folder / "asdug.csv").write_text(hole if isinstance(hole, str) else hole.text())
    return path
