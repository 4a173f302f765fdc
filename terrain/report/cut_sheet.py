"""The cut sheet on paper: a sketch and the dig's stakes wall by wall, then finished ground."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from markupsafe import Markup

from terrain.base.arrays import FloatArray
from terrain.job.stake_lines import StakeLines
from terrain.job.stakes import FOR_THE_DIG, Stake
from terrain.report import figures
from terrain.report.names import plain
from terrain.report.stake_sketch import Sketch, sketch_svg
from terrain.report.told import NARROW_PLAN, WIDE_PLAN, page_template

Row = dict[str, str]
FOR = {
    "dig corner": "corner of the dig line",
    "daylight": "side meets the ground",
    "apron": "finished, fall ends",
    "grid": "finished, grid",
}
AT_THE_WALL = "finished, at the wall"


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetFacts:
    """What a cut sheet is headed by."""

    title: str
    unit: str
    date: str


def cut_sheet_html(facts: SheetFacts, stakes: Sequence[Stake], lines: StakeLines) -> str:
    """The cut sheet as one page of HTML: stakes for the dig first, finished ground on its own."""
    dig = [stake for stake in stakes if stake.kind in FOR_THE_DIG]
    finished = [stake for stake in stakes if stake.kind not in FOR_THE_DIG]
    parts = [_part("dig", facts, dig, lines)] if dig else []
    if finished:
        parts.append(_part("finished", facts, finished, lines))
    return page_template("cut_sheet.html").render(
        title=plain(facts.title),
        unit=figures.unit_sign(facts.unit),
        date=facts.date,
        parts=parts,
        has_rod=any(stake.rod is not None for stake in stakes),
    )


def stake_counts(stakes: Sequence[Stake]) -> tuple[int, int]:
    """How many stakes are for the dig, and how many for finished ground; shared ones once."""
    kinds = {stake.point: stake.kind for stake in stakes}
    dig = sum(kind in FOR_THE_DIG for kind in kinds.values())
    return dig, len(kinds) - dig


def _part(
    name: str, facts: SheetFacts, stakes: Sequence[Stake], lines: StakeLines
) -> dict[str, object]:
    outline: FloatArray = lines.corners
    names = lines.walls
    if name == "finished" and lines.house is not None:
        outline, names = lines.house, lines.house_walls
    drawn = [
        Markup(
            sketch_svg(
                Sketch(
                    lines=lines, stakes=stakes, outline=outline, walls=names, width=width,
                    name=f"{name}-{kind}", unit=facts.unit, date=facts.date,
                )
            )
        )
        for kind, width in (("wide", WIDE_PLAN), ("slim", NARROW_PLAN))
    ]  # fmt: skip
    return {
        "name": name,
        "wide": drawn[0],
        "narrow": drawn[1],
        "walls": _walls(stakes, facts.unit),
        "is_set_back": any(stake.set_back > 0 for stake in stakes),
        "has_grid": any(stake.kind == "grid" for stake in stakes),
    }


def _walls(stakes: Sequence[Stake], unit: str) -> list[dict[str, object]]:
    """The rows of each wall in the order of the walls, those of none last."""
    walls = list(dict.fromkeys(stake.wall for stake in stakes if stake.wall is not None))
    ordered = sorted(stakes, key=lambda s: len(walls) if s.wall is None else walls.index(s.wall))
    return [
        {
            "name": "Grid over the lot" if wall is None else f"Wall {plain(wall)}",
            "rows": [_row(stake, unit) for stake in group],
        }
        for wall, group in groupby(ordered, key=lambda s: s.wall)
    ]


def _row(stake: Stake, unit: str) -> Row:
    if stake.cut is None:
        word, depth = "", "off the survey"
    else:
        depth = _shown(abs(stake.cut), unit)
        word = "cut" if stake.cut > 0 else "fill"
        if float(depth.replace(",", "")) == 0.0:  # as printed it is neither
            word = ""
    at_wall = stake.kind == "apron" and stake.offset == 0.0
    return {
        "point": stake.point,
        "kind": AT_THE_WALL if at_wall else FOR[stake.kind],
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
