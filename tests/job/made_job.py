"""Job files made for tests, and a writer of TOML just good enough for them."""

import copy
import json
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

SHOTS = """point,northing,easting,elevation,code
1,150,50,100,
2,150,250,100,
3,300,250,101,
4,300,50,101,
BM1,160,60,100,bm
"""

RECTANGLE = [[100.0, 200.0], [148.0, 200.0], [148.0, 236.0], [100.0, 236.0]]
WALLS = ["front", "right", "back", "left"]

FULL: dict[str, Any] = {
    "title": "A made lot",
    "site": {"length_unit": "ft", "crs": "EPSG:2223", "vertical_datum": "BM1 = 100"},
    "existing": {
        "shots": ["shots.csv"],
        "columns": ["point", "northing", "easting", "elevation", "code"],
        "breaklines": ["ditch"],
        "lines": ["lines.geojson"],
        "coordinates": "grid",
        "boundary_code": "edge",
        "hole_codes": ["pond"],
        "marks": {"BM1": 100.0},
        "mark_tolerance": 0.1,
        "same_spot": "mean",
        "same_spot_tolerance": 0.05,
        "max_edge": 60.0,
        "accuracy": 0.05,
        "datum_accuracy": 0.03,
        "horizontal_accuracy": 0.04,
        "correlated_accuracy": 0.06,
        "correlation_range": 25.0,
        "cloud": {"horizontal_unit": "m", "vertical_unit": "ft", "crs_record": "wkt"},
    },
    "soil": {
        "material": "common earth",
        "swell": 0.25,
        "shrink": 0.1,
        "measured": False,
        "class": "B",
    },
    "foundation": {
        "corners": RECTANGLE,
        "walls": WALLS,
        "top": 101.25,
        "wall_height": 8.0,
        "wall_thickness": 0.75,
        "footing": {"width": 1.5, "depth": 0.75, "projection": 0.375, "bottom": 92.5},
        "stone": {"beyond": 1.0, "over": 0.5, "under_slab": 0.5},
    },
    "dig": {
        "floor": 92.5,
        "overdig": 2.0,
        "side": 1.0,
        "topsoil_strip": 0.5,
        "walls": {"back": {"overdig": 3.0, "side": [[0, 4], [4, 0]]}},
        "pits": [
            {
                "name": "areaway",
                "corners": [[148.0, 212.0], [153.0, 212.0], [153.0, 218.0], [148.0, 218.0]],
                "floor": 94.0,
                "overdig": 0.5,
                "side": 0.5,
            }
        ],
        "ramps": [
            {
                "name": "way in",
                "line": [[124.0, 200.0], [124.0, 172.0]],
                "width": 12.0,
                "run_per_rise": 4.0,
                "floor": 92.5,
                "overdig": 0.0,
                "side": 1.0,
            }
        ],
        "trenches": [
            {
                "name": "porch piers",
                "line": [[104.0, 196.0], [122.0, 196.0]],
                "width": 1.5,
                "floor": 96.0,
                "overdig": 0.0,
                "side": 0.0,
            }
        ],
    },
    "haul": {"truck": 14.0, "price_per_load": 95.0},
    "house": {"corners": RECTANGLE, "slab_fill": 0.5, "walls": WALLS},
    "lot": {
        "boundary": [[50.0, 150.0], [250.0, 150.0], [250.0, 300.0], [50.0, 300.0]],
        "buildings": {"barn": [[60.0, 160.0], [70.0, 160.0], [70.0, 170.0]]},
        "wall_grade": 100.5,
        "fall": 0.05,
        "fall_distance": 10.0,
        "cut_slope": 3.0,
        "fill_slope": 3.0,
        "settlement": 0.03,
        "topsoil_respread": 0.33,
        "unsuitable": 0.1,
        "cell": 1.0,
        "walls": {"back": {"wall_grade": [100.5, 99.5], "step": True}},
        "pads": [
            {
                "name": "drive",
                "corners": [[160.0, 160.0], [180.0, 160.0], [180.0, 190.0], [160.0, 190.0]],
                "elevation": 100.0,
            },
            {
                "name": "walk",
                "corners": [[60.0, 260.0], [80.0, 260.0], [80.0, 280.0]],
                "elevations": [100.0, 100.5, 101.0],
            },
        ],
        "swales": [
            {
                "name": "side ditch",
                "line": [[230.0, 160.0], [230.0, 290.0]],
                "inverts": [98.5, 99.5],
                "bottom_width": 2.0,
                "side": 3.0,
            }
        ],
        "keep": [
            {
                "name": "old oak",
                "corners": [[60.0, 200.0], [80.0, 200.0], [80.0, 220.0], [60.0, 220.0]],
            }
        ],
    },
    "asdug": [
        {"date": "2027-05-03", "shots": ["shots.csv"]},
        {
            "date": "2027-05-04",
            "shots": ["shots.csv"],
            "columns": ["point", "northing", "easting", "elevation", "code"],
            "accuracy": 0.05,
            "horizontal_accuracy": 0.04,
            "datum_accuracy": 0.02,
            "correlated_accuracy": 0.03,
            "correlation_range": 25.0,
            "floor_codes": ["floor"],
            "toe_codes": ["toe"],
            "top_codes": ["top"],
            "face_codes": ["face"],
            "hours": 8.0,
        },
    ],
    "verify": {"floor_tolerance": 0.1, "line_tolerance": 0.25, "grade_tolerance": 0.1},
    "asgraded": [
        {
            "date": "2027-07-01",
            "shots": ["shots.csv"],
            "columns": ["point", "northing", "easting", "elevation", "code"],
            "accuracy": 0.05,
            "horizontal_accuracy": 0.04,
            "datum_accuracy": 0.02,
            "correlated_accuracy": 0.03,
            "correlation_range": 25.0,
        }
    ],
    "piles": [
        {
            "date": "2027-05-04",
            "shots": ["shots.csv"],
            "columns": ["point", "northing", "easting", "elevation", "code"],
            "accuracy": 0.05,
            "horizontal_accuracy": 0.04,
            "datum_accuracy": 0.02,
            "correlated_accuracy": 0.03,
            "correlation_range": 25.0,
            "asdug": "2027-05-04",
            "since": "2027-05-03",
            "hauled": 20.0,
            "topsoil": ["topsoil"],
            "sides": {"topsoil": "front"},
        }
    ],
    "machine": {
        "weight_tonnes": 14.0,
        "reach": 27.0,
        "digging_depth": 18.0,
        "track_length": 12.0,
        "track_width": 8.5,
        "tail_swing": 7.5,
        "bucket_width": 4.0,
        "bucket_capacity": 1.0,
        "cycle_seconds": 18.0,
        "step": 6.0,
    },
    "spoil": {
        "setback": 2.0,
        "repose": 35.0,
        "height": 6.0,
        "keep_open": "front",
        "as_deep": False,
    },
    "billing": {
        "from": "Digger",
        "to": "Builder",
        "currency": "USD",
        "tax": "0.00",
        "retainage": "0.10",
        "pay_line": "design",
        "tickets": "shots.csv",
        "weight_per_loose_volume": 1.4,
        "rock": ["shots.csv"],
        "bid": "shots.csv",
        "items": [
            {
                "item": "basement excavation",
                "of": "pit",
                "measure": "bank",
                "basis": "neat",
                "allowance": 0.0,
                "price": "9.50",
            },
            {
                "item": "soft spot",
                "of": "undercut",
                "basis": "as dug",
                "ordered": "the builder, 2027-05-02",
                "depth": 0.5,
                "price": "12.00",
            },
        ],
        "periods": [{"number": 1, "end": "2027-05-31", "asdug": "2027-05-04", "share": 0.6}],
    },
}
"""A job with every key but those of the other forms of a foundation."""

