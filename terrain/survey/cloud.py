"""LAS and LAZ clouds: ground points if classified, else all but noise, in the job's unit."""

import struct
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import laspy
import lazrs
import numpy as np
from laspy.errors import LaspyException
from laspy.vlrs.known import GeoKeyDirectoryVlr, WktCoordinateSystemVlr

from terrain.base.arrays import FloatArray, IntArray
from terrain.base.errors import Fault, SurveyError
from terrain.survey.crs import Stated, from_geotiff, from_wkt
from terrain.survey.files import open_size
from terrain.survey.georef import AS_RECORDED, CloudAsRead, Georeference, Site, settle
from terrain.survey.header import CloudHeader, read_header
from terrain.survey.laz import what_is_damaged
from terrain.survey.merge import count
from terrain.survey.shots import Shots, plain_shots

GROUND = 2
NOISE = (7, 18)
CHUNK = 1_000_000
# What laspy, its decoder and the record parsers raise on files that are damaged.
_DAMAGE = (
    LaspyException, lazrs.LazrsError, struct.error, ValueError, EOFError, OSError, IndexError,
    OverflowError, TypeError, MemoryError,
)  # fmt: skip
Bounds = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class CloudAsked:
    """What the job says of a cloud; `bounds` are low easting, low northing, high easting, high
    northing in the job's unit, and points outside are left out.
    """

    site: Site
    as_read: CloudAsRead = AS_RECORDED
    bounds: Bounds | None = None


@dataclass(slots=True, kw_only=True)
class _Picked:
    """Points taken so far: ground ones, and the others as long as no ground has been met."""

    ground: list[tuple[FloatArray, IntArray]] = field(default_factory=list)
    others: list[tuple[FloatArray, IntArray]] = field(default_factory=list)
    read: int = 0
    withheld: int = 0
    noise: int = 0
    ground_points: int = 0
    outside: int = 0


def read_cloud(path: Path, name: str, asked: CloudAsked) -> Shots:
    """The shots of one cloud; `row` is the number of the point in the file, from 1.

    Points flagged as withheld are left out. If any point is of class 2, only those are taken.

    Errors: `SurveyError` for a damaged file and for units that are not known.
    """
    header = read_header(path, name, open_size(path, name))
    stated = _read_records(path, name, header)
    reference = settle(name, stated, asked.as_read, asked.site)
    picked = _Picked()
    for chunk in _chunks(path, name):
        _pick(picked, chunk, reference, asked.bounds)
    if picked.read != header.points:
        raise _damaged(name, f"{picked.read:,} of {header.points:,} points could be read")
    parts = picked.ground or picked.others
    if not sum(len(row) for _, row in parts):
        where = " within the site's bounds" if picked.outside else ""
        raise SurveyError(Fault(file=name, message=f"the cloud holds no usable point{where}."))
    points = np.concatenate([p for p, _ in parts])
    row = np.concatenate([r for _, r in parts])
    shots = plain_shots(points[:, :2], np.ascontiguousarray(points[:, 2]), row, name)
    return shots.with_notes(*reference.notes, *_notes(name, header, picked))


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


def _read_records(path: Path, name: str, header: CloudHeader) -> list[Stated]:
    try:
        with laspy.open(str(path)) as reader:
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
    return [stated[kind] for kind in ("wkt", "geotiff") if kind in stated]


def _chunks(path: Path, name: str) -> Iterator[laspy.ScaleAwarePointRecord]:
    try:
        with laspy.open(str(path)) as reader:
            yield from reader.chunk_iterator(CHUNK)
    except _DAMAGE as error:
        raise _damaged(name, _plain(error)) from error


def _pick(
    picked: _Picked,
    chunk: laspy.ScaleAwarePointRecord,
    reference: Georeference,
    bounds: Bounds | None,
) -> None:
    number = len(chunk)
    row = np.arange(picked.read + 1, picked.read + number + 1, dtype=np.int32)
    picked.read += number
    kind = np.asarray(chunk.classification)
    held = np.asarray(chunk.withheld).astype(bool)
    noise = np.isin(kind, NOISE) & ~held
    ground = (kind == GROUND) & ~held
    picked.withheld += int(held.sum())
    picked.noise += int(noise.sum())
    picked.ground_points += int(ground.sum())
    if picked.ground_points:
        picked.others.clear()
        _take(picked, picked.ground, (chunk, row, ground), reference, bounds)
    else:
        _take(picked, picked.others, (chunk, row, ~held & ~noise), reference, bounds)


def _take(
    picked: _Picked,
    into: list[tuple[FloatArray, IntArray]],
    points: tuple[laspy.ScaleAwarePointRecord, IntArray, IntArray],
    reference: Georeference,
    bounds: Bounds | None,
) -> None:
    chunk, row, wanted = points
    plan = np.column_stack([np.asarray(chunk.x)[wanted], np.asarray(chunk.y)[wanted]])
    plan = reference.to_job_plan(plan)
    upward = np.asarray(chunk.z)[wanted] * reference.height_factor
    row = row[wanted]
    if bounds is not None:
        inside = ((plan >= bounds[:2]) & (plan <= bounds[2:])).all(axis=1)
        picked.outside += int((~inside).sum())
        plan, upward, row = plan[inside], upward[inside], row[inside]
    into.append((np.column_stack([plan, upward]), row))


def _notes(name: str, header: CloudHeader, picked: _Picked) -> list[str]:
    notes = []
    if picked.ground_points:
        notes.append(
            f"{name}: {picked.ground_points:,} of {count(header.points, 'point')} are classed as "
            "ground (class 2); the others left out."
        )
    else:
        left = f" but {picked.noise:,} of noise" if picked.noise else ""
        notes.append(
            f"{name}: no point is classed as ground; all {count(header.points, 'point')}{left} "
            "taken, plants and roofs too if there are any."
        )
    if picked.withheld:
        notes.append(f"{name}: {count(picked.withheld, 'point')} marked as withheld left out.")
    if picked.outside:
        notes.append(
            f"{name}: {count(picked.outside, 'point')} outside the site's bounds left out."
        )
    return notes
