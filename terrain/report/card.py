"""The operator's card `card.html`: one page for the phone that needs no network.

What comes before digging, then a stand at a time, in order; a wall the machine comes back to has a
second turn.
"""

from markupsafe import Markup

from terrain.job.dig_plan_record import CardWall, DigPlan
from terrain.job.dig_plan_set_out import set_out
from terrain.report import figures
from terrain.report.card_map import card_map_svg
from terrain.report.card_turns import Turn, turn_words, turns_of
from terrain.report.dig_plan_extra_words import extra_words
from terrain.report.dig_plan_stand_words import corner_letter, corner_walls, loads_told
from terrain.report.dig_plan_start_words import (
    below_marks,
    corner_lines,
    edge_words,
    floor_words,
    mark_words,
    setback_words,
    topsoil_words,
    unplaced_words,
)
from terrain.report.dig_plan_truck_words import truck_lines
from terrain.report.grouping import said_once
from terrain.report.names import plain
from terrain.report.scripts import card_scripts
from terrain.report.space import Json, as_script_data
from terrain.report.told import caution_words, page_template

STARTS = ("Before you dig", "Topsoil", "Stakes and paint", "Ramps, pits, trenches", "Trucks")
"""The pages before the first stand; those after the first only where there is something to say."""

FAR = {True: 0.6, False: 2.0}
"""Metres or feet by which nobody digs too deep or wide by mistake: a reading so far off is asked
about. Common practice, no source."""


def card_html(plan: DigPlan) -> str:
    """The whole card as text; every figure on it is one of the plan's, rounded."""
    told = set_out(plan)
    turns, scripts = turns_of(plan, told), card_scripts()
    bucket = plan.machine.bucket_capacity
    return page_template("card.html").render(
        title=plain(plan.title),
        date=plan.date,
        unit=figures.unit_sign(plan.length_unit),
        tape_mode="decimal" if plan.unit.is_metric else "text",
        unit_words=figures.length_words(plan.length_unit),
        volume=figures.unit_sign(plan.volume_unit),
        map=Markup(card_map_svg(plan, told)),
        letters=[(corner_letter(k), corner_walls(plan, k)) for k in range(len(plan.site.walls))],
        starts=_starts(plan),
        floor=floor_words(plan),
        below=below_marks(plan),
        topsoil=topsoil_words(plan),
        unplaced=unplaced_words(plan),
        edges=edge_words(plan),
        setback=setback_words(plan),
        corners=corner_lines(plan),
        extras=extra_words(plan),
        where=mark_words(plan),
        trucks=truck_lines(plan),
        has_trucks=bool(plan.loads),
        load=_load_words(plan),
        walls=[turn_words(plan, turn) for turn in turns],
        floor_within=f"{plan.card_terms.floor_tolerance:g}",
        line_within=f"{plan.card_terms.line_tolerance:g}",
        marks=[
            (plain(name), figures.coordinate(height, plan.length_unit))
            for name, height in plan.card_terms.marks
        ],
        bucket=f"{bucket:.2f}".rstrip("0").rstrip("."),
        cautions=[caution_words(said) for said in said_once(plan.cautions)],
        version=plan.version,
        job_file=plain(plan.job_file),
        start=plain(plan.start),
        facts=Markup(as_script_data(_facts(plan, turns))),
        policy=scripts.policy,
        scripts=[Markup(text) for text in scripts.texts],
    )


def _load_words(plan: DigPlan) -> str | None:
    """What a truck takes, and how many loads there are; None where nothing leaves."""
    if plan.ground.truck_load is None or not plan.loads:
        return None
    load = f"{figures.volume(plan.ground.truck_load)} {figures.unit_sign(plan.volume_unit)}"
    return f"A truck load is {load} as it comes out of the ground; {loads_told(plan)}."


def _starts(plan: DigPlan) -> list[str]:
    has = (True, plan.ground.topsoil is not None, True, bool(plan.ground.extras), plan.loads)
    return [name for name, shown in zip(STARTS, has, strict=True) if shown]


def _facts(plan: DigPlan, turns: tuple[Turn, ...]) -> dict[str, Json]:
    """What the script counts with: exact figures, and the pages in turn."""
    starts = _starts(plan)
    pages: list[Json] = [[at, -1, name] for at, name in enumerate(starts)]
    for at, turn in enumerate(turns, start=len(starts)):
        pages += [[at, k, f"Stand {told.one.stand.number}"] for k, told in turn.passes]
        if not turn.passes:
            pages.append([at, -1, plain(turn.name)])
    return {
        "key": f"instrument, {plain(plan.title)}, {plain(plan.job_file)}, {plan.length_unit}",
        "unit": figures.unit_sign(plan.length_unit),
        "feet": not plan.unit.is_metric,
        "decimals": 3 if plan.unit.is_metric else 2,
        "floorWithin": plan.card_terms.floor_tolerance,
        "lineWithin": plan.card_terms.line_tolerance,
        "deepest": plan.ground.highest,
        "far": FAR[plan.unit.is_metric],
        "marks": [height for _, height in plan.card_terms.marks],
        "pages": pages,
        "starts": len(starts),
        "walls": [*({} for _ in starts), *(_checked_by(turn.wall) for turn in turns)],
    }


def _checked_by(wall: CardWall | None) -> dict[str, Json]:
    """What rod and tape are held to; nothing for a ramp, pit or trench."""
    return {} if wall is None else {"floor": wall.floor, "overdig": wall.overdig}
