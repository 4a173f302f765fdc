"""The piles of a `[[piles]]` survey: read, told apart, measured over the ground they lie on."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely

from terrain.asdug.measured import SurveyTerms, total
from terrain.asdug.piles import Pile, PileShots, Site, pile_on
from terrain.base.arrays import IntArray
from terrain.base.errors import SpoilbankError, SurveyError
from terrain.job.asdug_tables import Piles
from terrain.job.later import Later, read_later, under_key
from terrain.job.lot_walls import house_walls, sides_of
from terrain.job.piles_checks import check_apart, check_names, check_on_ground, checked
from terrain.job.worked import Worked
from terrain.ledger.between import between_shots
from terrain.ledger.doubt import Terms
from terrain.ledger.ground import Ground
from terrain.ledger.lot_dug import Sides
from terrain.lot.finish import owners_of
from terrain.lot.limits import reach_over
from terrain.surface.boundary import boundary_edges
from terrain.surface.patches import labelled
from terrain.surface.tin import Line, Tin, build_tin, triangle_faces

EXISTING = "existing"
"""The key under which the existing ground's shots stand in weights."""

REPOSE = 35.0
"""Degrees at which spoil lies where the job does not say: the steepest that is printed of dry sand
(SOURCES: as quoted, 25 to 35 degrees)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PilesRead:
    """The piles of one day in the local frame, and what their shots err by.

    `key` is the survey's place in the job and the key of its shots in weights; `surveys` hold its
    own terms and those of the ground that it lies on.
    """

    key: str
    asked: Piles
    later: Later
    piles: tuple[Pile, ...]
    sides: Sides
    surveys: dict[str, SurveyTerms]


def read_piles(worked: Worked, number: int) -> PilesRead:
    """The piles of the survey so numbered, from 1.

    Raises:
        SurveyError: shots that can't be read, are of another lot or below the ground; a pile of
            fewer than three shots, without a foot, or over another one.
    """
    job, frame = worked.job, worked.layout.frame
    key, asked = f"piles[{number}]", job.piles[number - 1]
    later = read_later(job, key, asked, worked.existing, frame)
    check_on_ground(worked, later)
    groups = list(_told_apart(later))
    check_names(worked, key, asked, [name for name, _ in groups])
    site, sides = _site(worked)
    piles: list[Pile] = []
    tins: list[Tin] = []
    first = 0
    for name, own in groups:
        shots = _shots_of(worked, later, (name, own, first))
        pile = pile_on(shots, site)
        piles.append(checked(worked, later, own, (name, pile)))
        tins.append(shots.tin)
        first += len(shots.tin.points)
    check_apart(worked, later, groups)
    return PilesRead(
        key=key,
        asked=asked,
        later=later,
        piles=tuple(piles),
        sides=sides,
        surveys=_surveys(worked, later, tins, piles),
    )


def _told_apart(later: Later) -> Iterator[tuple[str, IntArray]]:
    """Each pile's name and shots: by code, those without one by file; in the order they appear."""
    shots, found = later.shots, dict[str, list[int]]()
    names: dict[str, str] = {}
    for k in range(len(shots)):
        name = shots.code_name(k).strip() or Path(shots.files[shots.file[k]]).stem
        names.setdefault(name.casefold(), name)
        found.setdefault(name.casefold(), []).append(k)
    for folded, own in found.items():
        yield names[folded], np.array(own, dtype=np.int64)


def _shots_of(worked: Worked, later: Later, which: tuple[str, IntArray, int]) -> PileShots:
    name, own, first = which
    if len(own) < 3:
        message = f'pile "{name}" has {len(own)} shots; a pile needs three at least: top and foot'
        raise SurveyError(later.fault(int(own[0]), message))
    place = {int(shot): k for k, shot in enumerate(own)}
    lines = [
        Line(name=line.name, shots=np.array([place[int(s)] for s in line.shots], dtype=np.int32))
        for line in later.lines
        if all(int(s) in place for s in line.shots)
    ]
    try:
        tin = build_tin(later.points[own], lines, frame=worked.layout.frame)
    except SpoilbankError as error:
        raise worked.job.located(under_key(error, f"{later.key}.shots")) from error
    above = np.where(tin.shot >= 0, later.above[own[np.maximum(tin.shot, 0)]], 0.0)
    return PileShots(
        name=name, tin=tin, above=above, errors=later.errors, survey=later.key, first=first
    )


def _site(worked: Worked) -> tuple[Site, Sides]:
    job, layout, ground = worked.job, worked.layout, worked.existing.ground
    house = house_walls(job, layout)
    sides = sides_of(layout, house)
    low, high = ground.points[:, :2].min(axis=0), ground.points[:, :2].max(axis=0)
    owners = owners_of(house.corners, reach_over(house.corners, shapely.box(*low, *high)))
    repose = job.spoil.repose or REPOSE
    return (
        Site(
            ground=ground,
            survey=EXISTING,
            owners=labelled(owners, np.array(sides.of_house)[owners.label]),
            sides=len(sides.names),
            slope=float(np.tan(np.radians(repose))),
        ),
        sides,
    )


def existing_terms(worked: Worked) -> SurveyTerms:
    """What the existing ground errs by, as the dig's own doubts have it."""
    ground, doubts = worked.existing.ground, worked.figures.doubts
    terms = Terms(errors=ground.errors, plan=ground.points[:, :2])
    return SurveyTerms(terms=terms if doubts is None else doubts.terms, setup=EXISTING)


def _surveys(
    worked: Worked, later: Later, tins: list[Tin], piles: list[Pile]
) -> dict[str, SurveyTerms]:
    """The terms of the piles' shots, all piles of the day as one ground, and of the ground."""
    points = np.concatenate([tin.points for tin in tins])
    first = np.cumsum([0, *(len(tin.points) for tin in tins[:-1])])
    triangles = np.concatenate([t.triangles + k for t, k in zip(tins, first, strict=True)])
    on_line = np.concatenate(
        [
            np.union1d(np.unique(tin.fixed), np.unique(boundary_edges(tin))) + k
            for tin, k in zip(tins, first, strict=True)
        ]
    )
    heap = Ground(
        surface=triangle_faces(points, triangles),
        points=points,
        triangles=triangles,
        errors=later.errors,
        on_line=on_line.astype(np.int64),
    )
    between = None
    if later.errors.is_said:
        between = between_shots(heap, total([p.loose for p in piles]).weights[later.key].spots)
    terms = Terms(errors=later.errors, plan=points[:, :2], between=between)
    return {
        later.key: SurveyTerms(terms=terms, setup=later.date),
        EXISTING: existing_terms(worked),
    }
