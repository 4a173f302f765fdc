"""What is still to dig beside the main hole, and earth left on slopes whose foot is right."""

from collections.abc import Iterator

from terrain.job.progress_record import ProgressRow, ProgressSurvey
from terrain.job.verify_record import Todo, Verified

LEAST = 0.1
"""Volume units of bank that are told at least: less reads as nought."""


def undug(found: Verified, day: ProgressSurvey | None, volume_sign: str) -> tuple[Todo, ...]:
    """Pits, ramps and trenches that are not dug yet, and slopes with earth left above the design.

    A volume that is smaller than its own doubt is left out. `day` is the progress of the hole's
    day, None where it has none.
    """
    if day is None:
        return ()
    return (*_extras(day, volume_sign), *_slopes(found, day, volume_sign))


def _extras(day: ProgressSurvey, volume_sign: str) -> Iterator[Todo]:
    rows = [row for row in day.rows if row.kind != "wall" and _is_left(row)]
    if not rows:
        return
    each = ", ".join(f"{row.name} {_left(row)} of {row.design.volume:.1f}" for row in rows)
    yield Todo(
        what="dig",
        wall=None,
        message=f"Dig what is not dug yet beside the main hole: {each} {volume_sign} bank.",
        volume=float(sum(row.left.volume for row in rows)),
    )


def _is_left(row: ProgressRow) -> bool:
    return row.left.volume >= LEAST and row.left.is_significant is not False


def _slopes(found: Verified, day: ProgressSurvey, volume_sign: str) -> Iterator[Todo]:
    """Walls that leave the forms their room, with earth on their slope that is no noise.

    What is left of a slope is a sum of thin slices, to which noise adds: the check of the wall,
    whose doubt has that in it, must find earth above the design too.
    """
    sides = {row.name: part for row in day.rows for part in row.parts if part.name == "side"}
    rows = [
        (wall.wall, sides[wall.wall])
        for wall in found.walls
        if wall.wall in sides
        and wall.verdict != "trim"
        and wall.amounts is not None
        and wall.amounts.underdug.is_significant is not False
        and _is_left(sides[wall.wall])
    ]
    if not rows:
        return
    each = ", ".join(f"{name} {_left(side)}" for name, side in rows)
    yield Todo(
        what="dig",
        wall=None,
        message="Trim slopes that stand above the design though their foot is wide enough: "
        f"{each} {volume_sign} bank.",
        volume=float(sum(side.left.volume for _, side in rows)),
    )


def _left(row: ProgressRow) -> str:
    doubt = row.left.plus_minus_95
    return f"{row.left.volume:.1f}" + ("" if doubt is None else f" ± {doubt:.1f}")
