"""The finished lot as one JSON object, every figure at full precision."""

import json

from terrain.base.units import LENGTH_UNITS
from terrain.export.doubt_json import side_doubt_json
from terrain.export.ledger_json import Json
from terrain.job.balance import Balance
from terrain.job.drainage import Drainage
from terrain.job.grade_answer import GradeAnswer, Spot, Untied
from terrain.job.rasters import Raster
from terrain.ledger.entries import Quantity
from terrain.ledger.lot_doubt import SideDoubt
from terrain.ledger.lot_rows import LotRow, LotTotal


def grade_dict(
    answer: GradeAnswer, rasters: tuple[Raster, ...], paths: dict[str, str]
) -> dict[str, Json]:
    """The answer under the keys that stay; only plain JSON types.

    Args:
        answer: the finished lot.
        rasters: as they were made; their volumes are told in the job's volume unit.
        paths: by raster, the file it was written to; the others have null.
    """
    unit, doubts = LENGTH_UNITS[answer.length_unit], answer.doubts

    def volume(cubic: float | None) -> Json:
        return None if cubic is None else unit.volume(cubic)

    return {
        "title": answer.title,
        "length_unit": answer.length_unit,
        "volume_unit": answer.volume_unit,
        "walls": [
            _with_doubt(_wall(row), None if doubts is None else doubts.sides[k])
            for k, row in enumerate(answer.walls)
        ],
        "lot": _with_doubt(_lot(answer.lot), None if doubts is None else doubts.lot),
        "structure": {
            "footing": answer.structure.footing,
            "wall": answer.structure.wall,
            "stone": answer.structure.stone,
            "slab_base": answer.structure.slab_base,
        },
        "balance": _balance(answer.balance, answer.currency),
        "rasters": [
            {
                "name": raster.name,
                "path": paths.get(raster.name),
                "cell": raster.grid.cell,
                "volume_by_cells": volume(raster.volume_by_cells),
                "volume": volume(raster.volume),
            }
            for raster in rasters
        ],
        "untied": [_untied(face) for face in answer.untied],
        "drainage": drainage_dict(answer.drainage, answer.length_unit),
        "falls": _falls(answer.drainage),
        "cautions": [
            {"code": caution.code, "wall": caution.wall, "message": caution.message}
            for caution in answer.cautions
        ],
        "notes": list(answer.notes),
    }


def grade_json(answer: GradeAnswer, rasters: tuple[Raster, ...], paths: dict[str, str]) -> str:
    """`grade_dict` as text that UTF-8 can hold, two blanks an indent, ending in a newline."""
    told = grade_dict(answer, rasters, paths)
    text = json.dumps(told, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def _quantity(quantity: Quantity) -> Json:
    return {
        "bank": float(quantity.bank),
        "loose": float(quantity.loose),
        "compacted": float(quantity.compacted),
    }


def _with_doubt(told: dict[str, Json], doubt: SideDoubt | None) -> Json:
    return told | {"doubt": side_doubt_json(doubt)}


def _wall(row: LotRow) -> dict[str, Json]:
    return {
        "wall": row.wall,
        "backfill": _quantity(row.backfill),
        "grade_fill": _quantity(row.grade_fill),
        "stone": row.stone,
        "cut": float(row.cut),
        "surplus": float(row.surplus),
        "footing": row.footing,
        "wall_volume": row.wall_volume,
        "slab_fill": _quantity(row.slab_fill),
    }


def _lot(lot: LotTotal) -> dict[str, Json]:
    return {
        "cut": float(lot.cut),
        "fill": float(lot.fill),
        "topsoil_strip": float(lot.topsoil_strip),
        "topsoil_respread": float(lot.topsoil_respread),
        "topsoil_left_bank": float(lot.topsoil_left.bank),
        "topsoil_lacking_bank": float(lot.topsoil_lacking.bank),
        "topsoil_loads": lot.topsoil_loads,
        "slab_fill": float(lot.slab_fill),
        "unsuitable": float(lot.unsuitable),
        "import_bank": float(lot.import_bank),
        "haul_bank": float(lot.haul_bank),
        "loads": lot.loads,
    }


def _balance(balance: Balance, currency: str | None) -> Json:
    return {
        "wall_grade": balance.wall_grade,
        "wall_grade_reason": balance.wall_grade_reason,
        "floor": balance.floor,
        "floor_reason": balance.floor_reason,
        "curve": [
            {
                "elevation": point.elevation,
                "surplus_bank": float(point.surplus_bank),
                "loads": point.loads,
            }
            for point in balance.curve
        ],
        "step": balance.step,
        "loads_a_step": balance.loads_a_step,
        "money_a_step": balance.money_a_step,
        "currency": currency,
    }


def _falls(drained: Drainage) -> Json:
    """What the key `falls` holds: drop per run, lengths in length units, null where not seen."""
    return {
        "passing": drained.passing,
        "failing": list(drained.failing),
        "unseen": list(drained.unseen),
        "walls": [
            {
                "wall": fall.wall, "asked": _number(fall.asked), "least": _number(fall.least),
                "mean": _number(fall.mean), "settled": _number(fall.settled),
                "distance": fall.distance, "end": fall.end, "beside": list(fall.beside),
                "length": fall.length, "checked": fall.checked,
            }
            for fall in drained.walls
        ],
    }  # fmt: skip


def _number(value: float) -> float | None:
    return None if value != value else value


def _untied(face: Untied) -> Json:
    return {
        "where": face.where,
        "from": _spot(face.start),
        "to": _spot(face.end),
        "height": face.height,
    }


def _spot(spot: Spot) -> Json:
    return [float(spot[0]), float(spot[1])]


def drainage_dict(drained: Drainage, length_unit: str) -> Json:
    """What the key `drainage` holds."""
    unit = LENGTH_UNITS[length_unit]
    return {
        "failures": [
            {
                "wall": failed.wall, "station": failed.station, "from": _spot(failed.spot),
                "to": _spot(failed.to), "distance": failed.distance, "end": failed.end,
                "fall": failed.fall, "needed": failed.needed, "why": failed.why,
            }
            for failed in drained.failures
        ],
        "ponds": [
            {
                "at": _spot(pond.spot), "depth": pond.depth, "area": pond.area,
                "volume": unit.volume(pond.volume), "level": pond.level, "before": pond.before,
                "wall": pond.wall,
            }
            for pond in drained.ponds
        ],
        "outlets": [
            {"at": _spot(out.spot), "area": out.area, "share": out.share, "width": out.width}
            for out in drained.outlets
        ],
        "returns": [
            {"wall": back.wall, "at": _spot(back.spot), "area": back.area}
            for back in drained.returns
        ],
        "settlement": drained.settlement,
        "cell": drained.cell,
    }  # fmt: skip
