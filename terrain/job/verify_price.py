"""What digging too wide costs at the job's own prices: dug once too much, and filled once more."""

from decimal import Decimal

from terrain.asdug.walls import Figure
from terrain.job.billing_tables import Item
from terrain.job.worked import Worked
from terrain.ledger.soil import SoilFactors


def excess_price(worked: Worked, row: int, bank: Figure) -> Figure | None:
    """The money for so much bank too much along a wall of the ring, None without both prices.

    In place the fill is as large as what was dug: as much compacted.
    """
    billing = worked.job.billing
    if billing is None:
        return None
    wall = worked.layout.design.walls[row].name
    dig = _first(billing.items, (wall, "pit"))
    fill = _first(billing.items, ("backfill",))
    if dig is None or fill is None:
        return None
    soil = worked.soil
    digging = Decimal(dig.price) * Decimal(_from_bank(dig.measure, soil))
    filling = Decimal(fill.price) * Decimal(_from_bank(fill.measure, soil) / (1.0 - soil.shrink))
    each = float(digging + filling)
    doubt = bank.plus_minus_95
    return Figure(value=each * bank.value, plus_minus_95=None if doubt is None else each * doubt)


def _first(items: list[Item], wanted: tuple[str, ...]) -> Item | None:
    """The item of the first of the names that any is of."""
    found = {item.of: item for item in reversed(items)}
    return next((found[name] for name in wanted if name in found), None)


def _from_bank(measure: str, soil: SoilFactors) -> float:
    return {"bank": 1.0, "loose": 1.0 + soil.swell, "compacted": 1.0 - soil.shrink}[measure]
