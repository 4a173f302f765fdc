"""What to be careful of in digging by the plan; the operator decides on the spot."""

from collections.abc import Iterator

import numpy as np
import shapely

from terrain.haul.outside import ON_A_RAMP
from terrain.job.dig_plan_face import face_cautions
from terrain.job.dig_plan_ground_record import GroundTold
from terrain.job.dig_plan_planned import Planned
from terrain.job.dig_plan_record import Pass, RimCorner
from terrain.job.lot_line import lot_line
from terrain.ledger.entries import Caution
from terrain.ledger.rules import SPOIL_SETBACK

HAIR = 1e-3
"""Length units over the lot line that are none."""

SHOWN = 1e-3
"""Share of the dig below which earth left or short is rounding."""

_GENERAL = (
    Caution(
        code="plan-operator-decides",
        message="This plan is a proposal from geometry and typical figures. The operator and a "
        "competent person decide on the spot, each day; the machine's own manual and chart come "
        "first.",
    ),
    Caution(
        code="plan-buried-lines",
        message="Have buried lines located and marked before the first bucket, and expose them by "
        "hand where the dig comes near (common practice, no source).",
    ),
    Caution(
        code="plan-overhead-lines",
        message="Look up at every stand: boom, bucket and truck bodies keep away from overhead "
        "lines as local rules say, or the line is made dead (common practice, no source).",
    ),
    Caution(
        code="plan-edges",
        message="Nobody stands in the dig below a machine at work or within its tail swing; the "
        "edge is fenced or marked when work stops (common practice, no source).",
    ),
)


_UNDER = {
    "wall": "A stand along a wall is on ground not dug yet, with a face, the side as dug, in front "
    "of it: watch the ground under the tracks for cracks and bulging, keep the tracks square to "
    "the edge so that the machine can back away, and dig nothing from under it.",
    "rim": "A stand on the rim, the ground along the painted edge, is over a face that is finished "
    "and out of sight: it has the same care, and somebody in safe view guides.",
    "extra": "A stand over the line of a ramp, pit or trench is on ground not dug yet and backs "
    "away from what it digs.",
    "floor": "A stand on the floor has no edge in front of it but faces, the sides as dug, round "
    "it: the machine goes there only where a competent person has judged them, swings its tail "
    "clear of them, and nobody on foot is between machine and face.",
}
_KINDS = {"wall": "wall", "out": "rim", "rim": "rim", "extra": "extra", "floor": "floor"}


def _under(planned: Planned) -> Iterator[Caution]:
    """What is true of the ground at each kind of stand that the best order has."""
    best = planned.best
    digging = np.unique(best.casting.stand[best.shipped.cast > 0])
    has = {_KINDS[best.order.kind[k]] for k in digging.tolist()}
    said = [words for kind, words in _UNDER.items() if kind in has]
    if said:
        yield Caution(
            code="plan-undermined", message=" ".join(said) + " (Common practice, no source.)"
        )


def dig_plan_cautions(
    planned: Planned, corners: tuple[RimCorner, ...], told: tuple[GroundTold, tuple[Pass, ...]]
) -> tuple[Caution, ...]:
    """General ones first, then those of this job's figures, by what is `told` of its ground and
    passes.
    """
    ground, passes = told
    return (
        *_GENERAL,
        *_soil(planned),
        *face_cautions(planned, passes),
        *_under(planned),
        *_setback(planned, ground.highest),
        *_leaves(planned, passes),
        *_rim(corners),
        *_left(planned),
        *_room(planned),
        *_ramp(planned),
    )


def _soil(planned: Planned) -> Iterator[Caution]:
    """What soil the job says its sides are for."""
    soil = planned.worked.job.soil
    of = "no class" if soil.soil_class is None else f"class {soil.soil_class}"
    yield Caution(
        code="plan-soil",
        message=f"Sides are as the job draws them; of its soil it says “{soil.material}”, {of}. A "
        "competent person classes what is really there, each day and after rain. Wetter, sandier, "
        "cracked or filled before: stop, and lay sides and working face back.",
    )


def _setback(planned: Planned, highest: float) -> Iterator[Caution]:
    unit, setback = planned.worked.job.unit, planned.spoil.setback
    least = SPOIL_SETBACK.in_unit(unit)
    told = f"{SPOIL_SETBACK.told(unit)} ({SPOIL_SETBACK.source})"
    if setback < least - 1e-9:
        yield Caution(
            code="plan-setback-short",
            message=f"spoil.setback is {setback:g} {unit.name}: spoil and equipment stay at least "
            f"{told} from the edge.",
        )
    memo = (
        "OSHA's memorandum on house foundations (30 June 1995), where its easier rules for low "
        "sides are used"
    )
    if planned.spoil.as_deep:
        yield Caution(
            code="plan-surcharge",
            message="Piles and trucks are as far from the edge as the cut is deep there, here up "
            f"to {highest:.1f} {unit.name}, as {memo}, has it for what weighs on the edge (a "
            f"surcharge); tracks are {setback:g} {unit.name} from what is dug, the least of "
            f"{told}.",
        )
        return
    yield Caution(
        code="plan-surcharge",
        message=f"Piles and tracks are {setback:g} {unit.name} from the edge, the least of "
        f"{told}. By {memo}, what weighs on the edge (a surcharge: piles, machine, trucks) "
        f"stays as far back as the dig is deep, here up to {highest:.1f} {unit.name}; where people "
        "work below, move piles back or have a competent person judge them.",
    )


