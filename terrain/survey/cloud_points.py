"""The points of a cloud as they are read: chosen by class, cropped, kept in full or thinned."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Protocol

import laspy
import numpy as np
from numpy.typing import NDArray

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.base.compiled import compiled
from terrain.survey.cloud_facts import Bounds, CloudFacts
from terrain.survey.georef import Georeference
from terrain.survey.thin import Box, Far, Grid, Packed, medians, pack, thin, unpack

IS_GROUND = 1
Bytes = NDArray[np.uint8]


class BeyondHeaderError(Exception):
    """A point lies outside the extents that the file's header states."""


class Sink(Protocol):
    """Where chosen points go; `take` says how many of them lay outside."""

    def clear(self) -> None:
        """Forget all points taken so far."""

    def take(self, chunk: laspy.ScaleAwarePointRecord, wanted: BoolArray, first: int) -> int:
        """Take the wanted points of a chunk whose first point is number `first` of the file."""

    def points(self, far: float) -> "Kept":
        """All points that stay; `far` is how far off its cell's median a point is told."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Kept:
    """Points (n, 3) in the job's unit, their numbers (n,), and what thinning left out.

    `far` are how many of those lay far below and far above the median of their cell.
    """

    points: FloatArray
    row: IntArray
    thinned: int = 0
    far: Far = (0, 0)


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

    def points(self, far: float) -> Kept:
        """All points taken, thinned if asked."""
        points = np.concatenate([np.zeros((0, 3)), *(own for own, _ in self.parts)])
        row = np.concatenate([np.zeros(0, dtype=np.int32), *(rows for _, rows in self.parts)])
        if self.cell is None:
            return Kept(points=points, row=row)
        kept, found = thin(points, self.cell, far)
        return Kept(points=points[kept], row=row[kept], thinned=len(points) - len(kept), far=found)


@dataclass(slots=True, kw_only=True)
class Whole:
    """Points as whole numbers packed into 64 bits, for thinning: memory a third of floats.

    Their numbers in the file are not kept: rows then count the thinned points. `scale` and
    `offset` (3,) turn the file's whole numbers into the job's unit.
    """

    grid: Grid
    box: Box
    scale: FloatArray
    offset: FloatArray
    room: Packed
    front: int = 0
    back: int = 0

    def clear(self) -> None:
        """Forget all points taken so far."""
        self.front = self.back = 0

    def take(self, chunk: laspy.ScaleAwarePointRecord, wanted: BoolArray, first: int) -> int:
        """Take the wanted points inside the box; the number of those outside."""
        axes = (chunk.array["X"], chunk.array["Y"], chunk.array["Z"])
        free = self.room[self.front : len(self.room) - self.back]
        front, back, outside, beyond = pack(axes, wanted, self.grid, self.box, free)
        if beyond:
            raise BeyondHeaderError
        self.front += front
        self.back += back
        return outside

    def points(self, far: float) -> Kept:
        """The median points of all cells, those at the front and at the back at once."""
        halves = self.room[: self.front], self.room[len(self.room) - self.back :]
        above = int(far / self.scale[2])
        with ThreadPoolExecutor(max_workers=1) as worker:
            other = worker.submit(medians, halves[1], self.grid, above)
            front, (low, high) = medians(halves[0], self.grid, above)
            back, (lower, higher) = other.result()
        kept = np.concatenate([front, back])
        self.room = np.empty(0, dtype=np.uint64)  # it is as large as all that comes after
        del halves, other, front, back
        points = unpack(kept, self.grid) * self.scale
        points += self.offset
        row = np.arange(1, len(points) + 1, dtype=np.int32)
        thinned = self.front + self.back - len(points)
        return Kept(points=points, row=row, thinned=thinned, far=(low + lower, high + higher))


def choose(chunks: Iterator[laspy.ScaleAwarePointRecord], sink: Sink) -> CloudFacts:
    """Send the points of chunks to a sink: ground if any is classed so, else all but noise."""
    read = outside = 0
    counts = np.zeros(4, dtype=np.int64)
    for chunk in _ahead(chunks):
        sort, found = _sorted_out(*_class_bytes(chunk))
        if not counts[IS_GROUND] and found[IS_GROUND]:
            sink.clear()
            outside = 0
        counts += found
        wanted = sort == IS_GROUND if counts[IS_GROUND] else sort <= IS_GROUND
        outside += sink.take(chunk, wanted, read + 1)
        read += len(chunk)
    others, ground, noise, withheld = counts.tolist()
    return CloudFacts(
        read=read,
        withheld=withheld,
        noise=noise,
        other_classes=others if ground else 0,
        outside=outside,
        classed=ground > 0,
    )


def _ahead(
    chunks: Iterator[laspy.ScaleAwarePointRecord],
) -> Iterator[laspy.ScaleAwarePointRecord]:
    """The chunks, each unpacked while the one before it is worked on."""
    with ThreadPoolExecutor(max_workers=1) as worker:
        coming = worker.submit(next, chunks, None)
        while (chunk := coming.result()) is not None:
            coming = worker.submit(next, chunks, None)
            yield chunk


def _class_bytes(chunk: laspy.ScaleAwarePointRecord) -> tuple[Bytes, Bytes, int]:
    """Class and flags of each point as bytes, and the bit of the flags that says withheld.

    Point formats 6 to 10 have a byte for each; older ones keep the class in the low five bits of
    one byte with the flags (LAS 1.4 R15, tables 8 and 16).
    """
    if "classification_flags" in (chunk.array.dtype.names or ()):
        return chunk.array["classification"], chunk.array["classification_flags"], 4
    kind = chunk.array["raw_classification"]
    return kind & 31, kind, 128


@compiled
def _sorted_out(kind: Bytes, flags: Bytes, withheld: int) -> tuple[Bytes, NDArray[np.int64]]:
    """What each point is: 0 another class, 1 ground, 2 noise, 3 withheld; and how many of each."""
    sort = np.empty(len(kind), dtype=np.uint8)
    counts = np.zeros(4, dtype=np.int64)
    for k in range(len(kind)):
        if flags[k] & withheld:
            what = 3
        elif kind[k] == 7 or kind[k] == 18:
            what = 2
        elif kind[k] == 2:
            what = 1
        else:
            what = 0
        sort[k] = what
        counts[what] += 1
    return sort, counts
