"""Where water stands, leaves the lot and comes back to the house, on a grid of the finished ground.

Low spots are filled by pyflwdir (after Wang & Liu 2006). Water runs to one of the eight cells
around, the steepest, with the distance to diagonal ones drawn by lot so that it keeps its direction
on the whole (Rho8, Fairfield & Leymarie 1991; the lots are the same each time); over filled spots
it runs the way they were filled. It is led over the whole surveyed ground, not over the lot only;
at the survey's edge it is gone.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage

from terrain.base.arrays import BoolArray, FloatArray
from terrain.lot.finish import Finished
from terrain.lot.flow_record import Flow, FlowLimits, Outlet, Pond, Return
from terrain.lot.grids import heights_at, held_heights, inside_of, lot_area
from terrain.surface.gridding import Grid
from terrain.surface.patches import Surface

if TYPE_CHECKING:
    # it takes half a second to load, which jobs without a lot do without
    from pyflwdir import FlwdirRaster

TOUCHING = np.ones((3, 3), dtype=np.bool_)
"""Cells that meet at a side or a corner."""

D8_CODES = (
    (0, 1, 1), (1, 1, 2), (1, 0, 4), (1, -1, 8),
    (0, -1, 16), (-1, -1, 32), (-1, 0, 64), (-1, 1, 128),
)  # fmt: skip
"""Rows down, columns across and the code of each of the eight directions, clockwise."""

LOTS = 1991
"""Where the drawing of lots begins."""

APART = 20
"""Ways out with no more than so many cells between them are one."""

D8_PIT = 0
"""The code of a cell whose water is gone."""

D8_UNKNOWN = 247
"""The library's code of a cell without ground."""

FILM = 1e-4
"""Depth in length units below which filled ground counts as dry: the library orders cells by
float32 heights, good to a millionth of the relief."""

STEPS_TO_WALL = 1.5
"""A cell whose centre is no further than so many cells from one of the house touches it."""

