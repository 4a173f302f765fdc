"""Items that bill earth which another item bills already: allowed, as a price on top, but told."""

from collections.abc import Iterator, Sequence

from terrain.job.billing_tables import Item
from terrain.job.quantities import OF_LOT


def billed_twice(items: Sequence[Item]) -> Iterator[str]:
    """A sentence for those items whose earth is part of what the first item of the pit bills.

    Undercut is part of it only where all that was dug is billed. Loads tell of trucks, not earth.
    """
    measured = [item for item in items if item.basis != "loads" and item.of not in OF_LOT]
    pit = next((item for item in measured if item.of == "pit"), None)
    if pit is None:
        return
    within = [
        item.item
        for item in measured
        if item is not pit and (item.of != "undercut" or pit.basis == "as dug")
    ]
    if within:
        yield (
            f"Part of {pit.item} too, so that the price is paid on top of it: {', '.join(within)}."
        )
