"""In what units and on what grid a cloud is, settled between its records and the job."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import pyproj

from terrain.base.arrays import FloatArray
from terrain.base.errors import Fault, SurveyError
from terrain.base.units import LENGTH_UNITS, LengthUnit
from terrain.survey.crs import RecordKind, Stated, job_crs

UnitName = Literal["ft", "ftUS", "m"]
_HOW = 'cloud = {horizontal_unit = "...", vertical_unit = "..."}'


@dataclass(frozen=True, slots=True, kw_only=True)
class CloudAsRead:
    """What the job says of a cloud where its records are silent or disagree; None: as recorded."""

    horizontal_unit: UnitName | None = None
    vertical_unit: UnitName | None = None
    crs_record: RecordKind | None = None


AS_RECORDED = CloudAsRead()


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """The job's length unit and, if it has one, its CRS as written (`EPSG:2223`)."""

    unit: LengthUnit
    crs: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Georeference:
    """How to turn a cloud into the job's unit: plan (n, 2) by a call, heights by a factor.

    `plan_factor` is what the call multiplies by, None where it projects.
    """

    to_job_plan: Callable[[FloatArray], FloatArray]
    height_factor: float
    notes: tuple[str, ...]
    plan_factor: float | None = None


def settle(name: str, stated: Sequence[Stated], as_read: CloudAsRead, site: Site) -> Georeference:
    """The way from a cloud's coordinates to the job's.

    Errors: `SurveyError` where records disagree, contradict themselves, leave a unit out, are in
    degrees without a CRS in the job, or name another CRS than the job.
    """
    record = _holding_record(name, stated, as_read)
    if record is None and as_read.horizontal_unit is None and as_read.vertical_unit is None:
        note = f"{name}: states no CRS and no unit; taken in the job's ({site.unit.name})."
        return _only_scaled(1.0, 1.0, (note,))
    geographic = record is not None and record.geographic and as_read.horizontal_unit is None
    horizontal = as_read.horizontal_unit or (record.horizontal if record else None)
    vertical = as_read.vertical_unit or (record.vertical if record else None)
    silent = {"horizontal_unit": horizontal or geographic or None, "vertical_unit": vertical}
    _all_stated(name, [key for key, value in silent.items() if value is None], horizontal)
    notes = [*_overruled(name, record, as_read)]
    if record is not None and site.crs is not None and not geographic:
        notes += _compare_with_job(name, record, site)
    factor = float(site.unit.per(LENGTH_UNITS[str(vertical)]))
    if geographic:
        assert record is not None
        call, note = _projection(name, record, site)
        return Georeference(to_job_plan=call, height_factor=factor, notes=(*notes, note))
    if horizontal != site.unit.name or vertical != site.unit.name:
        notes.append(
            f"{name}: plan in {horizontal} and heights in {vertical} converted to {site.unit.name}."
        )
    plan_factor = float(site.unit.per(LENGTH_UNITS[str(horizontal)]))
    return _only_scaled(plan_factor, factor, tuple(notes))


def _only_scaled(plan: float, upward: float, notes: tuple[str, ...]) -> Georeference:
    return Georeference(
        to_job_plan=_scaled(plan), height_factor=upward, notes=notes, plan_factor=plan
    )


def _all_stated(name: str, silent: Sequence[str], horizontal: str | None) -> None:
    words = {"horizontal_unit": "plan", "vertical_unit": "heights"}
    if silent:
        wanted = ", ".join(f'{key} = "..."' for key in silent)
        raise _fault(
            name,
            f"does not state the unit of its {' nor of its '.join(words[key] for key in silent)}"
            + (f" (its plan is in {horizontal})" if horizontal else "")
            + f"; write cloud = {{{wanted}}} in the job, with ft, ftUS or m.",
        )


def _fault(name: str, message: str) -> SurveyError:
    return SurveyError(Fault(file=name, message=message))


def _scaled(factor: float) -> Callable[[FloatArray], FloatArray]:
    return lambda plan: plan if factor == 1.0 else plan * factor


