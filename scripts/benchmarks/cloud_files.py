"""Makes a job whose ground is a LAZ cloud, in a folder: cloud_files POINTS FOLDER."""

import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from scripts.benchmarks.files import MIDDLE, PER_EASTING, PER_NORTHING, UPWARD, write_job_file

if TYPE_CHECKING:
    from scripts.benchmarks.made import Floats

CLOUD = "cloud.laz"
CELL = 0.05
HALF = 22.5
STRIP = 5.0
PLAN_SCALE, HEIGHT_SCALE = 0.001, 0.00001
PIECE = 1_000_000


def cloud_apart(points: int, folder: Path) -> None:
    """Make the files in a process of their own, so that none of its memory is counted here."""
    command = [sys.executable, "-m", "scripts.benchmarks.cloud_files", str(points), str(folder)]
    subprocess.run(command, check=True)


def plane_heights(plan: "Floats") -> "Floats":
    """The true elevation at places on the site (n, 2)."""
    heights: Floats = UPWARD + (plan - MIDDLE) @ [PER_EASTING, PER_NORTHING]
    return heights


def write_cloud(points: int, folder: Path) -> None:
    """A cloud of ground points as a scanner flies: strip by strip, in order of time.

    Places are whole millimetres and the elevations of the plane there whole hundredths of one, so
    that the volume of the job stays exact.
    """
    import laspy
    import numpy as np

    chance = np.random.default_rng(41)
    plan = chance.integers(-HALF / PLAN_SCALE, HALF / PLAN_SCALE, (points, 2), endpoint=True)
    plan = plan[np.lexsort([plan[:, 0] // 50, plan[:, 1] // int(STRIP / PLAN_SCALE)])]
    per = np.round(np.array([PER_EASTING, PER_NORTHING]) * PLAN_SCALE / HEIGHT_SCALE)
    upward = (plan @ per.astype(np.int64)).astype(np.int32)
    header = laspy.LasHeader(point_format=6, version="1.4")
    header.scales = np.array([PLAN_SCALE, PLAN_SCALE, HEIGHT_SCALE])
    header.offsets = np.array([*MIDDLE, UPWARD])
    with laspy.open(str(folder / CLOUD), mode="w", header=header) as writer:
        for first in range(0, points, PIECE):
            own = slice(first, first + PIECE)
            part = laspy.ScaleAwarePointRecord.zeros(len(plan[own]), header=header)
            part.X, part.Y = plan[own].T
            part.Z = upward[own]
            part.classification[:] = 2
            part.intensity = chance.integers(0, 65535, len(part)).astype(np.uint16)
            part.gps_time = (first + np.arange(len(part))) * 1e-5
            writer.write_points(part)
    write_job_file(folder, f'shots = ["{CLOUD}"]\nthin = {CELL}')


if __name__ == "__main__":
    write_cloud(int(sys.argv[1]), Path(sys.argv[2]))
