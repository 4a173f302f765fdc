"""Shots at one spot: exact repeats are merged, and those that disagree are settled or refused."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from terrain.base.arrays import BoolArray, FloatArray
from terrain.base.errors import MORE_FOLLOW, Fault, SurveyError
from terrain.survey.shots import Absorbed, Shots

Choice = Literal["refuse", "lowest", "mean", "last", "keep"]
MOST_SPOTS_LISTED = 1000
LINES_NAMED = 6
_SIEVE_BITS = 22
Index: TypeAlias = NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True)
class SameSpot:
    """What to do with shots at one spot: their mean up to `tolerance`, beyond it as chosen.

    `lowest` keeps the lowest elevation, `mean` the mean of the unlike ones, `last` the elevation
    written last; `refuse` lists them as errors, and `keep` leaves every shot as it is, for a plumb
    face has its toe and its top on one spot. `tolerance` is in the job's length unit.
    """

    tolerance: float
    choice: Choice = "refuse"


def merge(shots: Shots, rule: SameSpot, unit_name: str) -> Shots:
    """The shots with one elevation a spot; each spot keeps the name and code of its first shot.

    The others of a spot are the `absorbed` of what comes back.

    Spots are equal when easting and northing are equal as numbers. Exact repeats are merged
    before any mean is taken, so repeating a shot changes nothing.

    Errors: `SurveyError` with one fault a spot whose elevations spread beyond the tolerance.
    """
    if rule.choice == "keep":
        return shots
    order, start, end = _spots(shots)
    if not len(start):
        return shots
    z = shots.elevation[order]
    lowest = np.minimum.reduceat(z, start)
    spread = np.maximum.reduceat(z, start) - lowest
    beyond = spread > rule.tolerance
    if rule.choice == "refuse" and beyond.any():
        raise SurveyError(*_disagreements(shots, order, (start, end, beyond), (rule, unit_name)))
    first = np.minimum.reduceat(order, start)
    settled, levels = _means(z, start, end)
    if rule.choice == "lowest":
        settled = np.where(beyond, lowest, settled)
    elif rule.choice == "last":
        last = np.maximum.reduceat(order, start)
        settled = np.where(beyond, shots.elevation[last], settled)
    elevation = shots.elevation.copy()
    elevation[first] = settled
    notes = _notes(len(order) - int(levels.sum()), spread, beyond, (rule, unit_name))
    settled_shots = replace(shots, elevation=elevation, notes=shots.notes + notes)
    return _without_others(settled_shots, order, np.repeat(first, end - start))


def _spots(shots: Shots) -> tuple[Index, Index, Index]:
    """Shots that share a spot, spot by spot, and where each spot begins and ends among them."""
    code = _hash(shots.easting, shots.northing)
    shared = _repeated(code)
    order = shared[np.argsort(code[shared])]
    code = code[order]
    e, n = shots.easting[order], shots.northing[order]
    new_spot = np.ones(len(order), dtype=bool)
    new_spot[1:] = (e[1:] != e[:-1]) | (n[1:] != n[:-1])
    if (new_spot[1:] & (code[1:] == code[:-1])).any():
        # Two spots with one hash may lie mixed up; that is next to never, and the long way then.
        order = shared[np.lexsort([shots.northing[shared], shots.easting[shared]])]
        e, n = shots.easting[order], shots.northing[order]
        new_spot[1:] = (e[1:] != e[:-1]) | (n[1:] != n[:-1])
    start = np.flatnonzero(new_spot)
    length = np.diff(np.append(start, len(order)))
    order = order[np.repeat(length > 1, length)]
    length = length[length > 1]
    end = np.cumsum(length)
    return order, end - length, end


def _hash(easting: FloatArray, northing: FloatArray) -> NDArray[np.uint64]:
    # Whole numbers sort many times faster than pairs of floats. Adding nought turns -0.0 into
    # 0.0, so that both hash alike. The odd factors are those of common 64-bit mixers.
    code = (easting + 0.0).view(np.uint64) * np.uint64(0x9E3779B97F4A7C15)
    shifted = code >> np.uint64(29)
    code ^= shifted
    code += np.add(northing, 0.0, out=shifted.view(np.float64)).view(np.uint64)
    code *= np.uint64(0xBF58476D1CE4E5B9)
    code ^= np.right_shift(code, np.uint64(32), out=shifted)
    return code


def _repeated(code: NDArray[np.uint64]) -> Index:
    """Indices of all values that occur twice or more, and by chance of a few that do not."""
    # half of each code tells most apart and sorts in half the time
    ordered = np.sort(code.astype(np.uint32))
    again = ordered[1:][ordered[1:] == ordered[:-1]]
    if not len(again):
        return np.zeros(0, dtype=np.intp)
    seen = np.zeros(1 << _SIEVE_BITS, dtype=bool)
    seen[again & np.uint32(len(seen) - 1)] = True
    return np.flatnonzero(seen[code & np.uint64(len(seen) - 1)])


def _means(z: FloatArray, start: Index, end: Index) -> tuple[FloatArray, Index]:
    """The mean of the unlike elevations of each spot, and how many unlike ones there are."""
    low, high = np.minimum.reduceat(z, start), np.maximum.reduceat(z, start)
    mean = np.where(high > low, (low + high) / 2, low)
    levels = 1 + (high > low).astype(np.intp)
    many = (end - start > 2) & (high > low)
    if many.any():
        spot = np.repeat(np.arange(len(start)), end - start)
        inside = many[spot]
        spot, z = spot[inside], z[inside]
        by_height = np.lexsort([z, spot])
        spot, z = spot[by_height], z[by_height]
        unlike = np.ones(len(z), dtype=bool)
        unlike[1:] = (z[1:] != z[:-1]) | (spot[1:] != spot[:-1])
        total = np.bincount(spot[unlike], weights=z[unlike], minlength=len(start))
        number = np.bincount(spot[unlike], minlength=len(start))
        levels = np.where(many, number, levels)
        mean = np.where(many, total / np.maximum(number, 1), mean)
    return mean, levels


def _without_others(shots: Shots, order: Index, first: Index) -> Shots:
    """The first shots of their spots and those alone; `first` is whose spot each of `order` has."""
    other = order != first
    gone, into = order[other], first[other]
    as_written = np.argsort(gone)
    gone, into = gone[as_written], into[as_written]
    stays = np.ones(len(shots), dtype=bool)
    stays[gone] = False
    names = ("easting", "northing", "elevation", "file", "row", "code", "line", "point", "accuracy")
    columns = {name: column for name in names if (column := getattr(shots, name)) is not None}
    # Most of the time goes into fresh memory, which two threads get in half of it.
    with ThreadPoolExecutor(max_workers=2) as workers:
        kept = dict(zip(columns, workers.map(lambda c: c[stays], columns.values()), strict=True))
    absorbed = Absorbed(
        into=(into - np.searchsorted(gone, into)).astype(np.int32),
        file=shots.file[gone],
        row=shots.row[gone],
        code=shots.code[gone],
        line=shots.line[gone],
    )
    return replace(shots, **kept, absorbed=absorbed)


def _disagreements(
    shots: Shots,
    order: Index,
    spots: tuple[Index, Index, BoolArray],
    asked: tuple[SameSpot, str],
) -> list[Fault]:
    start, end, beyond = spots
    rule, unit_name = asked
    faults = []
    for k in np.flatnonzero(beyond)[:MOST_SPOTS_LISTED]:
        members = np.sort(order[start[k] : end[k]])
        told = [f"{shots.elevation[m]:.3f} at {shots.place(m)}" for m in members[:LINES_NAMED]]
        if len(members) > LINES_NAMED:
            told.append(f"and {len(members) - LINES_NAMED} more")
        spread = np.ptp(shots.elevation[members])
        faults.append(
            Fault(
                file=shots.files[shots.file[members[-1]]],
                line=int(shots.row[members[-1]]),
                message=f"shots at one spot (easting {shots.easting[members[0]]:.3f}, northing "
                f"{shots.northing[members[0]]:.3f}) disagree by {spread:.3f} {unit_name}, more "
                f"than {rule.tolerance:g}: {', '.join(told)}. Correct the file, or write "
                'same_spot = "lowest", "mean" or "last" in the job.',
            )
        )
    faults.sort(key=lambda fault: (fault.file or "", fault.line or 0))
    if beyond.sum() > MOST_SPOTS_LISTED:
        faults.append(Fault(message=MORE_FOLLOW))
    return faults


def _notes(
    repeats: int, spread: FloatArray, beyond: BoolArray, asked: tuple[SameSpot, str]
) -> tuple[str, ...]:
    rule, unit_name = asked
    notes = []
    if repeats:
        notes.append(f"{count(repeats, 'exact repeat')} merged into the first of its kind.")
    near = (spread > 0) & ~beyond
    if near.any():
        notes.append(
            f"{count(int(near.sum()), 'spot')} with shots that differ by up to "
            f"{spread[near].max():.3f} {unit_name}: their mean taken."
        )
    if beyond.any():
        taken = {"lowest": "the lowest", "mean": "the mean", "last": "the last"}[rule.choice]
        notes.append(
            f"{count(int(beyond.sum()), 'spot')} with shots that disagree by up to "
            f"{spread[beyond].max():.3f} {unit_name}: {taken} taken, as the job says."
        )
    return tuple(notes)


def count(number: int, noun: str) -> str:
    """A number with its noun: `1 shot`, `12,400 shots`."""
    return f"{number:,} {noun}" + ("" if number == 1 else "s")
