"""LandXML 1.0, 1.1 and 1.2: one surface of a file, its triangles as they stand there.

A point `P` is northing, easting, elevation; a face `F` with i="1" is invisible and no part of the
surface; every length is in the unit of the `Units` element, which must be there.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from terrain.base.arrays import FloatArray, IntArray
from terrain.base.errors import MORE_FOLLOW, Fault, SurveyError
from terrain.base.units import FOOT, METRE, US_SURVEY_FOOT, LengthUnit
from terrain.survey.crs import job_crs
from terrain.survey.files import read_start, true_content
from terrain.survey.georef import Site
from terrain.survey.landxml_scan import MOST_FAULTS, Found, Scanned, id_numbers, scan
from terrain.survey.merge import count
from terrain.survey.shots import nearest_names
from terrain.survey.text import printed
from terrain.survey.triangles import Triangles, check_size

_UNITS: dict[tuple[str, str], LengthUnit] = {
    ("Metric", "meter"): METRE,
    ("Imperial", "foot"): FOOT,
    ("Imperial", "USSurveyFoot"): US_SURVEY_FOOT,
}
# The unit of elevations where it is that of the plan: `meter` and `feet` are the schema's, the
# others what writers put (from memory). Left out, the schema means metres even beside feet, which
# no writer does: the unit of the plan is taken.
_SAME_ELEVATION_UNIT = {"Metric": ("meter",), "Imperial": ("feet", "foot", "USSurveyFoot")}
_KNOWN_UNITS = 'linearUnit "meter", "foot" and "USSurveyFoot"'


@dataclass(frozen=True, slots=True, kw_only=True)
class LandxmlAsked:
    """What the job says: its unit and CRS, and which surface; None where there is only one."""

    site: Site
    surface: str | None = None


def read_landxml(path: Path, name: str, asked: LandxmlAsked) -> Triangles:
    """The visible triangles of one surface, in the job's unit.

    Errors: `SurveyError` with every fault of the points and faces, or with what keeps the file
    from being understood at all.
    """
    _check_start(read_start(path, name), name)
    scanned = scan(path, name, asked.surface)
    unit = _unit(scanned, name)
    notes = _crs_notes(scanned, name, asked.site)
    surface = _surface(scanned, name, asked.surface)
    if scanned.faults:
        raise SurveyError(*scanned.faults)
    points, point_row, ids = _points(scanned, name, surface)
    corners, face_row, hidden = _faces(scanned, name, ids)
    points = _in_job_unit(points, unit, asked.site.unit)
    check_size(name, points, asked.site.unit, f"the file is in {unit.name}")
    if unit != asked.site.unit:
        notes.append(f"{name}: in {unit.name}, converted to {asked.site.unit.name}.")
    notes.append(
        f'{name}: surface "{printed(surface.name)}" taken as it is, {count(len(corners), "face")}.'
    )
    if surface.state and surface.state != "existing":
        notes.append(
            f'{name}: the file calls the surface "{printed(surface.state)}", not existing ground.'
        )
    if hidden:
        notes.append(f"{name}: {count(hidden, 'invisible face')} left out.")
    return Triangles(
        name=name,
        kind="landxml",
        points=points,
        corners=corners,
        point_row=point_row,
        face_row=face_row,
        notes=tuple(notes),
    )


def _check_start(start: bytes, name: str) -> None:
    what = true_content(start)
    if what is not None:
        raise SurveyError(Fault(file=name, line=1, message=f"this is no LandXML but {what}."))


def _unit(scanned: Scanned, name: str) -> LengthUnit:
    if not scanned.units:
        raise SurveyError(
            Fault(
                file=name,
                message="states no units: a Units element is wanted, with Metric or Imperial and "
                f"its linearUnit; read are {_KNOWN_UNITS}.",
            )
        )
    system, attributes, line = scanned.units[0]
    if len(scanned.units) > 1:
        raise SurveyError(
            Fault(file=name, line=scanned.units[1][2], message="states its units twice; keep one.")
        )
    linear = attributes.get("linearUnit", "")
    unit = _UNITS.get((system, linear))
    if unit is None:
        said = f'{printed(system)} with linearUnit "{printed(linear)}"'
        raise SurveyError(
            Fault(file=name, line=line, message=f"its unit is {said}; read are {_KNOWN_UNITS}.")
        )
    upright = attributes.get("elevationUnit")
    if upright is not None and upright not in _SAME_ELEVATION_UNIT[system]:
        raise SurveyError(
            Fault(
                file=name,
                line=line,
                message=f'its elevations are in "{printed(upright)}" and its plan in "{linear}"; '
                "write both in one unit.",
            )
        )
    return unit


def _crs_notes(scanned: Scanned, name: str, site: Site) -> list[str]:
    """The file's grid held against the job's: by EPSG code, where both have one."""
    code = scanned.crs.get("epsgCode", "").removeprefix("EPSG:").strip()
    if not code:
        return []
    if site.crs is None:
        return [f"{name}: states the CRS EPSG:{printed(code)}, the job has none; taken as it is."]
    grid = job_crs(site.crs, site.unit)
    own = grid.to_epsg()
    if own is not None and code != str(own):
        raise SurveyError(
            Fault(
                file=name,
                message=f"is on EPSG:{printed(code)} but the job's site.crs is {site.crs} "
                f"({grid.name}).",
            )
        )
    return []


def _surface(scanned: Scanned, name: str, wanted: str | None) -> Found:
    surfaces = scanned.surfaces
    if not surfaces:
        raise SurveyError(Fault(file=name, message="has no surface in it."))
    names = [s.name for s in surfaces]
    told = ", ".join(f'"{printed(n)}"' for n in names[:10])
    if wanted is None and len(surfaces) > 1:
        raise SurveyError(
            Fault(
                file=name,
                message=f"has {len(surfaces)} surfaces ({told}); name one in the job: "
                'existing.surface = "...".',
            )
        )
    named = [s for s in surfaces if wanted is None or s.name == wanted]
    if not named:
        raise SurveyError(
            Fault(
                key="existing.surface",
                message=f'{name} has no surface "{wanted}"; '
                + nearest_names(wanted or "", [printed(n) for n in names]),
            )
        )
    if len(named) > 1:
        raise SurveyError(
            Fault(
                file=name,
                line=named[1].line,
                message=f'has two surfaces "{wanted}"; give them names of their own.',
            )
        )
    if named[0].kind.casefold() not in ("tin", ""):
        raise SurveyError(
            Fault(
                file=name,
                line=named[0].line,
                message=f"the surface is a {printed(named[0].kind)}; only a TIN is read.",
            )
        )
    return named[0]


def _points(scanned: Scanned, name: str, surface: Found) -> tuple[FloatArray, IntArray, IntArray]:
    """Easting, northing, elevation (n, 3) in the file's unit, their lines and their ids."""
    rows, faces = scanned.points, scanned.faces
    for got, what in ((rows, "points (Pnts)"), (faces, "faces (Faces)")):
        if not len(got):
            raise SurveyError(
                Fault(
                    file=name,
                    line=surface.line,
                    message=f'surface "{printed(surface.name)}" has no {what}; write it as a TIN '
                    "with points and faces.",
                )
            )
    line = np.concatenate(rows.line)
    nameless = [int(line[k]) for k, mark in enumerate(rows.marks) if mark is None]
    if nameless:
        raise SurveyError(
            *(Fault(file=name, line=k, message="a point has no id.") for k in nameless[:20])
        )
    ids = id_numbers([str(mark) for mark in rows.marks], scanned.names)
    order = np.argsort(ids, kind="stable")
    again = np.flatnonzero(ids[order][1:] == ids[order][:-1])
    if len(again):
        raise SurveyError(
            *(
                Fault(
                    file=name,
                    line=int(line[order[k + 1]]),
                    message=f'the point id "{printed(str(rows.marks[order[k]]))}" is that of the '
                    f"point in line {line[order[k]]} too.",
                )
                for k in again[:20].tolist()
            )
        )
    return np.concatenate(rows.numbers)[:, [1, 0, 2]], line, ids


