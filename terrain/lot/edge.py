"""The survey's edge: graded ground must tie in before the survey ends. Nothing is extrapolated."""

from collections.abc import Iterator

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.base.errors import EdgeError, Fault
from terrain.base.frame import LocalFrame
from terrain.base.units import LengthUnit
from terrain.lot.finish import Finished
from terrain.surface.boundary import boundary_edges
from terrain.surface.segments import segments_over
from terrain.surface.tin_record import Tin

OFF_THE_GROUND = 1e-6
"""Finished ground at the survey's edge is off the ground beyond so many length units."""

HAIR = 1e-9
"""How far past the survey's edge one looks, as a share of its extent."""


def require_lot_surveyed(lot: Finished, tin: Tin, frame: LocalFrame, unit: LengthUnit) -> None:
    """Check that the ground is surveyed as far as the finished lot changes it.

    Where the survey ends at the lot line there is nothing beyond: such a face is left untied.

    Raises:
        EdgeError: with a fault for everything that still cuts or fills where the survey ends.
    """
    rim = tin.points[boundary_edges(tin)]
    along = rim[:, 1, :2] - rim[:, 0, :2]
    outward = np.column_stack([along[:, 1], -along[:, 0]]) / np.hypot(*along.T)[:, None]
    extent = float(np.ptp(tin.points[:, :2], axis=0).max())
    beyond = rim.copy()
    beyond[:, :, :2] += HAIR * extent * outward[:, None, :]
    faults = [*_short(lot, beyond, -1.0, (frame, unit)), *_short(lot, beyond, 1.0, (frame, unit))]
    if faults:
        raise EdgeError(*faults)


def _short(
    lot: Finished, rim: FloatArray, sign: float, words: tuple[LocalFrame, LengthUnit]
) -> Iterator[Fault]:
    """A fault for every cause that cuts (sign 1) or fills (-1) at the survey's edge."""
    frame, unit = words
    limit = lot.upper if sign > 0 else lot.lower
    pieces = segments_over(limit, rim)
    height = sign * np.stack([pieces.depth_start, pieces.depth_end], axis=1)
    share = np.stack([pieces.start, pieces.end], axis=1)
    cause = limit.label[pieces.face]
    off = height.max(axis=1) > OFF_THE_GROUND
    apron = lot.design.apron
    slope, word = (apron.cut_slope, "cut") if sign > 0 else (apron.fill_slope, "fill")
    for which in np.unique(cause[off]).tolist():
        own = np.flatnonzero(off & (cause == which))
        piece, end = np.unravel_index(int(np.argmax(height[own])), (len(own), 2))
        most, at = float(height[own][piece, end]), share[own][piece, end]
        line = rim[pieces.segment[own[piece]], :, :2]
        easting, northing = frame.to_site(line[0] + at * (line[1] - line[0]))
        yield Fault(
            key="existing.shots",
            message=f"the survey ends at ({easting:.2f}, {northing:.2f}) where {lot.causes[which]} "
            f"still needs {most:.2f} {unit.name} of {word}: survey at least {most * slope:.1f} "
            f"{unit.name} further there, on level ground, or up to the lot line",
        )
