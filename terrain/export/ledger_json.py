"""The ledger as one JSON object, every figure at full precision."""

import json
import math
from dataclasses import asdict

from terrain.base.errors import Fault, OutputError
from terrain.export.doubt_json import Json as Json
from terrain.export.doubt_json import doubt_json, doubt_told_json
from terrain.job.answer import DeepestSpot, InputFile, LooseRange, Volumes
from terrain.ledger.entries import Caution, PitRow, Quantity, Total, WallRow
from terrain.ledger.soil import SoilFactors


def ledger_dict(volumes: Volumes) -> dict[str, Json]:
    """The answer under DESIGN's keys, then what it was made from; only plain JSON types.

    Raises:
        OutputError: a figure of the ledger is not a finite number; every such key is named.
    """
    ledger = volumes.ledger
    answer: dict[str, Json] = {
        "title": ledger.title,
        "length_unit": ledger.length_unit,
        "volume_unit": ledger.volume_unit,
        "total": _total(ledger.total),
        "walls": [_wall(row) for row in ledger.walls],
        "pits": [_pit(row) for row in ledger.pits],
        "daylight_area": float(ledger.daylight_area),
        "deepest_cut": float(ledger.deepest_cut),
        "deepest_in": ledger.deepest_in,
        "deepest_at": None if volumes.deepest_at is None else _deepest(volumes.deepest_at),
        "loose_range": None if volumes.loose_range is None else _range(volumes.loose_range),
        "cautions": [_caution(caution) for caution in ledger.cautions],
    }
    faults = [
        Fault(key=key, message="is not a finite number, so the answer can't be written as JSON")
        for key in _keys_not_finite(answer, "")
    ]
    if faults:
        raise OutputError(*faults)
    return answer | {
        "doubt": doubt_told_json(volumes.doubt),
        "soil": _soil(volumes.soil),
        "inputs": [_input(file) for file in volumes.inputs],
        "notes": list(volumes.notes),
        "crs": volumes.crs,
        "job_file": volumes.job_file,
        "version": volumes.version,
        "date": volumes.date,
    }


def ledger_json(volumes: Volumes) -> str:
    """`ledger_dict` as text that UTF-8 can hold, two blanks an indent, ending in a newline."""
    text = json.dumps(ledger_dict(volumes), indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    # A file name that is not UTF-8 holds lone surrogates; JSON writes such a one escaped.
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def _quantity(quantity: Quantity) -> dict[str, Json]:
    return {
        "bank": float(quantity.bank),
        "loose": float(quantity.loose),
        "compacted": float(quantity.compacted),
    }


def _total(total: Total) -> Json:
    return _quantity(total.quantity) | {
        "bank_plus_minus_95": _maybe(total.bank_plus_minus_95),
        "loads": None if total.loads is None else int(total.loads),
        "topsoil": float(total.topsoil),
        "doubt": doubt_json(total.doubt),
    }


def _wall(row: WallRow) -> Json:
    parts: dict[str, Json] = {
        "core": float(row.parts.core),
        "overdig": float(row.parts.overdig),
        "side": float(row.parts.side),
        "footing": float(row.parts.footing),
    }
    head: dict[str, Json] = {"wall": row.wall}
    return (
        head
        | _quantity(row.quantity)
        | {
            "topsoil": float(row.topsoil),
            "parts": parts,
            "bank_plus_minus_95": _maybe(row.bank_plus_minus_95),
            "plan_area": float(row.plan_area),
            "deepest": float(row.deepest),
            "doubt": doubt_json(row.doubt),
            "part_doubts": None
            if row.part_doubts is None
            else {part: doubt_json(doubt) for part, doubt in row.part_doubts.items()},
        }
    )


def _pit(row: PitRow) -> Json:
    head: dict[str, Json] = {"name": row.name, "kind": row.kind}
    return (
        head
        | _quantity(row.quantity)
        | {
            "topsoil": float(row.topsoil),
            "bank_plus_minus_95": _maybe(row.bank_plus_minus_95),
            "doubt": doubt_json(row.doubt),
        }
    )


def _deepest(spot: DeepestSpot) -> Json:
    """Where the cut is deepest, and how far from which corner of the dig line."""
    return {
        "easting": float(spot.easting),
        "northing": float(spot.northing),
        "corner": list(spot.corner),
        "away": float(spot.away),
    }


def _range(found: LooseRange) -> Json:
    return {
        "low": float(found.low),
        "high": float(found.high),
        "loads": None if found.loads is None else list(found.loads),
        "swell": None if found.swell is None else list(found.swell),
        "swell_of": found.swell_of,
    }


def _soil(soil: SoilFactors) -> Json:
    """Swell and shrink as used, as fractions of the bank volume, and where each came from."""
    return {
        "material": soil.material,
        "swell": float(soil.swell),
        "swell_plus_minus_95": soil.swell_plus_minus_95,
        "shrink": float(soil.shrink),
        "source": soil.source,
    }


def _caution(caution: Caution) -> Json:
    return {"code": caution.code, "wall": caution.wall, "message": caution.message}


def _input(file: InputFile) -> Json:
    """A file that was read; an extent it does not have, such as a height, is null."""
    return {
        "name": file.name,
        "kind": file.kind,
        "sha256": file.sha256,
        "shots": int(file.shots),
        "low": [_finite(value) for value in file.low],
        "high": [_finite(value) for value in file.high],
        "points": None if file.cloud is None else asdict(file.cloud),
    }


def _maybe(value: float | None) -> float | None:
    return None if value is None else float(value)


def _finite(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _keys_not_finite(value: Json, key: str) -> list[str]:
    """Key paths, such as `walls[2].parts.side`, of all figures that are NaN or infinite."""
    if isinstance(value, dict):
        inner = [(f"{key}.{name}" if key else name, each) for name, each in value.items()]
    elif isinstance(value, list):
        inner = [(f"{key}[{place}]", each) for place, each in enumerate(value)]
    else:
        return [key] if isinstance(value, float) and not math.isfinite(value) else []
    return [found for path, each in inner for found in _keys_not_finite(each, path)]
