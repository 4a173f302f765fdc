"""The names of the walls on a plan of the dig, with their bank volumes, outside the dig."""

from collections.abc import Sequence

import numpy as np
from shapely import LineString, Point, Polygon, get_parts
from shapely.geometry.base import BaseGeometry

from terrain.base.arrays import FloatArray
from terrain.report import figures
from terrain.report.drawing import Drawing
from terrain.report.labels import Sheet, along_wall
from terrain.report.names import plain, shortened
from terrain.report.room import hatched, opened
from terrain.report.svg import text_width
from terrain.report.written import LONGEST_NAME, SHORTEST_NAME, Written


def name_walls(drawing: Drawing, sheet: Sheet, written: Written, first: Sequence[int]) -> list[int]:
    """Each wall's name and bank volume outside all that is opened up along it.

    Those numbered in `first` come first, then short walls: they have the least choice, and long
    ones can give way. Returns the numbers of those that found no room.
    """
    plan, ledger = drawing.plan, drawing.volumes.ledger
    corners = drawing.view.pixels(plan.corners)
    ends = np.roll(corners, -1, axis=0)
    if Polygon(corners).exterior.is_ccw:  # pixels run downwards: an outline that goes clockwise
        corners, ends = ends, corners
    unit = figures.unit_sign(ledger.volume_unit)
    bank = {row.wall: figures.volume(row.quantity.bank) for row in ledger.walls}
    lengths = np.hypot(*(ends - corners).T)
    area, left = opened(drawing).difference(hatched(drawing)), []
    shorts = [shortened(plain(wall), SHORTEST_NAME) for wall in plan.walls]
    order = [k for k in map(int, np.argsort(lengths, kind="stable")) if k not in first]
    for k in (*first, *order):
        name = shortened(plain(plan.walls[k]), LONGEST_NAME)
        figure = bank.get(plan.walls[k])
        out = _way_out(area, corners[k], ends[k]) + drawing.size
        short = shorts[k]
        said = [name, short] if shorts.count(short) == 1 else [name]
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
        written.add(content, spot, drawing.size, font_weight=600.0)
    return left


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
