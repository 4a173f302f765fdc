"""Where the work stands, one line a stage: the hole, the dig, the piles, the lot as graded."""

from collections.abc import Iterator
from dataclasses import dataclass

from terrain.job.asgraded_record import GradedSurvey
from terrain.job.piles_record import PilesSurvey
from terrain.job.progress_record import ProgressSurvey
from terrain.job.verified import AllVerified
from terrain.job.verify_record import Verified
from terrain.report import figures
from terrain.report.names import plain
from terrain.report.piles_words import stock_said
from terrain.report.progress_words import with_doubt
from terrain.report.verify_words import BIG, SAID

MOST_NAMED = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """What its last survey says of one stage; `part` is where the page tells it in full."""

    part: str
    name: str
    date: str
    verdict: str
    said: str


def stages(told: AllVerified) -> list[Stage]:
    """Every stage that was surveyed, in the order of the work, each on its last day."""
    unit, volume = told.worked.job.unit.name, told.worked.job.unit.volume_name
    later = told.later
    return [
        *([] if told.hole is None else [_hole(told.hole)]),
        *(_dig(day, volume) for day in later.progress[-1:]),
        *(_piles(day, volume) for day in later.piles[-1:]),
        *(_graded(day, unit) for day in later.asgraded[-1:]),
    ]


def _hole(found: Verified) -> Stage:
    things = figures.counted(len(found.todo), "thing")
    more = f" {things} to do." if found.todo else ""
    return Stage(
        part="hole", name="The hole", date=found.date, verdict=BIG[found.verdict],
        said=SAID[found.verdict] + more,
    )  # fmt: skip


def _dig(day: ProgressSurvey, volume_unit: str) -> Stage:
    unit, left = figures.unit_sign(volume_unit), day.total.left
    said = f"{with_doubt(left)} {unit} bank left of {figures.volume(day.total.design.volume)}."
    if left.is_significant is False:
        said = "What is left is smaller than its doubt."
    return Stage(
        part="dig", name="The dig", date=day.date,
        verdict=f"{figures.percent(day.share_dug)} is out", said=said,
    )  # fmt: skip


def _piles(day: PilesSurvey, volume_unit: str) -> Stage:
    said, whole = stock_said(day.in_all, volume_unit), day.in_all
    if said is None or whole.spare is None:
        unit = figures.unit_sign(volume_unit)
        piles = figures.counted(len(day.piles), "pile")
        held = f"{figures.volume(day.total)} {unit} loose in {piles}."
        return Stage(part="piles", name="Piles", date=day.date, verdict="Measured", said=held)
    verdict = "Too little earth" if whole.spare < 0.0 else "Enough earth"
    return Stage(part="piles", name="Piles", date=day.date, verdict=verdict, said=said)


def _graded(day: GradedSurvey, length_unit: str) -> Stage:
    sign = figures.unit_sign(length_unit)
    fails = [plain(fall.wall) for fall in day.falls if fall.verdict == "fails"]
    unsure = sum(fall.verdict != "falls away" for fall in day.falls) - len(fails)
    told = [
        f"{day.shots_within} of {day.shots} shots within {day.tolerance:g} {sign}",
        *_water(day),
    ]
    if fails:
        named = ", ".join(fails[:MOST_NAMED])
        more = f" and {len(fails) - MOST_NAMED} more" if len(fails) > MOST_NAMED else ""
        told.append(f"ground falls too little or rises at {named}{more}")
    if unsure:
        told.append(f"not sure at {figures.counted(unsure, 'wall')}")
    verdict = "Sheds water"
    if fails or day.drainage.ponds or day.drainage.returns:
        verdict = "Work to do"
    elif unsure:
        verdict = "Not sure"
    return Stage(
        part="graded", name="The lot as graded", date=day.date, verdict=verdict,
        said="; ".join(told) + ".",
    )  # fmt: skip


def _water(day: GradedSurvey) -> Iterator[str]:
    if day.drainage.ponds:
        yield f"water stands at {figures.counted(len(day.drainage.ponds), 'spot')}"
    if day.drainage.returns:
        walls = ", ".join(dict.fromkeys(plain(back.wall) for back in day.drainage.returns))
        yield f"water runs back to {walls}"
