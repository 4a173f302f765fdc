"""Known marks among the shots: stated elevation against read elevation."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from terrain.base.errors import Fault, SurveyError
from terrain.survey.shots import Shots, nearest_names

_MOST_NAMES = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkCheck:
    """One reading of a known mark; `difference` is read less stated, high positive."""

    name: str
    stated: float
    read: float
    difference: float
    file: str
    row: int


def read_marks(shots: Shots, marks: Mapping[str, float]) -> tuple[MarkCheck, ...]:
    """Every reading of every mark, in the order of the marks; shots before any merging.

    Errors: `SurveyError` for each mark that no shot is named after.
    """
    checks, faults = [], []
    for name, stated in marks.items():
        found = _readings(shots, name.strip())
        if not len(found):
            faults.append(
                Fault(
                    key=f"existing.marks.{name}",
                    message=f'no shot is named "{name}"; {_near(shots, name)}',
                )
            )
        for k in found:
            read = float(shots.elevation[k])
            checks.append(
                MarkCheck(
                    name=name,
                    stated=stated,
                    read=read,
                    difference=read - stated,
                    file=shots.files[shots.file[k]],
                    row=int(shots.row[k]),
                )
            )
    if faults:
        raise SurveyError(*faults)
    return tuple(checks)


def _readings(shots: Shots, name: str) -> list[int]:
    if shots.point is None:
        return []
    return [int(k) for k in np.flatnonzero(shots.point == name.encode("utf-8"))]


def _near(shots: Shots, name: str) -> str:
    if shots.point is None:
        return "the shots have no point names at all."
    # Names that begin alike come first: comparing a million names would take minutes.
    known = [n.decode("utf-8") for n in np.unique(shots.point) if n]
    alike = [n for n in known if n[0].casefold() == name[:1].casefold()]
    return nearest_names(name, (alike or known)[:_MOST_NAMES])


def judge_marks(checks: tuple[MarkCheck, ...], tolerance: float, unit_name: str) -> tuple[str, ...]:
    """A sentence for each reading within `tolerance`, and one more for a shift common to all.

    Errors: `SurveyError` if any reading is beyond the tolerance: with a shift common to all one
    fault that names it, else one fault a reading.
    """
    beyond = [c for c in checks if not abs(c.difference) <= tolerance]
    shift = common_shift(checks, tolerance)
    if beyond and shift is not None:
        raise SurveyError(
            Fault(
                file=beyond[0].file,
                line=beyond[0].row,
                message=f"{_all(checks)} {_high_or_low(shift, unit_name)}, beyond the tolerance "
                f"of {tolerance:g}: check the rod height, and the elevation of the mark that "
                f"the survey was set up from. {_listed(checks)}",
            )
        )
    if beyond:
        raise SurveyError(
            *(
                Fault(
                    file=c.file,
                    line=c.row,
                    message=f"mark {c.name} reads {_high_or_low(c.difference, unit_name)} "
                    f"({c.read:.3f} against {c.stated:.3f} stated), beyond the tolerance of "
                    f"{tolerance:g}: check its name, its stated elevation and the rod height.",
                )
                for c in beyond
            )
        )
    notes = [f"{_one(c, unit_name)}." for c in checks]
    if shift is not None and len(checks) > 1 and abs(shift) > tolerance / 2:
        notes.append(f"{_all(checks)} {_high_or_low(shift, unit_name)}: check the rod height.")
    return tuple(notes)


def common_shift(checks: tuple[MarkCheck, ...], tolerance: float) -> float | None:
    """The mean difference if two marks or more are all high, or all low, and alike."""
    if len({c.name for c in checks}) < 2:
        return None
    differences = np.array([c.difference for c in checks])
    one_sided = (differences > 0).all() or (differences < 0).all()
    if not one_sided or np.ptp(differences) > tolerance:
        return None
    return float(differences.mean())


def _all(checks: tuple[MarkCheck, ...]) -> str:
    names = {c.name for c in checks}
    return "both marks read" if len(names) == 2 else f"all {len(names)} marks read"


def _high_or_low(difference: float, unit_name: str) -> str:
    return f"{abs(difference):.3f} {unit_name} too {'high' if difference > 0 else 'low'}"


def _one(check: MarkCheck, unit_name: str) -> str:
    if check.difference == 0:
        return f"mark {check.name} reads {check.read:.3f} {unit_name} as stated"
    side = "high" if check.difference > 0 else "low"
    return (
        f"mark {check.name} reads {check.read:.3f} against {check.stated:.3f} {unit_name} stated: "
        f"{abs(check.difference):.3f} {side}"
    )


def _listed(checks: tuple[MarkCheck, ...]) -> str:
    return "; ".join(f"{c.name} {c.read:.3f} for {c.stated:.3f}" for c in checks[:6]) + "."
