"""Jobs to draw: the demo, and one small lot in each unit whose names would break careless files."""

from pathlib import Path

import numpy as np

from terrain.job.answer import Volumes
from terrain.job.layers import Layers, layers_of
from terrain.job.load import load_job
from terrain.job.volumes import told, work_out

DEMO = Path(__file__).parents[2] / "terrain" / "cli" / "demo_job" / "job.toml"
TITLE = "</LandXML> \"A\" & 'B' <script>alert(1)</script> Höhe\uffff± 測"
WALLS = ('<b>"front"</b>', "a]]>b & 'c'", "Straße 測 量", "=HYPERLINK(1)")
PIT = "end_header {}"
SITES = {
    "ft": ("EPSG:2223", 700_000.0, 900_000.0),
    "ftUS": ("EPSG:2227", 6_050_000.0, 2_110_000.0),
    "m": ("EPSG:32632", 500_000.0, 5_400_000.0),
    "local": (None, 1000.0, 2000.0),
}
"""By unit: a projected CRS in it and a place in that CRS; `local` has feet and no CRS."""


def quoted(text: str) -> str:
    return '"' + text.replace('"', '\\"') + '"'


def write_job(folder: Path, site: str, floor: float = 92.5) -> Path:
    """A job on rolling ground 200 long: benches, a footing, a pit and a ditch for a breakline."""
    crs, east, north = SITES[site]
    rng = np.random.default_rng(11)
    plan = rng.uniform(0.0, 200.0, (150, 2)).round(2)
    upward = 100 + 0.02 * plan[:, 0] + np.sin(plan[:, 1] / 20)
    rows = [
        f"{k},{n + north:.2f},{e + east:.2f},{u:.3f},gro\uffffund"
        for k, ((e, n), u) in enumerate(zip(plan, upward, strict=True))
    ]
    rows += [f"d{k},{20 + north},{n + east},99.0,<i>ditch" for k, n in enumerate((10, 90, 190))]
    text = "\n".join(["point,northing,easting,elevation,code", *rows]) + "\n"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "shots & <more>.csv").write_text(text, encoding="utf-8")
    corners = [[80, 80], [128, 80], [128, 116], [80, 116]]
    areaway = [[128, 92], [133, 92], [133, 98], [128, 98]]
    placed = [[[e + east, n + north] for e, n in ring] for ring in (corners, areaway)]
    job = folder / "job.toml"
    job.write_text(
        f"title = {quoted(TITLE)}\n[site]\nlength_unit = {quoted('ft' if crs is None else site)}\n"
        + ("" if crs is None else f"crs = {quoted(crs)}\n")
        + '[existing]\nshots = ["shots & <more>.csv"]\nbreaklines = ["<i>ditch"]\n'
        + f'[soil]\nmaterial = "clay"\n[foundation]\ncorners = {placed[0]}\n'
        + f"walls = [{', '.join(map(quoted, WALLS))}]\n"
        + f"footing = {{width = 2.0, depth = 1.0, projection = 0.5, bottom = {floor - 1}}}\n"
        + f"[dig]\nfloor = {floor}\noverdig = 2.0\nside = [[0, 4], [4, 0]]\n"
        + f"[[dig.pits]]\nname = {quoted(PIT)}\ncorners = {placed[1]}\nfloor = {floor + 1.5}\n",
        encoding="utf-8",
    )
    return job


def drawn(job: Path) -> tuple[Volumes, Layers]:
    """The answer of a job and all that is drawn of it."""
    worked = work_out(load_job(job))
    answer = told(worked)
    return answer, layers_of(worked, answer)


def bank_by_part(answer: Volumes) -> dict[tuple[str, str], float]:
    """The ledger's bank volume by wall and part; pits, ramps and trenches have no part."""
    ledger = answer.ledger
    found = {
        (wall.wall, part): getattr(wall.parts, part)
        for wall in ledger.walls
        for part in ("core", "overdig", "side", "footing")
    }
    return found | {(pit.name, ""): pit.quantity.bank for pit in ledger.pits}
