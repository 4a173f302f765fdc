"""The names on a dig plan's drawing, none over another: sides, pits, what stays."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from shapely import MultiLineString, Polygon, box, get_parts, union_all
from shapely.affinity import rotate
from shapely.geometry.base import BaseGeometry
from shapely.ops import polylabel

from terrain.base.arrays import FloatArray
from terrain.job.dig_plan_record import Place
from terrain.report import figures
from terrain.report.dig_plan_drawing import rings_of, wall_casts
from terrain.report.dig_plan_sheet import PlanDrawing
from terrain.report.drawing import closed
from terrain.report.labels import LINE_HEIGHT, Sheet, Spot, along_wall, around, inside
from terrain.report.names import plain, shortened, told_apart
from terrain.report.naming import north_place
from terrain.report.svg import text_width
from terrain.report.view import NARROW
from terrain.report.written import LONGEST_NAME, SHORTEST_NAME, Written

UPRIGHT = 30.0
"""Pixels that a name on end costs more than a level one."""

TRIES = 3
"""Walls whose names found no room come first in the next try."""


def dig_plan_names(drawing: PlanDrawing, taken: Sequence[BaseGeometry]) -> tuple[str, list[int]]:
    """The markup of all names, and the walls, from 0, whose names found no room.

    `taken` is what numbers, letters and the north arrow take, in pixels.
    """
    first = list[int]()
    best: tuple[list[int], Sheet, Written] | None = None
    for _ in range(TRIES):
        sheet, written = _sheet(drawing, taken), Written()
        left = _sides(drawing, sheet, written, first)
        if best is None or len(left) < len(best[0]):
            best = left, sheet, written
        if not left:
            break
        first = [*left, *(k for k in first if k not in left)]
    assert best is not None
    left, sheet, written = best
    _things(drawing, sheet, written)
    return written.markup(), sorted(left)


def north_of(drawing: PlanDrawing) -> FloatArray:
    """Where the north arrow stands, in pixels: over no stand and no edge of a pile, if it can."""
    plan = drawing.plan
    rings = [closed(one.stand.tracks) for one in plan.passes]
    rings += rings_of([plan.site.daylight, *(place.ground for place in plan.places)])
    return north_place(drawing.view, MultiLineString(drawing.view.lines(rings)))


def north_taken(north: FloatArray) -> Polygon:
    """What the north arrow takes, in pixels."""
    across, down = north
    return box(across - 16, down - 32, across + 16, down + 20)


def _sheet(drawing: PlanDrawing, taken: Sequence[BaseGeometry]) -> Sheet:
    plan, view = drawing.plan, drawing.view
    site = plan.site
    rings = [closed(site.corners), closed(site.dig_line), *rings_of([site.daylight])]
    rings += rings_of(place.ground for place in plan.places)
    rings += [np.stack([tail, tip]) for tail, tip, _ in wall_casts(plan)]
    return Sheet(
        window=box(3, 3, view.width - 3, view.height - 3),
        lines=MultiLineString(view.lines(rings)),
        shunned=Polygon(view.pixels(site.dig_line)).buffer(0),
        taken=list(taken),
    )


def _sides(drawing: PlanDrawing, sheet: Sheet, written: Written, first: Sequence[int]) -> list[int]:
    """Each wall's name with what is cast to its side, out on its place where it has one.

    Those numbered in `first` come first. Returns the numbers of those that found no room.
    """
    plan = drawing.plan
    places = {place.name: place for place in plan.places if place.kind == "side"}
    unit = figures.unit_sign(plan.volume_unit)
    longer = told_apart(plan.site.walls, LONGEST_NAME)
    shorter = told_apart(plan.site.walls, SHORTEST_NAME)
    corners = drawing.view.pixels(plan.site.corners)
    ends = np.roll(corners, -1, axis=0)
    flip = Polygon(corners).exterior.is_ccw  # pixels run downwards: the outline goes clockwise
    lengths = np.hypot(*(ends - corners).T)
    left = []
    order = [k for k in map(int, np.argsort(lengths, kind="stable")) if k not in first]
    for k in (*first, *order):
        start, end = (ends[k], corners[k]) if flip else (corners[k], ends[k])
        place = places.get(plan.site.walls[k])
        ground = None if place is None or place.ground.is_empty else place.ground
        out = drawing.size if ground is None else _middle_out(drawing, start, end, ground)
        said = [longer[k], shorter[k]]
        if place is not None and place.height > 0:
            said.insert(0, f"{longer[k]} {figures.volume(place.cast)} {unit}")
        others = _others(drawing, plan.site.walls[k])
        spot = None
        for content in said:
            length = text_width(content, drawing.size)
            if ground is not None:
                spot = sheet.place(content, drawing.size, _within(drawing, ground, length))
            if spot is not None:
                written.add(content, spot, drawing.size, font_weight=600.0)
                break
        for content in said if spot is None else ():
            length = text_width(content, drawing.size)
            spots = _off(along_wall(start, end, out, length), others, (length, drawing.size))
            spot = sheet.place(content, drawing.size, spots)
            if spot is not None:
                written.add(content, spot, drawing.size, font_weight=600.0)
                break
        if spot is None:
            left.append(k)
    return left


def _others(drawing: PlanDrawing, wall: str) -> BaseGeometry:
    """The piles of other walls, in pixels: a name on one of them would be taken for its own."""
    grounds = [place.ground for place in drawing.plan.places if place.name != wall]
    rings = drawing.view.lines(rings_of(grounds))
    return union_all([Polygon(ring).buffer(0) for ring in rings if len(ring) > 3])


def _off(spots: Iterator[Spot], others: BaseGeometry, size: tuple[float, float]) -> Iterator[Spot]:
    """Those spots at which a text so long and high lies on none of the piles of others."""
    wide, high = size
    for spot in spots:
        across, down = spot.middle
        level = box(across - wide / 2, down - high / 2, across + wide / 2, down + high / 2)
        if not rotate(level, spot.turn, origin=spot.middle).intersects(others):
            yield spot


def _within(drawing: PlanDrawing, ground: BaseGeometry, length: float) -> Iterator[Spot]:
    """Spots on a pile, level ones first."""
    for ring in rings_of([max(get_parts(ground), key=lambda part: part.area)])[:1]:
        area = Polygon(drawing.view.pixels(ring)).buffer(0)
        if isinstance(area, Polygon):
            yield from inside(area, length + 4, LINE_HEIGHT * drawing.size)
            for upright in inside(area, LINE_HEIGHT * drawing.size, length + 4):
                yield replace(upright, turn=-90.0, cost=upright.cost + UPRIGHT)


def _middle_out(
    drawing: PlanDrawing, start: FloatArray, end: FloatArray, ground: BaseGeometry
) -> float:
    """How many pixels out of a wall the middle of its place lies; a text's height at least."""
    along = (end - start) / max(float(np.hypot(*(end - start))), 1e-9)
    outward = np.array([-along[1], along[0]])
    middle = ground.representative_point()
    out = float((drawing.spot((middle.x, middle.y)) - start) @ outward)
    return max(out, drawing.size)


