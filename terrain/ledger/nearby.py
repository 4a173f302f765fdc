"""Cautions on what the edge of the cut comes near: the lot line and buildings."""

from collections.abc import Iterable
from functools import reduce

import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from terrain.base.arrays import FloatArray
from terrain.base.errors import Fault, JobError
from terrain.ledger.entries import Caution
from terrain.ledger.facts import SiteFacts, told
from terrain.ledger.profile import NOISE


def nearby_cautions(site: SiteFacts) -> list[Caution]:
    """Where the cut goes past the lot line, takes in a building or comes near one.

    Raises JobError if the lot line or a building crosses itself.
    """
    lines = [LineString(line) for line in site.daylight if len(line) > 1]
    found = _lot_cautions(lines, site)
    dig = _dig_area(site.daylight)
    for name, corners in site.buildings:
        building = _polygon(corners, f"lot.buildings.{name}")
        found += _building_cautions(lines, dig, building, name, site)
    return found


def _lot_cautions(lines: list[LineString], site: SiteFacts) -> list[Caution]:
    if site.lot is None or not lines:
        return []
    lot = _polygon(site.lot, "lot.boundary")
    over = _farthest((line.difference(lot) for line in lines), lot)
    if over <= NOISE * _size(lot):
        return []
    return [
        Caution(
            code="lot-line-crossed",
            message=f"The edge of the cut goes past the lot line by up to "
            f"{told(over, site.unit)}. Move the dig or shore that side, or have the "
            "neighbour's agreement in writing before you dig.",
        )
    ]


def _building_cautions(
    lines: list[LineString], dig: BaseGeometry, building: Polygon, name: str, site: SiteFacts
) -> list[Caution]:
    noise = NOISE * _size(building)
    inside = [line.intersection(building) for line in lines]
    taken = dig.intersection(building)
    reach = _farthest((*inside, taken.boundary), building.exterior)
    code = "building-undercut"
    if taken.area > building.area * (1.0 - NOISE):
        how = "the whole of it stands within the cut"
    elif reach > noise:
        how = f"the cut reaches up to {told(reach, site.unit)} inside its outline"
    else:
        apart = min((line.distance(building) for line in lines), default=site.deepest_cut)
        if apart >= site.deepest_cut:
            return []
        code = "building-near"
        how = (
            f"it stands {told(apart, site.unit)} from the edge of the cut, nearer than the dig is "
            f"deep ({told(site.deepest_cut, site.unit)})"
        )
    rule = "An engineer decides how the building is held up before you dig."
    return [
        Caution(
            code=code,
            message=f"Building {name}: {how}. {rule}",
            of=f"building {name}",
            own=how,
            rule=rule,
        )
    ]


def _polygon(corners: FloatArray, key: str) -> Polygon:
    polygon = Polygon(corners)
    if not polygon.is_valid:
        why = shapely.is_valid_reason(polygon).split("[")[0].lower()
        raise JobError(Fault(key=key, message=f"these corners make no area ({why}); list them in "
                             "order round it"))  # fmt: skip
    return polygon


def _dig_area(daylight: Iterable[FloatArray]) -> BaseGeometry:
    """The area within the closed rings; ground that stands within a ring within it is left out."""
    rings = [
        Polygon(line).buffer(0)
        for line in daylight
        if len(line) > 3 and (line[0] == line[-1]).all()
    ]
    return reduce(shapely.symmetric_difference, rings, Polygon())


def _farthest(pieces: Iterable[BaseGeometry], target: BaseGeometry) -> float:
    """The greatest distance to `target` from any point of the pieces, along them to 1 in 1000."""
    farthest = 0.0
    for piece in pieces:
        if piece.is_empty:
            continue
        points = shapely.points(shapely.get_coordinates(piece.segmentize(_size(target) / 1000)))
        farthest = max(farthest, float(shapely.distance(points, target).max()))
    return farthest


def _size(shape: BaseGeometry) -> float:
    left, low, right, high = shape.bounds
    return float(max(right - left, high - low))
