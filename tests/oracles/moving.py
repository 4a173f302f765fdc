"""The moving outline by brute force: walls are lines, corners are crossings, one event at a time.

Written from DESIGN's geometry rules alone. Every pair of corner and wall is tried for a
collision after every event, so it is slow; outlines have a dozen walls and that is no matter.
Walls that come to stand in one line part square to it, where they met, with a step between them if
they move unlike. What runs into such a step is not followed, nor are mouths that close flat over a
wider hole; the closed forms and the mitred offsets see to those.
"""

from dataclasses import dataclass, field

import numpy as np

NEAR = 1e-9


@dataclass
class Front:
    """Walls as lines `normal . p = reach`, and rings of wall numbers in order."""

    normal: np.ndarray
    reach: np.ndarray
    rings: list[list[int]]
    swept: list[tuple[int, np.ndarray, float, float]] = field(default_factory=list)
    met: dict[tuple[int, int], np.ndarray] = field(default_factory=dict)

    @classmethod
    def of(cls, corners: np.ndarray) -> "Front":
        """The front that stands on a counter-clockwise outline (n, 2)."""
        along = np.roll(corners, -1, axis=0) - corners
        along = along / np.linalg.norm(along, axis=1)[:, None]
        normal = np.column_stack([along[:, 1], -along[:, 0]])
        return cls(normal, (normal * corners).sum(axis=1), [list(range(len(corners)))])

    def crossing(self, a: int, b: int, offsets: np.ndarray) -> np.ndarray:
        """Where wall a's line ends at wall b's, with these offsets."""
        if (a, b) in self.met:
            point = self.met[a, b]
            return point + self.normal[a] * (offsets[a] - self.normal[a] @ point)
        return np.linalg.solve(self.normal[[a, b]], offsets[[a, b]])

    def points(self, ring: list[int], offsets: np.ndarray) -> np.ndarray:
        """Where each wall of a ring starts, (n, 2)."""
        pairs = [(ring[k], ring[k - 1]) for k in range(len(ring))]
        return np.array([self.crossing(a, b, offsets) for a, b in pairs]).reshape(-1, 2)

    def ends(self, ring: list[int], offsets: np.ndarray) -> np.ndarray:
        """Where each wall of a ring ends, (n, 2): the next one's start, a square step apart."""
        pairs = [(ring[k - 1], ring[k]) for k in range(len(ring))]
        return np.array([self.crossing(a, b, offsets) for a, b in pairs[1:] + pairs[:1]])


def advance(front: Front, speed: np.ndarray, duration: float) -> None:
    """Move every wall at its own speed for so long, noting what each wall sweeps."""
    done = 0.0
    for _ in range(1000):
        _tidy(front)
        if not front.rings:
            return
        when, event = _next_event(front, speed, duration - done)
        for ring in front.rings:
            there = front.reach + speed * when
            corners = [
                front.points(ring, front.reach), front.ends(ring, front.reach),
                front.ends(ring, there), front.points(ring, there),
            ]  # fmt: skip
            for k, wall in enumerate(ring):
                quad = np.array([places[k] for places in corners])
                front.swept.append((wall, quad, done, done + when))
        front.reach = front.reach + speed * when
        done += when
        if event is None:
            return
        _apply(front, event)
    raise AssertionError("the oracle's outline does not come to an end")


