"""Whether the ground falls away from every wall, in a sentence and as rows by wall."""

from collections.abc import Iterator

from terrain.job.drainage import Drainage
from terrain.job.grade_answer import GradeAnswer
from terrain.lot.wall_falls import WallFall
from terrain.report import figures
from terrain.report.names import plain

COLUMNS = ("asked", "least", "mean", "settled", "over", "checked")


def falls_verdict(answer: GradeAnswer) -> str | None:
    """`Falls away from all 13 walls; none fails.`, or which don't, or of which it can't be told."""
    drained = answer.drainage
    count = len(drained.walls)
    if not count:
        return None
    if drained.passing == count:
        return f"The ground falls away from {_all(count)} as far as is asked; none fails."
    told = f"The ground falls away from {drained.passing} of {count} walls as far as is asked"
    if drained.failing:
        told += f"; not from {_named(drained.failing)}"
    else:
        told += "; none fails"
    if drained.unseen:
        told += f"; it can’t be told all along {_named(drained.unseen)}: the survey ends too near"
    return told + "."


def _all(count: int) -> str:
    return "the one wall" if count == 1 else f"all {figures.count(count)} walls"


def _named(walls: tuple[str, ...]) -> str:
    return ", ".join(map(plain, walls))


def falls_rows(answer: GradeAnswer) -> list[tuple[str, str, tuple[str, ...]]]:
    """A wall's name, what is to be said of it, and its figures in the order of `COLUMNS`.

    Falls are in per cent, `over` and `checked` in length units.
    """
    unit = answer.length_unit
    return [
        (
            plain(fall.wall),
            _state(fall.wall, answer.drainage),
            (
                *map(figures.fall, (fall.asked, fall.least, fall.mean, fall.settled)),
                figures.length(fall.distance, unit),
                figures.length(fall.checked, unit),
            ),
        )
        for fall in answer.drainage.walls
    ]


def _state(wall: str, drained: Drainage) -> str:
    if wall in drained.failing:
        return "fails"
    return "not seen whole" if wall in drained.unseen else ""


def falls_told(answer: GradeAnswer) -> str:
    """What the columns mean, in one paragraph."""
    unit = figures.unit_sign(answer.length_unit)
    rule = answer.drainage.rule
    far = figures.length(rule.distance, answer.length_unit)
    return (
        f"Falls in % (drop per run), measured square to the wall every "
        f"{figures.length(rule.station_every, answer.length_unit)} {unit} or closer, out to {far} "
        f"{unit} or to where another wall’s ground begins. Asked: {figures.fall(rule.per_run)}, "
        f"less over pads (IRC R401.3, as quoted). Least: where the least is to spare over that, "
        f"measured over so many {unit}. Settled: the least once the backfill has settled. "
        f"Checked: {unit} of wall from which it could be told."
    )


def falls_reasons(answer: GradeAnswer) -> list[str]:
    """Why the least fall differs from wall to wall: pads that hold the ground up, short ground."""
    return list(_reasons(answer.drainage.walls))


def _reasons(falls: tuple[WallFall, ...]) -> Iterator[str]:
    onto: dict[tuple[str, ...], list[str]] = {}
    for fall in falls:
        if fall.beside and fall.end != "other wall":
            onto.setdefault(fall.beside, []).append(fall.wall)
    for pads, walls in onto.items():
        is_one = len(pads) == 1
        yield (
            f"From {_named(tuple(walls))} the ground runs on to {'pad' if is_one else 'pads'} "
            f"{_named(pads)}, whose elevation says how far it may fall."
        )
    for fall in falls:
        if fall.end == "other wall" and fall.beside:
            yield f"From {plain(fall.wall)} the ground of {_named(fall.beside)} begins before that."
        elif fall.end in SHORT:
            yield f"From {plain(fall.wall)} {SHORT[fall.end]} before that."


SHORT = {
    "lot line": "the lot line comes",
    "swale": "a swale comes",
    "survey": "the survey ends",
}
