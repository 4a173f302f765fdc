"""The lines among which stakes stand, for the sketch of a cut sheet."""

from dataclasses import dataclass

from terrain.base.arrays import FloatArray
from terrain.base.frame import LocalFrame
from terrain.job.worked import Worked
from terrain.lot.finish import Finished
from terrain.surface.rim import rim_lines


@dataclass(frozen=True, slots=True, kw_only=True)
class StakeLines:
    """Lines of the local frame `frame`; wall i runs from `corners[i]` to the next.

    `daylight` are where the cut meets the ground; `house` (n, 2) and `house_walls` those of the
    finished lot, None and empty without one.
    """

    frame: LocalFrame
    corners: FloatArray
    walls: tuple[str, ...]
    dig_line: FloatArray
    daylight: tuple[FloatArray, ...]
    house: FloatArray | None
    house_walls: tuple[str, ...]


def stake_lines(worked: Worked, lot: Finished | None) -> StakeLines:
    """The lines of a job that is worked out."""
    layout, existing, dig = worked.layout, worked.existing, worked.dig
    return StakeLines(
        frame=layout.frame,
        corners=layout.figure.corners,
        walls=layout.figure.walls,
        dig_line=dig.line.ring.corners,
        daylight=rim_lines(
            existing.ground.surface, existing.tin.neighbours, dig.surface, worked.figures.whole
        ),
        house=None if lot is None else lot.design.house,
        house_walls=() if lot is None else lot.design.walls,
    )
