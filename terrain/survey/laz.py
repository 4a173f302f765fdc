"""The compressed part of a LAZ file, checked before it is unpacked.

The decoder believes the sizes it finds: a damaged one makes it ask for more memory than there is,
which ends the program. So each size is held against the file first. The layout is that of LASzip:
a record with user id "laszip encoded", then 8 bytes that say where the table of chunks stands, the
chunks, and the table. Chunks of point formats 6 to 10 begin with one plain point, the number of
points and the size of each layer.
"""

import struct
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import lazrs

# Layers of each item of the point formats 6 to 10, by item type: point, RGB, RGB and near
# infrared, wave packet. An item of extra bytes has a layer for each byte.
_LAYERS = {10: 9, 11: 1, 12: 2, 13: 1}
_EXTRA_BYTES = 14
_VARIABLE = 0xFFFFFFFF
_KNOWN_COMPRESSORS = (2, 3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Packing:
    """How the points are packed: `items` are (type, bytes) of the parts of a point."""

    compressor: int
    chunk_points: int
    items: tuple[tuple[int, int], ...]

    @property
    def point_bytes(self) -> int:
        """The bytes of one plain point."""
        return sum(size for _, size in self.items)

    @property
    def layers(self) -> int:
        """The number of layers in a chunk of point formats 6 to 10."""
        return sum(
            size if kind == _EXTRA_BYTES else _LAYERS.get(kind, 0) for kind, size in self.items
        )


def packing(record: bytes) -> Packing | None:
    """What the packing record says, or None if it can't be understood."""
    if len(record) < 34:
        return None
    compressor, _, _, _, _, _, chunk_points, _, _, count = struct.unpack_from("<HHBBHIIqqH", record)
    if len(record) < 34 + 6 * count or compressor not in _KNOWN_COMPRESSORS or not chunk_points:
        return None
    items = [struct.unpack_from("<HHH", record, 34 + 6 * k) for k in range(count)]
    return Packing(
        compressor=compressor,
        chunk_points=chunk_points,
        items=tuple((kind, size) for kind, size, _ in items),
    )


def what_is_damaged(path: Path, record: bytes, points: int, point_bytes: int) -> str | None:
    """In words, the first size that can't be right in a LAZ file, or None if all are.

    `record` is the packing record, `points` and `point_bytes` are what the header says.
    """
    packed = packing(record)
    if packed is None or packed.point_bytes != point_bytes:
        return "its packing record does not fit its points"
    size = path.stat().st_size
    with path.open("rb") as stream:
        head = stream.read(100)
        begin = struct.unpack_from("<I", head, 96)[0]
        table = _table_place(stream, begin, size)
        if table is None:
            return "its table of chunks is missing"
        stream.seek(table)
        chunks = struct.unpack("<II", stream.read(8))[1]
        if not 0 < chunks <= _most_chunks(packed, points):
            return "its table of chunks does not fit its points"
        stream.seek(begin)
        sizes = lazrs.read_chunk_table(stream, lazrs.LazVlr(record))
        if sum(length for _, length in sizes) != table - begin - 8:
            return "its chunks do not fill the space they are due"
        if packed.chunk_points == _VARIABLE and sum(held for held, _ in sizes) != points:
            return "its chunks do not hold the points that are due"
        if packed.compressor == 3:
            return _bad_layers(stream, begin + 8, sizes, packed)
    return None


def _table_place(stream: BinaryIO, begin: int, size: int) -> int | None:
    stream.seek(begin)
    place = struct.unpack("<q", stream.read(8).ljust(8, b"\0"))[0]
    if place == -1:
        stream.seek(max(size - 8, 0))
        place = struct.unpack("<q", stream.read(8).ljust(8, b"\0"))[0]
    return place if begin + 8 <= place <= size - 8 else None


def _most_chunks(packed: Packing, points: int) -> int:
    if packed.chunk_points == _VARIABLE:
        return points
    return -(-points // packed.chunk_points)


def _bad_layers(
    stream: BinaryIO, begin: int, sizes: Sequence[tuple[int, int]], packed: Packing
) -> str | None:
    for number, (_, length) in enumerate(sizes, 1):
        stream.seek(begin + packed.point_bytes)
        head = stream.read(4 * (packed.layers + 1))
        if len(head) < 4 * (packed.layers + 1):
            return f"chunk {number} is cut short"
        layers = struct.unpack(f"<{packed.layers + 1}I", head)[1:]
        if packed.point_bytes + len(head) + sum(layers) != length:
            return f"the layers of chunk {number} do not fill it"
        begin += length
    return None