FORMS: dict[str, dict[str, Any]] = {
    "bearing": {
        "first_corner": [100.0, 200.0],
        "bearing": 90.0,
        "lengths": [48.0, 36.0, 48.0, 36.0],
        "turns": [90.0, 90.0, 90.0],
        "closure_tolerance": 0.1,
        "walls": WALLS,
    },
    "stakes": {
        "stakes": "stake",
        "lengths": [48.0, 36.0, 48.0, 36.0],
        "turns": [90.0, 90.0, 90.0, 90.0],
        "closure_tolerance": 0.1,
        "stake_tolerance": 0.1,
        "walls": WALLS,
    },
    "outline": {"outline": "foundation.csv", "coordinates": "grid", "walls": WALLS},
}
"""The foundation of a job in its other forms."""


READY: tuple[dict[str, Any], ...] = (
    {"shots": ["ground.xml"], "surface": "existing"},
    {
        "shots": ["ground.ply"],
        "mesh": {"up": "z", "unit": "m", "origin": [100.0, 200.0, 90.0]},
        "ground_filter": {"way": "opening", "cell": 1.5, "widest": 60.0, "slope": 0.3},
    },
)
"""The existing ground of a job where a file brings it ready made."""

FIELD: dict[str, Any] = {
    "notes": ["level.csv"],
    "level": {
        "closure": "construction",
        "rod_accuracy": 0.01,
        "sight": 100.0,
        "lines": {"street": [[0.0, 0.0], [10.0, 0.0]]},
        "points": {"A": [0.0, 0.0]},
    },
    "positions": ["phone.csv"],
    "phone": {
        "heights": "ellipsoid",
        "unit": "m",
        "geoid": -31.4,
        "common": [{"point": "A", "site": [0.0, 0.0, 100.0]}],
        "scale": False,
        "tolerance": 1.0,
    },
    "control": {
        "targets": [{"name": "T1", "scan": [0.0, 0.0, 0.0], "site": [1.0, 2.0, 3.0]}],
        "files": ["scan.xyz"],
        "scale": False,
        "tolerance": 0.1,
        "refine": {"shots": "stable.csv", "within": 1.0},
    },
    "thin": 0.1,
    "ground_filter": {
        "way": "cloth",
        "cell": 1.5,
        "threshold": 0.3,
        "stiffness": 2,
    },
}
"""The existing ground as level notes and a phone tell it."""