NEAR_CELLS = 3.0
"""Water from further than so many cells that runs to a cell touching the house has come back."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wetted:
    """The finished ground as flow takes it, all arrays (rows, columns).

    `height` stands as a block in the house and is NaN off the survey; `away` is the distance
    in cells from the house.
    """

    grid: Grid
    height: FloatArray
    in_lot: BoolArray
    at_house: BoolArray
    away: FloatArray
    walls: list[shapely.Geometry]

    def wall_at(self, row: int, column: int) -> int:
        """The house wall nearest to a cell."""
        spot = shapely.Point(self.spot(row, column))
        return int(np.argmin(shapely.distance(self.walls, spot)))

    def spot(self, row: int, column: int) -> FloatArray:
        """The centre of a cell."""
        return self.grid.middle_of(np.array(row), np.array(column))


def flow_over(ground: Surface, lot: Finished, grid: Grid, limits: FlowLimits) -> Flow:
    """Ponds in the lot, ways out of it and water that comes back to the house.

    The grid reaches somewhat beyond the lot, so that what holds water at its line is seen.
    """
    existing = heights_at(ground, grid)
    return flow_on(held_heights(existing, lot, grid), existing, lot, grid, limits)


def flow_on(
    height: FloatArray, before: FloatArray, lot: Finished, grid: Grid, limits: FlowLimits
) -> Flow:
    """The same over heights (rows, columns) at cell centres, NaN in the house and off the survey.

    `before` (rows, columns) is the ground that ponds are compared with.
    """
    wetted = _wetted(height, lot, grid)
    depth, filled, towards = _flooded(wetted.height)
    depth_before, _, _ = _flooded(before)
    codes = _directions(filled, towards)
    return Flow(
        cell=grid.cell,
        ponds=_ponds(wetted, (depth, depth_before), limits),
        outlets=_outlets(wetted, codes, limits),
        returns=_returns(wetted, codes, limits),
    )


def _flooded(height: FloatArray) -> tuple[FloatArray, FloatArray, NDArray[np.uint8]]:
    """Depth of water standing in each cell, its level above the lowest cell, the way it came.

    Heights are taken from the lowest cell: the library orders them as float32.
    """
    import pyflwdir

    above = height - float(np.nanmin(height))
    filled, towards = pyflwdir.fill_depressions(above, nodata=np.nan)
    return np.where(np.isnan(height), 0.0, filled - above), filled, towards


def _directions(filled: FloatArray, towards: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """D8 codes (rows, columns): down the steepest way, on flats as they were filled.

    The library fills in the order of float32 heights; a way down counts as one only if it is one
    in float32 too, so that water never goes round in a ring. Codes are of arrays with row 0 on
    top, which they need not be: only what follows what matters.
    """
    height = filled.astype(np.float32)
    rows, columns = height.shape
    padded = np.pad(height, 1, constant_values=np.nan)
    diagonal = 2.0 - np.random.default_rng(LOTS).random(height.shape, dtype=np.float32)
    steepest = np.zeros_like(height)
    codes = towards.copy()
    for down, across, code in D8_CODES:
        beside = padded[1 + down : 1 + down + rows, 1 + across : 1 + across + columns]
        drop = height - beside
        if down and across:
            drop /= diagonal
        better = drop > steepest  # not so beside NaN
        steepest[better] = drop[better]
        codes[better] = code
    known = ~np.isnan(height)
    edge = known & ~ndimage.binary_erosion(known, TOUCHING)
    codes[edge] = D8_PIT
    return codes


def _wetted(held: FloatArray, lot: Finished, grid: Grid) -> _Wetted:
    house = shapely.Polygon(lot.design.house)
    inside = inside_of(house, grid)
    block = float(np.nanmax(held) - np.nanmin(held)) + 1.0
    height = np.where(inside, np.nanmax(held) + block, held)
    away = ndimage.distance_transform_edt(~inside) if inside.any() else np.full(grid.shape, np.inf)
    corners = lot.design.house
    return _Wetted(
        grid=grid,
        height=height,
        in_lot=inside_of(lot_area(lot), grid) & ~inside & ~np.isnan(held),
        at_house=~inside & (away <= STEPS_TO_WALL),
        away=away,
        walls=[
            shapely.LineString([corners[i], corners[(i + 1) % len(corners)]])
            for i in range(len(corners))
        ],
    )


def _net(codes: NDArray[np.uint8]) -> "FlwdirRaster":
    import pyflwdir

    return pyflwdir.from_array(codes, ftype="d8", check_ftype=False)


def _flux(net: "FlwdirRaster", giving: BoolArray, grid: Grid) -> FloatArray:
    """The plan area (rows, columns) of giving cells whose water runs through each cell."""
    flux = net.accuflux(np.where(giving, grid.cell**2, 0.0), nodata=-1.0)
    return np.asarray(flux, dtype=np.float64)


def _ponds(
    wetted: _Wetted, depths: tuple[FloatArray, FloatArray], limits: FlowLimits
) -> tuple[Pond, ...]:
    """Ponds that touch the lot, from the depth (rows, columns) of water finished and today."""
    depth, before = depths
    number, count = ndimage.label(depth > FILM, structure=TOUCHING)
    inside = np.unique(number[wetted.in_lot & (number > 0)])
    cell_area = wetted.grid.cell**2
    every = range(count + 1)
    deepest = ndimage.maximum(depth, number, every)
    sizes = ndimage.sum_labels(np.ones_like(depth), number, every) * cell_area
    ponds = []
    for one in inside:
        if deepest[one] <= limits.pond_depth or sizes[one] <= limits.pond_area:
            continue
        own = number == one
        row, column = np.unravel_index(int(np.argmax(np.where(own, depth, -1.0))), depth.shape)
        walled = own & wetted.at_house
        wall = None
        if walled.any():
            first = np.argwhere(walled)[int(np.argmax(depth[walled]))]
            wall = wetted.wall_at(int(first[0]), int(first[1]))
        ponds.append(
            Pond(
                spot=wetted.spot(int(row), int(column)),
                depth=float(deepest[one]),
                area=float(sizes[one]),
                volume=float(depth[own].sum()) * cell_area,
                level=float(wetted.height[row, column] + deepest[one]),
                before=float(before[own].max()),
                wall=wall,
            )
        )
    return tuple(sorted(ponds, key=lambda pond: -pond.volume))


def _outlets(wetted: _Wetted, codes: NDArray[np.uint8], limits: FlowLimits) -> tuple[Outlet, ...]:
    """Stretches of cells in the lot whose water runs on outside it, or off the survey.

    Water that has left is not followed. A cell that has only its own water to give, along a line
    that water runs beside, is no way out.
    """
    cell_area = wetted.grid.cell**2
    net = _net(np.where(wetted.in_lot | (codes == D8_UNKNOWN), codes, np.uint8(D8_PIT)))
    flux = _flux(net, wetted.in_lot, wetted.grid)
    follows = np.asarray(net.idxs_ds, dtype=np.int64)
    own = np.arange(follows.size)
    to = np.where((follows >= 0) & (follows < follows.size), follows, own)
    stays = (wetted.in_lot.ravel()[to] & (to != own)).reshape(flux.shape)
    leaving = wetted.in_lot & ~stays & (flux > 1.5 * cell_area)
    near = leaving
    if leaving.any():
        near = ndimage.distance_transform_edt(~leaving) <= APART / 2
    number, count = ndimage.label(near, structure=TOUCHING)
    number = np.where(leaving, number, 0)
    lot_cells = int(wetted.in_lot.sum())
    outlets = []
    for one in range(1, count + 1):
        cells = np.argwhere(number == one)
        gone = flux[number == one]
        if gone.sum() <= limits.outlet_share * lot_cells * cell_area:
            continue
        row, column = cells[int(np.argmax(gone))]
        outlets.append(
            Outlet(
                spot=wetted.spot(int(row), int(column)),
                area=float(gone.sum()),
                width=float(np.hypot(*(np.ptp(cells, axis=0) + 1)) * wetted.grid.cell),
            )
        )
    return tuple(sorted(outlets, key=lambda outlet: -outlet.area))


def _returns(wetted: _Wetted, codes: NDArray[np.uint8], limits: FlowLimits) -> tuple[Return, ...]:
    """The spot of each house wall that most water from further off runs to."""
    far = ~np.isnan(wetted.height) & (wetted.away > NEAR_CELLS)
    flux = np.where(wetted.at_house, _flux(_net(codes), far, wetted.grid), 0.0)
    most: dict[int, Return] = {}
    for row, column in np.argwhere(flux > limits.returned_area):
        wall = wetted.wall_at(int(row), int(column))
        area = float(flux[row, column])
        if wall not in most or area > most[wall].area:
            most[wall] = Return(wall=wall, spot=wetted.spot(int(row), int(column)), area=area)
    return tuple(sorted(most.values(), key=lambda back: -back.area))
