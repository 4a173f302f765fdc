"""What the foundation itself is made of, wall by wall, by hand."""

import numpy as np
import pytest

from terrain.lot.structure import Structure


def test_each_walls_own_volume_is_its_mitred_strip_times_its_height():
    house = Structure(
        corners=np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 30.0], [0.0, 30.0]]),
        underside=92.0,
        wall_thickness=1.0,
        wall_height=8.0,
    )
    long, short = (40 + 38) / 2 * 8, (30 + 28) / 2 * 8
    assert house.wall_volumes == pytest.approx([long, short, long, short], rel=1e-13)
    assert house.wall_volume == pytest.approx((40 * 30 - 38 * 28) * 8, rel=1e-13)


def test_without_a_thickness_there_is_no_wall():
    corners = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 3.0]])
    assert Structure(corners=corners, underside=0.0).wall_volume == 0.0
