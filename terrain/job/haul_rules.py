"""What must hold between keys of `[machine]` and `[spoil]` and the rest of a job."""

from collections.abc import Iterator
from typing import Any

from terrain.job.faults import nearest
from terrain.job.haul_tables import Spoil
from terrain.job.kinds import shown
from terrain.job.places import KeyPath
from terrain.job.schema import Foundation


def haul_rules(tables: dict[str, Any]) -> Iterator[tuple[KeyPath, str]]:
    """Every broken rule as a key path and what is wrong there."""
    spoil, foundation = tables.get("spoil"), tables.get("foundation")
    if isinstance(spoil, Spoil) and isinstance(foundation, Foundation):
        yield from _keep_open(spoil, foundation.walls or [])


def _keep_open(spoil: Spoil, walls: list[str]) -> Iterator[tuple[KeyPath, str]]:
    """The side kept open is one of the foundation's walls."""
    name = spoil.keep_open
    if name is None or not walls or name in walls:
        return
    close = nearest(name, walls)
    hint = f"did you mean {shown(close)}?" if close else "the walls are " + ", ".join(walls)
    yield ("spoil", "keep_open"), f"the foundation has no wall {shown(name)}; {hint}"