def small() -> dict[str, Any]:
    """The least job: required keys only."""
    return {
        "site": {"length_unit": "ft"},
        "existing": {"shots": ["shots.csv"]},
        "soil": {"material": "clay"},
        "foundation": {"corners": copy.deepcopy(RECTANGLE), "walls": list(WALLS)},
        "dig": {"floor": 92.5, "overdig": 2.0, "side": 1.0},
    }


def full(form: str = "corners") -> dict[str, Any]:
    """A job with every key, its foundation in the form named."""
    data: dict[str, Any] = json.loads(json.dumps(FULL))  # no list of it is another's
    if form != "corners":
        data["foundation"] = copy.deepcopy(FORMS[form])
    return data


def changed(data: dict[str, Any], path: tuple[str | int, ...], value: Any) -> dict[str, Any]:
    """The data with one value set, tables made on the way where missing."""
    data = copy.deepcopy(data)
    table: Any = data
    for part in path[:-1]:
        table = table.setdefault(part, {}) if isinstance(table, dict) else table[part]
    table[path[-1]] = value
    return data


def without(data: dict[str, Any], *path: str | int) -> dict[str, Any]:
    """The data without one key."""
    data = copy.deepcopy(data)
    table: Any = data
    for part in path[:-1]:
        table = table[part]
    del table[path[-1]]
    return data


def paths(value: Any, above: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """Every key path and list entry within a value."""
    if isinstance(value, dict):
        entries: Any = value.items()
    elif isinstance(value, list):
        entries = enumerate(value)
    else:
        return
    for part, inner in entries:
        yield (*above, part)
        yield from paths(inner, (*above, part))


def at(data: Any, path: tuple[str | int, ...]) -> Any:
    """The value a key path leads to."""
    for part in path:
        data = data[part]
    return data


def toml(data: dict[str, Any]) -> str:
    """The data as TOML: top-level tables under headers, everything within them inline."""
    lines = [f"{_key(k)} = {_value(v)}" for k, v in data.items() if not isinstance(v, dict)]
    for name, table in data.items():
        if isinstance(table, dict):
            lines.append(f"[{_key(name)}]")
            lines += [f"{_key(k)} = {_value(v)}" for k, v in table.items()]
    return "\n".join(lines) + "\n"


def _key(key: str) -> str:
    bare = key.isascii() and key.replace("-", "_").isidentifier()
    return key if bare else _value(key)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float) and not math.isfinite(value):
        return "nan" if math.isnan(value) else ("inf" if value > 0 else "-inf")
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_value(v) for v in value) + "]"
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    return repr(value)


def write_job(folder: Path, data: dict[str, Any] | str, name: str = "job.toml") -> Path:
    """The job in a folder beside the files it names; its path."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "shots.csv").write_text(SHOTS)
    (folder / "lines.geojson").write_text(
        '{"type": "LineString", "coordinates": [[60, 170], [240, 170]]}'
    )
    corners = "".join(f"{e},{n}\n" for e, n in RECTANGLE)
    (folder / "foundation.csv").write_text("easting,northing\n" + corners)
    path = folder / name
    path.write_text(data if isinstance(data, str) else toml(data), encoding="utf-8")
    return path
