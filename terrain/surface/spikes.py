"""Shots far from the surface their neighbours make: reported, never dropped.

A shot is left out and foretold from the shots round it in several ways: by a plane through all of
them, by each pair of them that has the shot between, by the plane of each triangle just beyond.
What counts is the *least* of its misses. So the shots beside a spike are not blamed for it, and
neither is honest ground that bends: along a ditch, a curb or a ridge the next shots of the same
line foretell it, at the corner of a pad the pad does. On the rim, where one can only guess on,
any height between the mean and the plane of the shots beside is taken as foretold. Busts in a
row vouch for one another and are not found.
"""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from os import cpu_count

import numpy as np

from terrain.surface.foretell import fill_misses, median_misses, stand_out
from terrain.surface.tin_record import Tin

NORMAL_SCALE = 1.4826
"""Standard deviations of a normal law in one median absolute deviation."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spike:
    """A shot that stands out: its index, its elevation, how far above (+) or below it stands.

    `off` is the median of what its neighbours foretell, in their several ways, against it.
    """

    shot: int
    elevation: float
    off: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SpikeLimits:
    """From when on a shot is called a spike; it has to pass all three. Common practice, no source.

    Args:
        least: length units off, whatever the ground is like.
        times_scale: times the standard deviation of all shots' misses, robustly estimated; more
            where the neighbours stand farther off than is usual, with the square of the distance.
        times_near: times the median miss of the shots round it, so that rough ground is not
            blamed for being rough.
    """

    least: float = 1.0
    times_scale: float = 6.0
    times_near: float = 3.0


def find_spikes(tin: Tin, limits: SpikeLimits | None = None) -> tuple[Spike, ...]:
    """The shots that stand out from the ground round them, the farthest off first.

    In rounds: what stands out most in its neighbourhood is blamed, and what is left is foretold
    anew without it. Points where the ground was made rather than shot are not reported.
    """
    limits = limits or SpikeLimits()
    seed = np.full(len(tin.points), -1, dtype=np.int32)
    seed[tin.triangles] = np.arange(len(tin), dtype=np.int32)[:, None]
    mesh = (tin.triangles, tin.neighbours, seed)
    blamed = np.zeros(len(tin.points), dtype=np.bool_)
    least, farthest = np.zeros(len(tin.points)), np.zeros(len(tin.points))
    used = np.flatnonzero(seed >= 0)
    with ThreadPoolExecutor(cpu_count()) as pool:
        for _ in pool.map(
            lambda asked: fill_misses(tin.points, mesh, asked, blamed, (least, farthest)),
            np.array_split(used, cpu_count() or 1),
        ):
            pass
    # ground curves away with the square of the distance
    farther = np.maximum(farthest[used] / np.median(farthest[used]), 1.0)
    scale = NORMAL_SCALE * float(np.median(np.abs(least[used])))
    limit = np.zeros(len(tin.points))
    limit[used] = np.maximum(limits.least, limits.times_scale * scale * farther**2)
    waiting = used[(np.abs(least[used]) > limit[used]) & (tin.shot[used] >= 0)]
    found: list[Spike] = []
    while len(waiting):
        stands = stand_out(mesh, waiting, least, limits.times_near)
        if not stands.any():
            break
        off = median_misses(tin.points, mesh, waiting[stands], blamed)
        found += [
            Spike(shot=int(tin.shot[p]), elevation=float(tin.points[p, 2]), off=float(o))
            for p, o in zip(waiting[stands], off, strict=True)
        ]
        blamed[waiting[stands]], least[waiting[stands]] = True, 0.0
        waiting = waiting[~stands]
        fill_misses(tin.points, mesh, waiting, blamed, (least, farthest))
        waiting = waiting[np.abs(least[waiting]) > limit[waiting]]
    return tuple(sorted(found, key=lambda spike: -abs(spike.off)))
