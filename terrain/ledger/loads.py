"""Truck loads of a loose volume: whole loads, rounded up, on totals only."""

import math

from terrain.base.errors import Fault, JobError
from terrain.ledger.entries import LooseVolume

LOAD_NOISE = 1e-9
"""A count this near a whole number, relative to the count (or to 1), is that number: volumes are
exact to 1e-12 of the gross, so 20 loads and 2e-11 over are 20 loads, not 21."""


def truck_loads(loose: LooseVolume, truck: LooseVolume) -> int:
    """How many truck loads a loose volume is, with `truck` the heaped capacity in the same unit.

    Use it on totals only: rounded up row by row, half-empty trucks would be counted many times.
    Raises JobError at `haul.truck` if the capacity is not a positive number.

    >>> truck_loads(LooseVolume(529.1), LooseVolume(7.0))
    76
    >>> truck_loads(LooseVolume(140.0 + 1e-10), LooseVolume(14.0)), truck_loads(LooseVolume(0.0),
    ...     LooseVolume(14.0))
    (10, 0)
    """
    if not (math.isfinite(truck) and truck > 0.0):
        raise JobError(
            Fault(
                key="haul.truck",
                message=f"a truck's heaped capacity must be a positive number, not {truck:g}",
            )
        )
    count = loose / truck
    nearest = round(count)
    if abs(count - nearest) <= LOAD_NOISE * max(1.0, abs(count)):
        return nearest
    return math.ceil(count)
