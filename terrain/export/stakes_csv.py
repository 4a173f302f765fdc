"""Stakes as files: points for a rover, and the cut sheet for a spreadsheet."""

import csv
import io
from collections.abc import Sequence

from terrain.export.text import inert, plain
from terrain.job.stakes import Stake


def points_csv(stakes: Sequence[Stake]) -> str:
    """A points file that a rover, and our own survey reader, takes: every figure in full.

    The elevation is the design's, of the point that the stake stands for; the code is its kind.
    A stake that two walls share is one point.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(["point", "northing", "easting", "elevation", "code"])
    for stake in {stake.point: stake for stake in stakes}.values():
        writer.writerow(
            [stake.point, repr(stake.northing), repr(stake.easting), repr(stake.design), stake.kind]
        )
    return out.getvalue()


def cut_sheet_csv(stakes: Sequence[Stake], unit: str) -> str:
    """The cut sheet, every figure in full; one that is not known is left empty."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(
        ["point", "kind", "wall", *(f"{name} ({unit})" for name in (
            "station", "offset", "set back", "easting", "northing", "existing", "design",
            "cut + or fill -", "rod reading",
        ))]
    )  # fmt: skip
    for stake in stakes:
        figures = (
            stake.station, stake.offset, stake.set_back, stake.easting, stake.northing,
            stake.existing, stake.design, stake.cut, stake.rod,
        )  # fmt: skip
        writer.writerow([stake.point, stake.kind, inert(stake.wall or ""), *map(_text, figures)])
    return out.getvalue()


def stakes_dict(stakes: Sequence[Stake], unit: str) -> dict[str, object]:
    """The stakes as JSON tells them."""
    return {
        "length_unit": unit,
        "stakes": [
            {
                "point": stake.point,
                "kind": stake.kind,
                "wall": None if stake.wall is None else plain(stake.wall),
                "station": stake.station,
                "offset": stake.offset,
                "set_back": stake.set_back,
                "easting": stake.easting,
                "northing": stake.northing,
                "existing": stake.existing,
                "design": stake.design,
                "cut": stake.cut,
                "rod": stake.rod,
            }
            for stake in stakes
        ],
    }


def _text(value: float | None) -> str:
    return "" if value is None else repr(value)
