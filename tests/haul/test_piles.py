"""What heaps hold, against closed forms."""

import math

import numpy as np
import pytest
import shapely

from terrain.haul.piles import heap_height, heap_volume

LEAN = math.tan(math.radians(35.0))


def test_a_long_ridge_holds_its_published_volume():
    """Spoil ridge: B = (4 V / (L tan R)) ** (1/2), so V = B^2 L tan R / 4 (as quoted); ends that
    lean too take B^3 tan R / 12 from it."""
    base, length = 17.0, 400.0
    wanted = base**2 * length * LEAN / 4 - base**3 * LEAN / 12
    found = heap_volume(shapely.box(0, 0, length, base), 35.0, 100.0)
    assert found == pytest.approx(wanted, rel=1e-8)  # a strip is lost a hair before it is nothing


def test_a_cone_holds_its_published_volume():
    """Spoil cone: D = (24 V / (pi tan R)) ** (1/3), so V = pi D^3 tan R / 24 (as quoted)."""
    ground = shapely.Point(0, 0).buffer(10.0, quad_segs=400)
    wanted = math.pi * 20.0**3 * LEAN / 24
    assert heap_volume(ground, 35.0, 100.0) == pytest.approx(wanted, rel=1e-3)


def test_a_heap_is_cut_off_at_its_height():
    base, length, height = 20.0, 60.0, 3.0
    run = height / LEAN
    wanted = (
        height
        / 6
        * (
            length * base
            + 4 * (length - run) * (base - run)
            + (length - 2 * run) * (base - 2 * run)
        )
    )
    assert heap_volume(shapely.box(0, 0, length, base), 35.0, height) == pytest.approx(wanted)


def test_the_height_of_a_heap_gives_its_volume_back():
    ground = shapely.box(0, 0, 40, 17).union(shapely.box(0, 0, 17, 40))
    for share in (0.05, 0.4, 0.9):
        volume = share * heap_volume(ground, 35.0, 6.0)
        height = heap_height(ground, 35.0, 6.0, volume)
        assert heap_volume(ground, 35.0, height) == pytest.approx(volume, rel=1e-3)


def test_no_ground_holds_nothing():
    assert heap_volume(shapely.Polygon(), 35.0, 6.0) == 0.0
    assert heap_height(shapely.Polygon(), 35.0, 6.0, 5.0) == 0.0


def test_a_steeper_and_a_higher_heap_hold_more():
    ground = shapely.box(0, 0, 40, 17)
    volumes = [heap_volume(ground, repose, 4.0) for repose in np.linspace(20, 45, 6)]
    assert all(np.diff(volumes) > 0)
    assert heap_volume(ground, 35.0, 3.0) < heap_volume(ground, 35.0, 5.0)