def _next_event(front: Front, speed: np.ndarray, most: float):
    """The first of: a wall shrunk to nought, a corner run into a wall."""
    best, event = most + 2 * NEAR, None  # a wall that is used up as the move ends drops out too
    along = np.column_stack([-front.normal[:, 1], front.normal[:, 0]])
    now = [front.points(ring, front.reach) for ring in front.rings]
    soon = [front.points(ring, front.reach + speed) for ring in front.rings]
    rate = [after - before for after, before in zip(soon, now, strict=True)]
    ends = [front.ends(ring, front.reach) for ring in front.rings]
    later = [front.ends(ring, front.reach + speed) for ring in front.rings]
    end_rate = [after - before for after, before in zip(later, ends, strict=True)]
    for r, ring in enumerate(front.rings):
        for k, wall in enumerate(ring):
            length = (ends[r][k] - now[r][k]) @ along[wall]
            growth = (end_rate[r][k] - rate[r][k]) @ along[wall]
            if growth < -NEAR and length / -growth < best - NEAR:
                best, event = max(length / -growth, 0.0), ("shrunk", r, k)
    for r, ring in enumerate(front.rings):
        for k in range(len(ring)):
            for other, walls in enumerate(front.rings):
                for m, wall in enumerate(walls):
                    if other == r and m in (k, (k - 1) % len(ring)):
                        continue
                    gap = front.normal[wall] @ now[r][k] - front.reach[wall]
                    closing = front.normal[wall] @ rate[r][k] - speed[wall]
                    if abs(gap) < NEAR or gap * closing >= 0 or -gap / closing >= best - NEAR:
                        continue
                    when = -gap / closing
                    start = now[other][m] + rate[other][m] * when
                    end = ends[other][m] + end_rate[other][m] * when
                    here = now[r][k] + rate[r][k] * when
                    if (here - start) @ along[wall] > NEAR and (end - here) @ along[wall] > NEAR:
                        best, event = when, ("hit", r, k, other, m)
    return min(best, most), event


def _apply(front: Front, event) -> None:
    if event[0] == "shrunk":
        _, r, k = event
        ring = front.rings[r]
        _meet(front, ring[k - 1], ring[(k + 1) % len(ring)], front.points(ring, front.reach)[k])
        del ring[k]
        return
    _, r, k, other, m = event
    ring = front.rings[r][k:] + front.rings[r][:k]
    walls = front.rings[other][m:] + front.rings[other][:m]
    if r == other:
        at = (m - k) % len(ring)
        front.rings[r] = ring[: at + 1]
        front.rings.append(ring[at:])
    else:
        front.rings[r] = ring + walls + [walls[0]]
        del front.rings[other]


def _meet(front: Front, a: int, b: int, point: np.ndarray) -> None:
    """Note where two walls that look the same way have come to stand in one line."""
    if a != b and front.normal[a] @ front.normal[b] > 1 - NEAR:
        front.met[a, b] = front.met[b, a] = point


def _tidy(front: Front) -> None:
    """Drop walls of no length, spikes of two fronts that have met, and rings of no area."""
    for r in range(len(front.rings) - 1, -1, -1):
        while _drop_one(front, front.rings[r]):
            pass
        if len(front.rings[r]) < 3:
            del front.rings[r]


def _drop_one(front: Front, ring: list[int]) -> bool:
    if len(ring) < 3:
        return False
    for k in range(len(ring)):
        a, b = ring[k - 1], ring[k]
        if a == b:
            del ring[k]
            return True
        if (a, b) in front.met:
            continue
        cross = front.normal[a][0] * front.normal[b][1] - front.normal[a][1] * front.normal[b][0]
        if abs(cross) > NEAR:
            continue
        if front.normal[a] @ front.normal[b] > 0:
            raise AssertionError(f"walls {a} and {b} became parallel neighbours: a square step")
        return _cancel(front, ring, k)
    return False


def _cancel(front: Front, ring: list[int], k: int) -> bool:
    """Two fronts face to face on one line: the shorter is used up first."""
    a, b = ring[k - 1], ring[k]
    before, after = ring[k - 2], ring[(k + 1) % len(ring)]
    if len(ring) == 3 or before == b or after == a:
        ring.clear()
        return False
    along = np.array([-front.normal[a][1], front.normal[a][0]])
    start = front.crossing(before, a, front.reach) @ along
    end = front.crossing(b, after, front.reach) @ along
    if abs(start - end) < NEAR:
        _meet(front, before, after, front.crossing(before, a, front.reach))
        gone = {(k - 1) % len(ring), k}
    elif start < end:
        gone = {k}
    else:
        gone = {(k - 1) % len(ring)}
    ring[:] = [wall for at, wall in enumerate(ring) if at not in gone]
    return True
