"""The small section on the card: floor, side and ground along one wall, and where to paint."""

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.job.dig_plan_ground_record import WallCut
from terrain.job.dig_plan_record import CardWall, DigPlan
from terrain.report import dig_plan_inks as own
from terrain.report import figures, inks
from terrain.report.names import plain
from terrain.report.palette import EARTH
from terrain.report.svg import Attribute, element, path_data, text

WIDTH, TALLEST, SIZE = 344.0, 120.0, 13.0
LEFT, RIGHT, ABOVE, BELOW = 74.0, 58.0, 34.0, 38.0
"""Pixels for the words round the ground that is shown."""

MOST = 85.0
"""Pixels that a metre of a shallow cut takes at most."""


def cut_section_svg(plan: DigPlan, wall: CardWall, cut: WallCut) -> str:
    """A section square to the wall through its middle, upright as wide; outside is right."""
    top = cut.dig_line[-1]
    high = float(max(cut.ground_line[:, 1].max(), top[1]))
    deep = max(high - wall.floor, 1e-6)
    wide = max(float(cut.ground_line[-1, 0]), 1e-6)
    scale = min((WIDTH - LEFT - RIGHT) / wide, TALLEST / deep, MOST * float(plan.unit.metres))
    floor = ABOVE + deep * scale

    def at(line: FloatArray) -> FloatArray:
        return np.column_stack(
            [LEFT + line[:, 0] * scale, floor - (line[:, 1] - wall.floor) * scale]
        )

    return _drawn(plan, wall, (at(cut.ground_line), at(cut.dig_line), floor))


def _drawn(plan: DigPlan, wall: CardWall, lines: tuple[FloatArray, FloatArray, float]) -> str:
    ground, dig, floor = lines
    unit = plan.length_unit
    sign = figures.unit_sign(unit)
    inner = np.array([[4.0, floor], [LEFT, floor]])
    foot = dig[np.argmax(dig[:, 0] > LEFT + 0.5)] if len(dig) > 2 else dig[0]
    paint = dig[-1]
    earth = np.vstack([inner[:1], dig, ground[ground[:, 0] > paint[0]], [[WIDTH, ground[-1, 1]]],
                       [[WIDTH, floor + 10], [4.0, floor + 10]], inner[:1]])  # fmt: skip
    low = floor + 24
    overdig = np.array([[LEFT, low - 8], [foot[0], low - 8]])
    ticks = [np.array([[x, low - 12], [x, low - 4]]) for x in (LEFT, float(foot[0]))]
    face = np.array([[LEFT, 16.0], [LEFT, floor + 18]])
    bold: dict[str, Attribute] = {"font_size": SIZE, "font_weight": "bold", "fill": inks.INK}
    return element(
        "svg",
        element("path", d=path_data([earth]), fill=EARTH, stroke="none"),
        element("path", d=path_data([ground]), **own.OLD_GROUND),
        element("path", d=path_data([np.vstack([inner, dig])]), **own.SECTION),
        element("path", d=path_data([face]), **own.FACE_LINE),
        element("path", d=path_data([overdig, *ticks]), **own.TAPE),
        element("path", d=f"M{paint[0]:.1f} {paint[1] - 3:.1f}l-5 -11h10Z", **own.HEADING),
        text("wall line", x=LEFT, y=12.0, text_anchor="middle", **bold),
        text("paint here", x=float(min(max(paint[0], LEFT + 74), WIDTH - 36)),
             y=float(max(paint[1] - 18, 12.0)), text_anchor="middle", **bold),
        text(f"floor {figures.coordinate(wall.floor, unit)}", x=4.0, y=floor - 5, **bold),
        text(f"overdig {figures.length(wall.overdig, unit)} {sign}",
             x=float(max(foot[0] + 6, LEFT + 6)),
             y=low - 3, **bold),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {WIDTH:g} {low + 4:g}",
        role="img",
        aria_label=f"Section through {plain(wall.wall)}",
        font_family=inks.FACE,
        class_="section",
    )  # fmt: skip
