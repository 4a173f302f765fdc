"""What comes before the first stand, in words: topsoil, the painted edge, marks, the truck."""

from terrain.job.dig_plan_record import DigPlan
from terrain.job.dig_plan_set_out import clear_of_piles, corners_gone, from_corner, stands_digging
from terrain.report import figures
from terrain.report.dig_plan_extra_words import breaks_words
from terrain.report.dig_plan_stand_words import (
    corner_letter,
    corner_walls,
    loads_told,
    paint_words,
    side_in_words,
    stands_words,
    wall_letters,
)
from terrain.report.names import plain
from terrain.report.told import Words

SPECK = 0.05
"""Cubic yards or metres that round to nothing."""


def first_words(plan: DigPlan) -> str:
    """The walls in the order the machine works along them, each once in a row."""
    names: list[str] = []
    for one in plan.passes:
        if one.stand.kind != "extra" and names[-1:] != [one.wall]:
            names.append(one.wall)
    seen = set[str]()
    told = []
    for name in names:
        told.append(f"{plain(name)} again" if name in seen else plain(name))
        seen.add(name)
    return ", ".join(told)


def floor_words(plan: DigPlan) -> tuple[str, str]:
    """The elevation to dig down to, and what that is: how far from each bench mark, by rod."""
    terms, unit = plan.card_terms, plan.length_unit
    floor = figures.coordinate(terms.floor, unit)
    said = "what the bucket leaves, the underside of what is laid on it (footing or stone)"
    below = below_marks(plan)
    return floor, f"{said}{'' if below is None else f', {below}'}"


def below_marks(plan: DigPlan) -> str | None:
    """How far the floor is below each bench mark; None without marks."""
    terms, unit = plan.card_terms, plan.length_unit
    sign = figures.unit_sign(unit)
    told = [
        f"{figures.coordinate(abs(drop), unit)} {sign} {'below' if drop >= 0 else 'above'} "
        f"{plain(name)} ({figures.coordinate(height, unit)})"
        for (name, height), drop in zip(terms.marks, terms.drops, strict=True)
    ]
    return " and ".join(told) or None


def unplaced_words(plan: DigPlan) -> Words | None:
    """Topsoil without a place on the lot, `much` of it, and the two `ways` to settle it first; None
    where all of it has one.
    """
    soil = plan.ground.topsoil
    if soil is None or soil.over < SPECK:
        return None
    haul = "haul it"
    if soil.over_loads is not None:
        haul += f", {figures.counted(soil.over_loads, 'truck load')}"
        haul += f" more on top of the {figures.count(plan.loads)}" if plan.loads else ""
    volume = figures.unit_sign(plan.volume_unit)
    return {
        "much": f"{figures.volume(soil.over)} {volume} topsoil",
        "ways": f"loose, of {figures.volume(soil.loose)} that come off: the lot’s free ground has "
        "no room for it. Settle before the first bucket: agree on another place for it, or "
        f"{haul}. This plan counts neither.",
    }


def topsoil_words(plan: DigPlan) -> list[str]:
    """Step 0: how thick, over what, how much, with what, to where; none without topsoil."""
    soil = plan.ground.topsoil
    if soil is None:
        return []
    unit, volume = plan.length_unit, figures.unit_sign(plan.volume_unit)
    buckets = next(place.buckets for place in plan.places if place.kind == "topsoil")
    said = [
        f"Strip {figures.on_tape(soil.depth, unit)} over the whole cut, to the painted edge: "
        f"{figures.volume(soil.area)} {figures.area_unit(unit)}, {figures.volume(soil.bank)} "
        f"{volume} in the ground, {figures.volume(soil.loose)} loose.",
        f"With a dozer; or with this machine, about {figures.counted(buckets, 'bucket')}, in no "
        "hours of this plan.",
    ]
    if soil.middle is None or soil.holds is None:
        said.append("The plan knows no free ground for its stack.")
    else:
        stack = (
            f"To the topsoil stack on the map, nothing else on it; its middle is "
            f"{_off(plan, soil.middle)}, {figures.length(soil.height, unit)} "
            f"{figures.unit_sign(unit)} high."
        )
        said.append(stack)
        if soil.over > 0:
            said.append(f"That stack holds {figures.volume(soil.holds)} {volume} loose.")
    said.append(
        "Under the piles the topsoil stays: it is not in these figures. Ask whether it is to come "
        "off there too."
    )
    return said


