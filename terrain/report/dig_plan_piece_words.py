"""What is dug from a stand and what stays, piece by piece, in words for the seat."""

from dataclasses import dataclass

from terrain.job.dig_plan_ahead import Ahead
from terrain.job.dig_plan_buckets import trim_of
from terrain.job.dig_plan_pieces import DugNow, Piece, dug_now
from terrain.job.dig_plan_record import DigPlan, Pass
from terrain.job.dig_plan_set_out import SetOut, wall_number
from terrain.job.dig_plan_truck_out import in_tail
from terrain.report import figures
from terrain.report.dig_plan_stand_words import side_in_words, stands_words, wall_letters
from terrain.report.names import plain

STRAIGHT, SIDEWAYS, BEHIND = 15.0, 65.0, 115.0
"""Degrees off straight ahead up to which something is ahead, ahead to a side, to the side."""


ROUGH = (
    "About: ahead of the middle of your tracks, left and right of the line straight ahead. An edge "
    "to another stand's ground is rough, half a bucket either way; true are the paint, the wall "
    "line and the floor."
)
"""What holds of all that is told from the seat."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceWords:
    """A piece in words: by which wall if by any, where from the seat, each box, its far end if
    that is past the reach, how deep.
    """

    number: str
    by: str
    boxes: tuple[tuple[str, str], ...]
    rest: str | None
    past: str | None
    depth: str


def dug_words(plan: DigPlan, told: SetOut) -> str:
    """All that is dug from a stand in one sentence, without a stop at its end."""
    pieces = [piece_words(plan, told.one, piece) for piece in dug_now(plan, told.one).pieces]
    if len(pieces) == 1:
        return _in_a_row(pieces[0])
    listed = "; ".join(f"({piece.number}) {_in_a_row(piece)}" for piece in pieces)
    return f"{len(pieces)} pieces: {listed}"


def _in_a_row(piece: PieceWords) -> str:
    boxes = "; ".join(f"{ahead}: {across}" for ahead, across in piece.boxes)
    besides = "".join(f" ({words})" for words in (piece.rest, piece.past) if words)
    return f"{piece.by}, {boxes}{besides}; {piece.depth}"


def piece_words(plan: DigPlan, one: Pass, piece: Piece) -> PieceWords:
    """A piece as one sees it from the seat."""
    unit, sign = plan.length_unit, figures.unit_sign(plan.length_unit)
    past = None
    if piece.far > plan.machine.reach:
        far, reach = (figures.length(v, unit) for v in (piece.far, plan.machine.reach))
        past = f"its far corner, {far} {sign} off, is past your reach of {reach}: take what you get"
    by = "out in the floor"
    if piece.wall is not None:
        by = f"by {plain(plan.site.walls[piece.wall])} ({wall_letters(plan, piece.wall)})"
    return PieceWords(
        number=f"{piece.number}",
        by=f"{by}, {_bearing(piece.bearing)}",
        boxes=tuple((_ahead(plan, box), _across(plan, box)) for box in piece.ahead),
        rest=_rest(piece),
        past=past,
        depth=_depth(plan, one, piece),
    )


def _rest(piece: Piece) -> str | None:
    """What of its boxes a piece does not fill; None where that is a sliver."""
    if piece.is_square:
        return None
    if piece.to_paint:
        return "the paint slants there: dig up to it"
    return "not all of that: its edges step or slant, as drawn"


def _ahead(plan: DigPlan, box: Ahead) -> str:
    """How far ahead a box begins and ends: `9 to 15 ft ahead`."""
    near, far = (figures.rough_length(v, plan.length_unit) for v in (box.near, box.far))
    return f"{near} to {far} {figures.unit_sign(plan.length_unit)} ahead"


def _across(plan: DigPlan, box: Ahead) -> str:
    """From where to where across: `2 ft left to the paint, 10 ft right`."""
    sides = []
    for value, paint in ((box.left, box.left_paint), (box.right, box.right_paint)):
        hand = "right" if value > 0 else "left"
        told = figures.rough_length(abs(value), plan.length_unit)
        words = f"{told} {figures.unit_sign(plan.length_unit)} {hand}"
        if not told.strip("0."):
            words = "your middle line"
        sides.append(f"the paint, {words}" if paint else words)
    comma = "," if box.left_paint else ""
    return f"{sides[0]}{comma} to {sides[1]}"


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


def mind_words(plan: DigPlan, one: Pass) -> str | None:
    """What to mind in digging from a stand: sides of other walls cut there, how deep the face is in
    front of the tracks and how near it comes, how high the ground there rises, and a truck that
    stands in the way of the tail; None where there is nothing.

    Neither face nor rise is anybody's care up to a bucket's width.
    """
    told = (_sides(plan, one), _rise(plan, one), _face(plan, one), _tail(plan, one))
    return " ".join(words for words in told if words) or None


def _sides(plan: DigPlan, one: Pass) -> str | None:
    """How the sides cut at a stand stand, where they are not its own wall's alone."""
    if set(one.sides) <= {one.wall}:
        return None
    walls = {wall.wall: wall for wall in plan.card}
    told = [
        f"{plain(name)} {plain(side_in_words(plan, walls[name]))}"
        for name in one.sides
        if name in walls
    ]
    return f"Sides you cut here: {'; '.join(told)}." if told else None


def _tail(plan: DigPlan, one: Pass) -> str | None:
    """Trucks that are loaded elsewhere and stand within the tail."""
    near = [f"T{number}" for number in in_tail(plan, one)]
    if not near:
        return None
    return f"{' and '.join(near)} empty while you dig here: a truck there is in your tail."


def _rise(plan: DigPlan, one: Pass) -> str | None:
    """The side that is cut above the tracks."""
    if one.face is None or one.face.high <= plan.machine.bucket_width:
        return None
    high = figures.length(one.face.high, plan.length_unit)
    return (
        f"The ground ahead rises: the side you cut there stands up to {high} "
        f"{figures.unit_sign(plan.length_unit)} above your tracks. Do not go under it."
    )


def _face(plan: DigPlan, one: Pass) -> str | None:
    """The face below the tracks; that of a trench dug from over its line is its own end."""
    face, unit = one.face, plan.length_unit
    low = face is not None and face.deep < plan.machine.bucket_width
    if face is None or (face.steep is None and (low or one.stand.kind == "extra")):
        return None
    sign = figures.unit_sign(unit)
    if face.steep is None:
        deep, ahead, edge = (
            figures.length(value, unit) for value in (face.deep, face.ahead, plan.spoil.setback)
        )
        return (
            f"The face in front of you gets {deep} {sign} deep. Its foot comes no nearer than "
            f"{ahead} {sign} to your tracks, its top edge no nearer than {edge} {sign}: stop there "
            "and lay it back between; that comes off what later stands take."
        )
    ahead, deep, wanted = (figures.length(value, unit) for value in face.steep)
    return (
        f"Careful: where the face in front of you is {deep} {sign} deep its foot comes to {ahead} "
        f"{sign} before your tracks; it should stay {wanted} {sign} off. Take it in layers from as "
        "far back as you reach, or as a competent person decides."
    )


def trim_words(one: Pass) -> str | None:
    """What to do at a stand for a bucket or two; None at others."""
    count = trim_of(one)
    if count is None:
        return None
    many = figures.counted(count, "bucket") if count else "under a bucket"
    if not one.sides:
        return f"Only {many}: leave it for whichever stand reaches it, if you like."
    return f"Trim, {many}: skip it if nothing stands proud of the line."
