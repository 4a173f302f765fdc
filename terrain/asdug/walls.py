"""Each wall of a hole as dug: how wide it was dug, which way it runs, how straight, how plumb.

Every figure comes with half the width of its 95 % interval, from one standard deviation of a shot
in plan. Outward is positive, turns are counter-clockwise.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from terrain.base.arrays import BoolArray, FloatArray
from terrain.ledger.doubt import NSSDA_95, significant

FEWEST = 3
"""Shots that a wall needs: two make any line straight."""
FEWEST_TO_LEAVE_OUT = 6
OFF_LINE, CLEAR_LINE = 4.0, 2 / 3
"""Deviations beyond which a shot is none of the line; the share that a clear line holds at least.
Our choice."""
MOST_IN_PAIRS = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A measured figure and half the width of its 95 % interval; None where it can't be told."""

    value: float
    plus_minus_95: float | None

    @property
    def is_significant(self) -> bool | None:
        """Whether it is larger than its own doubt; None where that isn't known."""
        return significant(self.value, self.plus_minus_95)


@dataclass(frozen=True, slots=True, kw_only=True)
class WallLine:
    """A wall's outside face in the local frame: it runs from `start` to `end` counter-clockwise."""

    start: FloatArray
    end: FloatArray

    @property
    def along(self) -> FloatArray:
        """The unit vector of its direction."""
        step = self.end - self.start
        return np.asarray(step / math.hypot(*step))

    def measured(self, plan: FloatArray) -> tuple[FloatArray, FloatArray]:
        """How far along from its first corner, and how far out of the face, spots (n, 2) lie."""
        east, north = self.along
        away = plan - self.start
        return away @ self.along, away @ np.array([north, -east])


@dataclass(frozen=True, slots=True, kw_only=True)
class WallDug:
    """One wall as dug, lengths in length units.

    Args:
        shots: how many it is measured from.
        least, mean, most: overdig, from the outside face out to the dug line.
        turn_degrees: of the dug line against the wall, counter-clockwise.
        bow: the largest departure of a shot from the chord between the first shot and the last.
        bow_at: how far from the wall's first corner that is.
        batter: run per rise of the face, None where no shot stands higher than another.
        left_out: shots that stand off the line of the others, as `on_line` has it; turn and line
            go without them.
        line: (2, 2), a point of the straight line through the shots and its unit direction.
        held: (n, 2), the plan of the shots that it goes through; `off` (m, 2) of those left out.
    """

    shots: int
    least: Figure
    mean: Figure
    most: Figure
    turn_degrees: Figure
    bow: Figure
    bow_at: float
    batter: Figure | None
    left_out: int
    line: FloatArray
    held: FloatArray
    off: FloatArray


def wall_dug(
    wall: WallLine, toes: FloatArray, faces: FloatArray, sigma: float | None
) -> WallDug | None:
    """A wall from its toe shots (n, 3), or where they are too few from shots of its face (m, 3).

    Args:
        wall: the outside face.
        toes: along the foot of the wall, those of both its corners too.
        faces: on the face and along its top.
        sigma: one standard deviation of a shot's place along any way in plan; None: not known.

    Returns None where there are too few shots to judge the wall by.
    """
    line = toes if len(toes) >= FEWEST else faces
    if len(line) < FEWEST:
        return None
    along, out = wall.measured(line[:, :2])
    order = np.argsort(along, kind="stable")
    along, out, plan = along[order], out[order], line[order, :2]
    if along[-1] - along[0] <= 0.0:
        return None
    weights = _mean_weights(along)
    held = on_line(along, out, sigma)
    turn, turn_sigma = _turn(along[held], out[held])
    bow, bow_at, bow_sigma = _bow(along, out)
    east, north = wall.along
    outward = np.array([north, -east])
    middle = wall.start + along[held].mean() * wall.along + out[held].mean() * outward
    lean = math.tan(math.radians(turn))
    direction = wall.along - lean * outward

    def figure(value: float, share: float) -> Figure:
        return Figure(
            value=value, plus_minus_95=None if sigma is None else NSSDA_95 * sigma * share
        )

    extreme = float(ndtri(1 - 0.025 / len(out))) / NSSDA_95
    return WallDug(
        shots=len(out),
        least=figure(float(out.min()), extreme),
        mean=figure(float(weights @ out), float(np.sqrt((weights**2).sum()))),
        most=figure(float(out.max()), extreme),
        turn_degrees=figure(turn, turn_sigma),
        bow=figure(bow, bow_sigma),
        bow_at=bow_at,
        batter=_batter(wall, np.concatenate([toes, faces]), sigma),
        left_out=int((~held).sum()),
        line=np.array([middle, direction / math.hypot(*direction)]),
        held=plan[held],
        off=plan[~held],
    )


