"""Elevations from a net of level readings: least squares, closures, and how good each one is.

Every reading says: height of instrument = elevation of the point + reading. Heights of instrument
and points seen from more than one set-up are found together; a point seen once hangs on its
set-up alone.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.base.errors import Fault, SurveyError
from terrain.base.units import LengthUnit
from terrain.survey.level_notes import Notes, Sight
from terrain.survey.shots import nearest_names

MOST_SIGHTS = 3000
ALIKE = 1e-6
"""Readings that miss alike, but for rounding, over more than one set-up: all of one circuit do, and
which of them is wrong can't be told."""
Rule: TypeAlias = Literal["construction", "third order"] | float

CONSTRUCTION_FT = 0.02
"""Feet a root of a set-up that a circuit may miss closing by, for simple construction surveys;
as quoted by teaching material on levelling, from Ghilani & Wolf, Elementary Surveying."""
THIRD_ORDER_MM = 12.0
"""Millimetres a root of a kilometre, third-order levels; FGCC 1984, as quoted."""
USUAL_SIGHT = {"ft": 100.0, "ftUS": 100.0, "m": 30.0}
"""Length of a sight where none is noted; common practice, no source."""
ROD_ACCURACY = {"ft": 0.01, "ftUS": 0.01, "m": 0.003}
"""One standard deviation of a rod reading, in the unit; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Closure:
    """A circuit or a run between marks: `miss` is as run less known, high positive."""

    point: str
    setups: int
    length: float
    miss: float
    allowed: float
    row: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Levelled:
    """Elevations by point with one standard deviation each, and how the notes closed.

    `redundant` counts readings beyond need; `found_accuracy` is what the readings themselves show
    of one reading's standard deviation, None without redundant ones; `worst` is the reading that
    fits least and its residual, None where those of several set-ups fit alike.
    """

    elevation: dict[str, float]
    accuracy: dict[str, float]
    heights: tuple[float, ...]
    closures: tuple[Closure, ...]
    redundant: int
    found_accuracy: float | None
    worst: tuple[Sight, float] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelRules:
    """How good a reading is and what a circuit may miss by; lengths in `unit`.

    `closure` is a published rule or a length; `sight` stands in for distances not noted.
    """

    unit: LengthUnit
    rod_accuracy: float
    closure: Rule = "construction"
    sight: float = 0.0

    def allowed(self, setups: int, length: float) -> float:
        """What a circuit of so many set-ups and so long may miss by, in the unit."""
        if self.closure == "construction":
            return CONSTRUCTION_FT * 0.3048 / float(self.unit.metres) * math.sqrt(setups)
        metres = float(self.unit.metres)
        if self.closure == "third order":
            return THIRD_ORDER_MM / 1000.0 * math.sqrt(length * metres / 1000.0) / metres
        return self.closure


def level(notes: Notes, marks: Mapping[str, float], rules: LevelRules) -> Levelled:
    """The elevations that notes give from known marks, adjusted by least squares.

    Errors: `SurveyError` if no mark was read, a set-up hangs on nothing known, or a circuit misses
    closing by more than is allowed.
    """
    known = {point: h for point, h in marks.items() if any(s.point == point for s in notes.sights)}
    if not known:
        raise SurveyError(Fault(file=notes.file, message=_no_mark(notes, marks)))
    if len(notes.sights) > MOST_SIGHTS:
        message = f"holds {len(notes.sights):,} readings; a field book of {MOST_SIGHTS:,} is taken."
        raise SurveyError(Fault(file=notes.file, message=message))
    closures = _closures(notes, known, rules)
    adjusted = _adjust(notes, known, rules)
    beyond = [c for c in closures if abs(c.miss) > c.allowed]
    if beyond:
        raise SurveyError(*(_does_not_close(notes, c, adjusted.worst, rules) for c in beyond))
    return Levelled(
        elevation=adjusted.elevation,
        accuracy=adjusted.accuracy,
        heights=adjusted.heights,
        closures=closures,
        redundant=adjusted.redundant,
        found_accuracy=adjusted.found,
        worst=adjusted.worst,
    )


def _no_mark(notes: Notes, marks: Mapping[str, float]) -> str:
    if not marks:
        return 'name a mark they start from and its elevation: existing.marks = {"BM1" = 100.00}.'
    first = next(iter(marks))
    near = nearest_names(first, sorted({s.point for s in notes.sights}))
    return f'none of the marks is in the notes: "{first}" was not read; {near}'


@dataclass(frozen=True, slots=True, kw_only=True)
class _Adjusted:
    elevation: dict[str, float]
    accuracy: dict[str, float]
    heights: tuple[float, ...]
    redundant: int
    found: float | None
    worst: tuple[Sight, float] | None


def _adjust(notes: Notes, known: Mapping[str, float], rules: LevelRules) -> _Adjusted:
    setups = notes.sights[-1].setup + 1
    seen: dict[str, list[Sight]] = {}
    for sight in notes.sights:
        seen.setdefault(sight.point, []).append(sight)
    tied = [p for p, sights in seen.items() if p not in known and len(sights) > 1]
    column = {point: setups + k for k, point in enumerate(tied)}
    used = [s for s in notes.sights if s.point in known or s.point in column]
    base = next(iter(known.values()))  # heights are taken from here, to keep their digits
    design = np.zeros((len(used), setups + len(tied)))
    wanted = np.empty(len(used))
    for row, sight in enumerate(used):
        design[row, sight.setup] = 1.0
        wanted[row] = sight.reading
        if sight.point in known:
            wanted[row] += known[sight.point] - base
        else:
            design[row, column[sight.point]] = -1.0
    normal = design.T @ design
    inverse = np.linalg.inv(normal)
    solved = inverse @ (design.T @ wanted)
    solved += inverse @ (design.T @ (wanted - design @ solved))
    residuals = design @ solved - wanted
    redundant = len(used) - design.shape[1]
    found = float(np.sqrt((residuals**2).sum() / redundant)) if redundant else None
    one = max(rules.rod_accuracy, found or 0.0)
    heights, elevation, accuracy = solved[:setups] + base, dict(known), dict.fromkeys(known, 0.0)
    for point, sights in seen.items():
        if point in column:
            k = column[point]
            elevation[point] = float(solved[k] + base)
            accuracy[point] = one * math.sqrt(inverse[k, k])
        elif point not in known:
            k = sights[0].setup
            elevation[point] = float(heights[k] - sights[0].reading)
            accuracy[point] = one * math.sqrt(inverse[k, k] + 1.0)
    worst = None
    if redundant:
        share = np.clip(1.0 - ((design @ inverse) * design).sum(axis=1), 1e-9, None)
        off = np.abs(residuals) / np.sqrt(share)
        k = int(np.argmax(off))
        as_far = {used[j].setup for j in np.flatnonzero(off >= (1.0 - ALIKE) * off[k])}
        worst = (used[k], float(residuals[k])) if len(as_far) == 1 else None
    return _Adjusted(
        elevation=elevation,
        accuracy=accuracy,
        heights=tuple(float(h) for h in heights),
        redundant=redundant,
        found=found,
        worst=worst,
    )


@dataclass(frozen=True, slots=True)
class _Run:
    """A point's elevation as run from a mark, and the way there.

    `way` is the points (by name) and set-ups (by number) passed in turn, the mark first and the
    point last; `reached` the length of the way up to each of them.
    """

    elevation: float
    way: tuple[str | int, ...]
    reached: tuple[float, ...]

    def on(self, elevation: float, node: str | int, further: float) -> "_Run":
        """The way gone on to one more point or set-up."""
        reached = (*self.reached, self.reached[-1] + further)
        return _Run(elevation, (*self.way, node), reached)


def _closures(notes: Notes, known: Mapping[str, float], rules: LevelRules) -> tuple[Closure, ...]:
    """Every run that comes back to a point whose elevation is known, in the order of the notes.

    The run is worked out as a field book is, set-up by set-up, from whichever of its points is
    known first.
    """
    setups: dict[int, list[Sight]] = {}
    for sight in notes.sights:
        setups.setdefault(sight.setup, []).append(sight)
    run = {point: _Run(h, (point,), (0.0,)) for point, h in known.items()}
    waiting, closures = list(setups), list[Closure]()
    while waiting:
        number = next((n for n in waiting if any(s.point in run for s in setups[n])), None)
        if number is None:
            raise SurveyError(_hanging(notes, setups[waiting[0]][0]))
        waiting.remove(number)
        start = next(s for s in setups[number] if s.point in run)
        begun = run[start.point]
        there = begun.on(begun.elevation + start.reading, number, _distance(start, rules))
        for sight in setups[number]:
            if sight is start:
                continue
            found = there.on(there.elevation - sight.reading, sight.point, _distance(sight, rules))
            before = run.get(sight.point)
            if before is None:
                run[sight.point] = found
            else:
                closures.append(_closure(sight, found, before, rules))
    return tuple(closures)


def _closure(sight: Sight, found: _Run, before: _Run, rules: LevelRules) -> Closure:
    shared = 0
    for one, other in zip(found.way, before.way, strict=False):
        if one != other:
            break
        shared += 1
    # from where both ways part: a set-up that both were read from is still of the circuit
    parted = found.way[shared - 1] if shared else ""
    begun = found.reached[shared - 1] if shared else 0.0
    own = (*found.way[shared:], *before.way[shared:], parted)
    setups = sum(isinstance(node, int) for node in own)
    length = found.reached[-1] + before.reached[-1] - 2.0 * begun
    return Closure(
        point=sight.point,
        setups=setups,
        length=length,
        miss=found.elevation - before.elevation,
        allowed=rules.allowed(setups, length),
        row=sight.row,
    )


def _distance(sight: Sight, rules: LevelRules) -> float:
    return rules.sight if sight.distance is None else sight.distance


def _hanging(notes: Notes, sight: Sight) -> Fault:
    return Fault(
        file=notes.file,
        line=sight.row,
        message=f"the set-up of this backsight on {sight.point} hangs in the air: none of its "
        "points is a known mark or was read before.",
    )


def _does_not_close(
    notes: Notes, closure: Closure, worst: tuple[Sight, float] | None, rules: LevelRules
) -> Fault:
    unit = rules.unit.name
    said = {
        "construction": f"{CONSTRUCTION_FT} ft x root of {closure.setups} set-ups",
        "third order": f"{THIRD_ORDER_MM:g} mm x root of the length in km",
    }.get(str(rules.closure), "existing.level.closure")
    message = (
        f"the run comes to {closure.point} {abs(closure.miss):.3f} {unit} "
        f"{'high' if closure.miss > 0 else 'low'} after {closure.setups} set-ups; "
        f"{closure.allowed:.3f} is allowed ({said})."
    )
    if worst is not None:
        sight, _ = worst
        message += (
            f" The reading that fits least is the {sight.kind} {sight.reading:g} on {sight.point} "
            f"(line {sight.row}): look there first, or read the run again."
        )
    else:
        message += " All its readings fit alike, so which is wrong can't be told: read it again."
    return Fault(file=notes.file, line=closure.row, message=message)


def closure_sentences(notes: Notes, levelled: Levelled, rules: LevelRules) -> Sequence[str]:
    """What to tell of notes that close: each closure, and how good the readings turned out."""
    unit = rules.unit.name
    told = [
        f"{notes.file}:{c.row}: closes on {c.point} by {c.miss:+.3f} {unit} after {c.setups} "
        f"set-ups; {c.allowed:.3f} is allowed."
        for c in levelled.closures
    ]
    if not told:
        told.append(
            f"{notes.file}: the notes never come back to a point that is known, so that nothing "
            "checks them; end on a mark."
        )
    elif levelled.found_accuracy is not None:
        told.append(
            f"{notes.file}: adjusted by least squares over {levelled.redundant} readings more than "
            f"needed; they agree to {levelled.found_accuracy:.4f} {unit} a reading."
        )
    return told


def accuracies(levelled: Levelled, names: Sequence[str]) -> FloatArray:
    """One standard deviation of each named point's elevation."""
    return np.array([levelled.accuracy[name] for name in names], dtype=np.float64)
