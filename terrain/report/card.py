"""The operator's card `card.html`: one page for the phone that needs no network.

A wall at a time, in the order of digging; a wall the machine comes back to has a second turn.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

from markupsafe import Markup

from terrain.job.dig_plan_record import CardWall, Cast, DigPlan, Pass
from terrain.report import figures
from terrain.report.card_map import card_map_svg
from terrain.report.dig_plan_stand_words import facing_words, spot_words
from terrain.report.grouping import said_once
from terrain.report.names import plain
from terrain.report.scripts import card_scripts
from terrain.report.space import Json, as_script_data
from terrain.report.told import caution_words, page_template


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """The machine's turn at one wall: its passes in a row, none where others dig it all.

    Each pass has its place in the plan's list beside it; `wall` is None at a ramp, pit or trench.
    """

    name: str
    wall: CardWall | None
    passes: tuple[tuple[int, Pass], ...]
    again: bool


def card_html(plan: DigPlan) -> str:
    """The whole card as text; every figure on it is one of the plan's, rounded."""
    turns, scripts = turns_of(plan), card_scripts()
    bucket = plan.machine.bucket_capacity
    return page_template("card.html").render(
        title=plain(plan.title),
        date=plan.date,
        unit=figures.unit_sign(plan.length_unit),
        unit_words=figures.length_words(plan.length_unit),
        volume=figures.unit_sign(plan.volume_unit),
        map=Markup(card_map_svg(plan)),
        walls=[_wall(plan, turns, k) for k in range(len(turns))],
        floor_within=f"{plan.card_terms.floor_tolerance:g}",
        line_within=f"{plan.card_terms.line_tolerance:g}",
        marks=[
            (plain(name), figures.coordinate(height, plan.length_unit))
            for name, height in plan.card_terms.marks
        ],
        bucket=f"{bucket:.2f}".rstrip("0").rstrip("."),
        topsoil=plan.topsoil_bank > 0,
        cautions=[caution_words(said) for said in said_once(plan.cautions)],
        version=plan.version,
        job_file=plain(plan.job_file),
        start=plain(plan.start),
        facts=Markup(as_script_data(_facts(plan, turns))),
        policy=scripts.policy,
        scripts=[Markup(text) for text in scripts.texts],
    )


def turns_of(plan: DigPlan) -> tuple[Turn, ...]:
    """The turns at walls in the order of passes, then walls that no stand of their own digs."""
    walls = {wall.wall: wall for wall in plan.card}
    turns, seen = [], set[str]()
    for name, passes in groupby(enumerate(plan.passes), key=lambda each: each[1].wall):
        own = tuple(passes)
        turns.append(Turn(name=name, wall=walls.get(name), passes=own, again=name in seen))
        seen.add(name)
    turns += [
        Turn(name=wall.wall, wall=wall, passes=(), again=False)
        for wall in plan.card
        if wall.wall not in seen
    ]
    return tuple(turns)


def _wall(plan: DigPlan, turns: tuple[Turn, ...], at: int) -> dict[str, object]:
    turn, unit = turns[at], plan.length_unit
    wall, name = turn.wall, plain(turn.name)
    again = None
    if not turn.passes:
        again = "Dug from the stands of other walls: check its depth and line."
    elif turn.again:
        again = f"Back to {name} for what was left."
    told: dict[str, object] = {"floor": None, "overdig": None, "length": None, "side": None}
    if wall is not None:
        told = {
            "floor": figures.coordinate(wall.floor, unit),
            "overdig": figures.length(wall.overdig, unit),
            "length": figures.length(wall.length, unit),
            "side": plain(wall.side),
        }
    return told | {
        "name": name,
        "count": f"{at + 1} of {len(turns)}",
        "turn": f"{at + 1}: {name}",
        "again": again,
        "stands": [_stand(plan, *each) for each in turn.passes],
    }


def _stand(plan: DigPlan, turn: int, one: Pass) -> dict[str, object]:
    following = plan.passes[turn + 1 : turn + 2]
    return {
        "title": f"Stand {one.stand.number}, facing {facing_words(one.stand.heading)}",
        "where": spot_words(plan, one.stand),
        "casts": [_cast(plan, cast, turn) for cast in thrown(one)],
        "then": _then(plan, one, following[0]) if following else "done: out of the dig.",
    }


def _then(plan: DigPlan, one: Pass, after: Pass) -> str:
    told = f"stand {after.stand.number}"
    if after.wall != one.wall:
        told += f" at {plain(after.wall)}, facing {facing_words(after.stand.heading)}"
    return f"{told}: {spot_words(plan, after.stand)}"


def thrown(one: Pass) -> Iterator[Cast]:
    """The casts of a pass that the bucket makes: topsoil was pushed off before."""
    return (cast for cast in one.to if cast.swing is not None)


def _cast(plan: DigPlan, cast: Cast, turn: int) -> dict[str, object]:
    index = _place_index(plan, cast)
    to = "Load the" if plan.places[index].kind == "truck" else "Cast to"
    return {
        "to": to,
        "place": plain(cast.place),
        "buckets": figures.counted(cast.buckets, "bucket"),
        "index": str(index),
        "turn": str(turn),
    }


def _place_index(plan: DigPlan, cast: Cast) -> int:
    return next(k for k, place in enumerate(plan.places) if place.name == cast.place)


def _facts(plan: DigPlan, turns: tuple[Turn, ...]) -> dict[str, Json]:
    """What the script counts with: exact figures, and the pages in turn."""
    pages: list[Json] = []
    for at, turn in enumerate(turns):
        pages += [[at, k, f"Stand {one.stand.number}"] for k, one in turn.passes]
        if not turn.passes:
            pages.append([at, -1, plain(turn.name)])
    return {
        "key": f"instrument, {plain(plan.title)}, {plain(plan.job_file)}, {plan.length_unit}",
        "unit": figures.unit_sign(plan.length_unit),
        "feet": not plan.unit.is_metric,
        "decimals": 3 if plan.unit.is_metric else 2,
        "floorWithin": plan.card_terms.floor_tolerance,
        "lineWithin": plan.card_terms.line_tolerance,
        "marks": [height for _, height in plan.card_terms.marks],
        "bucket": plan.machine.bucket_capacity,
        "pages": pages,
        "walls": [_checked_by(turn.wall) for turn in turns],
        "casts": [
            [at, _place_index(plan, cast), float(cast.loose)]
            for at, one in enumerate(plan.passes)
            for cast in thrown(one)
        ],
    }


def _checked_by(wall: CardWall | None) -> dict[str, Json]:
    """What rod and tape are held to; nothing for a ramp, pit or trench."""
    return {} if wall is None else {"floor": wall.floor, "overdig": wall.overdig}
