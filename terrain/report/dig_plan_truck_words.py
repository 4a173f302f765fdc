"""Where the truck stands to be loaded, in words: before digging, and at each stand."""

from terrain.job.dig_plan_record import Cast, DigPlan, Pass
from terrain.job.dig_plan_set_out import Tape
from terrain.job.dig_plan_truck_out import (
    FromStand,
    TruckOut,
    truck_from,
    trucks_out,
    waiting,
)
from terrain.report import figures
from terrain.report.dig_plan_stand_words import (
    corner_letter,
    facing_words,
    stands_words,
)
from terrain.report.names import plain

WORTH = 1 / 3
"""Share of a load below which no truck is sent off with it; common practice, no source."""

WAITS = 2
"""Stands for which a truck that is not full waits; common practice, no source."""

AHEAD, BEHIND = 30.0, 150.0
"""Degrees off straight ahead up to which a truck is ahead, and from which it is behind."""


def truck_lines(plan: DigPlan) -> list[str]:
    """Each place of the truck: two stakes, which way it backs in, who loads it, what it needs."""
    lines = [_place_words(plan, out) for out in trucks_out(plan)]
    if not any(place.kind == "truck" and place.buckets > 0 for place in plan.places):
        return lines
    without = [
        one.stand.number
        for one in plan.passes
        for cast in one.to
        if _is_truck(plan, cast) and cast.truck is None and cast.buckets > 0
    ]
    if without:
        lines.append(
            f"No truck finds a place in reach of {stands_words(tuple(without))}: what they are to "
            "load is heaped first; each says where it is loaded from."
        )
    if lines:
        lines.append(_ground_words(plan))
    return lines


def _is_truck(plan: DigPlan, cast: Cast) -> bool:
    return any(place.kind == "truck" and place.name == cast.place for place in plan.places)


def _place_words(plan: DigPlan, out: TruckOut) -> str:
    truck, unit = out.truck, plan.length_unit
    tail, front = _tapes(plan, out.tail, out.tail_side), _tapes(plan, out.front, out.front_side)
    gap = ""
    if truck.between:
        named = " and ".join(plain(name) for name in truck.between)
        width = figures.on_tape(out.width, unit)
        gap = f" Leave this ground free in the pile at {named}, {width} wide."
    return (
        f"Truck place T{truck.number}: stake the middle of the tail, {tail}, and of the front, "
        f"{front}. The truck backs in and faces {facing_words(truck.heading)}, the way it drives "
        f"out.{gap} Loaded from {stands_words(truck.stands)}, "
        f"{figures.counted(out.buckets, 'bucket')}."
    )


def _tapes(plan: DigPlan, tapes: tuple[Tape, Tape], side: float) -> str:
    one, two = tapes
    letters = f"{corner_letter(one.corner)}–{corner_letter(two.corner)}"
    told = " and ".join(
        f"{figures.on_tape(tape.length, plan.length_unit)} from {corner_letter(tape.corner)}"
        for tape in tapes
    )
    return f"{told} ({facing_words(side)} of the line {letters})"


def _ground_words(plan: DigPlan) -> str:
    setback = figures.on_tape(plan.spoil.setback, plan.length_unit)
    return (
        "The plan knows no road: check that a loaded truck gets to each place and out again, that "
        f"the ground carries it, and that the edge, {setback} from it, may be loaded so; a "
        "competent person decides. Nobody stands between truck and machine, the driver where the "
        "site’s rules say, and no bucket swings over the cab."
    )


def truck_at_words(plan: DigPlan, one: Pass, cast: Cast) -> str | None:
    """Where a stand finds its truck: `truck at T1, 23.4 ft (23′ 5″) from your middle, behind to the
    left`; None for what goes elsewhere.
    """
    if not _is_truck(plan, cast):
        return None
    seen = truck_from(plan, one, cast)
    if seen is None:
        return f"no place for a truck in reach: {_heaped_words(plan, one)}"
    away = figures.on_tape(seen.away, plan.length_unit)
    swing = "" if cast.swing is None else f", swing about {cast.swing:.0f}°"
    up = ", up on the rim" if one.stand.kind == "floor" else ""
    return (
        f"truck at T{seen.truck.number}, its body {away} from your middle, {_hand(seen)}{up}{swing}"
    )


def _heaped_words(plan: DigPlan, one: Pass) -> str:
    """From where earth is loaded that no truck is in reach of: the next stand that loads, or back
    at the last that did.
    """
    loads = [
        (each.stand.number, cast.truck)
        for each in plan.passes
        for cast in each.to
        if _is_truck(plan, cast) and cast.truck is not None and cast.buckets > 0
    ]
    later = [each for each in loads if each[0] > one.stand.number]
    if later:
        stand, truck = later[0]
        return f"heap it where stand {stand} reaches it, and load it from there at T{truck}"
    if loads:
        stand, truck = loads[-1]
        return (
            f"heap it on dug floor towards the spot of stand {stand}; when all else is dug go back "
            f"to that spot and load it at T{truck}, in as many moves as it takes"
        )
    return "heap it in reach, and load it where a truck gets to it"


def waiting_words(plan: DigPlan, one: Pass, cast: Cast) -> str | None:
    """Whether a truck that is not full waits or is sent off; None where there is none."""
    left = waiting(plan, one, cast)
    if left is None:
        return None
    held, load = figures.volume(left.held), figures.volume(left.load)
    part = f"{held} of {load} {figures.unit_sign(plan.volume_unit)}"
    told = f"The truck then has {part} in it"
    if left.stand is None:
        return f"{told}: it leaves so, the last."
    if left.after <= WAITS and left.same:
        return f"{told}: it waits for stand {left.stand}."
    if left.held < WORTH * left.load:
        return (
            f"That leaves {part} over: let no truck wait for it, heap it where stand "
            f"{left.stand} reaches it and load it there."
        )
    return f"{told}: send it off so, one load more than is counted."


def _hand(seen: FromStand) -> str:
    """Which way a truck is from the seat, the tracks' front ahead."""
    off, hand = abs(seen.right), "right" if seen.right > 0 else "left"
    if off <= AHEAD:
        return "ahead"
    if off >= BEHIND:
        return "behind"
    return f"{'ahead ' if off < 60.0 else 'behind ' if off > 120.0 else ''}to the {hand}"
