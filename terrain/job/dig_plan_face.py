"""The face in front of a machine on ground not dug yet: how deep, how near, and where too near."""

from collections.abc import Iterator

import numpy as np

from terrain.base.arrays import IntArray
from terrain.job.dig_plan_planned import Planned
from terrain.job.dig_plan_record import Face, Pass
from terrain.job.dig_plan_site import soil_slope
from terrain.ledger.entries import Caution

DEEPEST, NEAR_ENOUGH = 0.8, 0.02
"""Shares of the deepest face from which on it is told how near it comes, and of how far off a face
should be by which it may come nearer before that is told."""


def face_before(planned: Planned, k: int, cells: IntArray) -> Face | None:
    """The face in front of the k-th stand of the best order, from which `cells` are dug; None on
    the floor.
    """
    order = planned.best.order
    if order.kind[k] == "floor":
        return None
    working = order.working
    ahead, below, wanted = (
        table[k, cells] for table in (working.ahead, working.below, working.wanted)
    )
    deep = float(below.max())
    ground = planned.field.work.heights(planned.field.work.corners[cells].reshape(-1, 2))
    high = below >= planned.machine.bucket_width
    worst = int(np.where(high, ahead - wanted, np.inf).argmin())
    near = high[worst] and ahead[worst] < (1.0 - NEAR_ENOUGH) * wanted[worst]
    return Face(
        deep=deep,
        ahead=float(ahead[below >= DEEPEST * deep].min()),
        high=max(float(ground.max() - order.level[k]), 0.0),
        steep=(float(ahead[worst]), float(below[worst]), float(wanted[worst])) if near else None,
    )


def face_cautions(planned: Planned, passes: tuple[Pass, ...]) -> Iterator[Caution]:
    """How far off the faces in front of the tracks stay, and from which stands they do not."""
    name = planned.worked.job.unit.name
    if not any(one.face for one in passes):
        return
    slope = soil_slope(planned.worked)
    soil = f", or {slope:g}:1 for its soil if that is flatter," if slope else ""
    yield Caution(
        code="plan-face",
        message="The face in front of a machine on ground not dug yet is laid back as the side "
        f"drawn there{soil} and the tracks stay {planned.spoil.setback:g} {name} from its top "
        "edge, so from its foot as much more as that runs in its depth (common practice, no "
        "source): each stand tells both of a face deeper than the bucket is wide.",
    )
    near = [(one.stand.number, one.face.steep) for one in passes if one.face and one.face.steep]
    if near:
        number, (ahead, deep, wanted) = min(near, key=lambda each: each[1][0] - each[1][2])
        stands = ", ".join(str(each) for each, _ in near)
        yield Caution(
            code="plan-face-near",
            message=f"It comes nearer from stand{'s' if len(near) > 1 else ''} {stands}, since no "
            f"other may dig that ground: most from stand {number}, where a face {deep:.1f} {name} "
            f"deep comes to {ahead:.1f} {name} before the tracks and should stay {wanted:.1f} "
            f"{name} off. Take it down in layers from as far back as the machine reaches, or as a "
            "competent person decides.",
        )
