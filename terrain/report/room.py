"""What of a plan of the dig is opened up, hatched or crossed by lines, for words to keep off."""

from shapely import MultiLineString, Polygon, union_all
from shapely.geometry.base import BaseGeometry

from terrain.report.drawing import Drawing, closed


def drawn_lines(drawing: Drawing) -> MultiLineString:
    """The lines of the plan that no word should cover, in pixels."""
    plan = drawing.plan
    lines = [
        *plan.daylight,
        *plan.breaklines,
        *map(closed, plan.dig_line),
        closed(plan.corners),
        *(closed(ring) for extra in plan.extras for ring in extra.rings),
    ]
    return MultiLineString(drawing.lines(lines))


def opened(drawing: Drawing) -> BaseGeometry:
    """House, overdig and sides: what the main dig opens at the ground, in pixels."""
    rings = [drawing.plan.corners, *drawing.plan.dig_line]
    rings += [line for line in drawing.plan.daylight if len(line) > 3]
    areas = [Polygon(drawing.view.pixels(ring)).buffer(0) for ring in rings if len(ring) > 2]
    return union_all(areas)


def hatched(drawing: Drawing) -> BaseGeometry:
    """Pits, ramps and trenches, in pixels."""
    rings = [ring for extra in drawing.plan.extras for ring in extra.rings]
    return union_all([Polygon(drawing.view.pixels(ring)).buffer(0) for ring in rings])