def _things(drawing: PlanDrawing, sheet: Sheet, written: Written) -> None:
    """Topsoil, pits, ramps and trenches, areas kept and buildings, in or beside them."""
    plan, size = drawing.plan, drawing.size
    things = [
        (_stack(drawing, place), rings_of([place.ground]))
        for place in plan.places
        if place.kind == "topsoil" and not place.ground.is_empty
    ]
    things += [
        (name if kind in name else f"{name} ({kind})", list(rings))
        for name, kind, rings in plan.site.extras
    ]
    things += [(name, [ring]) for name, ring in (*plan.site.keeps, *plan.site.buildings)]
    for name, rings in things:
        content = shortened(plain(name), LONGEST_NAME if drawing.view.width >= NARROW else 18)
        spots = _spots(drawing, rings, text_width(content, size))
        spot = sheet.place(content, size, spots)
        if spot is not None:
            written.add(content, spot, size, font_style="italic")


def _stack(drawing: PlanDrawing, place: Place) -> str:
    """The topsoil stack's name with what it holds of it all."""
    plan = drawing.plan
    unit, soil = figures.unit_sign(plan.volume_unit), plan.ground.topsoil
    if soil is None or soil.holds is None or soil.over <= 0:
        return f"topsoil {figures.volume(place.cast)} {unit}"
    if drawing.view.width < NARROW:
        return "topsoil, part"
    return f"topsoil {figures.volume(soil.holds)} of {figures.volume(place.cast)} {unit}"


def _spots(drawing: PlanDrawing, rings: list[FloatArray], length: float) -> Iterator[Spot]:
    window = box(0, 0, drawing.view.width, drawing.view.height)
    areas = [Polygon(drawing.view.pixels(ring)).buffer(0).intersection(window) for ring in rings]
    whole = sorted((area for area in areas if isinstance(area, Polygon) and not area.is_empty),
                   key=lambda area: -area.area)  # fmt: skip
    if not whole:
        return
    yield from inside(whole[0], length + 4, LINE_HEIGHT * drawing.size)
    middle = polylabel(whole[0], tolerance=2.0)
    place = np.array([middle.x, middle.y])
    house = drawing.view.pixels(drawing.plan.site.corners).mean(axis=0)
    yield from around(place, place - house, 0.0, length)
