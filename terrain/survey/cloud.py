"""LAS and LAZ clouds: ground points if classified, else all but noise, in the job's unit."""

import struct
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import laspy
import lazrs
import numpy as np
from laspy.errors import LaspyException
from laspy.vlrs.known import GeoKeyDirectoryVlr, WktCoordinateSystemVlr

from terrain.base.arrays import FloatArray
from terrain.base.errors import Fault, SurveyError
from terrain.base.units import LengthUnit
from terrain.survey.cloud_facts import Bounds, BoundsAt, CloudFacts
from terrain.survey.cloud_points import BeyondHeaderError, Floats, Whole, choose
from terrain.survey.crs import Stated, from_geotiff, from_wkt
from terrain.survey.files import open_size
from terrain.survey.georef import AS_RECORDED, CloudAsRead, Georeference, Site, settle
from terrain.survey.header import CloudHeader, read_header
from terrain.survey.laz import what_is_damaged
from terrain.survey.merge import count
from terrain.survey.shots import Shots, plain_shots
from terrain.survey.thin import FAR_M, Box, grid_over

CHUNK = 300_000
# Points unpacked at once: six packets of the usual 50,000, as many a core on two cores. More take
# memory and no less time.
# What laspy, its decoder and the record parsers raise on files that are damaged.
_DAMAGE = (
    LaspyException, lazrs.LazrsError, struct.error, ValueError, EOFError, OSError, IndexError,
    OverflowError, TypeError, MemoryError,
)  # fmt: skip
MOST_UNTHINNED = 1_000_000
USUAL_CELL_M = 0.05
"""Metres, of cells where the job says nothing: finer than ground is graded, and as fine as a
million points over a lot of 50 m; our choice."""
LAYERS = (
    laspy.DecompressionSelection.XY_RETURNS_CHANNEL
    | laspy.DecompressionSelection.Z
    | laspy.DecompressionSelection.CLASSIFICATION
    | laspy.DecompressionSelection.FLAGS
)
"""The layers of point formats 6 to 10 that are unpacked; older formats have none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CloudAsked:
    """What the job says of a cloud; lengths in the job's unit.

    Args:
        bounds: low easting, low northing, high easting, high northing, beyond which points are
            left out; or what gives them from the highest elevation in the cloud.
        cell: side of the cells that keep one point each, nought to keep all points; None for all
            of a file of up to `MOST_UNTHINNED` and cells of `USUAL_CELL_M` for a larger one.
    """

    site: Site
    as_read: CloudAsRead = AS_RECORDED
    bounds: Bounds | BoundsAt | None = None
    cell: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cloud:
    """The shots of a cloud, and what became of all its points."""

    shots: Shots
    facts: CloudFacts


def read_cloud(path: Path, name: str, asked: CloudAsked) -> Cloud:
    """The shots of one cloud; `row` is the number of the point in the file, from 1.

    Points flagged as withheld are left out. If any point is of class 2, only those are taken.
    Thinned, rows may count the points that are left.

    Errors: `SurveyError` for a damaged file and for units that are not known.
    """
    header = read_header(path, name, open_size(path, name))
    stated, about = _read_records(path, name, header)
    reference = settle(name, stated, asked.as_read, asked.site)
    bounds = asked.bounds
    if callable(bounds):
        bounds = bounds(float(about.maxs[2]) * reference.height_factor)
    cell = asked.cell
    if cell is None and header.points > MOST_UNTHINNED:
        cell = USUAL_CELL_M / float(asked.site.unit.metres)
    cell = cell or None
    sink = _sink(about, reference, bounds, cell)
    try:
        facts = choose(_chunks(path, name, about), sink)
    except BeyondHeaderError:
        sink = Floats(reference=reference, bounds=bounds, cell=cell)
        facts = choose(_chunks(path, name, about), sink)
    if facts.read != header.points:
        raise _damaged(name, f"{facts.read:,} of {header.points:,} points could be read")
    kept = sink.points(FAR_M / float(asked.site.unit.metres))
    points = kept.points
    if not len(points):
        where = " within what the job needs: is it of another lot?" if facts.outside else "."
        raise SurveyError(Fault(file=name, message=f"the cloud holds no usable point{where}"))
    shots = plain_shots(
        (points[:, 0], points[:, 1]), np.ascontiguousarray(points[:, 2]), kept.row, name
    )
    facts = replace(facts, thinned=kept.thinned, far=kept.far, used=len(points))
    notes = [*reference.notes, *_notes(name, facts, asked.site.unit)]
    if cell is not None and asked.cell is None:
        notes.append(
            f"{name}: holds over {MOST_UNTHINNED:,} points and the job says nothing of thin: cells "
            f"of {cell:.2g} {asked.site.unit.name} taken; existing.thin = 0 keeps all."
        )
    return Cloud(shots=shots.with_notes(*notes), facts=facts)


def _sink(
    about: laspy.LasHeader, reference: Georeference, bounds: Bounds | None, cell: float | None
) -> Floats | Whole:
    """Packed whole numbers where points are thinned and only scaled, else floats.

    Cells of whole numbers lie on multiples from the origin of the file's own numbers.
    """
    floats = Floats(reference=reference, bounds=bounds, cell=cell)
    factor = reference.plan_factor
    if cell is None or factor is None or about.scales[0] != about.scales[1]:
        return floats
    scale = np.array([factor, factor, reference.height_factor]) * about.scales
    offset = np.array([factor, factor, reference.height_factor]) * about.offsets
    low, high = (
        np.round((np.array(end) - about.offsets) / about.scales) for end in (about.mins, about.maxs)
    )
    grid = grid_over(_whole(low), _whole(high), cell / float(scale[0]))
    if grid is None or not (np.abs([low, high]) < 2**31).all():
        return floats
    crop = (-np.inf, -np.inf, np.inf, np.inf) if bounds is None else bounds
    west, south, east, north = ((np.array(crop) - np.tile(offset[:2], 2)) / scale[0]).tolist()
    return Whole(
        grid=grid,
        box=Box(crop=(west, south, east, north), ends=(_whole(low), _whole(high))),
        scale=scale,
        offset=offset,
        room=np.empty(about.point_count, dtype=np.uint64),
    )


def _whole(values: FloatArray) -> tuple[int, int, int]:
    return int(values[0]), int(values[1]), int(values[2])


def _damaged(name: str, what: str) -> SurveyError:
    return SurveyError(Fault(file=name, message=f"the cloud is damaged or cut short: {what}."))


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


def _read_records(
    path: Path, name: str, header: CloudHeader
) -> tuple[list[Stated], laspy.LasHeader]:
    try:
        with laspy.open(str(path)) as reader:
            about = reader.header
            records = [*reader.header.vlrs, *(reader.header.evlrs or [])]
            damage = _packing_damage(path, reader.header) if header.compressed else None
    except _DAMAGE as error:
        raise _damaged(name, _plain(error)) from error
    if damage:
        raise _damaged(name, damage)
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


def _chunks(path: Path, name: str, about: laspy.LasHeader) -> Iterator[laspy.ScaleAwarePointRecord]:
    """The points piece by piece; a piece lasts until the next but one is asked for."""
    packed = about.vlrs.get("LasZipVlr")
    try:
        if packed:
            yield from _unpacked(path, about, bytes(packed[0].record_data))
        else:
            with laspy.open(str(path)) as reader:
                yield from reader.chunk_iterator(CHUNK)
    except _DAMAGE as error:
        raise _damaged(name, _plain(error)) from error


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


def _notes(name: str, facts: CloudFacts, unit: LengthUnit) -> list[str]:
    notes = []
    if facts.classed:
        ground = facts.read - facts.withheld - facts.noise - facts.other_classes
        notes.append(
            f"{name}: {ground:,} of {count(facts.read, 'point')} are classed as ground (class 2); "
            "the others left out."
        )
    else:
        left = f" but {facts.noise:,} of noise" if facts.noise else ""
        notes.append(
            f"{name}: no point is classed as ground; all {count(facts.read, 'point')}{left} taken."
        )
    if facts.withheld:
        notes.append(f"{name}: {count(facts.withheld, 'point')} marked as withheld left out.")
    if facts.outside:
        notes.append(
            f"{name}: {count(facts.outside, 'point')} farther out than the job needs left out."
        )
    if any(facts.far):
        notes.append(
            f"{name}: of the points thinned out {facts.far[0]:,} lay over "
            f"{FAR_M / float(unit.metres):.2g} {unit.name} below the median of their cell and "
            f"{facts.far[1]:,} as far above it."
        )
    if facts.thinned:
        notes.append(
            f"{name}: thinned to the point of median height of each cell, "
            f"{facts.used:,} of {facts.used + facts.thinned:,}."
        )
    return notes
