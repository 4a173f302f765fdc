"""Ramps, pits and trenches in words, as one stakes them; where the paint of an edge stops."""

from terrain.job.dig_plan_extra_out import (
    ExtraOut,
    Mouth,
    StakeOut,
    breaks_of,
    extras_out,
    inside_paint,
)
from terrain.job.dig_plan_ground_record import ExtraTold
from terrain.job.dig_plan_record import DigPlan
from terrain.report import figures
from terrain.report.dig_plan_stand_words import (
    corner_letter,
    facing_words,
    stands_words,
    steps_in_words,
    wall_letters,
)
from terrain.report.names import plain

SHORT = {True: 0.15, False: 0.5}
"""Metres or feet below the ground at which a ramp still counts as come up; common practice, no
source."""


JUDGED = {True: 1.1, False: 3.75}
"""Metres or feet, about 4 ft, from which nobody goes in below an upright side that is not judged;
common practice, no source."""


def extra_words(plan: DigPlan) -> list[dict[str, object]]:
    """Each ramp, pit and trench: its name, lines to set it out by, floors for the rod."""
    return [_extra(plan, out) for out in extras_out(plan)]


def _extra(plan: DigPlan, out: ExtraOut) -> dict[str, object]:
    told = out.told
    if told.kind == "ramp":
        lines = _ramp_lines(plan, out)
        rods = [(_where(out, k), float(floor)) for k, floor in enumerate(told.floor)]
    else:
        lines, rods = _floor_lines(plan, out), [("on its floor", float(told.floor[0]))]
    if told.kind != "ramp" or len(told.spots) > 1:
        lines += _side_lines(plan, told)
    if told.kind == "ramp" and len(told.spots) < 2:
        rods = []
    elif told.stands:
        lines.append(f"Dug from {stands_words(told.stands)}.")
    else:
        lines.append("No stand of this plan digs it: it is a job of its own.")
    return {
        "name": plain(told.name),
        "kind": told.kind,
        "lines": lines,
        "stakes": [_stake(plan, out, k, stake) for k, stake in enumerate(out.stakes)],
        "rods": [{"where": where, "floor": repr(floor)} for where, floor in rods],
    }


def _ramp_lines(plan: DigPlan, out: ExtraOut) -> list[str]:
    unit, told = plan.length_unit, out.told
    if len(told.spots) < 2:
        return ["Its foot is above the ground as it is: nothing is dug for it."]
    run = next((ramp.run for ramp in plan.ground.ramps if ramp.name == told.name), None)
    climb = "" if run is None else f", {run:g} out : 1 up"
    ends = (figures.coordinate(float(told.floor[k]), unit) for k in (0, -1))
    width = figures.on_tape(told.width or 0.0, unit)
    lines = [] if out.mouth is None else [_mouth_words(plan, out.mouth)]
    foot, end = ends
    far, below = figures.on_tape(out.length, unit), out.stakes[-1].depth
    deep = figures.on_tape(out.stakes[0].depth, unit)
    climbs = f"It climbs from {foot} at its foot, {deep} below the ground,"
    lines.append(f"{width} wide, half to each hand of its middle.")
    if below <= SHORT[plan.unit.is_metric]:
        lines.append(f"{climbs} to the top edge at {end}, {far} on by its middle{climb}.")
    else:
        lines.append(
            f"{climbs} to {end}, {far} on{climb}, and ends there "
            f"{figures.on_tape(below, unit)} below the ground: as drawn nothing drives out by it."
        )
    return lines


def _mouth_words(plan: DigPlan, mouth: Mouth) -> str:
    along = figures.on_tape(mouth.along, plan.length_unit)
    return (
        f"Its middle leaves the wall line {wall_letters(plan, mouth.wall)} {along} "
        f"{facing_words(mouth.heading)} of {corner_letter(mouth.corner)}."
    )


def _floor_lines(plan: DigPlan, out: ExtraOut) -> list[str]:
    unit, told = plan.length_unit, out.told
    depths = [stake.depth for stake in out.stakes]
    deep = figures.ranged(figures.length(min(depths), unit), figures.length(max(depths), unit))
    lines = []
    if told.width is not None:
        lines.append(f"{figures.on_tape(told.width, unit)} wide, half to each hand of its middle.")
        if told.width < plan.machine.bucket_width:
            bucket = figures.on_tape(plan.machine.bucket_width, unit)
            lines.append(
                f"That is narrower than your bucket, {bucket}: take a narrow one, or leave it for "
                "a smaller machine or by hand."
            )
    lines.append(
        f"Floor {figures.coordinate(float(told.floor[0]), unit)}, {deep} {figures.unit_sign(unit)} "
        "below the ground as it is."
    )
    if inside_paint(plan, told):
        lines.append("It lies inside the painted edge: the paint runs on past it.")
    return lines


def _side_lines(plan: DigPlan, told: ExtraTold) -> list[str]:
    """How its sides stand, how high they are, and who judges what stands straight up."""
    unit = plan.length_unit
    if told.highest <= 0:
        return []
    how = steps_in_words(told.steps, figures.unit_sign(unit))
    high = figures.on_tape(told.highest, unit)
    lines = [f"Its sides: {how}; the highest {high}, floor to ground as it is."]
    if told.upright >= JUDGED[plan.unit.is_metric]:
        lines.append("Nobody goes in before a competent person has judged what stands straight up.")
    elif told.upright > 0:
        lines.append(
            "A competent person judges what stands straight up before anybody works below it."
        )
    return lines


def _stake(plan: DigPlan, out: ExtraOut, k: int, stake: StakeOut) -> str:
    one, two = stake.tapes
    told = " and ".join(
        f"{figures.on_tape(tape.length, plan.length_unit)} from {corner_letter(tape.corner)}"
        for tape in stake.tapes
    )
    letters = f"{corner_letter(one.corner)}–{corner_letter(two.corner)}"
    return f"{_called(out, k)}: {told} ({facing_words(stake.side)} of the line {letters})"


def _called(out: ExtraOut, k: int) -> str:
    last = k == len(out.stakes) - 1
    if out.told.kind == "pit":
        return f"Corner {k + 1}"
    if k == 0:
        return "Middle at the foot" if out.told.kind == "ramp" else "Middle, first end"
    if last:
        return "Middle at the top" if out.told.kind == "ramp" else "Middle, other end"
    return f"Middle at bend {k}"


def _where(out: ExtraOut, k: int) -> str:
    """Where on a ramp a rod is held."""
    if k == 0:
        return "at its foot"
    return "at its top" if k == len(out.stakes) - 1 else f"at its bend {k}"


def breaks_words(plan: DigPlan, wall: int) -> str | None:
    """Where the paint along a wall stops for a ramp, pit or trench; None where it does not."""
    letter = corner_letter(wall)
    said = [
        f"from {figures.on_tape(each.low, plan.length_unit)} to "
        f"{figures.on_tape(each.high, plan.length_unit)} for {plain(each.name)}"
        for each in breaks_of(plan, wall)
    ]
    return (
        f"Measured along the wall from {letter}, no paint {' and '.join(said)}." if said else None
    )