def _faces(scanned: Scanned, name: str, ids: IntArray) -> tuple[IntArray, IntArray, int]:
    """Corners (m, 3) of the visible faces, their lines, and how many are invisible."""
    rows = scanned.faces
    asked, line = np.concatenate(rows.numbers), np.concatenate(rows.line)
    order = np.argsort(ids, kind="stable")
    corners = _positions(ids, order, asked)
    lost = np.flatnonzero((corners < 0).any(axis=1))
    if len(lost):
        words = {number: word for word, number in scanned.names.items()}
        raise SurveyError(
            *(
                Fault(
                    file=name,
                    line=int(line[k]),
                    message=f'a face names the point "{printed(str(words.get(bad, bad)))}", which '
                    "is not there.",
                )
                for k in lost[:MOST_FAULTS].tolist()
                for bad in [int(asked[k][corners[k] < 0][0])]
            ),
            *([Fault(file=name, message=MORE_FOLLOW)] if len(lost) > MOST_FAULTS else []),
        )
    visible = np.array([mark != "1" for mark in rows.marks], dtype=np.bool_)
    if not visible.any():
        raise SurveyError(
            Fault(file=name, line=int(line[0]), message="all faces of the surface are invisible.")
        )
    return corners[visible].astype(np.int32), line[visible], int((~visible).sum())


def _positions(ids: IntArray, order: IntArray, asked: IntArray) -> IntArray:
    """The position among `ids` of each id asked for, -1 where it isn't; `order` sorts the ids."""
    low, high = int(ids[order[0]]), int(ids[order[-1]])
    if high - low < 8 * len(ids) + 1000:
        table = np.full(high - low + 1, -1, dtype=np.int64)
        table[ids - low] = np.arange(len(ids))
        known = (asked >= low) & (asked <= high)
        return np.where(known, table[np.clip(asked, low, high) - low], -1)
    at = np.minimum(np.searchsorted(ids[order], asked), len(ids) - 1)
    found: IntArray = np.where(ids[order[at]] == asked, order[at], -1)
    return found


def _in_job_unit(points: FloatArray, unit: LengthUnit, job: LengthUnit) -> FloatArray:
    if unit == job:
        return np.ascontiguousarray(points)
    factor = job.per(unit)
    converted: FloatArray = points * float(factor)
    return np.ascontiguousarray(converted)
