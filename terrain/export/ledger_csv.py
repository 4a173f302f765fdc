"""The ledger as a table for spreadsheets, every figure at full precision."""

import csv
import io

from terrain.export.text import inert
from terrain.job.answer import Volumes
from terrain.ledger.doubt import Doubt
from terrain.ledger.entries import Ledger, Quantity, WallRow

DOUBT_PARTS = {
    "elevations of shots": "random",
    "places of shots": "horizontal",
    "datum": "datum",
    "errors that near shots share": "correlated",
    "ground between shots": "terrain",
}
"""What a plus-or-minus is made of, and where it stands in a `Doubt`."""


def ledger_csv(volumes: Volumes) -> str:
    """One row for each part, wall, pit, ramp and trench, and one for the total.

    The first column says what a row is: filter on it, for parts are counted again in their wall
    and walls in the total; their plus-or-minus don't add. Units stand in the header; a figure the
    answer does not have is left empty. Text that a spreadsheet would run as a formula gets an
    apostrophe before it.
    """
    ledger = volumes.ledger
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(_header(ledger))
    for wall in ledger.walls:
        writer.writerows(_wall_rows(wall))
    for pit in ledger.pits:
        doubt = pit.bank_plus_minus_95
        measures = [*_measures(pit.quantity), *_rest(pit.topsoil, doubt)]
        writer.writerow(
            [pit.kind, inert(pit.name), "", *measures, "", "", *_doubt_parts(pit.doubt)]
        )
    total = ledger.total
    doubt = total.bank_plus_minus_95
    measures = _measures(total.quantity)
    writer.writerow(
        [
            "total", "", "", *measures, *_rest(total.topsoil, doubt), "", _text(total.loads),
            *_doubt_parts(total.doubt),
        ]
    )  # fmt: skip
    return out.getvalue()


def _header(ledger: Ledger) -> list[str]:
    unit = ledger.volume_unit
    return [
        "row",
        "name",
        "part",
        f"bank ({unit})",
        f"loose ({unit})",
        f"compacted ({unit})",
        f"of which topsoil, bank ({unit})",
        f"bank plus or minus, 95 % ({unit})",
        f"deepest cut ({ledger.length_unit})",
        "truck loads",
        *(f"plus or minus by {of} ({unit})" for of in DOUBT_PARTS),
    ]


def _wall_rows(wall: WallRow) -> list[list[str]]:
    name, parts = inert(wall.wall), wall.parts
    by_part = [
        ["part", name, part, _text(bank), "", "", "", *_part_doubt(wall, part)]
        for part, bank in (
            ("core", parts.core),
            ("overdig", parts.overdig),
            ("side", parts.side),
            ("footing", parts.footing),
        )
    ]
    rest = _rest(wall.topsoil, wall.bank_plus_minus_95)
    whole = ["wall", name, "", *_measures(wall.quantity), *rest, _text(wall.deepest), ""]
    return [*by_part, [*whole, *_doubt_parts(wall.doubt)]]


def _part_doubt(wall: WallRow, part: str) -> list[str]:
    """A part's doubt, no depth, no loads, and what its doubt is made of."""
    doubt = None if wall.part_doubts is None else wall.part_doubts[part]
    return [_text(None if doubt is None else doubt.together), "", "", *_doubt_parts(doubt)]


def _doubt_parts(doubt: Doubt | None) -> list[str]:
    if doubt is None:
        return [""] * len(DOUBT_PARTS)
    return [_text(getattr(doubt, part)) for part in DOUBT_PARTS.values()]


def _measures(quantity: Quantity) -> list[str]:
    return [_text(quantity.bank), _text(quantity.loose), _text(quantity.compacted)]


def _rest(topsoil: float, doubt: float | None) -> list[str]:
    return [_text(topsoil), _text(doubt)]


def _text(value: float | None) -> str:
    """The shortest text that reads back as the same number; empty for None."""
    if value is None:
        return ""
    return str(value) if isinstance(value, int) else repr(float(value))
