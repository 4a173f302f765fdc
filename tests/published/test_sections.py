"""Volumes from cross-sections: SOURCES section 2. Printed and exact answers shown."""

import numpy as np
import pytest

from tests.published.shapes import cut_and_fill, faces, level


def test_a_prismoid():
    """SOURCES section 2 (S): L 20 m, areas 13.1625, 13.974, 14.64 -> 278.995 m3.

    The source gives areas only. The body here is ours: upright sides that spread evenly and a
    floor that falls evenly, so that its section is the one quadratic through the three areas,
    (L / 6) (A1 + 4 Am + A2) holds exactly, and our overlay must meet the printed figure.
    """
    first, middle, last = 13.1625, 13.974, 14.64
    square = 2 * first - 4 * middle + 2 * last
    root_low, root_high = np.sort(np.roots([square, last - first - square, first]))
    half = [(root_high - t) / 2 for t in (0.0, 1.0)]
    depth = [-square * (t - root_low) for t in (0.0, 1.0)]
    for t, area in ((0.0, first), (0.5, middle), (1.0, last)):
        width = 2 * (half[0] + t * (half[1] - half[0]))
        assert width * (depth[0] + t * (depth[1] - depth[0])) == pytest.approx(area, rel=1e-12)
    floor = faces([
        (0, -half[0], -depth[0]), (20, -half[1], -depth[1]),
        (20, half[1], -depth[1]), (0, half[0], -depth[0]),
    ])  # fmt: skip
    cut, fill = cut_and_fill(level(0, 0, -half[0], 20, half[0]), floor)
    assert fill == 0.0
    assert round(cut, 3) == 278.995
    assert cut == pytest.approx(20 / 6 * (first + 4 * middle + last), rel=1e-12)


def strip(west, east, width, heights):
    """A face between two sections: its width and its height over 0 at either end."""
    (west_width, east_width), (west_height, east_height) = width, heights
    corners = [(west, 0, west_height), (east, 0, east_height)]
    if east_width > 0:
        corners.append((east, east_width, east_height))
    if west_width > 0:
        corners.append((west, west_width, west_height))
    return corners


def test_end_areas_with_pyramid_tips():
    """Fundamentals of Transportation, Earthwork (S): fill 4,087.5 m3, cut 1,058.3 m3.

    Stations in m with areas in m2: 0 F60; 50 F50; 75 F25, cut begins; 100 C10 F5; 115 C15, fill
    ends; 150 C30. The source gives areas only; the bodies here are ours: 10 m wide with a height
    that changes evenly, where mean end area is exact, and width and height both running out in
    the tips, which are pyramids. Exact cut 1,058 1/3.
    """
    ten = (10.0, 10.0)
    fill_top = faces(
        strip(0, 50, ten, (6.0, 5.0)),
        strip(50, 75, ten, (5.0, 2.5)),
        strip(75, 100, ten, (2.5, 0.5)),
        strip(100, 115, (10.0, 0.0), (0.5, 0.0)),
    )
    cut_floor = faces(
        strip(75, 100, (0.0, 10.0), (0.0, -1.0)),
        strip(100, 115, ten, (-1.0, -1.5)),
        strip(115, 150, ten, (-1.5, -3.0)),
    )
    ground = level(0, 0, 0, 150, 10)
    cut, none = cut_and_fill(ground, cut_floor)
    assert none == 0.0
    none, fill = cut_and_fill(ground, fill_top)
    assert none == 0.0
    assert fill == pytest.approx(4087.5, rel=1e-13)
    assert round(cut, 1) == 1058.3
    assert cut == pytest.approx(1058 + 1 / 3, rel=1e-13)


def test_mean_end_area_is_half_as_much_again_on_a_pyramid_tip():
    """SOURCES, Traps: why the tips are told apart from the rest."""
    tip = faces(strip(0, 25, (0.0, 10.0), (0.0, -1.0)))
    cut, _ = cut_and_fill(level(0, 0, 0, 25, 10), tip)
    mean_end_area = (0 + 10) / 2 * 25
    assert mean_end_area == pytest.approx(1.5 * cut, rel=1e-13)
