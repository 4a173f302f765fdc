"""Shots at one spot: exact repeats are merged, and those that disagree are settled or refused."""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.base.errors import Fault, SurveyError
from terrain.survey.shots import Absorbed, Shots

Choice = Literal["refuse", "lowest", "mean", "last"]
MOST_SPOTS_LISTED = 1000
LINES_NAMED = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class SameSpot:
    """What to do with shots at one spot: their mean up to `tolerance`, beyond it as chosen.

    `lowest` keeps the lowest elevation, `mean` the mean of the unlike ones, `last` the elevation
    written last; `refuse` lists them as errors. `tolerance` is in the job's length unit.
    """

    tolerance: float
    choice: Choice = "refuse"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Merged:
    """Shots at distinct spots; `kept` (n,): for each shot as read, the one that stands for it."""

    shots: Shots
    kept: IntArray


def merge(shots: Shots, rule: SameSpot, unit_name: str) -> Merged:
    """The shots with one elevation a spot; each spot keeps the name and code of its first shot.

    Spots are equal when easting and northing are equal as numbers. Exact repeats are merged
    before any mean is taken, so repeating a shot changes nothing.

    Errors: `SurveyError` with one fault a spot whose elevations spread beyond the tolerance.
    """
    shared = np.flatnonzero(_may_share_a_spot(shots.easting, shots.northing))
    order = shared[
        np.lexsort([shared, shots.elevation[shared], shots.northing[shared], shots.easting[shared]])
    ]
    e, n, z = (a[order] for a in (shots.easting, shots.northing, shots.elevation))
    new_spot = np.ones(len(order), dtype=bool)
    new_spot[1:] = (e[1:] != e[:-1]) | (n[1:] != n[:-1])
    start = np.flatnonzero(new_spot)
    end = np.append(start[1:], len(order))
    real = end - start > 1
    if not real.any():
        return Merged(shots=shots, kept=np.arange(len(shots), dtype=np.int32))
    new_level = new_spot.copy()
    new_level[1:] |= z[1:] != z[:-1]
    spread = z[end - 1] - z[start]
    beyond = real & (spread > rule.tolerance)
    if rule.choice == "refuse" and beyond.any():
        raise SurveyError(*_disagreements(shots, order, (start, end, beyond), (rule, unit_name)))
    first = np.minimum.reduceat(order, start)
    last = np.maximum.reduceat(order, start)
    levels = np.add.reduceat(new_level.astype(np.int64), start)
    mean = np.add.reduceat(np.where(new_level, z, 0.0), start) / levels
    settled = np.where(spread > 0, mean, z[start])
    if rule.choice == "lowest":
        settled = np.where(beyond, z[start], settled)
    elif rule.choice == "last":
        settled = np.where(beyond, shots.elevation[last], settled)
    elevation = shots.elevation.copy()
    elevation[first] = settled
    stands_for = np.arange(len(shots), dtype=np.int32)
    stands_for[order] = np.repeat(first, end - start)
    notes = _notes(len(order) - int(levels.sum()), spread[real], beyond[real], (rule, unit_name))
    return _compact(replace(shots, elevation=elevation, notes=shots.notes + notes), stands_for)


def _may_share_a_spot(easting: FloatArray, northing: FloatArray) -> BoolArray:
    # A hash is sorted many times faster than pairs of numbers; a chance hit is sorted out later.
    # Adding nought turns -0.0 into 0.0, so that both hash alike.
    h = (easting + 0.0).view(np.uint64) * np.uint64(0x9E3779B97F4A7C15)
    h ^= h >> np.uint64(29)
    h += (northing + 0.0).view(np.uint64)
    h *= np.uint64(0xBF58476D1CE4E5B9)
    h ^= h >> np.uint64(32)
    ordered = np.sort(h)
    again = np.unique(ordered[1:][ordered[1:] == ordered[:-1]])
    if len(again) == 0:
        return np.zeros(len(h), dtype=bool)
    at = np.searchsorted(again, h)
    found: BoolArray = again[np.minimum(at, len(again) - 1)] == h
    return found


def _compact(shots: Shots, stands_for: IntArray) -> Merged:
    stays = stands_for == np.arange(len(shots))
    new_index = (np.cumsum(stays) - 1).astype(np.int32)
    kept = new_index[stands_for]
    gone = ~stays
    thin = {
        name: getattr(shots, name)[stays]
        for name in ("easting", "northing", "elevation", "file", "row", "code", "line")
    }
    absorbed = Absorbed(
        into=kept[gone],
        file=shots.file[gone],
        row=shots.row[gone],
        code=shots.code[gone],
        line=shots.line[gone],
    )
    point = None if shots.point is None else shots.point[stays]
    return Merged(shots=replace(shots, **thin, point=point, absorbed=absorbed), kept=kept)


def _disagreements(
    shots: Shots,
    order: NDArray[np.intp],
    spots: tuple[NDArray[np.intp], NDArray[np.intp], BoolArray],
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
