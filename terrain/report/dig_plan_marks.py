"""Marks on the dig plan's drawings: corners' letters, stands with their numbers, the machine."""

from collections.abc import Iterable

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.job.dig_plan_record import Stand
from terrain.report import dig_plan_inks as own
from terrain.report import inks
from terrain.report.dig_plan_room import DOT, LETTER, Put, letter_places
from terrain.report.dig_plan_sheet import PlanDrawing, heading_of
from terrain.report.dig_plan_stand_words import corner_letter
from terrain.report.svg import element, path_data, text

NUMERAL = 14.0
"""Pixels: a stand's numeral."""


def corner_letters(
    drawing: PlanDrawing, ringed: Iterable[int] = (), letters: dict[int, Put] | None = None
) -> str:
    """Each corner's letter outside it; corners measured from have a ring."""
    drawn = []
    for corner, put in (letter_places(drawing, ()) if letters is None else letters).items():
        across, down = (float(value) for value in put.middle)
        if put.moved:
            tie = path_data([np.stack([put.point, put.middle])])
            drawn.append(element("path", d=tie, **own.TIE))
        drawn.append(
            text(corner_letter(corner), x=across, y=down + 0.36 * LETTER, text_anchor="middle",
                 font_size=LETTER, font_weight="bold", class_="corner", **own.HALO)
        )  # fmt: skip
    corners = drawing.view.pixels(drawing.plan.site.corners)
    for k in dict.fromkeys(ringed):
        across, down = (float(value) for value in corners[k])
        drawn.append(element("circle", cx=across, cy=down, r=5.0, **own.TAPE))
    return "".join(drawn)


def stand_mark(drawing: PlanDrawing, stand: Stand, place: FloatArray) -> str:
    """A stand at its true spot, its beak the way the machine faces, its number in a circle.

    The number is at `place`, in pixels; where that is not the spot, a line leads from it there.
    """
    across, down = (float(value) for value in place)
    spot = drawing.spot(stand.spot)
    size = NUMERAL if stand.number < 100 else NUMERAL - 3.5
    is_moved = bool(np.hypot(*(place - spot)) > 0.5)
    root = DOT if is_moved else drawing.radius
    ahead = heading_of(stand)
    aside = np.array([-ahead[1], ahead[0]]) * max(root * 0.75, 4.0)
    beak = [spot + ahead * (root + drawing.beak), spot + ahead * root * 0.6 + aside,
            spot + ahead * root * 0.6 - aside]  # fmt: skip
    return element(
        "g",
        _leader(spot, place) + _dot(spot) if is_moved else "",
        element("path", d=path_data([np.array([*beak, beak[0]])]), **own.HEADING),
        element("circle", cx=across, cy=down, r=drawing.radius, **own.CIRCLE),
        text(f"{stand.number}", x=across, y=down + 0.36 * size, text_anchor="middle",
             font_size=size, font_weight="bold", fill=inks.INK),
        class_="stand", data_stand=stand.number,
    )  # fmt: skip


def _leader(spot: FloatArray, place: FloatArray) -> str:
    """A thin line on paper, so that it is seen over whatever it crosses."""
    tie = path_data([np.stack([spot, place])])
    under = element("path", d=tie, **own.LEADER_UNDER)
    return under + element("path", d=tie, class_="leader", **own.LEADER)


def _dot(spot: FloatArray) -> str:
    across, down = (float(value) for value in spot)
    return element("path", d=f"M{across:.1f} {down:.1f}h0", **own.SPOT)


def nose(drawing: PlanDrawing, stand: Stand, track_length: float) -> str:
    """A beak before the tracks, the way the machine faces."""
    ahead = heading_of(stand)
    aside = np.array([-ahead[1], ahead[0]])
    foot = drawing.spot(stand.spot) + ahead * (track_length / 2 * drawing.view.scale + 2)
    ring = [foot + aside * 6, foot + ahead * 10, foot - aside * 6, foot + aside * 6]
    return element("path", d=path_data([np.array(ring)]), class_="nose", **own.HEADING)


def belts(stand: Stand) -> list[FloatArray]:
    """The two tracks within the footprint: its outer quarters along the heading."""
    corners = stand.tracks
    turn = np.radians(stand.heading)
    ahead = np.array([np.sin(turn), np.cos(turn)])
    first, second = corners[1] - corners[0], corners[2] - corners[1]
    lengthwise = abs(first @ ahead) > abs(second @ ahead)
    start = corners if lengthwise else np.roll(corners, -1, axis=0)
    a, b, c, d = start
    return [
        np.array([a, b, b + (c - b) * 0.26, a + (d - a) * 0.26, a]),
        np.array([d, c, c + (b - c) * 0.26, d + (a - d) * 0.26, d]),
    ]