def on_line(along: FloatArray, out: FloatArray, sigma: float | None) -> BoolArray:
    """Which shots (n,) make the straight line of a wall: not a dent or a boulder in it.

    A shot goes that stands more than `OFF_LINE` deviations off the line of median slope through
    all pairs (Theil and Sen; from memory), a deviation being the median of all or a shot's own,
    whichever is larger. All are held where few were taken or the rest would be no clear line.
    """
    held = np.ones(len(out), dtype=np.bool_)
    if len(out) < FEWEST_TO_LEAVE_OUT:
        return held
    some = np.linspace(0, len(out) - 1, min(len(out), MOST_IN_PAIRS)).astype(np.int64)
    first, last = np.triu_indices(len(some), 1)
    run = along[some[last]] - along[some[first]]
    apart = run > 1e-6 * (along[-1] - along[0])
    slope = np.median((out[some[last]] - out[some[first]])[apart] / run[apart])
    away = out - slope * along
    away = np.abs(away - np.median(away))
    rounding = 1e-9 * (along[-1] - along[0])
    deviation = max(1.4826 * float(np.median(away)), sigma or 0.0, rounding)
    near: BoolArray = away <= OFF_LINE * deviation
    return near if near.mean() >= CLEAR_LINE else held


def _mean_weights(along: FloatArray) -> FloatArray:
    """The share of each shot in the mean over the length of the line joined through them."""
    step = np.diff(along)
    weight = np.zeros(len(along))
    weight[:-1] += step / 2
    weight[1:] += step / 2
    shares: FloatArray = weight / weight.sum()
    return shares


def _turn(along: FloatArray, out: FloatArray) -> tuple[float, float]:
    """Degrees by which the straight line through shots turns off the wall, and their sigma a unit
    of the shots' own: outward with the way along is to the right, which is clockwise.
    """
    off = along - along.mean()
    spread = float((off**2).sum())
    slope = float((off * out).sum() / spread)
    sigma = math.degrees(1.0 / math.sqrt(spread)) / (1.0 + slope**2)
    return -math.degrees(math.atan(slope)), sigma


def _bow(along: FloatArray, out: FloatArray) -> tuple[float, float, float]:
    """The largest departure from the chord, where, and its sigma a unit of the shots' own.

    The largest of many is widened as Bonferroni has it, so that it holds for whichever is largest.
    """
    run, rise = along[-1] - along[0], out[-1] - out[0]
    share = (along - along[0]) / run
    chord = math.hypot(run, rise)
    away = (out - out[0] - share * rise) * run / chord
    k = int(np.argmax(np.abs(away)))
    between = max(len(along) - 2, 1)
    extreme = float(ndtri(1 - 0.025 / between)) / NSSDA_95
    own = math.sqrt(1.0 + (1.0 - share[k]) ** 2 + share[k] ** 2)
    return float(away[k]), float(along[k]), own * extreme


def _batter(wall: WallLine, points: FloatArray, sigma: float | None) -> Figure | None:
    """Run per rise of a face: out = a + b along + c height through all its shots, least squares."""
    along, out = wall.measured(points[:, :2])
    high = points[:, 2] - points[:, 2].mean()
    base = np.column_stack([np.ones(len(points)), along - along.mean(), high])
    if len(points) <= 3 or np.ptp(high) <= 0.1 * np.ptp(along) * 1e-3:
        return None
    if np.linalg.matrix_rank(base, tol=1e-9 * np.abs(base).max() * len(base)) < 3:
        return None
    found, *_ = np.linalg.lstsq(base, out, rcond=None)
    own = float(np.sqrt(np.linalg.inv(base.T @ base)[2, 2]))
    doubt = None if sigma is None else NSSDA_95 * sigma * own
    return Figure(value=float(found[2]), plus_minus_95=doubt)
