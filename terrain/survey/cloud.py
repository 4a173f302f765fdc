"""LAS and LAZ clouds: ground points if classified, else all but noise, in the job's unit."""

from dataclasses import dataclass, replace
from pathlib import Path

import laspy
import numpy as np

from terrain.base.arrays import FloatArray
from terrain.base.errors import Fault, SurveyError
from terrain.base.units import LengthUnit
from terrain.survey.cloud_facts import Bounds, BoundsAt, CloudFacts
from terrain.survey.cloud_file import chunks, damaged, read_records
from terrain.survey.cloud_points import BeyondHeaderError, Floats, Whole, choose
from terrain.survey.files import open_size
from terrain.survey.georef import AS_RECORDED, CloudAsRead, Georeference, Site, settle
from terrain.survey.header import read_header
from terrain.survey.merge import count
from terrain.survey.shots import Shots, plain_shots
from terrain.survey.thin import FAR_M, Box, cell_of, grid_over


@dataclass(frozen=True, slots=True, kw_only=True)
class CloudAsked:
    """What the job says of a cloud; lengths in the job's unit.

    Args:
        bounds: low easting, low northing, high easting, high northing, beyond which points are
            left out; or what gives them from the highest elevation in the cloud.
        cell: side of the cells that keep one point each, nought to keep all points; None for
            what `thin.cell_of` says.
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
    stated, about = read_records(path, name, header)
    reference = settle(name, stated, asked.as_read, asked.site)
    bounds = asked.bounds
    if callable(bounds):
        bounds = bounds(float(about.maxs[2]) * reference.height_factor)
    cell, said = cell_of(asked.cell, header.points, asked.site.unit)
    sink = _sink(about, reference, bounds, cell)
    try:
        facts = choose(chunks(path, name, about), sink)
    except BeyondHeaderError:
        sink = Floats(reference=reference, bounds=bounds, cell=cell)
        facts = choose(chunks(path, name, about), sink)
    if facts.read != header.points:
        raise damaged(name, f"{facts.read:,} of {header.points:,} points could be read")
    kept = sink.points(FAR_M / float(asked.site.unit.metres))
    points = kept.points
    if not len(points):
        raise SurveyError(Fault(file=name, message=_why_none(facts)))
    shots = plain_shots(
        (points[:, 0], points[:, 1]), np.ascontiguousarray(points[:, 2]), kept.row, name
    )
    facts = replace(facts, thinned=kept.thinned, far=kept.far, used=len(points))
    notes = [*reference.notes, *_notes(name, facts, asked.site.unit)]
    notes += [f"{name}: {word}" for word in said]
    return Cloud(shots=shots.with_notes(*notes), facts=facts)


def _why_none(facts: CloudFacts) -> str:
    """Why a cloud has no point to use, from what became of its points."""
    if facts.outside:
        return "the cloud holds no usable point within what the job needs: is it of another lot?"
    return (
        f"the cloud holds no usable point: of its {facts.read:,}, {facts.noise:,} are marked as "
        f"noise, {facts.withheld:,} as withheld. Take the marks off or export it without them."
    )


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
