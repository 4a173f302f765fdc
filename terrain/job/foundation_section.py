"""Foundation wall, footing and stone in section, as far as the job draws them."""

from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.job.schema import Foundation, Stone
from terrain.pit.levels import Levels


@dataclass(frozen=True, slots=True, kw_only=True)
class BuiltSection:
    """Rings (m, 2) of station and elevation; None or empty for what the job does not draw.

    `wall` needs the wall's thickness and its top. Without one of them `face` says from which
    elevation the outside face rises, and to which if the job says so.
    """

    wall: FloatArray | None
    face: tuple[float, float | None]
    footing: FloatArray | None
    stone: tuple[FloatArray, ...]


def built_section(
    foundation: Foundation, levels: Levels, projection: float, low: float
) -> BuiltSection:
    """What stands in a section with the outside face at station 0, inside from there to `low`."""
    footing = foundation.footing
    bottom = levels.floor if levels.footing_bottom is None else levels.footing_bottom
    base = levels.floor if levels.footing_top is None else levels.footing_top
    tops = [level.elevation for level in levels.chain if level.name == "top of wall"]
    top = tops[0] if tops else None
    thickness = foundation.wall_thickness
    wall = None
    if thickness is not None and top is not None:
        wall = _box(-thickness, 0.0, base, top)
    ring = None
    if footing is not None:
        ring = _box(projection - footing.width, projection, bottom, base)
    stone: list[FloatArray] = []
    if foundation.stone is not None:
        stone = _stone(foundation.stone, levels, projection if footing is not None else None, low)
    return BuiltSection(wall=wall, face=(base, top), footing=ring, stone=tuple(stone))


def _stone(stone: Stone, levels: Levels, projection: float | None, low: float) -> list[FloatArray]:
    """The base under the slab, and the drain stone past and over the footing."""
    rings = []
    if stone.under_slab > 0:
        rings.append(_box(low, 0.0, levels.floor, levels.floor + stone.under_slab))
    if projection is not None and levels.footing_top is not None and stone.beyond + stone.over > 0:
        bottom = levels.floor if levels.footing_bottom is None else levels.footing_bottom
        base = levels.footing_top
        edge, high = projection + stone.beyond, base + stone.over
        rings.append(
            np.array(
                [(projection, bottom), (edge, bottom), (edge, high), (0.0, high), (0.0, base),
                 (projection, base)]
            )
        )  # fmt: skip
    return rings


def _box(left: float, right: float, bottom: float, top: float) -> FloatArray:
    return np.array([(left, bottom), (right, bottom), (right, top), (left, top)])
