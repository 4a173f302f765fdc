"""The floor's main call: survey files in, shots out, with what was read and what was noticed."""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from terrain.base.errors import Fault, SurveyError
from terrain.survey.checks import check_enough, check_survey
from terrain.survey.field_notes import shots_of_notes
from terrain.survey.files import kind_of, read_bytes, sha256_of_file, stat_of
from terrain.survey.georef import Site
from terrain.survey.ground_filter import USUAL
from terrain.survey.landxml import LandxmlAsked, read_landxml
from terrain.survey.level_notes import read_notes
from terrain.survey.marks import MarkCheck, judge_marks, read_marks
from terrain.survey.merge import merge
from terrain.survey.meshes import (
    MeshAsRead,
    holds_points_only,
    placed_points,
    ply_points,
    read_mesh,
)
from terrain.survey.position_files import read_positions
from terrain.survey.positions import shots_of_positions
from terrain.survey.read_file import FileFacts as FileFacts
from terrain.survey.read_file import ReadOptions as ReadOptions
from terrain.survey.read_file import (
    check_unchanged,
    facts_of,
    ground_of_scan,
)
from terrain.survey.read_file import read_file as read_file
from terrain.survey.read_file import usual_mark_tolerance as usual_mark_tolerance
from terrain.survey.read_file import usual_same_spot as usual_same_spot
from terrain.survey.scan_ground import thinned
from terrain.survey.shots import Shots, join, plain_shots
from terrain.survey.thin import cell_of
from terrain.survey.triangles import Triangles, trimmed

READY = ("landxml", "mesh")
"""Kinds of file that bring the ground as triangles."""
ALONE = "{} brings the whole ground ready made: name it alone, without other files."
MESH_WANTED = 'write which axis is up and the unit: mesh = {up = "z", unit = "m"}, or as it is.'


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Survey:
    """All shots of a survey, one a spot, and how the files and the marks came out.

    `triangles` are those of a file that brings the ground ready made, in site coordinates; its
    points are then the shots, one for one.
    """

    shots: Shots
    files: tuple[FileFacts, ...]
    marks: tuple[MarkCheck, ...]
    triangles: Triangles | None = None

    @property
    def notes(self) -> tuple[str, ...]:
        """Plain sentences on what was merged, left out or assumed, and on each mark."""
        return self.shots.notes


def read_shots(paths: Sequence[str], options: ReadOptions) -> Survey:
    """The survey in the files of `paths`, named as the user wrote them, one shot a spot.

    Errors: `SurveyError` with the faults of all files, or of what they make together.
    """
    named = [*paths, *options.notes, *options.positions]
    if not named:
        raise SurveyError(Fault(key="existing.shots", message="names no file."))
    ready = [name for name in paths if kind_of(name) in READY]
    if ready and len(named) > 1:
        raise SurveyError(Fault(key="existing.shots", message=ALONE.format(ready[0])))
    if ready:
        return _read_ready(ready[0], options)
    parts: list[Shots] = []
    facts: list[FileFacts] = []
    faults: list[Fault] = []
    for name in named:
        try:
            shots, fact = _read_any(name, paths, options)
        except SurveyError as error:
            faults += error.faults
        else:
            parts.append(shots)
            facts.append(fact)
    faults += _same_file_twice(named, facts)
    if faults:
        raise SurveyError(*dict.fromkeys(faults))
    whole = join(parts)
    check_survey(whole, options.unit)
    marks = read_marks(whole, _marks_among_shots(whole, options))
    notes, marks_faults = _judged(marks, options)
    rule = options.same_spot or usual_same_spot(options.unit)
    try:
        shots = merge(whole, rule, options.unit.name)
    except SurveyError as error:
        raise SurveyError(*marks_faults, *error.faults) from error
    if marks_faults:
        raise SurveyError(*marks_faults)
    check_enough(shots, named)
    return Survey(shots=shots.with_notes(*notes), files=tuple(facts), marks=marks)


