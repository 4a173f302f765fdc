"""Marks on the dig plan's drawings: corners' letters, stands with their numbers, the machine."""

from collections.abc import Iterable

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.job.dig_plan_record import Stand
from terrain.report import dig_plan_inks as own
from terrain.report import inks
from terrain.report.dig_plan_sheet import PlanDrawing
from terrain.report.dig_plan_stand_words import corner_letter
from terrain.report.svg import element, path_data, text

NUMERAL, DOT = 14.0, 3.0
"""Pixels: a stand's numeral, and the dot at its spot where the numeral stands beside."""


def corner_letters(drawing: PlanDrawing, ringed: Iterable[int] = ()) -> str:
    """Each corner's letter outside it; corners measured from have a ring."""
    corners = drawing.view.pixels(drawing.plan.site.corners)
    before, after = np.roll(corners, 1, axis=0) - corners, np.roll(corners, -1, axis=0) - corners
    ways = before / np.hypot(*before.T)[:, None] + after / np.hypot(*after.T)[:, None]
    house = shapely.Polygon(corners).buffer(0)
    drawn = []
    for k, (at, way) in enumerate(zip(corners, ways, strict=True)):
        out = way / max(float(np.hypot(*way)), 1e-9)
        if house.contains(shapely.Point(at + 3 * out)):
            out = -out
        across, down = (float(value) for value in at + 12 * out)
        drawn.append(
            text(corner_letter(k), x=across, y=down + 5, text_anchor="middle", font_size=13.0,
                 font_weight="bold", class_="corner", **own.HALO)
        )  # fmt: skip
    for k in dict.fromkeys(ringed):
        across, down = (float(value) for value in corners[k])
        drawn.append(element("circle", cx=across, cy=down, r=5.0, **own.TAPE))
    return "".join(drawn)


def mark_places(drawing: PlanDrawing) -> dict[int, FloatArray]:
    """Where each stand's number goes, in pixels: at its spot, or beside it where others are."""
    spots = [drawing.spot(one.stand.spot) for one in drawing.plan.passes]
    taken: list[FloatArray] = []
    found = {}
    for k, (one, spot) in enumerate(zip(drawing.plan.passes, spots, strict=True)):
        others = [other for n, other in enumerate(spots) if n != k]
        found[one.stand.number] = _free(spot, (taken, others), drawing.radius)
        taken.append(found[one.stand.number])
    return found


def _free(
    spot: FloatArray, filled: tuple[list[FloatArray], list[FloatArray]], radius: float
) -> FloatArray:
    """The place nearest to a spot that is off all numbers and all other spots."""
    numbers, spots = filled
    for away in np.arange(0.0, 9.0) * 0.75 * radius:
        for turn in np.linspace(0, 2 * np.pi, 24, endpoint=False):
            place: FloatArray = spot + away * np.array([np.cos(turn), np.sin(turn)])
            if all(np.hypot(*(place - other)) >= 2 * radius + 1 for other in numbers) and all(
                np.hypot(*(place - other)) >= radius + DOT for other in spots
            ):
                return place
    return spot


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
    tie = path_data([np.stack([spot, place])])
    return element(
        "g",
        element("path", d=tie, **own.LEADER) if is_moved else "",
        element("path", d=path_data([np.array([*beak, beak[0]])]), **own.HEADING),
        element("circle", cx=across, cy=down, r=drawing.radius, **own.CIRCLE),
        text(f"{stand.number}", x=across, y=down + 0.36 * size, text_anchor="middle",
             font_size=size, font_weight="bold", fill=inks.INK),
        _dot(spot) if is_moved else "",
        class_="stand", data_stand=stand.number,
    )  # fmt: skip


def _dot(spot: FloatArray) -> str:
    across, down = (float(value) for value in spot)
    return element("path", d=f"M{across:.1f} {down:.1f}h0", **own.SPOT)


def heading_of(stand: Stand) -> FloatArray:
    """The way a machine faces in the picture, where north is up: right and down."""
    turn = np.radians(stand.heading)
    return np.array([np.sin(turn), -np.cos(turn)])


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
