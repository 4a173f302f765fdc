"""What is dug from a stand and what stays, piece by piece, in words one can paint by."""

from dataclasses import dataclass

from terrain.job.dig_plan_buckets import trim_of
from terrain.job.dig_plan_pieces import DugNow, Piece, dug_now
from terrain.job.dig_plan_record import DigPlan, Pass
from terrain.job.dig_plan_set_out import SetOut, wall_number
from terrain.job.dig_plan_strips import Strip
from terrain.report import figures
from terrain.report.dig_plan_stand_words import (
    corner_letter,
    facing_words,
    stands_words,
    wall_letters,
)
from terrain.report.names import plain

AT_CORNER = 0.05
"""Length units within which something begins at a corner."""

STRAIGHT, SIDEWAYS, BEHIND = 15.0, 65.0, 115.0
"""Degrees off straight ahead up to which something is ahead, ahead to a side, to the side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceWords:
    """A piece in words: by which wall and where from the seat, each strip, how far, how deep."""

    number: str
    by: str
    strips: tuple[tuple[str, str], ...]
    rest: str | None
    far: str
    depth: str


def dug_words(plan: DigPlan, told: SetOut) -> str:
    """All that is dug from a stand in one sentence, without a stop at its end."""
    pieces = [piece_words(plan, told.one, piece) for piece in dug_now(plan, told.one).pieces]
    if len(pieces) == 1:
        return _in_a_row(pieces[0])
    listed = "; ".join(f"({piece.number}) {_in_a_row(piece)}" for piece in pieces)
    return f"{len(pieces)} pieces: {listed}"


def _in_a_row(piece: PieceWords) -> str:
    strips = ", and ".join(f"{along}, {across}" for along, across in piece.strips)
    rest = f" ({piece.rest})" if piece.rest else ""
    return f"{piece.by}: {strips}{rest}, {piece.far}, {piece.depth}"


def piece_words(plan: DigPlan, one: Pass, piece: Piece) -> PieceWords:
    """A piece as one paints it."""
    unit = plan.length_unit
    near, far = figures.on_tape(piece.near, unit), figures.on_tape(piece.far, unit)
    past = ""
    if piece.far > plan.machine.reach:
        reach = figures.length(plan.machine.reach, unit)
        past = (
            f" (past your reach of {reach} {figures.unit_sign(unit)}: of its far end take what the "
            "bucket gets)"
        )
    wall = plain(plan.site.walls[piece.wall])
    strips = sorted(piece.strips, key=lambda strip: strip.start)
    return PieceWords(
        number=f"{piece.number}",
        by=f"by {wall} ({wall_letters(plan, piece.wall)}), {_bearing(piece.bearing)}",
        strips=tuple((_along(plan, strip), _across(plan, strip)) for strip in strips),
        rest=None if piece.is_square else "not all of that: its edges step or slant, as drawn",
        far=f"{near} to {far} from your middle{past}",
        depth=_depth(plan, one, piece),
    )


def _along(plan: DigPlan, strip: Strip) -> str:
    """From where to where along the wall line: `4.5 ft (4′ 6″) to 12 ft (12′ 0″) east of I`."""
    unit, letter = plan.length_unit, corner_letter(strip.corner)
    ahead, back = facing_words(strip.heading), facing_words(strip.heading + 180.0)
    start, end = (figures.on_tape(abs(value), unit) for value in (strip.start, strip.end))
    if abs(strip.start) <= AT_CORNER:
        return f"from {letter} to {end} {ahead} of it"
    if abs(strip.end) <= AT_CORNER:
        return f"past {letter}: from {letter} to {start} {back} of it"
    if strip.start > 0:
        return f"{start} to {end} {ahead} of {letter}"
    if strip.end < 0:
        return f"past {letter}: {end} to {start} {back} of it"
    return f"{start} {back} to {end} {ahead} of {letter}"


def _across(plan: DigPlan, strip: Strip) -> str:
    """How far out and in of a wall's line: `2.3 ft (2′ 4″) outside to 3 ft (3′ 0″) inside`."""
    outer, inner = (figures.on_tape(abs(v), plan.length_unit) for v in (strip.outer, strip.inner))
    if strip.outer >= 0:
        return f"{outer} to {inner} inside"
    out = f"the paint, {outer} outside" if strip.to_paint else f"{outer} outside"
    if strip.inner <= 0:
        return f"{inner} outside to {out}"
    return f"{out}{',' if strip.to_paint else ''} to {inner} inside"


def _bearing(degrees: float) -> str:
    """Where something lies from the seat."""
    away, side = abs(degrees), "right" if degrees > 0 else "left"
    if away <= STRAIGHT:
        return "straight ahead"
    if away <= SIDEWAYS:
        return f"ahead to the {side}"
    return f"to the {side}" if away <= BEHIND else f"behind to the {side}"


def _depth(plan: DigPlan, one: Pass, piece: Piece) -> str:
    if piece.extra is not None:
        return f"to the floor of {plain(piece.extra)} (its page, before stand 1)"
    if wall_number(plan, one.wall) is None and not piece.floor:
        return f"to the floor of {plain(one.wall)} (its page, before stand 1)"
    if not piece.floor:
        return "slope only, no floor"
    return f"down to the floor{', and the slope up to the paint' if piece.slope else ''}"


def leave_words(plan: DigPlan, now: DugNow) -> list[str]:
    """What stays standing in front and under the tracks, and which stand takes it."""
    said = []
    if now.under is not None:
        said.append(f"What is under your tracks stays: {stands_words((now.under,))} takes it.")
    if now.later:
        stands = tuple(each.stand for each in now.later)
        numbers = "its number is" if len(stands) == 1 else "their numbers are"
        said.append(
            f"All else in reach before you stays, for {stands_words(stands)}; {numbers} on it in "
            "the drawing."
        )
    if now.never:
        said.append("What is crossed out in the drawing no stand of this plan takes.")
    return said


def trim_words(one: Pass) -> str | None:
    """What to do at a stand for a bucket or two; None at others."""
    count = trim_of(one)
    if count is None:
        return None
    many = figures.counted(count, "bucket") if count else "under a bucket"
    return f"Trim, {many}: skip it if nothing stands proud of the line."