def _leaves(planned: Planned, passes: tuple[Pass, ...]) -> Iterator[Caution]:
    """Stands to which the machine's way leaves the lot."""
    line = lot_line(planned.worked.job)
    if line is None:
        return
    lot = shapely.Polygon(planned.worked.layout.frame.to_local(line)).buffer(HAIR)
    stands = [
        str(one.stand.number)
        for one in passes
        if len(one.stand.way) > 1 and not lot.covers(shapely.LineString(one.stand.way))
    ]
    if stands:
        yield Caution(
            code="plan-leaves-lot",
            message="Between dig, piles and lot line there is no room for the tracks: the way to "
            f"stand {' and to stand '.join(stands)} leaves the lot. Before digging, get leave for "
            "that ground from whoever it belongs to and have a competent person judge it, or leave "
            "room for the machine inside the lot line.",
        )


def _rim(corners: tuple[RimCorner, ...]) -> Iterator[Caution]:
    for corner in corners:
        at = " and ".join(corner.between)
        where = f"stand {corner.stand}" if corner.stand is not None else "no stand of this plan"
        yield Caution(
            code="plan-rim-corner",
            wall=corner.between[0],
            message=f"The corner of {at} is finished from the rim, that is from outside over the "
            f"painted edge ({where}): the face is out of the operator's sight, so someone in safe "
            "view guides, and the line is checked from the stakes.",
        )


def left_why(planned: Planned) -> str:
    """Why earth is left undug in the best order; empty where it is for a shovel at most."""
    best, work = planned.best, planned.field.work
    whole = float(work.cells.bank.sum())
    if best.left_bank <= work.shovelful:
        return ""
    if best.left_bank <= max(SHOWN * whole, work.machine.bucket_capacity):
        return "slivers at the edge, for a shovel or in passing"
    deep = float(work.cells.bank[best.order.left & planned.field.deep].sum())
    if deep > best.left_bank / 2:
        return (
            "the dig is deeper than the machine digs from existing ground: take a larger machine, "
            "or give it a ramp down to a lower bench"
        )
    if not planned.start.dug.is_empty:
        return (
            "what is dug already leaves no ground to stand on within reach of it: give the machine "
            "a ramp, or take it from the rim with a longer reach"
        )
    if best.order.shut_in:
        return "the machine finds no free ground to stand on outside its last corner"
    return (
        "it lies beyond the machine's reach from the walls, or there is no ground left to stand "
        "on: dig it first from the middle, take a larger machine, or give it a ramp"
    )


def _left(planned: Planned) -> Iterator[Caution]:
    best, unit = planned.best, planned.worked.job.unit
    whole = float(planned.field.work.cells.bank.sum())
    if best.left_bank > max(SHOWN * whole, planned.field.work.machine.bucket_capacity):
        yield Caution(
            code="plan-not-reached",
            message=f"{unit.volume(best.left_bank):,.1f} {unit.volume_name} bank can't be dug by "
            f"this plan: {left_why(planned)}.",
        )
    if best.order.shut_in:
        yield Caution(
            code="plan-shut-in",
            message="Every order ends with the machine on ground from which it can't get out over "
            "free ground of the lot: plan its way out, a ramp or a neighbour's leave, first.",
        )


def _room(planned: Planned) -> Iterator[Caution]:
    best, unit = planned.best, planned.worked.job.unit
    need = float(planned.terms.need.sum())
    supply = float(best.asked.supply.sum())
    surplus = max(supply - need, best.asked.must_leave)
    more = best.shipped.hauled - surplus
    if more > SHOWN * supply:
        yield Caution(
            code="plan-no-room",
            message=f"The ground beside the dig does not hold all that is needed later: "
            f"{unit.volume(more):,.1f} {unit.volume_name} loose beyond the surplus must be hauled "
            "off and brought back, or stacked elsewhere on the lot.",
        )
    short = need - float(best.asked.already.sum()) - (supply - best.asked.must_leave)
    if short > SHOWN * max(need, 1e-9):
        yield Caution(
            code="plan-short",
            message=f"The sides need {unit.volume(short):,.1f} {unit.volume_name} loose more than "
            "the dig gives: it must be brought in.",
        )


def _ramp(planned: Planned) -> Iterator[Caution]:
    if planned.field.outside.ramp is not None:
        yield Caution(
            code="plan-ramp",
            message="The last corners are finished from the floor, come in by the ramp: only with "
            f"sides that stand, never below a face that could fall; the ramp is taken as drivable "
            f"from {ON_A_RAMP:g} run per rise on (common practice, no source).",
        )
