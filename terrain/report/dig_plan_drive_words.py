"""How the machine gets to a stand and, after the last, away, as one says it to a driver."""

from terrain.job.dig_plan_drive import Drive, drive_of, way_out
from terrain.job.dig_plan_record import DigPlan
from terrain.job.dig_plan_set_out import SetOut
from terrain.job.dig_plan_shallow import shallow_side
from terrain.report import figures
from terrain.report.dig_plan_stand_words import facing_words, ramp_words, wall_letters
from terrain.report.names import plain


def way_words(plan: DigPlan, told: SetOut) -> str | None:
    """How the machine gets to a stand where that is not just backing on; None where it is."""
    said = []
    if told.leaves:
        sides = " and ".join(dict.fromkeys(facing_words(way) for way in told.leaves))
        said.append(f"Leave the lot on the {sides} (ask for that ground first).")
    drive = drive_of(plan, told)
    if drive is not None:
        short = _shallow_words(plan)
        said += [*short, "Else by the ramp:"] if short else []
        said += _drive_words(plan, drive)
    return f"Way there: {' '.join(said)}" if said else None


def _drive_words(plan: DigPlan, drive: Drive) -> list[str]:
    """What is to be free; from where, over which ground, which way round, down which ramp."""
    said = ["Then" if drive.before is None else f"Then from stand {drive.before}"]
    if drive.by is not None:
        wall = f"{wall_letters(plan, drive.by)} {plain(plan.site.walls[drive.by])}"
        ground = ", over ground not dug yet" if drive.undug else ""
        said.append(f"out of the dig by wall {wall}{ground}, then")
    if drive.direction is not None:
        said.append(f"{drive.direction} round the dig")
    if drive.piles:
        said.append(f"past the piles at {_listed([plain(name) for name in drive.piles])}")
    unit = figures.unit_sign(plan.length_unit)
    runs = [f"{run.length:,.0f} {unit} {facing_words(run.heading)}" for run in drive.stretches]
    roughly = f"about {', '.join(runs)}, then " if runs else ""
    down = f"{facing_words(drive.down)} down {ramp_words(plan, drive.ramp)}"
    return [_free_words(drive.trucks), f"{' '.join(said)}: {roughly}{down}."]


def _shallow_words(plan: DigPlan) -> list[str]:
    """Where the machine may come in without the ramp, the cut being low."""
    side = shallow_side(plan)
    if side is None:
        return []
    wall = f"{wall_letters(plan, side.wall)} {plain(plan.site.walls[side.wall])}"
    low, high = (figures.length(depth, plan.length_unit) for depth in side.depth)
    deep = f"{figures.ranged(low, high)} {figures.unit_sign(plan.length_unit)}"
    clear = ", once no pile or truck is in the way there" if side.blocked else ""
    return [
        f"The short way{clear}: in over the side at wall {wall}, where the cut is only {deep} "
        "deep, if ground and machine allow it and a competent person agrees."
    ]


def _free_words(trucks: tuple[int, ...]) -> str:
    if not trucks:
        return "First see that the way and the ramp are free."
    told = _listed([f"T{number}" for number in trucks])
    return f"First {told} empty, no truck there or coming; the way and the ramp free."


def way_out_words(plan: DigPlan) -> str:
    """How the machine leaves after the last stand."""
    out = way_out(plan)
    if out is None:
        return "out of the dig."
    said = f"out up the ramp “{plain(out.ramp)}”, {facing_words(out.up)}."
    return f"{said} {_free_words(out.trucks)}"


def _listed(told: list[str]) -> str:
    return told[0] if len(told) == 1 else f"{', '.join(told[:-1])} and {told[-1]}"
