"""The verdict on a hole, from the shots of its walls and its floor alone."""

from dataclasses import dataclass

from terrain.asdug.judge import Limits, Verdict, hole_verdict, tests_of, wall_verdict
from terrain.asdug.told_apart import Kind
from terrain.asdug.walls import WallDug
from terrain.base.arrays import FloatArray, IntArray
from terrain.job.asdug import DayHole, plan_sigma_of
from terrain.job.load import Job
from terrain.job.verify_measure import floor_errors, floor_of, lines_of
from terrain.job.worked import Worked
from terrain.surface.patches import Surface

FLOOR_TOLERANCE = {"ft": 0.1, "ftUS": 0.1, "m": 0.03}
"""+/- 0.1 ft to grade for machine excavation: common practice, no source."""
LINE_TOLERANCE = {"ft": 0.25, "ftUS": 0.25, "m": 0.075}
"""How far a wall's dig line may be off; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Judged:
    """What a hole is judged by, and how.

    Args:
        lines: every wall in the order of the ring, None where it has too few shots.
        walls: their verdicts.
        design: the faces of the design's floor.
        errors: numbers of the floor's shots, and how far above the design each is.
        limits: what holds for this hole.
        verdict: on the hole.
    """

    lines: list[WallDug | None]
    walls: list[Verdict]
    design: Surface
    errors: tuple[IntArray, FloatArray]
    limits: Limits
    verdict: Verdict


def tolerances(job: Job) -> tuple[float, float]:
    """How far the floor and a dig line may be off, in the job's length unit."""
    line, floor = job.verify.line_tolerance, job.verify.floor_tolerance
    return (
        FLOOR_TOLERANCE[job.unit.name] if floor is None else floor,
        LINE_TOLERANCE[job.unit.name] if line is None else line,
    )


def judged(worked: Worked, day: DayHole) -> Judged:
    """The verdict on one day's hole; every shot of it that is looked at counts as one test."""
    lines, design = lines_of(worked, day), floor_of(worked)
    shots, off = floor_errors(day, design)
    floor, line = tolerances(worked.job)
    limits = Limits(
        line=line,
        floor=floor,
        plan_sigma=plan_sigma_of(day.later.errors),
        height_sigma=day.later.errors.accuracy,
        tests=tests_of(lines, len(shots) + int((day.hole.kind == Kind.FACE).sum())),
    )
    asked = [wall.overdig for wall in worked.layout.design.walls]
    walls = [wall_verdict(one, own, limits) for one, own in zip(lines, asked, strict=True)]
    has_floor = day.hole.floor is not None and len(off) > 0
    return Judged(
        lines=lines,
        walls=walls,
        design=design,
        errors=(shots, off),
        limits=limits,
        verdict=hole_verdict(
            walls,
            (float(off.max()), float(off.min())) if has_floor else None,
            limits,
            is_floor_shot=bool((day.hole.kind == Kind.FLOOR).any()),
        ),
    )
