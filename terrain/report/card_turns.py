"""The operator's card in turns: a wall at a time, a stand at a time, in words."""

from dataclasses import dataclass
from itertools import groupby

from markupsafe import Markup

from terrain.job.dig_plan_buckets import filled
from terrain.job.dig_plan_pieces import dug_now
from terrain.job.dig_plan_record import CardWall, DigPlan
from terrain.job.dig_plan_set_out import Loaded, SetOut, leaves_lot, stands_digging
from terrain.report import figures
from terrain.report.card_dig import card_dig_svg
from terrain.report.card_section import cut_section_svg
from terrain.report.card_spot import card_spot_svg
from terrain.report.dig_plan_drive_words import way_out_words, way_words
from terrain.report.dig_plan_piece_words import (
    ROUGH,
    leave_words,
    mind_words,
    piece_words,
    trim_words,
)
from terrain.report.dig_plan_stand_words import (
    face_words,
    facing_words,
    ground_words,
    load_words,
    paint_words,
    side_in_words,
    spot_words,
    stands_words,
    wall_letters,
)
from terrain.report.dig_plan_truck_words import truck_at_words, waiting_words
from terrain.report.names import plain


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """The machine's turn at one wall: its passes in a row, none where others dig it all.

    Each pass has its place in the plan's list beside it; `wall` is None at a ramp, pit or trench.
    """

    name: str
    wall: CardWall | None
    passes: tuple[tuple[int, SetOut], ...]
    again: bool


def turns_of(plan: DigPlan, told: tuple[SetOut, ...]) -> tuple[Turn, ...]:
    """The turns at walls in the order of passes, then walls that no stand of their own digs."""
    walls = {wall.wall: wall for wall in plan.card}
    turns, seen = [], set[str]()

    def place(each: tuple[int, SetOut]) -> tuple[str, bool]:
        return each[1].one.wall, each[1].one.stand.kind == "floor"

    for (name, _), passes in groupby(enumerate(told), key=place):
        own = tuple(passes)
        turns.append(Turn(name=name, wall=walls.get(name), passes=own, again=name in seen))
        seen.add(name)
    turns += [
        Turn(name=wall.wall, wall=wall, passes=(), again=False)
        for wall in plan.card
        if wall.wall not in seen
    ]
    return tuple(turns)


def turn_name(plan: DigPlan, turn: Turn) -> str:
    """A turn in the list of walls: `east (stands 1–3)`, `east again (stand 21, from the floor)`."""
    name = f"{plain(turn.name)} again" if turn.again else plain(turn.name)
    if not turn.passes:
        return f"{name} (no stand of its own{_dug_by(plan, turn)})"
    stands = stands_words(tuple(each.one.stand.number for _, each in turn.passes))
    floor = all(each.one.stand.kind == "floor" for _, each in turn.passes)
    return f"{name} ({stands}{', from the floor' if floor else ''})"


def _dug_by(plan: DigPlan, turn: Turn) -> str:
    stands = () if turn.wall is None else stands_digging(plan, turn.wall)
    return f": dug from {stands_words(stands)}" if stands else ""


def turn_words(plan: DigPlan, turn: Turn) -> dict[str, object]:
    """A turn as the card shows it."""
    unit, wall = plan.length_unit, turn.wall
    told: dict[str, object] = {"floor": None, "letters": None}
    if wall is not None:
        paint = paint_words(plan, wall.wall)
        cut = next((cut for cut in plan.ground.cuts if cut.wall == wall.wall), None)
        told = {
            "floor": figures.coordinate(wall.floor, unit),
            "overdig": figures.on_tape(wall.overdig, unit),
            "length": figures.length(wall.length, unit),
            "side": plain(side_in_words(plan, wall)),
            "paint": None if paint is None else paint[0],
            "ground": None if paint is None else paint[1],
            "section": None if cut is None else Markup(cut_section_svg(plan, wall, cut)),
            "letters": _letters(plan, wall),
        }
    note = None
    if not turn.passes:
        note = f"No stand of its own{_dug_by(plan, turn)}. Check its depth and line."
    elif turn.again:
        floor = turn.passes[0][1].one.stand.kind == "floor"
        note = f"Back to {plain(turn.name)} for what was left{', from the floor' if floor else ''}."
    return told | {
        "name": plain(turn.name),
        "turn": turn_name(plan, turn),
        "note": note,
        "stands": [stand_words(plan, *each) for each in turn.passes],
    }


