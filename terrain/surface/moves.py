"""Side lists: the steps by which a wall's side climbs, merged into moves of the whole outline."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import chain, cycle, repeat
from typing import TypeAlias

Side: TypeAlias = tuple[tuple[float, float], ...]
"""`(run, rise)` steps from the floor up, as DESIGN says under Side."""

VERTICAL: Side = ((0.0, 1.0),)


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One move of the outline: each wall's run while the height goes from `low` up by `rise`."""

    runs: tuple[float, ...]
    low: float
    rise: float


def steps_upward(side: Side) -> Iterator[tuple[Fraction, Fraction | None]]:
    """The `(run, rise)` steps of a side for ever.

    If the last step has both run and rise it goes on for ever: it comes as `(run per rise, None)`
    after the others. Otherwise the whole list repeats. Exact, so that steps of unlike lists that
    end at one height do so to the last digit.
    """
    exact = [(Fraction(repr(float(run))), Fraction(repr(float(rise)))) for run, rise in side]
    run, rise = exact[-1]
    if run and rise:
        return chain(exact[:-1], repeat((run / rise, None)))
    return cycle(exact)


class _Climb:
    """Where one wall's side stands: treads it makes now, then a step up to `top`."""

    def __init__(self, side: Side) -> None:
        self._steps = steps_upward(side)
        self.top: Fraction | None = Fraction(0)
        self.run_per_rise = Fraction(0)

    def tread_at(self, height: Fraction) -> Fraction:
        """The run made level at this height; afterwards the side climbs from it."""
        tread = Fraction(0)
        while self.top is not None and self.top <= height:
            run, rise = next(self._steps)
            if rise is None:
                self.top, self.run_per_rise = None, run
            elif rise:
                self.top, self.run_per_rise = height + rise, run / rise
            else:
                tread += run
        return tread


def moves(sides: Sequence[Side], height: float) -> Iterator[Move]:
    """The moves of an outline from 0 up to `height`, cut at the union of all step heights.

    Yields:
        A level move where any wall has a tread, then a climb to the next step height.
    """
    top = Fraction(height)
    climbs = [_Climb(side) for side in sides]
    low = Fraction(0)
    while low < top:
        treads = [climb.tread_at(low) for climb in climbs]
        if any(treads):
            yield Move(runs=tuple(float(t) for t in treads), low=float(low), rise=0.0)
        ends = [climb.top for climb in climbs if climb.top is not None]
        high = min([top, *ends])
        rise = high - low
        runs = tuple(float(climb.run_per_rise * rise) for climb in climbs)
        yield Move(runs=runs, low=float(low), rise=float(rise))
        low = high


def run_to_climb(side: Side, height: float) -> float:
    """How far from the dig line a side has come out when it has climbed `height`."""
    return sum(move.runs[0] for move in moves([side], height))
