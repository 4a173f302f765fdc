"""Bench marks on the dig plan's drawings: by name, or an arrow at the edge to one off it."""

from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from terrain.base.arrays import FloatArray
from terrain.job.dig_plan_ground_record import MarkTold, Place
from terrain.job.dig_plan_set_out import tape_from_corner
from terrain.report import dig_plan_inks as own
from terrain.report import figures
from terrain.report.dig_plan_room import letter_box, letter_places
from terrain.report.dig_plan_sheet import PlanDrawing
from terrain.report.dig_plan_stand_words import corner_letter
from terrain.report.labels import Sheet, Spot
from terrain.report.names import plain
from terrain.report.svg import element, fitted, path_data, text_width
from terrain.report.written import Written

LONGEST = 110.0
"""Pixels that a mark's name takes at most."""

EDGE, SHAFT, HALF = 4.0, 26.0, 7.0
"""Pixels: from the drawing's edge to an arrow's tip, how long the arrow is, half its width."""

APART = 8.0
"""Pixels between the places tried along the edge."""


def bench_marks(
    drawing: PlanDrawing, others: Sequence[BaseGeometry]
) -> tuple[str, list[BaseGeometry]]:
    """The markup of all marks whose places are known, and what they take, in pixels.

    They are over none of `others`, no stand's spot and no corner's letter.
    """
    view = drawing.view
    spots = [drawing.spot(one.stand.spot) for one in drawing.plan.passes]
    sheet = Sheet(
        window=shapely.box(2, 2, view.width - 2, view.height - 2),
        lines=shapely.MultiLineString(),
        taken=[
            *others,
            *(letter_box(k, put.middle) for k, put in letter_places(drawing, spots).items()),
            *(shapely.Point(spot).buffer(drawing.radius + 2) for spot in spots),
        ],
    )
    known, written, drawn = len(sheet.taken), Written(), list[str]()
    for mark in drawing.plan.ground.marks:
        if mark.spot is None:
            continue
        if sheet.window.contains(shapely.Point(drawing.spot(mark.spot))):
            drawn.append(_on_it(drawing, sheet, written, (mark, mark.spot)))
        else:
            drawn.append(_off_it(drawing, sheet, written, (mark, mark.spot)))
    return "".join(drawn) + written.markup(), list(sheet.taken[known:])


def _on_it(
    drawing: PlanDrawing, sheet: Sheet, written: Written, told: tuple[MarkTold, Place]
) -> str:
    """A triangle where the mark is, its name beside it."""
    mark, place = told
    across, down = (float(value) for value in drawing.spot(place))
    name = fitted(plain(mark.name), LONGEST, drawing.size)
    sheet.taken.append(shapely.box(across - 7, down - 7, across + 7, down + 5))
    aside = text_width(name, drawing.size) / 2 + 12
    offs = ((0.0, 16.0), (0.0, -18.0), (aside, 0.0), (-aside, 0.0))
    spots = (Spot(middle=(across + x, down + y), cost=k) for k, (x, y) in enumerate(offs))
    written.add(name, sheet.place(name, drawing.size, spots), drawing.size, font_weight="bold")
    triangle = f"M{across:.1f} {down - 6:.1f}l6 10h-12Z"
    return element("path", d=triangle, class_="bench", **own.HEADING)


def _off_it(
    drawing: PlanDrawing, sheet: Sheet, written: Written, told: tuple[MarkTold, Place]
) -> str:
    """An arrow at the edge that points to the mark, with its name and how far it is by tape."""
    mark, place = told
    tape, goal = tape_from_corner(drawing.plan, place), drawing.spot(place)
    far = f"{figures.length(tape.length, drawing.plan.length_unit)} "
    far += f"{figures.unit_sign(drawing.plan.length_unit)} from {corner_letter(tape.corner)}"
    words = f"{fitted(plain(mark.name), LONGEST, drawing.size)} {far}"
    start = drawing.view.pixels(drawing.plan.site.corners[tape.corner])
    for tip in _tips(drawing, start, goal):
        along = (goal - tip) / max(float(np.hypot(*(goal - tip))), 1e-9)
        tail = tip - SHAFT * along
        room = shapely.LineString([tip, tail]).buffer(HALF, cap_style="flat")
        if any(room.intersects(other) for other in sheet.taken):
            continue
        sheet.taken.append(room)
        spot = sheet.place(words, drawing.size, _beside(tip, tail, text_width(words, drawing.size)))
        if spot is None:
            sheet.taken.pop()
            continue
        written.add(words, spot, drawing.size, font_weight="bold")
        return _arrow(tail, tip, along)
    return ""


def _tips(drawing: PlanDrawing, start: FloatArray, goal: FloatArray) -> Iterator[FloatArray]:
    """Points along the drawing's edge, the one on the way from `start` to the mark first."""
    view = drawing.view
    edge = shapely.box(EDGE, EDGE, view.width - EDGE, view.height - EDGE).exterior
    crossed = shapely.LineString([start, goal]).intersection(edge)
    near = crossed if not crossed.is_empty else shapely.Point(goal)
    first = float(edge.project(near.representative_point()))
    for k in range(int(edge.length / 4 / APART)):
        for side in (1, -1) if k else (1,):
            point = edge.interpolate((first + side * k * APART) % edge.length)
            yield np.array([point.x, point.y])


def _beside(tip: FloatArray, tail: FloatArray, length: float) -> Iterator[Spot]:
    """Places for the words about an arrow, behind it first."""
    behind = (tail - tip) / SHAFT
    for cost, off in enumerate((10.0, 16.0, 24.0)):
        middle = tail + behind * np.array([off + length / 2, off])
        yield Spot(middle=(float(middle[0]), float(middle[1])), cost=cost)
    for cost, (across, down) in enumerate(
        (x, y) for y in (16.0, -16.0, 0.0, 28.0, -28.0) for x in (0.0, 1.0, -1.0)
    ):
        middle = (tip + tail) / 2 + np.array([across * (length / 2 + 12), down])
        yield Spot(middle=(float(middle[0]), float(middle[1])), cost=10.0 + cost)


def _arrow(tail: FloatArray, tip: FloatArray, along: FloatArray) -> str:
    aside = np.array([-along[1], along[0]])
    neck = tip - 12 * along
    ring = [tail + 2 * aside, neck + 2 * aside, neck + 6 * aside, tip, neck - 6 * aside,
            neck - 2 * aside, tail - 2 * aside]  # fmt: skip
    data = path_data([np.array([*ring, ring[0]])])
    return element("path", d=data, class_="bench off", **own.ARROW)
