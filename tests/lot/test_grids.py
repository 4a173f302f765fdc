"""Rasters of the finished lot: exact means close, centres converge."""

import numpy as np
import pytest

from terrain.base.errors import DesignError
from terrain.base.frame import LocalFrame
from terrain.base.units import FOOT, METRE
from terrain.job.rasters import MOST_CELLS, USUAL_CELLS, lot_grid, rasters_of
from terrain.lot.grids import change_by_cell, heights_at, held_heights
from terrain.surface.gridding import Grid
from terrain.surface.overlay import overlay
from tests.lot.made_lot import LOT, keep, lot, pad, plane, rotation, swale, waves


def cells(side, boundary=LOT):
    return lot_grid(boundary, LocalFrame(), FOOT, side)


def by_name(ground, finished, grid):
    return {raster.name: raster for raster in rasters_of(ground, finished, grid)}


@pytest.mark.parametrize("side", [0.5, 1.0, 3.3, 50.0])
@pytest.mark.parametrize("degrees", [0.0, 23.0])
def test_cell_means_times_the_cells_area_are_the_exact_volume(side, degrees):
    finished = lot(
        degrees=degrees, keeps=() if degrees else (keep([[60, 40], [80, 40], [80, 60]]),)
    )
    ground = waves()
    boundary = LOT @ rotation(degrees)
    change = change_by_cell(ground, finished, cells(side, boundary))
    fill = overlay(finished.lower, ground).volume_above.sum()
    cut = overlay(ground, finished.upper).volume_above.sum()
    assert fill > 0 < cut
    assert abs(change.volume - (fill - cut)) <= 1e-13 * (fill + cut)
    assert abs(np.nansum(change.means) * side**2 - (fill - cut)) <= 1e-9 * (fill + cut)


def test_the_sum_holds_a_million_units_from_the_site_s_origin():
    frame = LocalFrame(easting=2_000_000.0, northing=600_000.0)
    grid = lot_grid(LOT, frame, FOOT, 0.7)
    change = change_by_cell(waves(), lot(), grid)
    assert abs(np.nansum(change.means) * 0.49 - change.volume) <= 1e-9 * change.gross


def test_the_error_of_centres_falls_with_the_square_of_the_cell():
    # walls lie on lines of every grid and grading ends inside the lot, so nothing jumps in a cell
    ground, finished = waves(), lot()
    sides = np.array([5.0, 2.5, 1.25, 0.625, 0.3125])
    errors = []
    for side in sides:
        raster = by_name(ground, finished, cells(side))["cut_fill"]
        errors.append(abs(raster.volume_by_cells - raster.volume))
    power = np.polyfit(np.log(sides), np.log(errors), 1)[0]
    assert 1.6 <= power <= 2.6, (power, errors)
    assert errors[-1] <= 1.5 * errors[0] / 16**2


def test_heights_at_centres_are_the_definition_s():
    ground = plane(99.0, 0.02, -0.01)
    oak = [[60, 40], [80, 40], [80, 60], [60, 60]]
    finished, grid = lot(keeps=(keep(oak),)), cells(2.0)
    existing = heights_at(ground, grid)
    held = held_heights(existing, finished, grid)
    east, north = grid.centres()[..., 0], grid.centres()[..., 1]
    np.testing.assert_allclose(existing, 99.0 + 0.02 * east - 0.01 * north, atol=1e-12)
    gap_e = np.maximum(np.maximum(-east, east - 40.0), 0.0)
    gap_n = np.maximum(np.maximum(-north, north - 30.0), 0.0)
    away = np.maximum(gap_e, gap_n)  # mitred: the apron is as far out at its corners
    beyond = np.maximum(away - 10.0, 0.0)
    edge = 101.0 - 0.05 * np.minimum(away, 10.0)
    wanted = np.clip(existing, edge - beyond / 3.0, edge + beyond / 3.0)
    in_oak = (east > 60) & (east < 80) & (north > 40) & (north < 60)
    wanted = np.where(in_oak, existing, wanted)
    wanted[away == 0] = np.nan
    np.testing.assert_allclose(held, wanted, atol=1e-9)


