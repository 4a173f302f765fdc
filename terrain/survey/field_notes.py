"""Level notes to shots: elevations adjusted, places taped, both with what there is to say."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from terrain.base.errors import Fault, SurveyError
from terrain.survey.level_net import LevelRules, accuracies, closure_sentences, level
from terrain.survey.level_notes import Notes
from terrain.survey.merge import count
from terrain.survey.shots import Absorbed, Shots
from terrain.survey.tape import TapeFrom, placed_plan


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelAsked:
    """What the job says of level notes: rules of closing, and what tapes are held from."""

    rules: LevelRules
    tapes: TapeFrom = field(default_factory=TapeFrom)


def shots_of_notes(notes: Notes, marks: Mapping[str, float], asked: LevelAsked) -> Shots:
    """A shot for every point of the notes that stands somewhere, with its accuracy.

    A point read more than once is one shot. Points without a place, such as turning points, only
    carry the level on.

    Errors: `SurveyError` if the notes do not close, hang on no mark, or place no point.
    """
    levelled = level(notes, marks, asked.rules)
    plan, doubts = placed_plan(notes, asked.tapes)
    read = {sight.point for sight in notes.sights}
    unread = [point for point in plan if point not in read]
    if unread:
        raise SurveyError(
            *(
                Fault(
                    file=notes.file,
                    line=notes.places[point].row,
                    message=f"{point} has a place but no reading of the rod.",
                )
                for point in unread
            )
        )
    if not plan:
        message = "places no point: give easting and northing, a line and stationing, or two tapes."
        raise SurveyError(Fault(file=notes.file, message=message))
    names = list(plan)
    codes = sorted({code for point, code in notes.codes.items() if point in plan})
    at = {code: k for k, code in enumerate(codes)}
    spots = np.array([plan[point] for point in names])
    without = len(read) - len(names)
    said = list(closure_sentences(notes, levelled, asked.rules)) + doubts
    if without:
        said.append(
            f"{notes.file}: {count(without, 'point')} without a place carried the level only."
        )
    return Shots(
        easting=np.ascontiguousarray(spots[:, 0]),
        northing=np.ascontiguousarray(spots[:, 1]),
        elevation=np.array([levelled.elevation[point] for point in names]),
        file=np.zeros(len(names), dtype=np.int16),
        row=np.array([notes.places[point].row for point in names], dtype=np.int32),
        code=np.array([at.get(notes.codes.get(p, ""), -1) for p in names], dtype=np.int32),
        line=np.full(len(names), -1, dtype=np.int32),
        files=(notes.file,),
        code_names=tuple(codes),
        point=np.array([point.encode() for point in names], dtype=np.bytes_),
        accuracy=accuracies(levelled, names),
        absorbed=Absorbed.nothing(),
        notes=tuple(said),
    )
