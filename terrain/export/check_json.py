"""What was understood of a job, as JSON with every figure at full precision."""

import json
import math
from dataclasses import asdict
from typing import TypeAlias

import numpy as np

from terrain.job.check import CheckedFoundation, CheckResult

Json: TypeAlias = "str | int | float | dict[str, Json] | list[Json] | None"


def check_json(result: CheckResult) -> str:
    """The result as JSON text, two blanks an indent, ending in a newline."""
    text = json.dumps(_plain(check_dict(result)), indent=2, ensure_ascii=False, allow_nan=False)
    return text + "\n"


def check_dict(result: CheckResult) -> dict[str, object]:
    """The result under plain keys; NaN stands for what there is not."""
    ground = result.ground
    return {
        "title": result.title,
        "job_file": result.job_file,
        "length_unit": result.unit.name,
        "volume_unit": result.unit.volume_name,
        "crs": result.crs,
        "inputs": [
            {"name": f.name, "kind": f.kind, "sha256": f.sha256, "shots": f.shots,
             "low": f.low, "high": f.high,
             "points": None if f.cloud is None else asdict(f.cloud)}
            for f in result.inputs
        ],
        "notes": result.notes,
        "marks": [
            {"name": m.name, "stated": m.stated, "read": m.read, "difference": m.difference}
            for m in result.marks
        ],
        "ground": {
            "first": asdict(ground.first),
            "shots": ground.shots,
            "triangles": ground.triangles,
            "area": ground.area,
            "low": ground.low,
            "high": ground.high,
            "breaklines": ground.breaklines,
        },
        "spikes": [
            {**asdict(s.shot), "off": s.off}
            for s in result.spikes
        ],
        "foundation": _foundation(result.foundation),
        "levels": [
            {"name": v.name, "elevation": v.elevation, "how": v.how} for v in result.levels
        ],
        "walls": [
            {"wall": w.name, "overdig": w.overdig, "side": w.side, "working_room": w.working_room}
            for w in result.walls
        ],
        "pits": [
            {"name": e.name, "kind": e.kind, "floor_low": e.low, "floor_high": e.high,
             "area": e.area, "overdig": e.overdig, "side": e.side}
            for e in result.extras
        ],
        "soil": {
            "material": result.soil.material,
            "class": result.soil_class,
            "swell": result.soil.swell,
            "shrink": result.soil.shrink,
            "source": result.soil.source,
        },
        "truck": result.truck,
    }  # fmt: skip


def _foundation(foundation: CheckedFoundation) -> dict[str, object]:
    size = foundation.dimensions
    return {
        "form": foundation.form,
        "corners": foundation.corners,
        "walls": [
            {"wall": name, "length": length, "angle": angle, "out_of_square": off}
            for name, length, angle, off in zip(
                foundation.walls, size.lengths, size.angles, size.out_of_square, strict=True
            )
        ],
        "diagonals": [
            {"from": i + 1, "to": j + 1, "length": length} for i, j, length in size.diagonals
        ],
        "area": size.area,
        "perimeter": size.perimeter,
        "misclosure": foundation.misclosure,
        "stake_residuals": foundation.residuals,
        "beyond": dict(zip(("west", "south", "east", "north"), foundation.beyond, strict=True)),
    }


def _plain(value: object) -> Json:
    """The value in plain JSON types; a number that is not finite becomes null."""
    match value:
        case dict():
            return {str(key): _plain(inner) for key, inner in value.items()}
        case list() | tuple():
            return [_plain(inner) for inner in value]
        case np.ndarray():
            return _plain(value.tolist())
        case float():
            return float(value) if math.isfinite(value) else None
        case str() | int() | None:
            return value
    raise TypeError(f"{type(value).__name__} has no place in a check result")
