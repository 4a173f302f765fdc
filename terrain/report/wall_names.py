"""The names of the walls on a plan of the dig, with their bank volumes, outside the dig."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import LineString, Point, Polygon, get_parts
from shapely.geometry.base import BaseGeometry

from terrain.base.arrays import FloatArray
from terrain.report import figures
from terrain.report.drawing import Drawing
from terrain.report.labels import Sheet, along_wall
from terrain.report.names import plain, told_apart
from terrain.report.room import hatched, opened
from terrain.report.svg import text_width
from terrain.report.written import LONGEST_NAME, SHORTEST_NAME, Written


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """How the walls fared, by number: without a name, or not in full with their volume."""

    left: tuple[int, ...]
    part: tuple[int, ...]


def name_walls(drawing: Drawing, sheet: Sheet, written: Written, first: Sequence[int]) -> Named:
    """Each wall's name and bank volume outside all that is opened up along it.

    Those numbered in `first` come first, then short walls: they have the least choice, and long
    ones can give way. A wall that finds no room and has no section's number on the plan to go by
    is counted as left off.
    """
    plan, ledger = drawing.plan, drawing.volumes.ledger
    corners = drawing.view.pixels(plan.corners)
    ends = np.roll(corners, -1, axis=0)
    if Polygon(corners).exterior.is_ccw:  # pixels run downwards: an outline that goes clockwise
        corners, ends = ends, corners
    unit = figures.unit_sign(ledger.volume_unit)
    bank = {row.wall: figures.volume(row.quantity.bank) for row in ledger.walls}
    lengths = np.hypot(*(ends - corners).T)
    area, left, part = opened(drawing).difference(hatched(drawing)), [], []
    rows = [row.wall for row in ledger.walls]
    longer = dict(zip(rows, told_apart(rows, LONGEST_NAME), strict=True))
    shorts = dict(zip(rows, told_apart(rows, SHORTEST_NAME), strict=True))
    numbered = {section.wall for section in drawing.sections}
    order = [k for k in map(int, np.argsort(lengths, kind="stable")) if k not in first]
    for k in (*first, *order):
        wall = plan.walls[k]
        name, short, figure = longer.get(wall, plain(wall)), shorts.get(wall), bank.get(wall)
        out = _way_out(area, corners[k], ends[k]) + drawing.size
        said = [name] if short is None else [name, short]
        if figure is not None:
            said.insert(0, f"{name} {figure} {unit}")
        for content in said:  # the name alone, then shorter, where there is no room for both
            length = text_width(content, drawing.size)
            spots = along_wall(corners[k], ends[k], out, length)
            spot = sheet.place(content, drawing.size, spots)
            if spot is not None:
                break
        if spot is None:
            left.append(k)
        elif content != said[0] or name != plain(wall):
            part.append(k)
        if spot is not None or wall not in numbered:
            written.add(content, spot, drawing.size, font_weight=600.0)
    return Named(left=tuple(left), part=tuple(part))


def _way_out(area: BaseGeometry, start: FloatArray, end: FloatArray) -> float:
    """How many pixels out of a wall the area opened up ends: the median of five places along it."""
    length = float(np.hypot(*(end - start)))
    if length == 0 or area.is_empty:
        return 0.0
    along = (end - start) / length
    outward = np.array([-along[1], along[0]])
    west, top, east, bottom = area.bounds
    far = float(np.hypot(east - west, bottom - top))
    found = []
    for share in (0.1, 0.3, 0.5, 0.7, 0.9):
        foot = start + share * (end - start)
        ray = LineString([foot + outward * 0.01, foot + outward * far])
        pieces = get_parts(ray.intersection(area))
        near = [float(piece.length) for piece in pieces if piece.distance(Point(foot)) < 1.0]
        found.append(max(near, default=0.0))
    return float(np.median(found))
