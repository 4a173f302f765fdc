"""Ground that a file brings ready made: what a job may say of it, and the TIN it becomes."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from terrain.base.arrays import FloatArray, IntArray
from terrain.base.errors import Fault, SurveyError
from terrain.base.frame import LocalFrame
from terrain.base.units import LengthUnit
from terrain.job.kinds import shown
from terrain.job.places import KeyPath
from terrain.job.schema import Existing
from terrain.surface.boundary import piece_notes
from terrain.surface.ready import facing, fineness, overlaps, ready_tin, spots
from terrain.surface.sheet import Overhang, lowest_sheet
from terrain.surface.tin_record import SNAP, GroundNote, Tin
from terrain.survey.files import kind_of
from terrain.survey.merge import count
from terrain.survey.read import ALONE, MESH_WANTED, READY
from terrain.survey.triangles import Triangles, one_a_place

_OF_SHOTS = (
    "columns", "breaklines", "lines", "coordinates", "boundary_code", "hole_codes", "marks",
    "mark_tolerance", "same_spot", "same_spot_tolerance", "max_edge", "cloud",
)  # fmt: skip
OVERLAPS_TOLD = 20
OVERHANGS_TOLD = 3


def ready_rules(existing: Existing) -> Iterator[tuple[KeyPath, str]]:
    """What is wrong with the keys of `[existing]` where a file brings the ground, or none does."""
    kinds = [kind_of(name) for name in existing.shots]
    ready = [i for i, kind in enumerate(kinds) if kind in READY]
    mesh = [i for i in ready if kinds[i] == "mesh"]
    if len(kinds) > 1:
        yield from ((("existing", "shots", i), ALONE.format(existing.shots[i])) for i in ready[:1])
    if mesh and existing.mesh is None:
        message = f"this key is required with {shown(existing.shots[mesh[0]])}, a mesh: "
        yield ("existing", "mesh"), message + MESH_WANTED
    if existing.mesh is not None and not mesh:
        yield ("existing", "mesh"), "has no use without a mesh (.ply, .obj, .glb) in existing.shots"
    if existing.surface is not None and len(ready) == len(mesh):
        yield ("existing", "surface"), "has no use without a LandXML file in existing.shots"
    if ready:
        name = shown(existing.shots[ready[0]])
        for key in _OF_SHOTS:
            if key in existing.model_fields_set:
                yield ("existing", key), f"has no use with {name}, which brings the ground ready"


def tin_of(triangles: Triangles, frame: LocalFrame, unit: LengthUnit) -> Tin:
    """The TIN of ready triangles, `shot` being the index of the point, with notes on all of it.

    LandXML is taken as it is: faces that turn right are turned over, those that overlap are an
    error. Of a mesh, faces that look down are no ground, and of sheets the lowest is.

    Raises:
        SurveyError: no ground at all, or faces of LandXML that overlap.
    """
    points = np.column_stack([frame.to_local(triangles.points[:, :2]), triangles.points[:, 2]])
    faces = facing(points, triangles.corners)
    notes = _facing_notes(triangles, points, faces, unit)
    if triangles.kind == "landxml":
        kept = faces != 0
        corners = np.where(
            (faces < 0)[:, None], triangles.corners[:, ::-1], triangles.corners
        )[kept]  # fmt: skip
        corners, merged = _one_a_place(points, corners)
        notes += merged
    else:
        kept = faces > 0
        corners = triangles.corners[kept]
    if not len(corners):
        raise SurveyError(
            Fault(
                file=triangles.name,
                message="has no ground in it: all its faces stand upright or look down. Is another "
                "axis up?",
            )
        )
    if triangles.kind == "landxml" and len(pairs := overlaps(points, corners, SNAP)):
        raise _overlapping(triangles, triangles.face_row[kept], pairs)
    pairs = overlaps(points, corners, fineness(points))
    sheet = lowest_sheet(points, corners, pairs)
    notes += _overhang_notes(sheet.overhangs, frame, unit)
    shot = np.concatenate([np.arange(len(points)), np.full(sheet.made, -1)])
    tin = ready_tin(sheet.points, sheet.corners, shot)
    notes += _jump_notes(tin, frame, unit)
    told = tuple(GroundNote(code="ready", message=f"{triangles.name}: {note}") for note in notes)
    pieces = tuple(n for n in piece_notes(tin, frame) if n.code == "ground_in_pieces")
    return replace(tin, notes=(*told, *pieces))


def _facing_notes(
    triangles: Triangles, points: FloatArray, faces: IntArray, unit: LengthUnit
) -> list[str]:
    down, upright = int((faces < 0).sum()), int((faces == 0).sum())
    notes = []
    if down and triangles.kind == "landxml":
        notes.append(f"{count(down, 'face')} turn right and were turned over.")
    elif down:
        a, b, c = np.moveaxis(points[triangles.corners[faces < 0], :2], 1, 0)
        u, v = b - a, c - a
        area = float(np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]).sum()) / 2
        notes.append(
            f"{count(down, 'face')} look down and are no ground, {area:,.1f} {unit.area_sign} in "
            "plan: the underside of a roof or an overhang, or a piece of the mesh that is inside "
            "out. Look at the mesh there: below a roof no ground may have been seen."
        )
    if upright:
        notes.append(f"{count(upright, 'face')} without area in plan left out.")
    return notes


def _one_a_place(points: FloatArray, corners: IntArray) -> tuple[IntArray, list[str]]:
    """The corners with points at one place taken for one, the first in the file."""
    first, place = one_a_place(points)
    again = len(points) - len(first)
    if not again:
        return corners, []
    note = f"{count(again, 'point')} at the place of others taken for one with them."
    return first[place][corners], [note]


def _overlapping(triangles: Triangles, rows: IntArray, pairs: IntArray) -> SurveyError:
    told = [
        Fault(
            file=triangles.name,
            line=int(rows[other]),
            message=f"this face lies on the ground of the face in line {rows[one]}: the surface "
            "has two heights there. Correct it where it was made.",
        )
        for one, other in pairs[:OVERLAPS_TOLD].tolist()
    ]
    left = len(pairs) - len(told)
    if left:
        told.append(Fault(file=triangles.name, message=f"{left:,} more pairs of faces overlap."))
    return SurveyError(*told)


def _overhang_notes(
    overhangs: tuple[Overhang, ...], frame: LocalFrame, unit: LengthUnit
) -> list[str]:
    if not overhangs:
        return []
    area = sum(overhang.area for overhang in overhangs)
    spots_told = []
    for overhang in overhangs[:OVERHANGS_TOLD]:
        easting, northing = frame.to_site(overhang.spot)
        spots_told.append(
            f"{overhang.area:,.2f} {unit.area_sign} near ({easting:.2f}, {northing:.2f}), up to "
            f"{overhang.height:.2f} {unit.name} above"
        )
    more = len(overhangs) - len(spots_told)
    told = "; ".join(spots_told) + (f"; and {more:,} smaller" if more else "")
    return [
        f"{area:,.2f} {unit.area_sign} of ground lie under other parts of the mesh (overhangs); "
        f"the lowest was taken. {told}."
    ]


def _jump_notes(tin: Tin, frame: LocalFrame, unit: LengthUnit) -> list[str]:
    """Where the ground has two heights on one spot."""
    spot = spots(tin.points)
    low, high = np.full(len(spot), np.inf), np.full(len(spot), -np.inf)
    np.minimum.at(low, spot, tin.points[:, 2])
    np.maximum.at(high, spot, tin.points[:, 2])
    jump = np.where(np.isfinite(low), high - low, 0.0)
    if not (jump > 0).any():
        return []
    most = int(np.argmax(jump))
    easting, northing = frame.to_site(tin.points[np.flatnonzero(spot == most)[0], :2])
    return [
        f"the ground jumps at {count(int((jump > 0).sum()), 'spot')}, most at ({easting:.2f}, "
        f"{northing:.2f}) by {jump[most]:.2f} {unit.name}."
    ]
