"""A pit that can be reckoned by hand: a house of 40 by 30 ft in ground of one plane."""

import numpy as np

from terrain.job.load import load_job
from terrain.job.volumes import work_out
from tests.laws.jobs import write_job

HOUSE = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 30.0], [0.0, 30.0]])
NAMES = ("south", "east", "north", "west")


def plane(fall=(0.0, 0.0), upward=100.0):
    """Shots every 20 ft on a plane that is `upward` high at the first corner."""
    spots = [(e, n) for e in range(-60, 101, 20) for n in range(-60, 101, 20)]
    return np.array([(e, n, upward + fall[0] * e + fall[1] * n) for e, n in spots])


def worked(
    folder, dig="floor = 92.0\noverdig = 2.0\nside = 1.0\n", *, ground=None, corners=HOUSE,
    names=NAMES, foundation="",
):  # fmt: skip
    """The pit worked out; `foundation` is more of that table."""
    ground = plane() if ground is None else ground
    job = write_job(folder, ground, corners, names, dig)
    text = job.read_text(encoding="utf-8").replace("[dig]", f"{foundation}\n[dig]", 1)
    job.write_text(text, encoding="utf-8")
    return work_out(load_job(job))
