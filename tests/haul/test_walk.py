"""The machine's way round: on the lot where it can, the shorter way, off cut and piles."""

import numpy as np
import pytest
import shapely

from terrain.haul.walk import walk_round

PIT = shapely.box(0.0, 0.0, 40.0, 30.0)
WIDE = 8.0
EAST = np.array([42.0, 22.0]), np.array([1.0, 0.0])
WEST = np.array([-2.0, 20.0]), np.array([-1.0, 0.0])


def lane(way):
    """The ground that tracks take between a way's first and last stretch."""
    return shapely.LineString(way[1:-1]).buffer(WIDE / 2 - 0.01, cap_style="flat")


def length(way):
    return float(np.hypot(*np.diff(way, axis=0).T).sum())


@pytest.mark.parametrize("room", [5.0, 8.5, 20.0])
def test_where_the_lot_has_room_the_way_stays_on_it(room):
    lot = shapely.box(-30.0, -8.5, 70.0, 30.0 + room)
    way = walk_round([PIT], WIDE, lot).between(EAST, WEST)
    assert lot.covers(lane(way))
    assert lane(way).intersection(PIT).area == pytest.approx(0.0, abs=1e-6)
    assert np.array_equal(way[[0, -1]], [EAST[0], WEST[0]])
    north = way[:, 1].max() > 30.0
    assert north == (room > 5.0)  # 5 ft are no room for tracks: it goes round by the south


def test_the_shorter_way_round_is_taken_where_both_are_free():
    lot = shapely.box(-60.0, -60.0, 100.0, 90.0)
    start, end = (np.array([30.0, 32.0]), np.array([0.0, 1.0])), EAST
    way = walk_round([PIT], WIDE, lot).between(start, end)
    assert length(way) == pytest.approx(6.0 + 18.0 + 16.0 + 6.0)
    assert lot.covers(shapely.LineString(way))


def test_a_lot_too_narrow_for_the_tracks_gives_the_way_round_all_the_same():
    """It leaves the lot, and the pages say where: nothing better is known."""
    lot = shapely.box(-3.0, -3.0, 43.0, 33.0)
    spot = (np.array([41.5, 15.0]), np.array([1.0, 0.0]))
    way = walk_round([PIT], WIDE, lot).between(
        spot, (np.array([-1.5, 15.0]), np.array([-1.0, 0.0]))
    )
    assert not lot.covers(shapely.LineString(way))
    assert np.array_equal(
        way, walk_round([PIT], WIDE).between(spot, (np.array([-1.5, 15.0]), np.array([-1.0, 0.0])))
    )
