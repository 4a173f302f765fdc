"""The invented hole of fixtures/statements on level ground, with three periods."""

from pathlib import Path
from typing import Any

from tests.job.made_hole import CODES, FACE, FLOOR, OVERDIG, WALLS, MadeHole
from tests.job.made_job import small, write_job

LEVEL = 100.0
ITEMS = [
    {"item": "A basement excavation", "of": "pit", "price": "9.50"},
    {"item": "B as dug", "of": "pit", "basis": "as dug", "price": "1.00"},
    {"item": "C right wall", "of": "right", "basis": "as dug to line", "allowance": 0.2,
     "price": "2.00"},
]  # fmt: skip
PERIODS = [
    {"number": 1, "end": "2027-04-30", "share": 0.5},
    {"number": 2, "end": "2027-05-31", "asdug": "2027-05-04"},
    {"number": 3, "end": "2027-06-30", "asdug": "2027-06-10"},
]


def bill_job(folder: Path, **billing: Any) -> Path:
    """Write the job; keywords change its [billing]."""
    job = small() | {"title": "Lot 3, Plover Close (invented)"}
    job["foundation"] = {"corners": FACE, "walls": WALLS}
    job["dig"] = {"floor": FLOOR, "overdig": OVERDIG, "side": 0.0}
    job["asdug"] = [
        {"date": "2027-05-04", "shots": ["may.csv"]} | CODES,
        {"date": "2027-06-10", "shots": ["june.csv"]} | CODES,
    ]
    job["billing"] = {
        "from": "Marl & Daughters", "to": "Plover Homes", "currency": "USD", "tax": "0.07",
        "retainage": "0.10", "items": ITEMS, "periods": PERIODS,
    } | billing  # fmt: skip
    path = write_job(folder, job)
    rows = [f"{e},{n},{LEVEL}" for e in range(40, 221, 30) for n in range(140, 301, 20)]
    (folder / "shots.csv").write_text("easting,northing,elevation\n" + "\n".join(rows) + "\n")
    (folder / "may.csv").write_text(_level(MadeHole().moved(0.3, 0.0)))
    (folder / "june.csv").write_text(_level(MadeHole()))
    return path


def _level(hole: MadeHole) -> str:
    """The hole's shots with its tops on level ground."""
    rows = []
    for line in hole.text().splitlines():
        easting, northing, elevation, code = line.split(",")
        rows.append(f"{easting},{northing},{LEVEL if code == 'top' else elevation},{code}")
    return "\n".join(rows) + "\n"
