"""What is still to dig beside the main hole, and what stands along walls that are wide enough."""

from collections.abc import Iterator

from terrain.job.progress_record import ProgressRow, ProgressSurvey
from terrain.job.verify_record import Todo, Verified
from terrain.ledger.entries import BankVolume

LEAST = 0.1
"""Volume units of bank that are told at least: less reads as nought."""


def undug(found: Verified, day: ProgressSurvey | None, volume_sign: str) -> tuple[Todo, ...]:
    """Pits, ramps and trenches that are not dug yet, and walls with earth left above the design.

    A volume that is smaller than its own doubt is left out. `day` is the progress of the hole's
    day, None where it has none.
    """
    return (*_extras(day, volume_sign), *_standing(found, volume_sign))


def _extras(day: ProgressSurvey | None, volume_sign: str) -> Iterator[Todo]:
    rows = [] if day is None else [row for row in day.rows if row.kind != "wall" and _is_left(row)]
    if not rows:
        return
    each = ", ".join(
        f"{row.name} {_doubtful(row.left.volume, row.left.plus_minus_95)} of "
        f"{row.design.volume:.1f}"
        for row in rows
    )
    yield Todo(
        what="dig",
        wall=None,
        message=f"Dig what is not dug yet beside the main hole: {each} {volume_sign} bank.",
        volume=float(sum(row.left.volume for row in rows)),
    )


def _is_left(row: ProgressRow) -> bool:
    return row.left.volume >= LEAST and row.left.is_significant is not False


def _standing(found: Verified, volume_sign: str) -> Iterator[Todo]:
    """Walls that leave the forms their room, yet have earth above their design beyond doubt."""
    for wall in found.walls:
        if wall.verdict == "trim" or wall.amounts is None:
            continue
        left = wall.amounts.underdug
        if left.value >= LEAST and left.is_significant is not False:
            yield Todo(
                what="dig",
                wall=wall.wall,
                message=f"Wall {wall.wall}: "
                f"{_doubtful(BankVolume(left.value), left.plus_minus_95)} {volume_sign} bank "
                "stands above its design, on the slope or as high floor.",
                volume=left.value,
            )


def _doubtful(volume: BankVolume, doubt: float | None) -> str:
    return f"{volume:.1f}" + ("" if doubt is None else f" ± {doubt:.1f}")
