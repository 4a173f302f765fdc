"""The floor of a hole against the design's: high and low spots, what to trim and what to fill."""

import math
from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import FloatArray, IntArray
from terrain.surface.overlay import overlay
from terrain.surface.patches import Surface, lifted

THIN_CUT = 1.0 / math.sqrt(2.0 * math.pi)
"""The mean of the positive part of noise of one standard deviation: 0.399; a floor dug to design
shows so much high and as much low, times its area."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorDug:
    """A floor against the design, in length units, square and cubic.

    Args:
        area: plan area judged.
        within: the share of it within the tolerance.
        high_volume, low_volume: of floor above and below the design; with noise each is too large
            by about `thin_cut`.
        sure_high, sure_low: what lies farther off than two standard deviations of a shot.
        high_area, low_area: plan area beyond the tolerance.
        worst_high, worst_low: the highest and lowest shot, high positive; 0 if none is.
        high_shot, low_shot: their numbers, -1 if none.
        thin_cut: what noise alone shows high, and low; None without a standard deviation.
    """

    area: float
    within: float
    high_volume: float
    low_volume: float
    sure_high: float
    sure_low: float
    high_area: float
    low_area: float
    worst_high: float
    worst_low: float
    high_shot: int
    low_shot: int
    thin_cut: float | None


def floor_dug(
    floor: Surface,
    design: Surface,
    errors: tuple[IntArray, FloatArray],
    tolerance: float,
    sigma: float | None,
) -> FloorDug | None:
    """A floor against the design where the design is floor; None where they share no ground.

    Args:
        floor: as dug.
        design: the faces of the design's floor.
        errors: numbers of the floor's shots, and how far above the design each is.
        tolerance: how far the floor may be off.
        sigma: one standard deviation of a shot's elevation.
    """
    pairs = overlay(floor, design)
    area = float(pairs.area.sum())
    if area <= 0.0:
        return None
    over = overlay(floor, lifted(design, tolerance))
    under = overlay(floor, lifted(design, -tolerance))
    high_area, low_area = float(over.area_above.sum()), float(under.area_below.sum())
    sure = 2.0 * (sigma or 0.0)
    shots, off = errors
    high, low = (int(np.argmax(off)), int(np.argmin(off))) if len(off) else (-1, -1)
    return FloorDug(
        area=area,
        within=1.0 - (high_area + low_area) / area,
        high_volume=float(pairs.volume_above.sum()),
        low_volume=float(pairs.volume_below.sum()),
        sure_high=float(overlay(floor, lifted(design, sure)).volume_above.sum()),
        sure_low=float(overlay(floor, lifted(design, -sure)).volume_below.sum()),
        high_area=high_area,
        low_area=low_area,
        worst_high=max(float(off[high]), 0.0) if high >= 0 else 0.0,
        worst_low=min(float(off[low]), 0.0) if low >= 0 else 0.0,
        high_shot=int(shots[high]) if high >= 0 and off[high] > 0 else -1,
        low_shot=int(shots[low]) if low >= 0 and off[low] < 0 else -1,
        thin_cut=None if sigma is None else THIN_CUT * sigma * area,
    )
