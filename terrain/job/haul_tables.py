"""The tables of the dig plan: `[machine]` and `[spoil]`. All lengths in `length_unit`."""

from typing import Annotated

from pydantic import Field

from terrain.job.kinds import Length, LengthOverNought, Name
from terrain.job.table import Table


class Machine(Table):
    """`[machine]`: the excavator. Its weight is enough; what is left out is taken as typical of it.

    `bucket_capacity` is heaped and loose, in the job's volume unit; `step` is the way between two
    stands along a wall.
    """

    weight_tonnes: LengthOverNought | None = None
    reach: LengthOverNought | None = None
    digging_depth: LengthOverNought | None = None
    track_length: LengthOverNought | None = None
    track_width: LengthOverNought | None = None
    tail_swing: LengthOverNought | None = None
    bucket_width: LengthOverNought | None = None
    bucket_capacity: LengthOverNought | None = None
    cycle_seconds: LengthOverNought | None = None
    step: LengthOverNought | None = None


class Spoil(Table):
    """`[spoil]`: where piles may lie: back from the edge, how steep (degrees), how high.

    `as_deep` keeps piles and trucks as far from the edge as the cut is deep there, where that is
    more than the setback.
    """

    setback: Length | None = None
    repose: Annotated[float, Field(gt=0.0, lt=60.0)] | None = None
    height: LengthOverNought | None = None
    keep_open: Name | None = None
    as_deep: bool = False
