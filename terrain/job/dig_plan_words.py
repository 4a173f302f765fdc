"""What a dig plan says in words: why one order is dearer, what was assumed, what is left out."""

from terrain.haul.compare import Solved
from terrain.haul.rates import AT_WORK, DOZER_COMPACTED, DOZER_PUSH_FEET, FULL
from terrain.job.dig_plan_passes import leg_names, leg_number
from terrain.job.dig_plan_planned import Planned

LITTLE = 0.005
"""Share of the hours below which two orders take as long."""


def why_of(planned: Planned, one: Solved) -> str:
    """What sets an order apart from the best, in words."""
    best, unit = planned.best, planned.worked.job.unit
    if one is best:
        return _why_best(planned)
    said = []
    if one.order.shut_in and not best.order.shut_in:
        said.append("the machine can't get out at its last corner")
    more_left = unit.volume(one.left_bank - best.left_bank)
    if more_left > 0.05:
        said.append(f"leaves {more_left:,.1f} {unit.volume_name} more undug")
    more = len(one.order.corners) - len(best.order.corners)
    if more:
        said.append(f"{'+' if more > 0 else ''}{more} rim corner{'s' if abs(more) > 1 else ''}")
        said[-1] += f": {_corners(planned, one)}"
    elif one.order.corners:
        said.append(f"rim corner at {_corners(planned, one)}")
    hours = (one.hours - best.hours) * (planned.rates.low + planned.rates.high) / 2
    if hours > LITTLE * best.hours:
        said.append(f"{hours:+.1f} machine-hours{_dearer(planned, one)}")
    elif not said:
        said.append("as good as the best, as near as the hours can be known")
    return "; ".join(said)


def _why_best(planned: Planned) -> str:
    best = planned.best
    counts = [len(one.order.corners) for one in planned.orders]
    count, most = len(best.order.corners), max(counts)
    if count == 0:
        told = "no rim corner"
        if planned.field.outside.ramp is not None:
            told += ": the machine comes back by the ramp"
    elif count > min(counts):
        told = f"{count} rim corners, as orders with fewer leave much more undug"
    elif count < most:
        told = f"fewest rim corners, {count} against up to {most}"
    else:
        told = f"no order has fewer rim corners than {count}"
    at = f" (at {_corners(planned, best)})" if count else ""
    alike = [one for one in planned.orders if len(one.order.corners) == count]
    quicker = any(one.hours < best.hours and not one.order.shut_in for one in alike)
    of = "of those that dig as much" if quicker else "of those"
    return f"{told}{at}; {of} the fewest machine-hours"


def _corners(planned: Planned, one: Solved) -> str:
    names, order = leg_names(planned), one.order
    count = len(order.round.legs)
    pairs = [
        (leg_number(order, corner.leg), leg_number(order, (corner.leg + 1) % count))
        for corner in order.corners
    ]
    return ", ".join(f"{names[a]} / {names[b]}" for a, b in pairs)


def _dearer(planned: Planned, one: Solved) -> str:
    """What most of the difference in hours comes from."""
    best, unit = planned.best, planned.worked.job.unit
    parts = {
        "more hauled off": unit.volume(one.shipped.hauled - best.shipped.hauled),
        "more re-handled": unit.volume(one.rehandled - best.rehandled),
    }
    told = [f"{v:,.0f} {unit.volume_name} {name}" for name, v in parts.items() if v >= 1.0]
    return f" ({', '.join(told)})" if told else " (longer swings)"


def assumed(planned: Planned) -> tuple[str, ...]:
    """Figures taken where the job is silent, and the factors behind the hours."""
    said = []
    job = planned.worked.job
    if planned.typical:
        weight = job.machine.weight_tonnes
        of = "a usual 14 t excavator" if weight is None else f"an excavator of {weight:g} t"
        named = ", ".join(planned.typical)
        said.append(
            f"Typical of {of}, common practice without a source, to be checked against the "
            f"machine's own chart: {named}."
        )
    if planned.spoil.typical:
        said.append(
            f"[spoil] {', '.join(planned.spoil.typical)} not given: "
            f"setback {planned.spoil.setback:g}, repose {planned.spoil.heaping.repose:g} degrees, "
            f"height {planned.spoil.heaping.height:g} {job.unit.name} were taken where not given."
        )
    said.append(
        f"Hours: bucket filled {FULL[0]:.0%} and {AT_WORK[0] * 60:.0f} minutes of work an hour for "
        f"the low figure, {FULL[1]:.0%} and {AT_WORK[1]:.0%} for the high one (exercises of a "
        "textbook on construction methods, as quoted); cycle by swing from memory of such a "
        f"textbook's table; a dozer at {DOZER_COMPACTED:.0f} compacted yd3 an hour (an estimating "
        f"book), taken for a push of {DOZER_PUSH_FEET:.0f} ft and in proportion beyond."
    )
    return tuple(said)


def notes(planned: Planned) -> tuple[str, ...]:
    """What the plan leaves out or took otherwise than the job may expect."""
    said = [*planned.needs.notes]
    design = planned.worked.layout.design
    for line in planned.field.outside.lines:
        extra = design.extras[line.row - len(design.walls)]
        if extra.kind == "ramp" and not line.leads_out:
            said.append(
                f"The ramp {extra.name} is too narrow, too steep, or not from the floor up to the "
                "ground, for this machine: the plan does not count on it."
            )
    said.append(
        "Trade habit (common practice, no source): back square along each wall with the edge pass "
        "kept 1 to 2 ft below the middle of the dig, so that the face comes out plumb and in line."
    )
    said.append(
        "Piles hold what the slope their sides rest at (repose) and the height allow on level "
        "ground; the plan does not say "
        "which bucket lies where in a pile."
    )
    return tuple(said)