def corner_lines(plan: DigPlan) -> list[str]:
    """That corners are dug away, from which stand on, and offset stakes; none where none is."""
    gone = corners_gone(plan)
    if not gone:
        return []
    listed = ", ".join(f"{corner_letter(corner)} at {stand}" for corner, stand in gone)
    clear = figures.on_tape(clear_of_piles(plan), plan.length_unit)
    return [
        f"The corners’ stakes are dug away, by stand: {listed}. Before stand 1 set offset stakes "
        "for every corner: two on each of its two wall lines drawn on beyond it, clear of paint, "
        f"piles and trucks (piles reach {clear} from the wall line), and write on each how far it "
        "is. Where a stand measures from a corner that is gone, string the lines from these stakes "
        "and hold the tape where they cross.",
        "Taping takes two people and a machine that is stopped, bucket down.",
    ]


def _off(plan: DigPlan, spot: tuple[float, float]) -> str:
    """A spot by its ways east or west and north or south of the nearest corner."""
    corner, east, north = from_corner(plan, spot)
    ways = (
        f"{figures.on_tape(abs(east), plan.length_unit)} {'east' if east >= 0 else 'west'} and "
        f"{figures.on_tape(abs(north), plan.length_unit)} {'north' if north >= 0 else 'south'}"
    )
    return f"{ways} of corner {corner_letter(corner)} ({corner_walls(plan, corner)})"


def mark_words(plan: DigPlan) -> list[str]:
    """Where each bench mark is."""
    said = []
    for mark in plan.ground.marks:
        height = figures.coordinate(mark.elevation, plan.length_unit)
        told = f"Bench mark {plain(mark.name)}, elevation {height}"
        if mark.spot is None:
            said.append(f"{told}: the job has no shot of that name; ask who set it where it is.")
        else:
            said.append(f"{told}: {_off(plan, mark.spot)}.")
    return said


def truck_words(plan: DigPlan) -> str | None:
    """Where the truck goes and what it takes; None where nothing leaves."""
    if not any(place.kind == "truck" and place.buckets > 0 for place in plan.places):
        return None
    said = (
        "Truck: the plan finds no place for one within the machine’s cast, off the painted edge, "
        "off the piles’ places and on the lot. Agree on one, or on leaving a side free of piles "
        "(spoil.keep_open), before digging."
    )
    if plan.ground.truck_load is not None:
        load = figures.volume(plan.ground.truck_load)
        said += f" A load is {load} {figures.unit_sign(plan.volume_unit)} loose"
        said += f", {loads_told(plan)}." if plan.loads else "."
    return said


def edge_words(plan: DigPlan) -> list[Words]:
    """Wall by wall: where to paint the top edge, the ground there, its side, who digs it."""
    told = []
    by_name = {wall.wall: wall for wall in plan.card}
    for number, name in enumerate(plan.site.walls):
        paint, wall = paint_words(plan, name), by_name.get(name)
        stands = () if wall is None else stands_digging(plan, wall)
        told.append(
            {
                "wall": plain(name),
                "letters": wall_letters(plan, number),
                "out": None if paint is None else paint[0],
                "ground": None if paint is None else paint[1],
                "side": None if wall is None else plain(side_in_words(plan, wall)),
                "breaks": breaks_words(plan, number),
                "stands": stands_words(stands) if stands else None,
            }
        )
    return told


def setback_words(plan: DigPlan) -> str:
    """How far piles are from the edge, and how far where people work below."""
    unit, sign = plan.length_unit, figures.unit_sign(plan.length_unit)
    setback = figures.on_tape(plan.spoil.setback, unit)
    deep = f"up to {figures.length(plan.ground.highest, unit)} {sign}"
    if plan.spoil.as_deep:
        return (
            "Piles and trucks stay as far outside the painted edge as the cut is deep there, "
            f"{deep}, and {setback} at least. The machine works inside it, on ground not dug yet, "
            f"its tracks {setback} at least from what is dug."
        )
    return (
        f"Piles and trucks stay {setback} outside the painted edge. The machine works inside it, "
        "on ground not dug yet, its tracks as far back from what is dug. Where people will work "
        f"below, keep all of them as far back as the cut is deep there, {deep}, or have a "
        "competent person judge it."
    )
