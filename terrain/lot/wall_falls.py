"""How the finished ground falls away from each wall of the house: asked, least, mean, checked."""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.lot.fall_rays import EVEN, End, FallRule, SeenRay, needed_along
from terrain.lot.finish import Finished
from terrain.surface.segments import segments_over


@dataclass(frozen=True, slots=True, kw_only=True)
class WallFall:
    """The fall away from a house wall; falls are drop per run, lengths in length units.

    Args:
        wall: its name; `length` that of all its stretches.
        asked: by the rule, at the station with the least to spare.
        least: the fall there, `distance` how far out it was measured, `end` why no farther.
        beside: the wall whose ground begins there, or else the pads that the ground runs on to.
        mean: of all stations. `settled` is the fall with the least to spare once the backfill has
            settled.
        checked: the length of wall from which ground was seen to fall or not.
        is_seen_whole: whether the survey reaches as far out as is asked, all along the wall.
    """

    wall: str
    length: float
    asked: float
    least: float
    distance: float
    end: End
    beside: tuple[str, ...]
    mean: float
    settled: float
    checked: float
    is_seen_whole: bool


def wall_falls(rays: list[SeenRay], lot: Finished, rule: FallRule) -> tuple[WallFall, ...]:
    """One a name of wall, in the order of the house; falls are NaN where no ground was seen."""
    names = tuple(dict.fromkeys(lot.design.walls))
    pads = shapely.union_all([shapely.Polygon(pad.corners) for pad in lot.design.pads])
    return tuple(
        _wall_fall(name, [ray for ray in rays if lot.design.walls[ray.ray.wall] == name],
                   (lot, rule, pads))
        for name in names
    )  # fmt: skip


def _wall_fall(
    name: str, own: list[SeenRay], asked: tuple[Finished, FallRule, shapely.Geometry]
) -> WallFall:
    lot, rule, pads = asked
    length = _length(lot, name)
    seen = [ray for ray in own if ray.ray.away > EVEN and len(ray.along.share)]
    blocked = [ray for ray in own if ray.ray.away <= EVEN and ray.end in ("lot line", "other wall")]
    whole = len(seen) + len(blocked) == len(own) and all(ray.end != "survey" for ray in seen)
    checked = length * (len(seen) + len(blocked)) / len(own)
    if not seen:
        nothing = float("nan")
        return WallFall(
            wall=name, length=length, asked=nothing, least=nothing, distance=0.0,
            end=own[0].end, beside=(), mean=nothing, settled=nothing, checked=checked,
            is_seen_whole=whole,
        )  # fmt: skip
    away = np.array([ray.ray.away for ray in seen])
    needed = np.array([needed_along(ray.ray, rule, pads) for ray in seen]) / away
    fall = np.array([ray.along.height[0] - ray.along.height[-1] for ray in seen]) / away
    settled = np.array([ray.along.settled[0] - ray.along.settled[-1] for ray in seen]) / away
    tight = _tightest(fall - needed, away)
    return WallFall(
        wall=name,
        length=length,
        asked=float(needed[tight]),
        least=float(fall[tight]),
        distance=float(away[tight]),
        end=seen[tight].end,
        beside=_beside(seen[tight], lot),
        mean=float(fall.mean()),
        settled=float(settled[_tightest(settled - needed, away)]),
        checked=checked,
        is_seen_whole=whole,
    )


def _tightest(spare: FloatArray, away: FloatArray) -> int:
    """The station with the least to spare; of those alike, one that is seen farthest."""
    alike = spare <= spare.min() + EVEN
    return int(np.argmax(np.where(alike, away, -1.0)))


def _length(lot: Finished, name: str) -> float:
    house = lot.design.house
    lengths = np.hypot(*(np.roll(house, -1, axis=0) - house).T)
    return float(sum(lengths[k] for k, own in enumerate(lot.design.walls) if own == name))


def _beside(ray: SeenRay, lot: Finished) -> tuple[str, ...]:
    """What the ground runs on to: another wall's ground, or pads that it crosses or ends at."""
    if ray.end == "other wall":
        return other_wall(ray.ray.line, lot)
    return pads_met(ray.ray.line, lot)


def other_wall(line: FloatArray, lot: Finished) -> tuple[str, ...]:
    """The name of the wall whose ground begins just past the end of a line (2, 2), if any."""
    out = line[1] - line[0]
    past = line[1] + np.array([[1e-3], [1e-2]]) * out / np.hypot(*out)
    pieces = segments_over(lot.owners, np.hstack([past, np.zeros((2, 1))])[None])
    found = dict.fromkeys(lot.owners.label[pieces.face].tolist())
    return tuple(lot.design.walls[k] for k in found)[:1]


def pads_met(line: FloatArray, lot: Finished) -> tuple[str, ...]:
    """The names of the pads that a line (2, 2) crosses, or ends at."""
    drawn = shapely.LineString(line)
    return tuple(
        pad.name
        for pad in lot.design.pads
        if shapely.distance(drawn, shapely.Polygon(pad.corners)) <= 1e-3
    )