def test_nothing_is_known_of_the_house_and_of_ground_beyond_the_lot():
    rasters = by_name(
        plane(100.0), lot(), Grid(west=-70, south=-70, cell=1.0, rows=170, columns=180)
    )
    centres = rasters["cut_fill"].grid.centres()
    east, north = centres[..., 0], centres[..., 1]
    in_house = (east > 0) & (east < 40) & (north > 0) & (north < 30)
    in_lot = (east > -60) & (east < 100) & (north > -60) & (north < 90)
    assert np.isnan(rasters["finished_grade"].values).tolist() == in_house.tolist()
    assert not np.isnan(rasters["existing_grade"].values).any()
    for name in ("cut_fill", "cut_fill_mean"):
        assert (np.isnan(rasters[name].values) == (in_house | ~in_lot)).all(), name
    assert (rasters["finished_grade"].values[~in_lot] == 100.0).all()


def test_ground_that_is_kept_is_neither_cut_nor_filled():
    oak = [[5, -20], [15, -20], [15, -5], [5, -5]]
    rasters = by_name(plane(100.0), lot(keeps=(keep(oak),)), cells(1.0))
    east, north = np.moveaxis(rasters["cut_fill"].grid.centres(), -1, 0)
    kept = (east > 5) & (east < 15) & (north > -20) & (north < -5)
    for name in ("cut_fill", "cut_fill_mean"):
        assert (rasters[name].values[kept] == 0.0).all(), name
    assert rasters["cut_fill"].values[(north > -5) & (north < 0) & (abs(east - 10) < 5)].min() > 0.7


def test_fill_is_positive_and_cut_is_negative():
    drive = pad([[60, -45], [80, -45], [80, -25], [60, -25]], 97.0)
    rasters = by_name(plane(100.0), lot(pads=(drive,)), cells(1.0))
    change = rasters["cut_fill"]
    east, north = np.moveaxis(change.grid.centres(), -1, 0)
    assert change.values[(abs(east - 70) < 9) & (abs(north + 35) < 9)].max() == pytest.approx(-3.0)
    assert change.values[(north < 0) & (north > -1) & (east > 1) & (east < 39)].min() > 0.9


def test_a_swale_is_seen_in_both_rasters():
    ditch = swale([[-50, -40], [-50, 80]], [98.0, 99.0])
    rasters = by_name(plane(100.0), lot(swales=(ditch,)), cells(0.5))
    centre, mean = rasters["cut_fill"], rasters["cut_fill_mean"]
    assert centre.values[np.isfinite(centre.values)].min() == pytest.approx(-2.0, abs=0.01)
    assert abs(mean.volume_by_cells - mean.volume) <= 1e-9 * abs(mean.volume)


def test_cells_lie_on_whole_multiples_of_their_side_on_the_site():
    frame = LocalFrame(easting=1234.0, northing=-77.0)
    grid = lot_grid(LOT + 0.3, frame, FOOT, 2.5)
    site = frame.to_site(np.array(grid.origin)) / 2.5
    np.testing.assert_allclose(site, np.round(site), rtol=0, atol=1e-9)
    low, high = (LOT + 0.3).min(axis=0), (LOT + 0.3).max(axis=0)
    assert grid.west <= low[0] < grid.west + 2.5
    assert grid.south <= low[1] < grid.south + 2.5
    assert high[0] <= grid.west + 2.5 * grid.columns < high[0] + 2.5
    assert high[1] <= grid.south + 2.5 * grid.rows < high[1] + 2.5


def test_the_usual_cell_is_a_foot_or_a_quarter_metre_and_doubles_on_a_large_lot():
    assert lot_grid(LOT, LocalFrame(), FOOT, None).cell == 1.0
    assert lot_grid(LOT, LocalFrame(), METRE, None).cell == 0.25
    large = lot_grid(100.0 * LOT, LocalFrame(), FOOT, None)
    assert np.log2(large.cell) % 1 == 0
    assert USUAL_CELLS / 5 < large.rows * large.columns <= USUAL_CELLS


def test_a_cell_too_fine_is_refused_and_one_that_fits_is_named():
    with pytest.raises(DesignError) as caught:
        lot_grid(LOT, LocalFrame(), FOOT, 0.01)
    (fault,) = caught.value.faults
    assert fault.key == "lot.cell"
    assert "15,000 by 16,000" in fault.message
    fits = float(fault.message.rsplit(" ", 3)[1])
    grid = lot_grid(LOT, LocalFrame(), FOOT, fits)
    assert grid.rows * grid.columns <= MOST_CELLS
    with pytest.raises(DesignError):
        lot_grid(LOT, LocalFrame(), FOOT, 0.6 * fits)
