"""The side of a dig from the floor up to a given depth: upright parts, slopes, benches."""

from dataclasses import dataclass

from terrain.surface.moves import Side

NOISE = 1e-9
"""Lengths are compared to this part of themselves: a depth of 4.9999999999 ft is one of 5 ft."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """A side from the toe up to `rise`, and how far back it has gone there, `run`.

    `steps` are the `(run, rise)` steps up to there, upright parts and treads each joined into
    one. A tread at the very top is part of the ground, one at the bottom part of the floor; both
    are left out. `upright` are the heights of the upright parts, from the floor up, with in
    `upright_foot` the height at which each begins.
    `treads` are the widths of the benches. `steepest_slope` is the least run per rise of the
    sloped steps, None if there are none.
    """

    run: float
    rise: float
    steps: Side
    upright: tuple[float, ...]
    upright_foot: tuple[float, ...]
    treads: tuple[float, ...]
    steepest_slope: float | None

    @property
    def run_per_rise(self) -> float:
        """How far back the side goes for each unit it climbs, from toe to top edge."""
        return self.run / self.rise if self.rise > 0.0 else 0.0

    @property
    def is_benched(self) -> bool:
        """Whether there is a level tread below the top."""
        return bool(self.treads)


def profile_to(side: Side, depth: float) -> Profile:
    """The profile of a side up to a depth above its toe, all in length units.

    If the last step has both run and rise it goes on for ever; otherwise the list repeats.

    >>> stairs = profile_to(((0.0, 4.0), (4.0, 0.0)), 10.0)
    >>> stairs.upright, stairs.treads, stairs.run
    ((4.0, 4.0, 2.0), (4.0, 4.0), 8.0)
    >>> profile_to(((0.0, 3.5), (1.0, 1.0)), 8.0).run_per_rise
    0.5625
    """
    steps = _joined(_clipped(side, depth))
    if steps and steps[0][1] == 0.0:
        steps = steps[1:]
    heights = [sum(rise for _, rise in steps[:k]) for k in range(len(steps))]
    upright = [(foot, rise) for foot, (run, rise) in zip(heights, steps, strict=True) if run == 0.0]
    slopes = [run / rise for run, rise in steps if run > 0.0 and rise > 0.0]
    return Profile(
        run=sum(run for run, _ in steps),
        rise=sum(rise for _, rise in steps),
        steps=tuple(steps),
        upright=tuple(rise for _, rise in upright),
        upright_foot=tuple(foot for foot, _ in upright),
        treads=tuple(run for run, rise in steps if rise == 0.0),
        steepest_slope=min(slopes) if slopes else None,
    )


def run_just_above(profile: Profile, height: float) -> float:
    """How far back the side is just above a height over its toe, treads at that height included."""
    run = foot = 0.0
    for step_run, step_rise in profile.steps:
        if step_rise == 0.0 and foot <= height * (1.0 + NOISE):
            run += step_run
        elif foot < height and step_rise > 0.0:
            run += step_run * min(1.0, (height - foot) / step_rise)
        foot += step_rise
    return run


def _clipped(side: Side, depth: float) -> list[tuple[float, float]]:
    """The steps up to `depth`, the last one cut there; none at or above it."""
    steps: list[tuple[float, float]] = []
    height, number = 0.0, 0
    last_run, last_rise = side[-1]
    endless = last_run > 0.0 and last_rise > 0.0
    while height < depth * (1.0 - NOISE):
        run, rise = side[-1] if endless and number >= len(side) else side[number % len(side)]
        left = depth - height
        if rise > left:
            run, rise = run * left / rise, left
        steps.append((run, rise))
        height += rise
        number += 1
    return steps


def _joined(steps: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """The same steps with neighbours that are both upright, or both level, made one."""
    joined: list[tuple[float, float]] = []
    for run, rise in steps:
        if joined and (run == 0.0 == joined[-1][0] or rise == 0.0 == joined[-1][1]):
            joined[-1] = (joined[-1][0] + run, joined[-1][1] + rise)
        else:
            joined.append((run, rise))
    return joined
