"""A scan's points thinned, and the ground among them told from what stands on it."""

from dataclasses import replace

import numpy as np

from terrain.base.errors import Fault, SurveyError
from terrain.base.units import LengthUnit
from terrain.survey.cloud_facts import CloudFacts
from terrain.survey.ground_filter import FEWEST, GroundFilter, ground_among
from terrain.survey.merge import count
from terrain.survey.shots import Shots, chosen
from terrain.survey.thin import FAR_M, thin
from terrain.survey.triangles import check_size

MOST_LEFT_OUT = "That is over half: look at the ground on the page before you trust it."
"""What a note says where a filter leaves so little that its settings may not suit the ground."""


def thinned(shots: Shots, cell: float | None, unit: LengthUnit) -> tuple[Shots, CloudFacts]:
    """The shots with one a cell, in the order of the file; all of them for no cell or nought."""
    read = len(shots)
    far = (0, 0)
    if cell:
        points = np.column_stack([shots.plan, shots.elevation])
        kept, far = thin(points, cell, FAR_M / float(unit.metres))
        shots = chosen(shots, np.sort(kept))
    return shots, CloudFacts(read=read, thinned=read - len(shots), far=far, used=len(shots))


def ground_of(
    name: str, shots: Shots, facts: CloudFacts, asked: GroundFilter | None, unit: LengthUnit
) -> tuple[Shots, CloudFacts]:
    """The ground of a cloud that does not say which of its points are ground.

    Errors: `SurveyError` if the cloud is no size that a lot can be, or no ground is found.
    """
    axes = (shots.easting, shots.northing, shots.elevation)
    ends = np.array([[axis.min() for axis in axes], [axis.max() for axis in axes]])
    check_size(name, ends, unit, f"its numbers are taken in {unit.name}")
    if asked is None or asked.way == "none" or facts.classed:
        return shots, facts
    if len(shots) < FEWEST:
        few = f"{name}: {count(len(shots), 'point')}, too few for a ground filter: all are taken."
        return shots.with_notes(few), facts
    points = np.column_stack(axes)
    told = ground_among(points, asked, unit)
    kept = np.flatnonzero(told.ground)
    if not len(kept):
        message = (
            f"the ground filter ({asked.way}) finds no ground among {len(shots):,} points: make "
            'existing.ground_filter.threshold or cell other, or take them all with way = "none".'
        )
        raise SurveyError(Fault(file=name, message=message))
    stray = np.flatnonzero(told.stray)
    off = len(shots) - len(kept) - len(stray)
    notes = [
        f"{name}: {off:,} of {count(len(shots), 'point')} are no ground by the filter "
        f"({asked.way}), such as plants, cars and roofs, and are left out."
        + (f" {MOST_LEFT_OUT}" if off > len(shots) / 2 else "")
    ]
    if len(stray):
        lowest = stray[np.argmin(points[stray, 2])]
        notes.append(
            f"{name}: {count(len(stray), 'stray point')} far below all round them left out, the "
            f"lowest at {points[lowest, 0]:.2f}, {points[lowest, 1]:.2f}, elevation "
            f"{points[lowest, 2]:.2f}."
        )
    facts = replace(facts, stray=len(stray), not_ground=off, used=len(kept), way=asked.way)
    return chosen(shots, kept).with_notes(*notes), facts
