"""Whether shots can be what they say: columns not swapped, no degrees, one place, one unit."""

from collections.abc import Sequence

import numpy as np

from terrain.base.arrays import BoolArray, FloatArray
from terrain.base.errors import Fault, SurveyError
from terrain.base.units import LengthUnit
from terrain.survey.layout import Layout
from terrain.survey.shots import Shots

# Limits in metres of what a building lot can be; no source, chosen wide.
WIDEST_SURVEY = 100_000.0
HIGHEST, LOWEST = 9_000.0, -1_500.0
SMALLEST_FILE = 30.0
FARTHEST_FILE = 20.0
ROWS_NAMED = 20
_SAMPLE = 3000
_FEWEST = 6
# Ground that rises more than this between most neighbours is no ground that can be dug.
_STEEPEST = 1.5


def check_columns(layout: Layout, shots: Shots) -> None:
    """Whether the columns of a text file are what its header or usual order says.

    Does nothing for columns that the job names: the job is believed.

    Errors: `SurveyError` for degrees in place of a grid and for elevations swapped with a plan
    column.
    """
    if layout.named_by == "job" or len(shots) < 3:
        return
    if _look_like_degrees(shots):
        raise SurveyError(
            Fault(
                file=layout.name,
                line=int(shots.row[0]),
                message=f"northing {shots.northing[0]:g} and easting {shots.easting[0]:g} "
                "look like latitude and longitude in degrees; give coordinates on the "
                "site's grid.",
            )
        )
    for name in ("northing", "easting") if len(shots) >= _FEWEST else ():
        if _looks_swapped(shots, name):
            low, high = np.min(shots.elevation), np.max(shots.elevation)
            plan = getattr(shots, name)
            raise SurveyError(
                Fault(
                    file=layout.name,
                    line=int(shots.row[0]),
                    message=f"elevations run from {low:.2f} to {high:.2f} but {name}s only from "
                    f"{plan.min():.2f} to {plan.max():.2f}, and most neighbours rise steeper than "
                    f"1:1: {name} and elevation look swapped. Correct the header, or name the "
                    "columns in the job, in their order, if they are right.",
                )
            )


def _look_like_degrees(shots: Shots) -> bool:
    spread = max(np.ptp(shots.northing), np.ptp(shots.easting))
    in_range = all(
        -most <= values.min() and values.max() <= most
        for values, most in ((shots.northing, 90), (shots.easting, 180))
    )
    return bool(in_range and 0 < spread < 0.1)


def _looks_swapped(shots: Shots, name: str) -> bool:
    step = max(1, len(shots) // _SAMPLE)
    upward = shots.elevation[::step]
    suspect = getattr(shots, name)[::step]
    if _spread(upward) <= 3 * _spread(suspect):
        return False
    from scipy.spatial import cKDTree  # loaded for files that look swapped only

    plan = shots.plan[::step]
    found = cKDTree(plan).query(plan, k=2)
    distance, neighbour = np.asarray(found[0]), np.asarray(found[1])
    apart = distance[:, 1] > 0
    if not apart.any():
        return False
    rise = np.abs(upward - upward[neighbour[:, 1]])[apart] / distance[apart, 1]
    return bool(np.median(rise) > _STEEPEST)


def _spread(values: FloatArray) -> float:
    # The middle of the values: one wild elevation must not look like a swapped column.
    low, high = np.percentile(values, [20, 80])
    return float(high - low)


def check_survey(shots: Shots, unit: LengthUnit) -> None:
    """Whether all files together can be one lot in one unit.

    Errors: `SurveyError` for files far from each other, shots far from the rest, and elevations
    that no ground has; rows and lines named.
    """
    metre = 1 / float(unit.metres)
    check_files_meet(shots, unit)
    faults = []
    for name in ("easting", "northing"):
        values = getattr(shots, name)
        if len(values) and np.ptp(values) > WIDEST_SURVEY * metre:
            middle = np.median(values)
            far = np.abs(values - middle) > WIDEST_SURVEY * metre / 2
            faults += _name_rows(shots, far, name, f"is far from the others (near {middle:.0f})")
    wild = (shots.elevation > HIGHEST * metre) | (shots.elevation < LOWEST * metre)
    if wild.any():
        faults += _name_rows(shots, wild, "elevation", "is no height that ground has")
    if faults:
        raise SurveyError(*faults)


def _name_rows(shots: Shots, which: BoolArray, column: str, what: str) -> list[Fault]:
    rows = np.flatnonzero(which)
    values = getattr(shots, column)
    faults = [
        Fault(
            file=shots.files[shots.file[k]],
            line=int(shots.row[k]),
            message=f"{column} {values[k]:.3f} {what}: correct the row or leave it out.",
        )
        for k in rows[:ROWS_NAMED]
    ]
    if len(rows) > ROWS_NAMED:
        faults.append(
            Fault(message=f"{len(rows) - ROWS_NAMED:,} more rows whose {column} {what}; is one "
                  "file or a part of it in another unit or on another grid?")
        )  # fmt: skip
    return faults


def check_files_meet(shots: Shots, unit: LengthUnit) -> None:
    """Whether files lie near each other, as those of one lot in one unit do.

    Errors: `SurveyError` naming two files whose gap is over 20 times the larger one's size.
    """
    if len(shots.files) < 2:
        return
    boxes = [_box(shots, k) for k in range(len(shots.files))]
    smallest = SMALLEST_FILE / float(unit.metres)
    for k in range(1, len(boxes)):
        gaps = [_gap(boxes[j], boxes[k]) for j in range(k)]
        j = int(np.argmin(gaps))
        size = max(smallest, *(float(np.ptp(boxes[m], axis=0).max()) for m in (j, k)))
        if gaps[j] > FARTHEST_FILE * size:
            raise SurveyError(
                Fault(
                    file=shots.files[k],
                    message=f"lies {gaps[j]:,.0f} {unit.name} from {shots.files[j]} "
                    f"({_where(boxes[k])} against {_where(boxes[j])}): not one lot in one unit."
                    f"{_ratio(boxes[j], boxes[k])} Bring all files to one grid and unit.",
                )
            )


def _box(shots: Shots, file: int) -> FloatArray:
    plan = shots.plan[shots.file == file]
    return np.array([plan.min(axis=0), plan.max(axis=0)])


def _gap(a: FloatArray, b: FloatArray) -> float:
    return float(np.maximum(a[0] - b[1], b[0] - a[1]).max())


def _where(box: FloatArray) -> str:
    middle = box.mean(axis=0)
    return f"easting {middle[0]:,.0f}, northing {middle[1]:,.0f}"


def _ratio(a: FloatArray, b: FloatArray) -> str:
    middle_a, middle_b = a.mean(axis=0), b.mean(axis=0)
    if (np.abs(middle_a) < 1).any() or (np.abs(middle_b) < 1).any():
        return ""
    ratio = middle_a / middle_b
    for factor, which in ((0.3048, "the first"), (1 / 0.3048, "this one")):
        if np.allclose(ratio, factor, rtol=0.01):
            return f" Feet and metres seem mixed: {which} looks like metres."
    return ""


def check_enough(shots: Shots, names: Sequence[str]) -> None:
    """Whether merged shots can make a surface at all.

    Errors: `SurveyError` for fewer than three spots.
    """
    if len(shots) < 3:
        raise SurveyError(
            Fault(
                file=names[0] if len(names) == 1 else None,
                line=int(shots.row[-1]) if len(names) == 1 and len(shots) else None,
                message=f"only {len(shots)} spot{'s' if len(shots) != 1 else ''} in "
                f"{', '.join(names)}; a ground needs three at least.",
            )
        )
