"""A made job whose ground is a cloud."""

import laspy
import numpy as np

from terrain.job.load import load_job
from tests.job.made_job import small, write_job


def hill(plan):
    return 100.0 + 0.04 * plan[:, 0] + 2.0 * np.sin(plan[:, 1] / 25.0)


def cloud_job(folder, **tables):
    """A cloud ten times as wide as the lot, over ground that rises to one side."""
    job = small() | tables
    job["site"] = {"length_unit": "ft"}
    job["existing"] = {"shots": ["scan.laz"], "thin": 1.0}
    generator = np.random.default_rng(4)
    plan = generator.uniform([-600.0, -500.0], [850.0, 950.0], (60_000, 2))
    header = laspy.LasHeader(point_format=6, version="1.4")
    header.scales = np.full(3, 0.001)
    cloud = laspy.LasData(header)
    cloud.x, cloud.y, cloud.z = plan[:, 0], plan[:, 1], hill(plan)
    cloud.classification = np.full(len(plan), 2, dtype=np.uint8)
    cloud.write(folder / "scan.laz")
    return load_job(write_job(folder, job))
