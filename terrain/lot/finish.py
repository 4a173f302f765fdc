"""The finished lot put together: limits of house and pads, swales, lot line, areas kept."""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.base.errors import DesignError, Fault
from terrain.base.frame import LocalFrame
from terrain.base.units import LengthUnit
from terrain.lot.design import LotDesign, Pad
from terrain.lot.limits import Limits, held_between, house_limits, pad_limits, reach_over
from terrain.lot.swales import swale_surface
from terrain.surface.minimum import highest_of, lowest_of, within
from terrain.surface.outline import ring_through
from terrain.surface.overlay import overlay_faces, overlay_sums
from terrain.surface.patches import Surface, height_on, join_faces
from terrain.surface.shares import core_faces
from terrain.surface.sweep import Swept, advance

SAME_HEIGHT = 1e-6
"""Heights that differ by less are one, in length units."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finished:
    """Finished ground is the existing held between `lower` and `upper` over `region`.

    Labels of the limits name whose they are, an index into `causes`. `region` is the lot outside
    the house and outside the areas kept. `owners` shares the ground in and round the house out
    among the house walls, labelled by wall.
    """

    design: LotDesign
    upper: Surface
    lower: Surface
    region: shapely.Geometry
    causes: tuple[str, ...]
    owners: Surface


def finished(lot: LotDesign, ground: FloatArray, frame: LocalFrame, unit: LengthUnit) -> Finished:
    """The finished lot over a ground of which only the points (n, 3) matter, for their spread.

    Raises:
        DesignError: the lot line, areas kept, pads or swales contradict one another or the house;
            the fault names both causes and the gap.
    """
    boundary = shapely.Polygon(lot.boundary)
    house = shapely.Polygon(lot.house)
    faults = place_faults(lot)
    if faults:
        raise DesignError(*faults)
    kept = shapely.union_all([shapely.Polygon(k.corners) for k in lot.keeps])
    region = boundary.difference(house).difference(kept)
    reach = reach_over(lot.house, boundary)
    causes = (
        *(f"wall {w}" for w in lot.walls),
        *(f"pad {p.name}" for p in lot.pads),
        *(f"swale {s.name}" for s in lot.swales),
    )
    limits = house_limits(lot.house, lot.apron, reach)
    if lot.pads:
        pads = _pads_together(lot, boundary, causes, (frame, unit))
        limits = held_between(limits, pads)
    first = len(lot.walls) + len(lot.pads)
    for number, swale in enumerate(lot.swales, start=first):
        ditch, area = swale_surface(swale, ground, number)
        limits = Limits(
            upper=lowest_of(limits.upper, ditch, limits.covered, area).lowest,
            lower=lowest_of(limits.lower, ditch, limits.covered, area).lowest,
            covered=limits.covered.union(area),
        )
    return Finished(
        design=lot,
        upper=within(limits.upper, region),
        lower=within(limits.lower, region),
        region=region,
        causes=causes,
        owners=owners_of(lot.house, max(reach, reach_over(lot.house, _box_round(ground)))),
    )


def owners_of(house: FloatArray, reach: float) -> Surface:
    """The ground in and round a house, shared out by its skeleton, inward and outward."""
    n = len(house)
    swept = Swept()
    advance([ring_through(house, range(n))], [reach] * n, 0.0, 0.0, swept)
    return join_faces(core_faces(house), swept.surface())


def _box_round(ground: FloatArray) -> shapely.Geometry:
    """A box round the ground: the dig may reach past the lot line."""
    return shapely.box(*ground[:, :2].min(axis=0), *ground[:, :2].max(axis=0))


def place_faults(lot: LotDesign) -> list[Fault]:
    """What is wrong with where lot line, house, areas kept and pads lie to one another."""
    boundary, house = shapely.Polygon(lot.boundary), shapely.Polygon(lot.house)
    if not boundary.is_valid:
        message = f"the lot line crosses itself: {shapely.is_valid_reason(boundary)}"
        return [Fault(key="lot.boundary", message=message)]
    faults = []
    if not boundary.covers(house):
        message = "the lot line does not go round the house; check both on the same grid"
        faults.append(Fault(key="lot.boundary", message=message))
    for keep in lot.keeps:
        shape = shapely.Polygon(keep.corners)
        over = shape.intersection(house).area
        if over > SAME_HEIGHT:
            message = f'area "{keep.name}" that must not change covers {over:.1f} of the house'
            faults.append(Fault(key=f"{keep.key}.corners", message=message))
    for i, pad in enumerate(lot.pads):
        faults += _overlaps(pad, lot.pads[:i])
    return faults


def _overlaps(pad: Pad, others: tuple[Pad, ...]) -> list[Fault]:
    """A fault for every earlier pad that this one overlaps at another height."""
    faults = []
    for other in others:
        shared = shapely.Polygon(pad.corners).intersection(shapely.Polygon(other.corners))
        if shared.area <= SAME_HEIGHT:
            continue
        spots = shapely.get_coordinates(shared)
        gap = np.abs(height_on(pad.plane, spots) - height_on(other.plane, spots)).max()
        if gap > SAME_HEIGHT:
            faults.append(
                Fault(
                    key=f"{pad.key}.corners",
                    message=f'pads "{pad.name}" and "{other.name}" overlap and differ by up to '
                    f"{gap:.2f} in height; move one or give them one height",
                )
            )
    return faults


def _pads_together(
    lot: LotDesign,
    boundary: shapely.Geometry,
    causes: tuple[str, ...],
    words: tuple[LocalFrame, LengthUnit],
) -> Limits:
    """The limits that all pads set together; what one allows must meet what the others ask."""
    first = len(lot.walls)
    each = [
        pad_limits(pad, lot.apron, reach_over(pad.corners, boundary), first + i)
        for i, pad in enumerate(lot.pads)
    ]
    upper, lower, covered = each[0].upper, each[0].lower, each[0].covered
    for limits in each[1:]:
        both = (covered, limits.covered)
        upper = lowest_of(upper, limits.upper, *both).lowest
        lower = highest_of(lower, limits.lower, *both)
        covered = covered.union(limits.covered)
    upper, lower = within(upper, boundary), within(lower, boundary)
    if overlay_sums(lower, upper).depth_above[0] > SAME_HEIGHT:
        raise DesignError(_gap_fault(lot, (lower, upper), causes, words))
    return Limits(upper=upper, lower=lower, covered=boundary)


def _gap_fault(
    lot: LotDesign,
    limits: tuple[Surface, Surface],
    causes: tuple[str, ...],
    words: tuple[LocalFrame, LengthUnit],
) -> Fault:
    """What to say where the lowest ground asked for is above the highest allowed."""
    lower, upper = limits
    frame, unit = words
    parts = overlay_faces(lower, upper)
    corner = int(np.argmax(parts.depth))
    part = int(np.searchsorted(parts.start, corner, side="right")) - 1
    easting, northing = frame.to_site(parts.ring[corner])
    asks, allows = causes[lower.label[parts.a[part]]], causes[upper.label[parts.b[part]]]
    key = lot.pads[int(upper.label[parts.b[part]]) - len(lot.walls)].key
    return Fault(
        key=key,
        message=f"{asks} holds the ground up {parts.depth[corner]:.2f} {unit.name} above what "
        f"{allows} allows, at ({easting:.2f}, {northing:.2f}): they stand too close for a fill "
        f"slope of {lot.apron.fill_slope:g} and a cut slope of {lot.apron.cut_slope:g} to meet; "
        "move them apart, bring their heights together or make the slopes steeper",
    )
