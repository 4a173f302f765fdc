"""Where a taped point stands: along a line and off it, or where two tapes meet.

Tapes are held level; a tape laid on a slope reads too long, which is for the crew to see to.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.base.errors import Fault, SurveyError
from terrain.survey.level_notes import Notes, Placed
from terrain.survey.shots import nearest_names

SHARPEST = 20.0
"""Degrees between two tapes below which where they meet is told as doubtful: an error in a tape
is then trebled (1 / sin 20 degrees is 2.9); common practice, no source, is to keep over 30."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TapeFrom:
    """What tapes are held from: lines (m, 2) and points by name, in site coordinates.

    Offsets are to the right of a line as it runs, for the lines named in `left` to its left.
    """

    lines: Mapping[str, FloatArray] = field(default_factory=dict)
    points: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    left: frozenset[str] = frozenset()


def placed_plan(notes: Notes, known: TapeFrom) -> tuple[dict[str, tuple[float, float]], list[str]]:
    """Easting and northing of every placed point by name, and what there is to say of some.

    Errors: `SurveyError` with a fault for each point whose line or corner isn't known, or whose
    tapes do not meet.
    """
    found: dict[str, tuple[float, float]] = {}
    said: list[str] = []
    faults: list[Fault] = []
    for name, place in notes.places.items():
        try:
            found[name], doubt = _plan_of(place, known)
        except ValueError as error:
            faults.append(Fault(file=notes.file, line=place.row, message=f"{name}: {error}"))
        else:
            if doubt:
                said.append(f"{notes.file}:{place.row}: {name}: {doubt}")
    if faults:
        raise SurveyError(*faults)
    return found, said


def _plan_of(place: Placed, known: TapeFrom) -> tuple[tuple[float, float], str]:
    if place.way == "grid":
        easting, northing = place.numbers
        return (easting, northing), ""
    if place.way == "along":
        name = place.names[0]
        if name not in known.lines:
            raise ValueError(
                f'no line is called "{name}"; {nearest_names(name, list(known.lines))}'
            )
        distance, offset = place.numbers
        return along(known.lines[name], distance, -offset if name in known.left else offset), ""
    for name in place.names:
        if name not in known.points:
            raise ValueError(
                f'no corner is called "{name}"; {nearest_names(name, list(known.points))}'
            )
    one, other = (known.points[name] for name in place.names)
    spot, angle = where_tapes_meet(one, other, place.numbers, place.side)
    if angle < SHARPEST:
        return spot, f"its two tapes meet at {angle:.0f} degrees only, which makes it doubtful."
    return spot, ""


def along(line: FloatArray, distance: float, offset: float) -> tuple[float, float]:
    """Where a point stands `distance` along a line (m, 2) and `offset` to the right of it.

    Before its beginning and past its end the line goes straight on.
    """
    steps = np.diff(line, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    begins = np.concatenate([[0.0], np.cumsum(lengths)[:-1]])
    k = max(int(np.searchsorted(begins, distance, side="right")) - 1, 0)
    direction = steps[k] / lengths[k]
    right = np.array([direction[1], -direction[0]])
    spot = line[k] + (distance - begins[k]) * direction + offset * right
    return float(spot[0]), float(spot[1])


def where_tapes_meet(
    one: tuple[float, float],
    other: tuple[float, float],
    tapes: tuple[float, ...],
    side: str,
) -> tuple[tuple[float, float], float]:
    """Where tapes from two points meet, left or right as seen from one to the other.

    Returns the spot and the angle in degrees at which the tapes meet. Raises ValueError with the
    gap where they do not meet.
    """
    from_one, from_other = tapes
    apart = math.dist(one, other)
    if apart == 0.0:
        raise ValueError("both tapes are held at one spot")
    if from_one + from_other < apart:
        raise ValueError(f"its tapes miss one another by {apart - from_one - from_other:.2f}")
    if abs(from_one - from_other) > apart:
        gap = abs(from_one - from_other) - apart
        raise ValueError(f"its longer tape passes round the shorter, {gap:.2f} too long")
    ahead = (from_one**2 - from_other**2 + apart**2) / (2.0 * apart)
    across = math.sqrt(max(from_one**2 - ahead**2, 0.0))
    across = across if side == "left" else -across
    east, north = (other[0] - one[0]) / apart, (other[1] - one[1]) / apart
    spot = (one[0] + ahead * east - across * north, one[1] + ahead * north + across * east)
    cosine = (from_one**2 + from_other**2 - apart**2) / (2.0 * from_one * from_other)
    angle = math.degrees(math.acos(min(1.0, max(-1.0, cosine))))
    return spot, min(angle, 180.0 - angle)
