"""The lot as graded as a map and as rasters."""

import numpy as np
import shapely

from terrain.asdug.graded import ShotErrors
from terrain.job.asgraded_record import GradedMap
from terrain.job.graded import Graded
from terrain.job.rasters import Raster
from terrain.ledger.ground import Ground
from terrain.lot.grids import heights_at, held_heights, inside_of, lot_area
from terrain.surface.gridding import Grid
from terrain.surface.overlay import overlay
from terrain.surface.patches import Surface, flipped, lifted
from terrain.surface.rim import cut_region
from terrain.surface.tin import Tin


def map_of(
    graded: Graded, seen: tuple[Ground, Tin], finished: Surface, told: tuple[ShotErrors, float]
) -> GradedMap:
    """What a map of the day shows: the ground as a surface and its TIN, shots and tolerance."""
    (ground, tin), (shots, tolerance) = seen, told
    design = graded.lot.design

    def off(surface: Surface, limit: Surface) -> shapely.MultiPolygon:
        return cut_region(surface, tin.neighbours, limit, overlay(surface, limit))

    return GradedMap(
        frame=graded.worked.layout.frame,
        boundary=design.boundary,
        house=design.house,
        walls=design.walls,
        pads=tuple(pad.corners for pad in design.pads),
        high=off(ground.surface, lifted(finished, tolerance)),
        low=off(flipped(ground.surface), flipped(lifted(finished, -tolerance))),
        shots=shots.shot[:, :2],
        errors=shots.error,
    )


def rasters_of_day(graded: Graded, seen: Ground, grid: Grid, date: str) -> tuple[Raster, ...]:
    """The ground as graded and how far it is off, on cells of the lot."""
    lot = graded.lot
    height = heights_at(seen.surface, grid)
    existing = heights_at(graded.worked.existing.ground.surface, grid)
    off = height - held_heights(existing, lot, grid)
    return (
        Raster(
            name=f"as_graded_{date}", grid=grid, values=height,
            meaning=f"Ground as graded at the cell's centre, surveyed {date}.",
        ),
        Raster(
            name=f"as_graded_error_{date}", grid=grid,
            values=np.where(inside_of(lot_area(lot), grid), off, np.nan),
            meaning=f"Ground as graded, surveyed {date}, less the finished ground asked for, at "
            "the cell's centre: high positive.",
        ),
    )  # fmt: skip
