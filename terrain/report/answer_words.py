"""What is said beside the answer: how sure it is, where it is deepest, what of it leaves."""

from collections.abc import Sequence
from dataclasses import dataclass

from terrain.job.answer import LooseRange, Volumes
from terrain.ledger.doubt import Doubt
from terrain.report import figures
from terrain.report.names import plain

MOST_WARNINGS = 3
"""So many notes that throw doubt on the answer stand beside it; the rest are counted there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaving:
    """What keeps the loads from being those that leave, and the command that tells how many do."""

    words: str
    command: str | None
    tells: str = ""

    def __str__(self) -> str:
        return " ".join(filter(None, [self.words, self.command, self.tells]))


def doubt_from(doubt: Doubt) -> str:
    """What the plus-or-minus of the total is made from, in words that go on after it."""
    if doubt.terrain is None:
        return (
            "from the shots' errors alone; too few shots to tell what the ground does between them"
        )
    return "from the survey's errors and the ground between its shots"


def deepest_words(volumes: Volumes) -> str:
    """Where the cut is deepest: a corner of the dig line, or how far from one; empty if nowhere."""
    ledger, spot = volumes.ledger, volumes.deepest_at
    row = "" if ledger.deepest_in is None else plain(ledger.deepest_in)
    if spot is None:
        return f"at {row}" if row else ""
    unit = ledger.length_unit
    corner = "the corner " + " / ".join(map(plain, spot.corner))
    place = f"at {corner}"
    if spot.away > 0.0:
        away = f"{figures.length(spot.away, unit)} {figures.unit_sign(unit)}"
        place = f"at {row}, {away} from {corner}"
    easting, northing = (figures.coordinate(v, unit) for v in (spot.easting, spot.northing))
    return f"{place} (easting {easting}, northing {northing})"


def leaving(volumes: Volumes) -> Leaving:
    """That not all loads leave, and what tells how many do; nothing is computed here."""
    if volumes.has_finished_lot:
        return Leaving(
            words="Not all of it leaves: backfill and grade keep some back.",
            command=f"spoilbank grade {plain(volumes.job_file)}",
            tells="tells how many loads leave.",
        )
    return Leaving(
        words="Not all of it leaves if the hole is backfilled from it: what the backfill takes is "
        "not known, as the job says nothing of the finished lot ([lot], wall_grade).",
        command=None,
    )


def range_words(volumes: Volumes) -> str:
    """Whether loose and loads carry the plus-or-minus, and between what they lie; may be empty."""
    found = volumes.loose_range
    if found is None:
        return ""
    has_doubt = volumes.ledger.total.bank_plus_minus_95 is not None
    told = _between(found, figures.unit_sign(volumes.ledger.volume_unit))
    if found.swell is None:
        return (
            f"The ± is of the bank volume; it makes {told}. How far this soil's swell may be off "
            "is not known."
        )
    least, most = map(figures.percent, found.swell)
    swell = f"swell {least.removesuffix(' %')} to {most} {plain(found.swell_of or '')}"
    used = figures.percent(volumes.soil.swell)
    if has_doubt:
        return (
            f"The ± is of the bank volume. Loose and loads carry it and the soil's range besides: "
            f"{told} ({swell}; the figures above take {used})."
        )
    return f"The soil alone makes {told} ({swell}; the figures above take {used})."


def _between(found: LooseRange, unit: str) -> str:
    told = f"{figures.volume(found.low)} to {figures.volume(found.high)} {unit} loose"
    if found.loads is None:
        return told
    low, high = map(figures.count, found.loads)
    return f"{told}, {figures.counted(found.loads[1], 'load')}" if low == high else (
        f"{told}, {low} to {high} loads"
    )  # fmt: skip


def warning_words(warnings: Sequence[str]) -> list[str]:
    """The first few notes that throw doubt on the answer, and how many more there are."""
    told = [plain(note) for note in warnings[:MOST_WARNINGS]]
    left = len(warnings) - len(told)
    if left > 0:
        more = figures.counted(left, "more such note")
        told.append(f"{more}: spoilbank check tells all, and the page under 'Noticed on the way'.")
    return told
