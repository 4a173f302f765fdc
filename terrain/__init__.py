"""Terrain-aware earth volumes for house basements: shots in, a ledger by wall out.

Each question of the command line is a function here: `load_job` reads a job file, `check`,
`volumes` and `grade` answer. They are imported when first asked for, so that `spoilbank --help`
stays quick.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from terrain.job.check import check
    from terrain.job.grade import grade
    from terrain.job.load import load_job
    from terrain.job.volumes import volumes

__all__ = ["check", "grade", "load_job", "volumes"]

_HOMES = {
    "check": "terrain.job.check",
    "grade": "terrain.job.grade",
    "load_job": "terrain.job.load",
    "volumes": "terrain.job.volumes",
}


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)
