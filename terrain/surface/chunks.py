"""Faces of a surface in chunks, worked on by all cores, and what becomes of what they make."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from os import cpu_count
from threading import Lock
from typing import Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from terrain.base.arrays import FloatArray, IntArray
from terrain.surface.boxtree import faces_touching
from terrain.surface.compiled import Columns, compiled
from terrain.surface.kernel import SUMS, add_up
from terrain.surface.patches import Surface, picked

FACES_A_CHUNK = 4096
ROOM = 8 * FACES_A_CHUNK  # pairs, or parts, of a chunk; it goes on in another piece if need be
CORNERS_A_PART = 4
FEW = 0.5  # of the faces: where fewer reach another surface, the rest is left out first
FACES_A_SCAN = 1 << 18

Number = TypeVar("Number", np.int32, np.float64)

Piece = tuple[Columns, tuple[int, int]]
"""What a kernel made of a chunk or a part of it, and how many columns of each array it filled."""

ChunkKernel = Callable[[tuple[int, int], Columns], tuple[int, int, int]]
"""Works on faces from the first on, but for the last; tells what it filled and where it stopped."""


class Taker(Protocol):
    """Who takes what is made of the chunks, from several threads, in any order."""

    def take(self, number: int, pieces: list[Piece]) -> list[Piece]:
        """Take the pieces of a chunk; comes back with those that are done with."""


def in_chunks(total: int, made: tuple[ChunkKernel, "Shape"], taker: Taker) -> None:
    """Run a kernel that makes columns of some shape over so many faces."""
    chunk_kernel, shape = made
    used: list[Columns] = []

    def run(number: int) -> None:
        first = number * FACES_A_CHUNK
        last, room, pieces = min(first + FACES_A_CHUNK, total), ROOM, []
        while first < last:
            out = shape.used_or_new(used, room)
            *filled, reached = chunk_kernel((first, last), out)
            pieces.append((out, (filled[0], filled[1])))
            room = room * 2 if reached == first else room
            first = reached
        used.extend(out for out, _ in taker.take(number, pieces) if out[0].shape[1] == ROOM)

    over_all(run, -(-total // FACES_A_CHUNK))


def over_all(run: Callable[[int], None], tasks: int) -> None:
    """Run tasks 0, 1, ... on all cores; one alone in this thread."""
    if tasks <= 1:
        for number in range(tasks):
            run(number)
        return
    with ThreadPoolExecutor(cpu_count()) as pool:
        list(pool.map(run, range(tasks)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """Rows of the two arrays of columns, and how many columns of the second go with the first."""

    rows: tuple[int, int]
    each: int = 1

    def new(self, room: int) -> Columns:
        """Arrays with so much room."""
        floats = np.empty((self.rows[1], self.each * room))
        return np.empty((self.rows[0], room), dtype=np.int32), floats

    def used_or_new(self, used: list[Columns], room: int) -> Columns:
        """Arrays used before if possible: new memory costs the system time."""
        if room == ROOM:
            try:
                return used.pop()
            except IndexError:
                pass
        return self.new(room)


@dataclass(slots=True, kw_only=True)
class Gathered:
    """All columns in the order of the chunks. Each thread copies what it can as soon as it can.

    `guess` is how many there may be; if there are more, they go to further blocks.
    """

    shape: Shape
    guess: int
    blocks: list[Columns] = field(default_factory=list)
    filled: list[list[int]] = field(default_factory=list)
    waiting: dict[int, list[Piece]] = field(default_factory=dict)
    following: int = 0
    lock: Lock = field(default_factory=Lock)

    def take(self, number: int, pieces: list[Piece]) -> list[Piece]:
        """Put the pieces, and those that waited for them, behind what is there."""
        places = []
        with self.lock:
            self.waiting[number] = pieces
            while self.following in self.waiting:
                for piece in self.waiting.pop(self.following):
                    places.append((piece, *self._place(piece[1])))
                self.following += 1
        for (out, counts), block, begin in places:
            for k in range(2):
                block[k][:, begin[k] : begin[k] + counts[k]] = out[k][:, : counts[k]]
        return [piece for piece, _, _ in places]

    def _place(self, counts: tuple[int, int]) -> tuple[Columns, tuple[int, int]]:
        """Where columns begin, in which block, a new one if they need it."""
        if not self.blocks or any(
            self.filled[-1][k] + counts[k] > self.blocks[-1][k].shape[1] for k in range(2)
        ):
            self.blocks.append(self.shape.new(max(self.guess, *counts)))
            self.filled.append([0, 0])
        begin = self.filled[-1][0], self.filled[-1][1]
        for k in range(2):
            self.filled[-1][k] += counts[k]
        return self.blocks[-1], begin

    def columns(self) -> Columns:
        """All of them."""
        if not self.blocks:
            return self.shape.new(0)
        held = list(zip(self.blocks, self.filled, strict=True))
        return (
            _joined([block[0][:, : filled[0]] for block, filled in held]),
            _joined([block[1][:, : filled[1]] for block, filled in held]),
        )


def _joined(parts: list[NDArray[Number]]) -> NDArray[Number]:
    """Columns side by side; those of one block are not copied."""
    return parts[0] if len(parts) == 1 else np.concatenate(parts, axis=1)


@dataclass(slots=True, kw_only=True)
class Summed:
    """Sums (SUMS, rows) of figures by row: nothing of a pair is kept.

    `by` is which parent's row, and the rows of all its faces; no rows: all go to the first.
    """

    by: tuple[int, IntArray]
    rows: int
    sums: dict[int, FloatArray] = field(default_factory=dict)

    def take(self, number: int, pieces: list[Piece]) -> list[Piece]:
        """Add up the pieces of a chunk."""
        own = np.zeros((SUMS, self.rows))
        for out, counts in pieces:
            add_up(out, counts[0], self.by, own)
        self.sums[number] = own
        return pieces

    def total(self) -> FloatArray:
        """The sums over all chunks in their order, so that it comes out the same every time."""
        total = np.zeros((SUMS, self.rows))
        for number in sorted(self.sums):
            total[:-1] += self.sums[number][:-1]
            np.maximum(total[-1], self.sums[number][-1], out=total[-1])
        return total


@compiled
def box_of(places: FloatArray) -> FloatArray:
    """West, south, east and north of places (n, 2 or more), whose rows numpy is slow along."""
    west, south, east, north = np.inf, np.inf, -np.inf, -np.inf
    for i in range(len(places)):
        west, east = min(west, places[i, 0]), max(east, places[i, 0])
        south, north = min(south, places[i, 1]), max(north, places[i, 1])
    return np.array([west, south, east, north])


def reaching(surface: Surface, box: FloatArray) -> tuple[Surface, IntArray | None]:
    """The faces whose box touches one, and which they are; None: all are taken, touching or not."""
    found: dict[int, IntArray] = {0: np.zeros(0, dtype=np.int32)}

    def scan(number: int) -> None:
        first = number * FACES_A_SCAN
        start = surface.start[first : first + FACES_A_SCAN + 1]
        found[number] = faces_touching(box, start, surface.ring) + np.int32(first)

    over_all(scan, -(-len(surface) // FACES_A_SCAN))
    near = np.concatenate([found[number] for number in sorted(found)])
    if len(near) < FEW * len(surface):
        return picked(surface, near), near
    return surface, None
