"""The public header block of a LAS or LAZ file, checked before anything trusts it (LAS 1.4 R15)."""

import math
import struct
from dataclasses import dataclass
from pathlib import Path

from terrain.base.errors import Fault, SurveyError
from terrain.survey.files import true_content

# Bytes of one point without extra bytes, by point format 0 to 10.
_RECORD_BYTES = (20, 28, 26, 34, 57, 63, 30, 36, 38, 59, 67)
CUT = "the copy was cut short, copy it again."
_SHORTEST_HEADER = 227
_VLR_BYTES, _EVLR_BYTES = 54, 60


@dataclass(frozen=True, slots=True, kw_only=True)
class CloudHeader:
    """What the header says of the points: version, format, number, whether compressed."""

    version: tuple[int, int]
    point_format: int
    points: int
    compressed: bool


def read_header(path: Path, name: str, size: int) -> CloudHeader:
    """The header of a cloud of `size` bytes, found sound.

    Errors: `SurveyError` with every fault of the header: no cloud at all, an unknown version or
    point format, scales or offsets that are no numbers, points that aren't all there, no points.
    """
    with path.open("rb") as stream:
        block = stream.read(375)
    if not block:
        raise SurveyError(Fault(file=name, message="the file is empty."))
    if not block.startswith(b"LASF"):
        what = true_content(block) or _guess(block)
        raise SurveyError(Fault(file=name, message=f"this is no LAS or LAZ cloud but {what}."))
    if len(block) < _SHORTEST_HEADER:
        raise SurveyError(
            Fault(
                file=name,
                message=f"the file ends within its header: {CUT}",
            )
        )
    header, faults = _parse(block, size)
    if not faults and header.version == (1, 4):
        faults = _long_records(path, block, size)
    if faults:
        raise SurveyError(*(Fault(file=name, message=message) for message in faults))
    return header


def _long_records(path: Path, block: bytes, size: int) -> list[str]:
    # A record after the points says its own length in eight bytes; a damaged one fills the memory.
    place, records = struct.unpack_from("<QI", block, 235)
    with path.open("rb") as stream:
        for _ in range(records):
            stream.seek(place)
            head = stream.read(_EVLR_BYTES)
            if len(head) < _EVLR_BYTES:
                return [f"records are due after the end of the file: {CUT}"]
            place += _EVLR_BYTES + struct.unpack_from("<Q", head, 20)[0]
            if place > size:
                return ["a record after the points is longer than the file: it is damaged."]
    return []


def _guess(block: bytes) -> str:
    text = sum(32 <= c < 127 or c in b"\t\r\n" for c in block)
    return "text" if text > 0.9 * len(block) else "some other binary file"


def _parse(block: bytes, size: int) -> tuple[CloudHeader, list[str]]:
    version = (block[24], block[25])
    header_bytes, offset, vlrs, raw_format, record, count = struct.unpack_from("<HIIBHI", block, 94)
    scales_offsets = struct.unpack_from("<6d", block, 131)
    point_format = raw_format & 0x3F
    compressed = bool(raw_format & 0xC0)
    evlr_start = evlrs = 0
    if version == (1, 4) and len(block) >= 375:
        evlr_start, evlrs, count = struct.unpack_from("<QIQ", block, 235)
    header = CloudHeader(
        version=version, point_format=point_format, points=count, compressed=compressed
    )
    if not (version[0] == 1 and 1 <= version[1] <= 4):
        return header, [f"LAS version {version[0]}.{version[1]} is not read here (1.1 to 1.4 are)."]
    if version == (1, 4) and (len(block) < 375 or header_bytes < 375):
        return header, ["the header of LAS 1.4 has 375 bytes, but this one is shorter."]
    faults = []
    if point_format >= len(_RECORD_BYTES):
        faults.append(f"point format {point_format} is unknown (0 to 10 are known).")
    elif record < _RECORD_BYTES[point_format]:
        faults.append(f"points of format {point_format} can't fit in {record} bytes each.")
    if header_bytes + vlrs * _VLR_BYTES > offset or header_bytes < _SHORTEST_HEADER:
        faults.append("the header contradicts itself on where the points begin: it is damaged.")
    if not all(map(math.isfinite, scales_offsets)) or min(scales_offsets[:3]) <= 0:
        faults.append("the scale and offset of the coordinates are not all sound numbers.")
    if evlrs and evlr_start + evlrs * _EVLR_BYTES > size:
        faults.append(f"records are due after the end of the file: {CUT}")
    if count == 0:
        faults.append("the cloud holds no points.")
    elif offset >= size:
        faults.append(f"the file ends before its first point: {CUT}")
    elif not compressed and not faults and offset + count * record > size:
        there = (size - offset) // record
        faults.append(f"{count:,} points are due but only {there:,} are there: {CUT}")
    return header, faults