def _read_any(name: str, paths: Sequence[str], options: ReadOptions) -> tuple[Shots, FileFacts]:
    """A file of shots, of level notes or of positions, as the job names it."""
    if name in paths:
        return read_file(name, options)
    data = read_bytes(options.folder / name, name)
    if name in options.notes:
        told, notes = "level notes", read_notes(name, data)
        if options.level is None:
            raise SurveyError(Fault(file=name, message="level notes want rules of closing."))
        shots = shots_of_notes(notes, options.marks, options.level)
    else:
        told, site = "positions", Site(unit=options.unit, crs=options.crs)
        shots = shots_of_positions(read_positions(name, data), options.phone, site)
    return shots, facts_of(name, told, hashlib.sha256(data).hexdigest(), shots)


def _marks_among_shots(shots: Shots, options: ReadOptions) -> Mapping[str, float]:
    """The marks to look for among the shots: all, or where there are notes those that are there.

    A mark that notes start from need not stand anywhere.
    """
    if not options.notes or shots.point is None:
        return options.marks
    names = {name.decode("utf-8") for name in np.unique(shots.point)}
    return {name: stated for name, stated in options.marks.items() if name.strip() in names}


def _read_ready(name: str, options: ReadOptions) -> Survey:
    path = options.folder / name
    before = stat_of(path)
    if kind_of(name) == "landxml":
        site = Site(unit=options.unit, crs=options.crs)
        asked = LandxmlAsked(site=site, surface=options.surface)
        triangles = trimmed(read_landxml(path, name, asked))
    elif options.mesh is None:
        raise SurveyError(Fault(key="existing.mesh", message=f"{name} is a mesh: {MESH_WANTED}"))
    else:
        as_read = replace(options.mesh, floating=options.floating)
        data = read_bytes(path, name)
        if holds_points_only(name, data):
            return _read_points(name, data, as_read, options)
        triangles = trimmed(read_mesh(name, data, as_read, options.unit))
    points = triangles.points
    shots = plain_shots(
        (points[:, 0], points[:, 1]),
        np.ascontiguousarray(points[:, 2]),
        triangles.point_row,
        name,
    ).with_notes(*triangles.notes)
    facts = facts_of(name, triangles.kind, sha256_of_file(path), shots)
    check_unchanged(path, name, before)
    return Survey(shots=shots, files=(facts,), marks=(), triangles=triangles)


def _read_points(name: str, data: bytes, as_read: MeshAsRead, options: ReadOptions) -> Survey:
    """A PLY file of points without faces, taken as a cloud that is not classed."""
    points, said = placed_points(ply_points(name, data), as_read, name, options.unit)
    row = np.arange(1, len(points) + 1, dtype=np.int32)
    shots = plain_shots((points[:, 0], points[:, 1]), points[:, 2].copy(), row, name)
    cell, more = cell_of(options.cell, len(shots), options.unit)
    shots, facts = thinned(shots, cell, options.unit)
    shots, facts = ground_of_scan(name, shots, facts, (options, USUAL))
    check_enough(shots, [name])
    file = facts_of(name, "ply", hashlib.sha256(data).hexdigest(), shots)
    notes = (*said, *(f"{name}: {word}" for word in more))
    return Survey(shots=shots.with_notes(*notes), files=(replace(file, cloud=facts),), marks=())


def _judged(
    marks: tuple[MarkCheck, ...], options: ReadOptions
) -> tuple[tuple[str, ...], tuple[Fault, ...]]:
    tolerance = options.mark_tolerance
    if tolerance is None:
        tolerance = usual_mark_tolerance(options.unit)
    try:
        return judge_marks(marks, tolerance, options.unit.name), ()
    except SurveyError as error:
        return (), error.faults


def _same_file_twice(paths: Sequence[str], facts: Sequence[FileFacts]) -> list[Fault]:
    twice = [n for k, n in enumerate(paths) if n in paths[:k]]
    faults = [Fault(key="existing.shots", message=f"names {n} twice.") for n in twice]
    seen: dict[str, str] = {}
    for fact in facts:
        other = seen.setdefault(fact.sha256, fact.name)
        if other != fact.name:
            faults.append(Fault(file=fact.name, message=f"is the same file as {other}."))
    return faults