def _holding_record(name: str, stated: Sequence[Stated], as_read: CloudAsRead) -> Stated | None:
    chosen = list(stated)
    if as_read.crs_record is not None:
        chosen = [s for s in stated if s.record == as_read.crs_record]
        if not chosen:
            raise _fault(name, f'has no "{as_read.crs_record}" record, which the job says holds.')
    elif len(stated) > 1:
        differ = _differences(stated[0], stated[1])
        if differ:
            raise _fault(
                name,
                f"its two CRS records disagree: {'; '.join(differ)}. Write "
                'cloud = {crs_record = "wkt"} or "geotiff" in the job, whichever holds.',
            )
        return _filled(stated[0], stated[1])
    if not chosen:
        return None
    problems = [
        p
        for p in chosen[0].problems
        if not (as_read.horizontal_unit and ("plan" in p or "3076" in p or "projected" in p))
        and not (as_read.vertical_unit and ("heights" in p or "4099" in p))
        and not (as_read.horizontal_unit and as_read.vertical_unit)
    ]
    if problems:
        raise _fault(name, f"{'; '.join(problems)}. Write {_HOW} in the job.")
    return chosen[0]


def _filled(first: Stated, second: Stated) -> Stated:
    return Stated(
        record=first.record,
        crs_name=first.crs_name,
        crs=first.crs or second.crs,
        geographic=first.geographic,
        horizontal=first.horizontal or second.horizontal,
        vertical=first.vertical or second.vertical,
        problems=first.problems + second.problems,
    )


def _differences(wkt: Stated, geotiff: Stated) -> list[str]:
    told = []
    words = {"wkt": "WKT", "geotiff": "GeoTIFF"}
    a, b = words[wkt.record], words[geotiff.record]
    told += [*wkt.problems, *geotiff.problems]
    if wkt.geographic != geotiff.geographic and (wkt.crs is not None and geotiff.crs is not None):
        told.append(f"{a if wkt.geographic else b} is in degrees, the other is not")
    for what, one, two in (
        ("the plan", wkt.horizontal, geotiff.horizontal),
        ("heights", wkt.vertical, geotiff.vertical),
    ):
        if one and two and one != two:
            told.append(f"{a} gives {what} in {one}, {b} in {two}")
    if wkt.epsg and geotiff.epsg and wkt.epsg != geotiff.epsg:
        told.append(
            f"{a} is {wkt.crs_name} (EPSG:{wkt.epsg}), {b} is {geotiff.crs_name} "
            f"(EPSG:{geotiff.epsg})"
        )
    return told


def _overruled(name: str, record: Stated | None, as_read: CloudAsRead) -> list[str]:
    notes: list[str] = []
    if record is None:
        return notes
    for what, said, recorded in (
        ("plan", as_read.horizontal_unit, record.horizontal),
        ("heights", as_read.vertical_unit, record.vertical),
    ):
        if said and recorded and said != recorded:
            notes.append(
                f"{name}: {what} taken in {said}, as the job says; the file says {recorded}."
            )
    return notes


def _compare_with_job(name: str, record: Stated, site: Site) -> list[str]:
    grid = job_crs(str(site.crs), site.unit)
    if record.horizontal is not None and record.horizontal != site.unit.name:
        raise _fault(
            name,
            f"is on {record.crs_name} in {record.horizontal} but the job's {site.crs} is in "
            f"{site.unit.name}: these can't be one grid.",
        )
    own, asked = record.epsg, grid.to_epsg()
    if own and asked and own != asked:
        raise _fault(
            name,
            f"is on {record.crs_name} (EPSG:{own}) but the job's site.crs is {site.crs} "
            f"({grid.name}).",
        )
    if own is None:
        return [f"{name}: its CRS ({record.crs_name}) has no code; taken to be {site.crs}."]
    return []


def _projection(
    name: str, record: Stated, site: Site
) -> tuple[Callable[[FloatArray], FloatArray], str]:
    if site.crs is None:
        raise _fault(
            name,
            f"is in degrees ({record.crs_name}); name the grid of the site in the job, for "
            'instance site.crs = "EPSG:2223".',
        )
    if record.crs is None:
        raise _fault(name, "is in degrees of a CRS it does not name; project it before use.")
    grid = job_crs(site.crs, site.unit)
    note = f"{name}: projected from {record.crs_name} to {site.crs}."
    return projector(record.crs, grid), note


def projector(source: pyproj.CRS, grid: pyproj.CRS) -> Callable[[FloatArray], FloatArray]:
    """A call that turns (n, 2) longitude, latitude in degrees into easting, northing of a grid.

    Points that can't be projected come back as infinite.
    """
    transformer = pyproj.Transformer.from_crs(source.to_2d(), grid.to_2d(), always_xy=True)

    def project(plan: FloatArray) -> FloatArray:
        easting, northing = transformer.transform(plan[:, 0], plan[:, 1])
        return np.column_stack([easting, northing])

    return project
