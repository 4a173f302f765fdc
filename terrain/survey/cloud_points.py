"""The points of a cloud as they are read: chosen by class, cropped, kept in full or thinned."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Protocol

import laspy
import numpy as np

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.survey.cloud_facts import Bounds, CloudFacts
from terrain.survey.georef import Georeference
from terrain.survey.thin import Grid, Packed, medians, pack, thin

GROUND = 2
NOISE = (7, 18)


class BeyondHeaderError(Exception):
    """A point lies outside the extents that the file's header states."""


class Sink(Protocol):
    """Where chosen points go; `take` says how many of them lay outside."""

    def clear(self) -> None:
        """Forget all points taken so far."""

    def take(self, chunk: laspy.ScaleAwarePointRecord, wanted: BoolArray, first: int) -> int:
        """Take the wanted points of a chunk whose first point is number `first` of the file."""

    def points(self) -> tuple[FloatArray, IntArray, int]:
        """All points (n, 3) in the job's unit, their numbers, and how many thinning left out."""


@dataclass(slots=True, kw_only=True)
class Floats:
    """Points as floats with their numbers in the file; thinned at the end if asked."""

    reference: Georeference
    bounds: Bounds | None
    cell: float | None
    parts: list[tuple[FloatArray, IntArray]] = field(default_factory=list)

    def clear(self) -> None:
        """Forget all points taken so far."""
        self.parts.clear()

    def take(self, chunk: laspy.ScaleAwarePointRecord, wanted: BoolArray, first: int) -> int:
        """Take the wanted points inside the bounds; the number of those outside."""
        plan = np.column_stack([np.asarray(chunk.x)[wanted], np.asarray(chunk.y)[wanted]])
        plan = self.reference.to_job_plan(plan)
        upward = np.asarray(chunk.z)[wanted] * self.reference.height_factor
        row = (first + np.flatnonzero(wanted)).astype(np.int32)
        outside = 0
        if self.bounds is not None:
            inside = ((plan >= self.bounds[:2]) & (plan <= self.bounds[2:])).all(axis=1)
            outside = int((~inside).sum())
            plan, upward, row = plan[inside], upward[inside], row[inside]
        self.parts.append((np.column_stack([plan, upward]), row))
        return outside

    def points(self) -> tuple[FloatArray, IntArray, int]:
        """All points taken, thinned if asked."""
        points = np.concatenate([np.zeros((0, 3)), *(own for own, _ in self.parts)])
        row = np.concatenate([np.zeros(0, dtype=np.int32), *(rows for _, rows in self.parts)])
        if self.cell is None:
            return points, row, 0
        kept = thin(points, self.cell)
        return points[kept], row[kept], len(points) - len(kept)


@dataclass(slots=True, kw_only=True)
class Whole:
    """Points as whole numbers packed into 64 bits, for thinning: memory a third of floats.

    Their numbers in the file are not kept: rows then count the thinned points. `scale` and
    `offset` (3,) turn the file's whole numbers into the job's unit; `box` are the bounds in them,
    `ends` the lowest and highest that the header states, which the grid is made for.
    """

    grid: Grid
    ends: tuple[tuple[int, int, int], tuple[int, int, int]]
    scale: FloatArray
    offset: FloatArray
    box: Bounds | None
    room: Packed
    used: int = 0

    def clear(self) -> None:
        """Forget all points taken so far."""
        self.used = 0

    def take(self, chunk: laspy.ScaleAwarePointRecord, wanted: BoolArray, first: int) -> int:
        """Take the wanted points inside the box; the number of those outside."""
        x, y, z = (np.asarray(chunk.array[axis]) for axis in "XYZ")
        outside = 0
        if self.box is not None:
            west, south, east, north = self.box
            inside = wanted & (x >= west) & (x <= east) & (y >= south) & (y <= north)
            outside = int(wanted.sum()) - int(inside.sum())
            wanted = inside
        if not wanted.all():
            x, y, z = x[wanted], y[wanted], z[wanted]
        for own, low, high in zip((x, y, z), *self.ends, strict=True):
            if len(own) and not low <= own.min() <= own.max() <= high:
                raise BeyondHeaderError
        pack(x, y, z, self.grid, self.room[self.used : self.used + len(x)])
        self.used += len(x)
        return outside

    def points(self) -> tuple[FloatArray, IntArray, int]:
        """The median points of all cells."""
        whole = np.column_stack(medians(self.room[: self.used], self.grid))
        points = whole * self.scale + self.offset
        return points, np.arange(1, len(points) + 1, dtype=np.int32), self.used - len(points)


def choose(chunks: Iterator[laspy.ScaleAwarePointRecord], sink: Sink) -> CloudFacts:
    """Send the points of chunks to a sink: ground if any is classed so, else all but noise."""
    read = withheld = noise = ground = others = outside = 0
    for chunk in chunks:
        kind = np.asarray(chunk.classification)
        held = np.asarray(chunk.withheld).astype(bool)
        noisy = ((kind == NOISE[0]) | (kind == NOISE[1])) & ~held
        is_ground = (kind == GROUND) & ~held
        if not ground and is_ground.any():
            sink.clear()
            outside = 0
        ground += int(is_ground.sum())
        others += int((~held & ~noisy & ~is_ground).sum())
        withheld += int(held.sum())
        noise += int(noisy.sum())
        outside += sink.take(chunk, is_ground if ground else ~held & ~noisy, read + 1)
        read += len(chunk)
    return CloudFacts(
        read=read,
        withheld=withheld,
        noise=noise,
        other_classes=others if ground else 0,
        outside=outside,
        classed=ground > 0,
    )
