"""Makes the files of a job or of a gridding command in a folder: files KIND COUNT FOLDER."""

import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from scripts.benchmarks.made import Floats

Kind = Literal["job", "points"]
JOB = "job.toml"
MIDDLE = (5000.0, 9000.0)
PER_EASTING, PER_NORTHING = 0.05, -0.03
UPWARD, FLOOR = 100.0, 96.5
LENGTH, WIDTH = 14.0, 9.0
OVERDIGS, SIDES = (0.6, 0.6, 0.9, 0.6), (1.0, 1.0, 0.75, 1.5)
WALLS = ("front", "right", "back", "left")


def made_apart(kind: Kind, count: int, folder: Path) -> None:
    """Make the files in a process of their own, so that none of its memory is counted here."""
    command = [sys.executable, "-m", "scripts.benchmarks.files", kind, str(count), str(folder)]
    subprocess.run(command, check=True)


def job_shots(count: int) -> "Floats":
    """Shots (n, 3) of a sloping lot, to the millimetre; their plane's elevations are exact."""
    import numpy as np

    from scripts.benchmarks.made import lot_plan

    plan = np.round(lot_plan(count, 31), 3)
    upward = UPWARD + plan @ np.array([PER_EASTING, PER_NORTHING])
    return np.column_stack([np.round(plan + MIDDLE, 3), np.round(upward, 5)])


def job_volume(floor: float = FLOOR) -> float:
    """What the job digs down to a floor: the convex body below the ground within its sides.

    By Qhull.
    """
    import numpy as np
    from scipy.spatial import ConvexHull, HalfspaceIntersection

    ground = [-PER_EASTING, -PER_NORTHING, 1.0, -UPWARD]
    faces = [ground, [0.0, 0.0, -1.0, floor]]
    for k, (overdig, run) in enumerate(zip(OVERDIGS, SIDES, strict=True)):
        east, north = ((0.0, -1.0), (1.0, 0.0), (0.0, 1.0), (-1.0, 0.0))[k]
        reach = (WIDTH, LENGTH)[k % 2] / 2 + overdig
        faces.append([east, north, -run, run * floor - reach])
    inside = np.array([0.0, 0.0, (floor + UPWARD) / 2])
    body = HalfspaceIntersection(np.array(faces), inside)
    return float(ConvexHull(body.intersections - inside).volume)


def dig_heights(plan: "Floats", floor: float = FLOOR) -> "Floats":
    """The job's floor and sides, all going on: heights (n,) at places about its middle (n, 2)."""
    import numpy as np

    beyond = [
        (-plan[:, 1] - WIDTH / 2 - OVERDIGS[0]) / SIDES[0],
        (plan[:, 0] - LENGTH / 2 - OVERDIGS[1]) / SIDES[1],
        (plan[:, 1] - WIDTH / 2 - OVERDIGS[2]) / SIDES[2],
        (-plan[:, 0] - LENGTH / 2 - OVERDIGS[3]) / SIDES[3],
    ]
    heights: Floats = floor + np.maximum(0.0, np.max(beyond, axis=0))
    return heights


def write_job(count: int, folder: Path) -> None:
    """A job with one CSV of so many shots."""
    import pyarrow as pa
    from pyarrow import csv

    shots = job_shots(count)
    columns = {"point": range(count), "northing": shots[:, 1], "easting": shots[:, 0]}
    table = pa.table({**columns, "elevation": shots[:, 2]})
    csv.write_csv(table, folder / "shots.csv", csv.WriteOptions(quoting_style="none"))
    write_job_file(folder, 'shots = ["shots.csv"]')


def write_job_file(folder: Path, existing: str) -> None:
    """The job file alone; `existing` says where its ground comes from."""
    east, north = MIDDLE
    corners = [
        [east + e * LENGTH / 2, north + n * WIDTH / 2]
        for e, n in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    ]
    walls = "".join(
        f"[dig.walls.{wall}]\noverdig = {overdig}\nside = {side}\n"
        for wall, overdig, side in zip(WALLS, OVERDIGS, SIDES, strict=True)
    )
    (folder / JOB).write_text(
        'title = "Made ground"\n[site]\nlength_unit = "m"\n'
        f'[existing]\n{existing}\n[soil]\nmaterial = "common earth"\n'
        f"[foundation]\ncorners = {corners}\nwalls = {list(WALLS)}\n"
        f"[dig]\nfloor = {FLOOR}\noverdig = 0.6\nside = 1.0\n{walls}"
    )


def write_points(count: int, folder: Path) -> None:
    """The shots of two crossing planes as text, and what tells gdal how to read them."""
    import pyarrow as pa
    from pyarrow import csv

    from scripts.benchmarks.made import crossing_planes, plane_shots

    for name, plane, seed in zip("ab", crossing_planes()[:2], (21, 22), strict=True):
        shots = plane_shots(count, seed, plane)
        table = pa.table(dict(zip("xyz", shots.T, strict=True)))
        csv.write_csv(table, folder / f"{name}.csv")
        (folder / f"{name}.vrt").write_text(
            f'<OGRVRTDataSource><OGRVRTLayer name="{name}">'
            f'<SrcDataSource relativeToVRT="1">{name}.csv</SrcDataSource>'
            '<GeometryType>wkbPoint25D</GeometryType><GeometryField encoding="PointFromColumns" '
            'x="x" y="y" z="z"/></OGRVRTLayer></OGRVRTDataSource>'
        )


def main() -> None:
    """Write what the arguments ask for."""
    kind, count, folder = sys.argv[1:]
    {"job": write_job, "points": write_points}[kind](int(count), Path(folder))


if __name__ == "__main__":
    main()