def _letters(plan: DigPlan, wall: CardWall) -> str | None:
    walls = plan.site.walls
    return wall_letters(plan, walls.index(wall.wall)) if wall.wall in walls else None


def stand_words(plan: DigPlan, turn: int, told: SetOut) -> dict[str, object]:
    """A stand as the card shows it."""
    stand, now = told.one.stand, dug_now(plan, told.one)
    after = plan.passes[turn + 1 : turn + 2]
    casts = [cast_words(plan, told, each) for each in told.casts if each.cast.buckets > 0]
    where = spot_words(plan, told)
    then = f"done: {way_out_words(plan)}"
    if after:
        then = f"stand {after[0].stand.number}"
        if after[0].wall != told.one.wall:
            then += f" at {plain(after[0].wall)}"
        trim = " (a trim)" if trim_words(after[0]) else ""
        then += f", facing {facing_words(after[0].stand.heading)}{trim}."
        if leaves_lot(plan, after[0]):
            then += " The way there leaves the lot: only with leave for that ground."
    return {
        "title": f"Stand {stand.number}, facing {facing_words(stand.heading)}",
        "trim": trim_words(told.one),
        "where": f"{where[0].upper()}{where[1:]}",
        "way": way_words(plan, told),
        "judge": face_words(plan, told),
        "ground": ground_words(plan, told),
        "rough": ROUGH,
        "pieces": [piece_words(plan, told.one, piece) for piece in now.pieces],
        "face": mind_words(plan, told.one),
        "slivers": now.slivers,
        "leave": leave_words(plan, now),
        "casts": casts,
        "scant": None if casts else _scant_words(told),
        "then": then,
        "drawing": Markup(card_spot_svg(plan, told)),
        "dig_drawing": Markup(card_dig_svg(plan, told, now)),
    }


def _scant_words(told: SetOut) -> str:
    """Where what is less than a bucket goes."""
    if not told.casts:
        return "Topsoil only, off before: nothing to dig here."
    most = max(told.casts, key=lambda each: each.cast.loose)
    return f"What there is goes to {plain(most.cast.place)}; it is in no count."


def cast_words(plan: DigPlan, told: SetOut, loaded: Loaded) -> dict[str, object]:
    """A cast as the card shows it."""
    cast = loaded.cast
    place = next(place for place in plan.places if place.name == cast.place)
    return {
        "to": "Load the" if place.kind == "truck" else "Pile along",
        "place": plain(cast.place),
        "way": None if loaded.way is None or cast.truck else facing_words(loaded.way),
        "buckets": figures.counted(cast.buckets, "bucket"),
        "loads": load_words(plan, loaded),
        "at": _capital(truck_at_words(plan, told.one, cast)),
        "waits": waiting_words(plan, told.one, cast),
        "so_far": _so_far(plan, told, loaded),
    }


def _capital(words: str | None) -> str | None:
    return None if words is None else f"{words[0].upper()}{words[1:]}."


def _so_far(plan: DigPlan, told: SetOut, loaded: Loaded) -> str:
    """What its place has got before and what is still to come: buckets, and loads of a truck."""
    got = filled(plan, told.one, loaded.cast)
    full = "" if got.full is None else f" ({figures.counted(got.full, 'load')} full)"
    so_far = f"{figures.counted(got.before, 'bucket')}{full}" if got.before else "nothing"
    come = "" if got.to_come is None else f" ({figures.counted(got.to_come, 'load')} not full yet)"
    after = f"{figures.counted(got.after, 'bucket')}{come}" if got.after else "nothing"
    whole = figures.count(got.whole)
    return f"So far: {so_far}. After this still to come: {after}, of {whole} in all."
