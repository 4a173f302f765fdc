"""The cut sheet on paper: one page a wall, and one for what belongs to no wall."""

from collections.abc import Sequence
from itertools import groupby

from jinja2 import Environment, PackageLoader, StrictUndefined

from terrain.job.stakes import Stake
from terrain.report import figures
from terrain.report.names import plain

Row = dict[str, str]


def cut_sheet_html(title: str, stakes: Sequence[Stake], unit: str, date: str) -> str:
    """The cut sheet as one page of HTML that prints a sheet a wall."""
    environment = Environment(
        loader=PackageLoader("terrain.report"), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    walls = list(dict.fromkeys(stake.wall for stake in stakes if stake.wall is not None))
    ordered = sorted(stakes, key=lambda s: len(walls) if s.wall is None else walls.index(s.wall))
    sheets = [
        {
            "name": "Grid over the lot" if wall is None else f"Wall {plain(wall)}",
            "rows": [_row(stake, unit) for stake in group],
        }
        for wall, group in groupby(ordered, key=lambda s: s.wall)
    ]
    return environment.get_template("cut_sheet.html").render(
        title=plain(title),
        unit=figures.unit_sign(unit),
        date=date,
        sheets=sheets,
        has_rod=any(stake.rod is not None for stake in stakes),
        is_set_back=any(stake.set_back > 0 for stake in stakes),
    )


def _row(stake: Stake, unit: str) -> Row:
    if stake.cut is None:
        word, depth = "", "off the survey"
    else:
        depth = _shown(abs(stake.cut), unit)
        word = "cut" if stake.cut > 0 else "fill"
        if float(depth) == 0.0:  # as printed it is neither
            word = ""
    return {
        "point": stake.point,
        "kind": stake.kind,
        "station": _shown(stake.station, unit),
        "offset": _shown(stake.offset, unit),
        "set_back": _shown(stake.set_back, unit),
        "easting": _shown(stake.easting, unit),
        "northing": _shown(stake.northing, unit),
        "existing": _shown(stake.existing, unit),
        "design": _shown(stake.design, unit),
        "word": word,
        "depth": depth,
        "rod": _shown(stake.rod, unit),
    }


def _shown(value: float | None, unit: str) -> str:
    return "–" if value is None else figures.coordinate(value, unit)
