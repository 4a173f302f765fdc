"""A dig in a ground, by the engine's plain functions, and the scale that its errors are held to."""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from terrain.pit.design import Design, Extra, FootingTrench, Wall
from terrain.pit.dig import PARTS, Dig, dig_of, part_of, row_of
from terrain.surface.moves import Side
from terrain.surface.overlay import Overlay, overlay
from terrain.surface.tin import build_tin, tin_surface

Steps = Sequence[tuple[float, float]]
CLOSED_FORM = 1e-12


@dataclass
class Dug:
    """What came out: cubic units by (wall, part), by wall number or row, and in all."""

    dig: Dig
    pairs: Overlay
    parts: dict[tuple[int, str], float]
    scale: float

    def wall(self, number: int) -> float:
        """A wall's whole row."""
        return math.fsum(v for (w, _), v in self.parts.items() if w == number)

    def part(self, name: str) -> list[float]:
        """One part of every wall, in the order of the outline."""
        rows = 1 + max(w for w, _ in self.parts)
        return [self.parts.get((w, name), 0.0) for w in range(rows)]

    @property
    def total(self) -> float:
        """All of it."""
        return math.fsum(self.parts.values())


def design(
    corners: np.ndarray,
    overdig: float | Sequence[float],
    side: float | Sequence[float | Steps],
    floor: float = 0.0,
    *,
    footing: FootingTrench | None = None,
    extras: tuple[Extra, ...] = (),
) -> Design:
    """A design with walls named by number; one number serves all walls."""
    count = len(corners)
    overdigs = [overdig] * count if isinstance(overdig, (int, float)) else list(overdig)
    sides = [side] * count if isinstance(side, (int, float)) else list(side)
    walls = tuple(
        Wall(name=f"wall {i}", overdig=float(o), side=_steps(s))
        for i, (o, s) in enumerate(zip(overdigs, sides, strict=True))
    )
    return Design(
        corners=np.asarray(corners, dtype=np.float64), walls=walls, number=tuple(range(count)),
        floor=floor, footing=footing, extras=extras,
    )  # fmt: skip


def _steps(side: float | Steps) -> Side:
    if isinstance(side, (int, float)):
        return ((float(side), 1.0),)
    return tuple((float(run), float(rise)) for run, rise in side)


def excavate(wanted: Design, points: np.ndarray) -> Dug:
    """Dig the design out of the TIN of points (n, 3) and sum what lies between."""
    points = np.asarray(points, dtype=np.float64)
    ground = tin_surface(build_tin(points))
    dig = dig_of(wanted, points)
    pairs = overlay(ground, dig.surface)
    sums: dict[tuple[int, str], list[float]] = defaultdict(list)
    labels = dig.surface.label[pairs.b]
    for row, part, volume in zip(row_of(labels), part_of(labels), pairs.volume_above, strict=True):
        sums[int(row), PARTS[part]].append(float(volume))
    parts = {key: math.fsum(volumes) for key, volumes in sums.items()}
    relief = float(np.ptp(points[:, 2])) + float(pairs.depth_above.max())
    gross = math.fsum(parts.values())
    return Dug(dig, pairs, parts, gross + float(pairs.area.sum()) * relief)


def flat(upward: float, reach: float = 100.0, middle: tuple[float, float] = (0.0, 0.0)):
    """Four shots of level ground round a middle."""
    around = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]]) * reach
    return np.column_stack([around + middle, np.full(4, upward)])


def close_to(dug: Dug, seen: float, wanted: float, tolerance: float = CLOSED_FORM) -> None:
    """Hold a volume to the stated tolerance of gross + area x relief, in words if it fails."""
    error = abs(seen - wanted)
    assert error <= tolerance * dug.scale, (
        f"{seen!r} cubic units, wanted {wanted!r}: off by {error:.3g}, "
        f"{error / dug.scale:.2g} of gross + area x relief"
    )
