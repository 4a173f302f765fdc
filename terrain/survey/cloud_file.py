"""A LAS or LAZ file: what its records state, and its points piece by piece."""

import struct
from collections.abc import Iterator
from pathlib import Path

import laspy
import lazrs
import numpy as np
from laspy.errors import LaspyException
from laspy.vlrs.known import GeoKeyDirectoryVlr, WktCoordinateSystemVlr

from terrain.base.errors import Fault, SurveyError
from terrain.survey.crs import Stated, from_geotiff, from_wkt
from terrain.survey.header import CloudHeader
from terrain.survey.laz import what_is_damaged

CHUNK = 300_000
"""Points unpacked at once: six packets of the usual 50,000, as many a core on two cores. More take
memory and no less time."""
# What laspy, its decoder and the record parsers raise on files that are damaged.
_DAMAGE = (
    LaspyException, lazrs.LazrsError, struct.error, ValueError, EOFError, OSError, IndexError,
    OverflowError, TypeError, MemoryError,
)  # fmt: skip
LAYERS = (
    laspy.DecompressionSelection.XY_RETURNS_CHANNEL
    | laspy.DecompressionSelection.Z
    | laspy.DecompressionSelection.CLASSIFICATION
    | laspy.DecompressionSelection.FLAGS
)
"""The layers of point formats 6 to 10 that are unpacked; older formats have none."""


def damaged(name: str, what: str) -> SurveyError:
    """The error for a cloud that can't be read to its end."""
    message = f"the cloud is damaged or cut short: {what}. Copy it again, or export it anew."
    return SurveyError(Fault(file=name, message=message))


def _plain(error: BaseException) -> str:
    if isinstance(error, UnicodeError):
        return "a record that should be text is none"
    if "fill whole buffer" in str(error):
        return "its points end too early"
    text = " ".join(str(error).split())[:120].rstrip(".")
    return text or type(error).__name__


def _packing_damage(path: Path, header: laspy.LasHeader) -> str | None:
    records = header.vlrs.get("LasZipVlr")
    if not records:
        return "its packing record is missing"
    return what_is_damaged(
        path, bytes(records[0].record_data), header.point_count, header.point_format.size
    )


def read_records(
    path: Path, name: str, header: CloudHeader
) -> tuple[list[Stated], laspy.LasHeader]:
    """What the file states of its CRS, record by record, and its header.

    Errors: `SurveyError` for a damaged file, for records that can't be read or contradict.
    """
    try:
        with laspy.open(str(path)) as reader:
            about = reader.header
            records = [*reader.header.vlrs, *(reader.header.evlrs or [])]
            damage = _packing_damage(path, reader.header) if header.compressed else None
    except _DAMAGE as error:
        raise damaged(name, _plain(error)) from error
    if damage:
        raise damaged(name, damage)
    stated: dict[str, Stated] = {}
    for record in records:
        if isinstance(record, WktCoordinateSystemVlr) and record.string.strip("\0 \r\n\t"):
            stated.setdefault("wkt", from_wkt(record.string))
        elif isinstance(record, GeoKeyDirectoryVlr):
            keys = {
                k.id: k.value_offset for k in record.geo_keys if k.tiff_tag_location == 0 and k.id
            }
            if keys:
                stated.setdefault("geotiff", from_geotiff(keys))
    return [stated[kind] for kind in ("wkt", "geotiff") if kind in stated], about


def chunks(path: Path, name: str, about: laspy.LasHeader) -> Iterator[laspy.ScaleAwarePointRecord]:
    """The points piece by piece; a piece lasts until the next but one is asked for.

    Errors: `SurveyError` where the file is damaged.
    """
    packed = about.vlrs.get("LasZipVlr")
    try:
        if packed:
            yield from _unpacked(path, about, bytes(packed[0].record_data))
        else:
            with laspy.open(str(path)) as reader:
                yield from reader.chunk_iterator(CHUNK)
    except _DAMAGE as error:
        raise damaged(name, _plain(error)) from error


def _unpacked(
    path: Path, about: laspy.LasHeader, packing: bytes
) -> Iterator[laspy.ScaleAwarePointRecord]:
    """Pieces of a LAZ file, unpacked into two places in turn: fresh memory for each takes time."""
    kind = about.point_format.dtype()
    places = [np.zeros(min(CHUNK, about.point_count), dtype=kind) for _ in range(2)]
    with path.open("rb") as stream:
        stream.seek(about.offset_to_point_data)
        source = lazrs.ParLasZipDecompressor(stream, packing, LAYERS.to_lazrs())
        for number, first in enumerate(range(0, about.point_count, CHUNK)):
            points = places[number % 2][: about.point_count - first]
            source.decompress_many(points.view(np.uint8))
            yield laspy.ScaleAwarePointRecord(
                points, about.point_format, about.scales, about.offsets
            )
