"""The floor of a hole for its check: its figures with their plus-or-minus, and the map of it."""

from dataclasses import replace

import numpy as np
import shapely

from terrain.asdug.floor import FloorDug, floor_dug
from terrain.asdug.graded import area_weights
from terrain.asdug.walls import Figure
from terrain.base.arrays import FloatArray, IntArray
from terrain.job.asdug import DayHole, plan_sigma_of
from terrain.job.verify_judge import Judged
from terrain.job.verify_measure import floor_of
from terrain.job.verify_record import FloorChecked, FloorMap, Spot
from terrain.job.worked import Worked
from terrain.ledger.between import between_shots
from terrain.ledger.doubt import Terms, doubt_of
from terrain.ledger.ground import Ground
from terrain.ledger.weights import Weights
from terrain.surface.boundary import boundary_edges
from terrain.surface.overlay import overlay
from terrain.surface.patches import Surface, flipped, labelled, lifted
from terrain.surface.rim import cut_region
from terrain.surface.tin import Tin, tin_surface

Errors = tuple[IntArray, FloatArray]
"""Numbers of the floor's shots, and how far above the design each is."""


def floor_checked(worked: Worked, day: DayHole, judged: Judged) -> FloorChecked | None:
    """The floor against the design's; None where nothing of it was shot."""
    if day.hole.floor is None:
        return None
    surface, limits, design = tin_surface(day.hole.floor), judged.limits, judged.design
    found = floor_dug(surface, design, judged.errors, limits.floor, limits.height_sigma)
    if found is None:
        return None
    return _told(worked, day, found, len(judged.errors[0]), _net_doubt(day, day.hole.floor, design))


def _net_doubt(day: DayHole, floor: Tin, design: Surface) -> float | None:
    """Half the width of the 95 % interval of what is high less what is low, in cubic units."""
    errors = day.later.errors
    own = Ground(
        surface=tin_surface(floor),
        points=floor.points,
        triangles=floor.triangles,
        errors=replace(errors, horizontal_accuracy=plan_sigma_of(errors)),
        on_line=np.unique(boundary_edges(floor)).astype(np.int64),
    )
    one = labelled(design, np.zeros(len(design), dtype=np.int32))
    weights = area_weights(own, one).get(0, Weights.nothing())
    between = between_shots(own, weights.spots) if errors.is_said else None
    return doubt_of(
        weights, Terms(errors=own.errors, plan=own.points[:, :2], between=between)
    ).together


def _told(
    worked: Worked, day: DayHole, floor: FloorDug, shots: int, doubt: float | None
) -> FloorChecked:
    volume = worked.job.unit.volume

    def spot(shot: int) -> Spot | None:
        if shot < 0:
            return None
        east, north = worked.layout.frame.to_site(day.hole.points[shot, :2])
        return float(east), float(north)

    def figure(amount: float) -> Figure:
        """Noise widens it by as much as it may have made of it."""
        made = min(floor.thin_cut or 0.0, floor.high_volume, floor.low_volume)
        wide = None if doubt is None else volume(doubt + made)
        return Figure(value=volume(amount), plus_minus_95=wide)

    return FloorChecked(
        area=floor.area,
        within=floor.within,
        high_volume=figure(floor.high_volume),
        low_volume=figure(floor.low_volume),
        sure_high=volume(floor.sure_high),
        sure_low=volume(floor.sure_low),
        high_area=floor.high_area,
        low_area=floor.low_area,
        worst_high=floor.worst_high,
        worst_low=floor.worst_low,
        high_at=spot(floor.high_shot),
        low_at=spot(floor.low_shot),
        thin_cut=None if floor.thin_cut is None else volume(floor.thin_cut),
        shots=shots,
    )


def floor_map(worked: Worked, day: DayHole, errors: Errors, tolerance: float) -> FloorMap:
    """What a map of the hole shows: where its floor is off by more than the tolerance."""
    shots, off = errors
    hole, design = day.hole, worked.layout.design
    high = low = shapely.MultiPolygon()
    if hole.floor is not None:
        floor, asked = tin_surface(hole.floor), floor_of(worked)
        up, down = lifted(asked, tolerance), flipped(lifted(asked, -tolerance))
        turned, near = flipped(floor), hole.floor.neighbours
        high = cut_region(floor, near, up, overlay(floor, up))
        low = cut_region(turned, near, down, overlay(turned, down))
    return FloorMap(
        frame=worked.layout.frame,
        plan=hole.points[shots, :2],
        off=off,
        corners=design.corners,
        walls=tuple(wall.name for wall in design.walls),
        asked=worked.dig.line.ring.corners,
        dug=None if hole.toes is None else hole.plan_of(hole.toes),
        high=high,
        low=low,
    )
