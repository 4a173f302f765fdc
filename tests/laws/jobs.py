"""A job written to a folder, run by the main question, and its ledger as plain numbers."""

import json
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from terrain.job.load import load_job
from terrain.job.volumes import volumes
from terrain.ledger.entries import Ledger


def write_job(
    folder: Path,
    points: np.ndarray,
    corners: np.ndarray,
    walls: Sequence[str],
    dig: str,
    *,
    unit: str = "ft",
    existing: str = "",
    title: str = "a law",
) -> Path:
    """A job file and its shots; `dig` is what follows `[dig]`, `existing` more of that table."""
    rows = [f"{n + 1},{p[1]!r},{p[0]!r},{p[2]!r},ground" for n, p in enumerate(points.tolist())]
    text = "\n".join(["point,northing,easting,elevation,code", *rows]) + "\n"
    (folder / "shots.csv").write_text(text, encoding="utf-8")
    outline = f"corners = {np.asarray(corners).tolist()}\nwalls = {json.dumps(list(walls))}\n"
    job = folder / "job.toml"
    job.write_text(
        f'title = "{title}"\n[site]\nlength_unit = "{unit}"\n'
        f'[existing]\nshots = ["shots.csv"]\naccuracy = 0.05\n{existing}\n'
        '[soil]\nmaterial = "common earth"\n'
        f"[foundation]\n{outline}[dig]\n{dig}\n",
        encoding="utf-8",
    )
    return job


def ledger(job: Path) -> Ledger:
    """The ledger of a job file."""
    return volumes(load_job(job)).ledger


def figures(answer: Ledger) -> dict[str, float]:
    """Every volume of a ledger by what it is of."""
    out: dict[str, float] = {"total": answer.total.quantity.bank}
    for row in answer.walls:
        out[row.wall] = row.quantity.bank
        for part in ("core", "overdig", "side", "footing"):
            out[f"{row.wall}: {part}"] = getattr(row.parts, part)
    out.update({pit.name: pit.quantity.bank for pit in answer.pits})
    return out
