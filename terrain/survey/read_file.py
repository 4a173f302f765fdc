"""One survey file read: what the job says of it, its shots, and the facts of the file."""

import hashlib
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from terrain.base.errors import Fault, SurveyError
from terrain.base.units import LENGTH_UNITS, LengthUnit
from terrain.survey.checks import check_columns
from terrain.survey.cloud_facts import Bounds, BoundsAt, CloudFacts
from terrain.survey.delimited import read_text
from terrain.survey.field_notes import LevelAsked
from terrain.survey.files import check_extension, kind_of, read_bytes, sha256_of_file, stat_of
from terrain.survey.georef import AS_RECORDED, CloudAsRead, Site
from terrain.survey.ground_filter import USUAL, GroundFilter
from terrain.survey.layout import Asked
from terrain.survey.merge import SameSpot, count, merge
from terrain.survey.meshes import MeshAsRead
from terrain.survey.positions import PhoneAsked
from terrain.survey.scan_ground import ground_of, thinned
from terrain.survey.scan_place import Floating, put_on_site
from terrain.survey.shots import Absorbed, Shots

_XYZ = ("easting", "northing", "elevation")


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadOptions:
    """What the job says of its survey files; lengths in `unit`.

    Args:
        folder: what relative paths are relative to.
        columns: canonical names in the order of a text file's columns, or None.
        same_spot: what to do with shots at one spot; None for `usual_same_spot(unit)`.
        mark_tolerance: what a known mark may differ by; None for `usual_mark_tolerance(unit)`.
        crs: the job's projected CRS, or None for a local grid.
        bounds: low easting, low northing, high easting, high northing, or what gives them from
            the highest elevation of a cloud; clouds are cropped to it.
        cell: side of the cells that keep one point each of a cloud or an .xyz file, nought for
            all points; None for all of an .xyz file, and as `CloudAsked` says of a cloud.
        ground_filter: how ground is told in clouds that are not classed, and in .xyz files; None:
            as usual in clouds, not at all in .xyz files.
        surface: which surface of a LandXML file; None where it has only one.
        mesh: how a mesh stands and what its numbers are in.
        notes: files of level notes, read as `level` says.
        positions: files of phone positions, read as `phone` says.
        floating: how scans in a frame of their own are put on the site.
    """

    unit: LengthUnit
    folder: Path = Path()
    columns: tuple[str, ...] | None = None
    same_spot: SameSpot | None = None
    marks: Mapping[str, float] = field(default_factory=dict)
    mark_tolerance: float | None = None
    cloud: CloudAsRead = AS_RECORDED
    crs: str | None = None
    bounds: Bounds | BoundsAt | None = None
    cell: float | None = None
    ground_filter: GroundFilter | None = None
    surface: str | None = None
    mesh: MeshAsRead | None = None
    notes: tuple[str, ...] = ()
    level: LevelAsked | None = None
    positions: tuple[str, ...] = ()
    phone: PhoneAsked = field(default_factory=PhoneAsked)
    floating: Floating | None = None

    @property
    def scans_asked(self) -> bool:
        """Whether the job asks for .xyz files to be taken as scans: thinned, filtered."""
        return self.cell is not None or self.ground_filter is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class FileFacts:
    """A file that was read: checksum, shots it gave and their lowest and highest coordinates.

    `low` and `high` are easting, northing, elevation in the job's unit, before any merging;
    `cloud` says what became of the points of a cloud.
    """

    name: str
    kind: str
    sha256: str
    shots: int
    low: tuple[float, float, float]
    high: tuple[float, float, float]
    cloud: CloudFacts | None = None


def usual_same_spot(unit: LengthUnit) -> SameSpot:
    """Refuse beyond 0.05 ft, or 0.015 m: what a rover repeats to (common practice, no source)."""
    return SameSpot(tolerance=0.015 if unit.is_metric else 0.05)


def usual_mark_tolerance(unit: LengthUnit) -> float:
    """0.10 ft, or 0.03 m (common practice, no source)."""
    return 0.03 if unit.is_metric else 0.10


def read_file(name: str, options: ReadOptions) -> tuple[Shots, FileFacts]:
    """The shots of one file as written, before merging, and the facts of the file.

    Errors: `SurveyError` with every fault of the file.
    """
    kind = check_extension(name)
    path = options.folder / name
    before = stat_of(path)
    facts: CloudFacts | None = None
    with ThreadPoolExecutor(max_workers=1) as worker:
        # Hashing lets other threads run, so the checksum costs no time of its own.
        if kind == "text":
            data = read_bytes(path, name)
            checksum = worker.submit(lambda: hashlib.sha256(data).hexdigest())
            shots = _read_text(name, data, options)
            if options.scans_asked and name.casefold().endswith(".xyz"):
                shots, facts = thinned(shots, options.cell, options.unit)
        else:
            checksum = worker.submit(sha256_of_file, path)
            shots, facts = _read_cloud(path, name, options)
        if options.floating is not None and options.floating.holds(name):
            shots = _put_on_site(name, shots, options.floating, options)
        if facts is not None:
            usual = USUAL if kind == "cloud" else None
            shots, facts = ground_of_scan(name, shots, facts, (options, usual))
        told = Path(name).suffix.casefold().lstrip(".") if kind == "cloud" else "text"
        found = replace(facts_of(name, told, checksum.result(), shots), cloud=facts)
    check_unchanged(path, name, before)
    return shots, found


def check_unchanged(path: Path, name: str, before: tuple[int, int] | None) -> None:
    """Whether a file is as it was `before`, by `stat_of`.

    Errors: `SurveyError` if it was written meanwhile.
    """
    if stat_of(path) != before:
        message = "was changed while it was read; wait until it is written, then try again."
        raise SurveyError(Fault(file=name, message=message))


def ground_of_scan(
    name: str, shots: Shots, facts: CloudFacts, asked: tuple[ReadOptions, GroundFilter | None]
) -> tuple[Shots, CloudFacts]:
    """The ground of a scan, one shot a spot, by the job's filter or the usual one."""
    options, usual = asked
    if not facts.thinned:  # else each cell has one
        shots = _one_a_spot(name, shots, options)
    facts = replace(facts, merged=facts.used - len(shots), used=len(shots))
    asked_for = options.ground_filter
    if facts.classed and asked_for is not None and asked_for.way != "none":
        note = f"{name}: existing.ground_filter is not used: its points are classed already."
        shots = shots.with_notes(note)
    return ground_of(name, shots, facts, asked_for or usual, options.unit)


def _one_a_spot(name: str, shots: Shots, options: ReadOptions) -> Shots:
    """A cloud with the mean at spots hit twice, where the job would refuse shots that disagree.

    A scanner that measures millions of points to the millimetre hits some spot twice by chance.
    """
    rule = options.same_spot or usual_same_spot(options.unit)
    if rule.choice != "refuse":
        return shots
    one = merge(shots, replace(rule, choice="mean"), options.unit.name)
    if len(one) == len(shots):
        return shots
    note = f"{name}: {count(len(shots) - len(one), 'point')} at the spot of another; means taken."
    return replace(one, absorbed=Absorbed.nothing(), notes=(*shots.notes, note))


def _put_on_site(name: str, shots: Shots, floating: Floating, options: ReadOptions) -> Shots:
    """The shots of a scan on the site; its targets are in the file's own numbers."""
    units = (options.cloud.horizontal_unit, options.cloud.vertical_unit)
    own = [float(options.unit.per(LENGTH_UNITS[u])) if u else 1.0 for u in units]
    factors = np.array([own[0], own[0], own[1]] if kind_of(name) == "cloud" else [1.0] * 3)
    points = np.column_stack([shots.plan, shots.elevation])
    targets = floating.targets() * factors
    placed, said = put_on_site(points, targets, floating, name, options.unit)
    easting, northing, elevation = np.ascontiguousarray(placed.T)
    moved = replace(shots, easting=easting, northing=northing, elevation=elevation)
    return moved.with_notes(*said)


def _read_cloud(path: Path, name: str, options: ReadOptions) -> tuple[Shots, CloudFacts]:
    # Loading the cloud reader takes a while, and most jobs have text only.
    from terrain.survey.cloud import CloudAsked, read_cloud

    site = Site(unit=options.unit, crs=options.crs)
    floats = options.floating is not None and options.floating.holds(name)
    bounds = None if floats else options.bounds  # which are the site's, not the scan's
    asked = CloudAsked(site=site, as_read=options.cloud, bounds=bounds, cell=options.cell)
    cloud = read_cloud(path, name, asked)
    _check_finite(name, cloud.shots)
    return cloud.shots, cloud.facts


def _read_text(name: str, data: bytes, options: ReadOptions) -> Shots:
    usual = _XYZ if name.casefold().endswith(".xyz") else None
    asked = Asked(unit=options.unit, columns=options.columns, usual=usual)
    layout, shots = read_text(name, data, asked)
    if "latitude" in layout.columns:
        message = (
            "its columns are latitude and longitude: name it under existing.positions instead, and "
            'say in existing.phone what its heights are above, phone = {heights = "ellipsoid", '
            "geoid = -31.42}."
        )
        raise SurveyError(Fault(file=name, line=int(shots.row[0]), message=message))
    check_columns(layout, shots)
    return shots


def _check_finite(name: str, shots: Shots) -> None:
    good = np.isfinite(shots.plan).all(axis=1) & np.isfinite(shots.elevation)
    if not good.all():
        first = int(shots.row[np.flatnonzero(~good)[0]])
        raise SurveyError(
            Fault(
                file=name,
                line=first,
                message=f"{int((~good).sum()):,} points have no place on the site's grid.",
            )
        )


def facts_of(name: str, told: str, sha256: str, shots: Shots) -> FileFacts:
    """What is told of a file from the shots it gave."""
    columns = (shots.easting, shots.northing, shots.elevation)
    low = tuple(float(c.min()) for c in columns)
    high = tuple(float(c.max()) for c in columns)
    return FileFacts(
        name=name,
        kind=told,
        sha256=sha256,
        shots=len(shots),
        low=(low[0], low[1], low[2]),
        high=(high[0], high[1], high[2]),
    )
