"""How far a dig is: dug so far, left to design and dug beyond it, by row and part of the design.

All of a day's figures hang together: dug = design - left + beyond, for every row and part, to the
last digits. Dug is net, so noise of the shots leaves it true; left and beyond are sums of positive
depths, and each gains about 0.4 sigma times area from noise on ground that is dug to design.
"""

from dataclasses import dataclass, replace

import numpy as np
import shapely

from terrain.asdug.graded import area_weights
from terrain.asdug.measured import NOTHING, Measured
from terrain.base.arrays import FloatArray, IntArray
from terrain.ledger.ground import Ground
from terrain.ledger.hats import hats_between
from terrain.ledger.row_doubts import dig_weights
from terrain.ledger.weights import Spots, Weights, summed_by_shot, weights_of
from terrain.pit.dig import Dig
from terrain.surface.minimum import shared_out, sound_parts, span, within
from terrain.surface.overlay import overlay, overlay_faces
from terrain.surface.patches import Surface, join_faces, labelled, lifted, picked

TIE = 1e-9
"""Length units within which ground is at the design: its shots then weigh as if just below, so that
what is dug rests on them there too."""

Label = int
"""Row and part of a design as `row * 4 + part`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """Ground whose points are shots of several surveys.

    Args:
        ground: its faces, labelled by triangle, over the points and triangles they come from.
        surveys: keys of the surveys.
        of: (n,) which survey each point is of, an index into `surveys`.
        number: (n,) its number among the points of that survey.
    """

    ground: Ground
    surveys: tuple[str, ...]
    of: IntArray
    number: IntArray

    def parted(self, weights: Weights, sign: float = 1.0) -> dict[str, Weights]:
        """The weights of its points as weights of each survey's own.

        Between shots of two surveys nothing is told of the ground: those spots are left out.
        """
        found = {}
        for k, key in enumerate(self.surveys):
            own = self.of[weights.shot] == k
            shot, change = summed_by_shot(self.number[weights.shot[own]], weights.change[own])
            spots = weights.spots
            held = spots.picked(np.flatnonzero((self.of[spots.shots] == k).all(axis=1)))
            spots = Spots(
                at=held.at, area=held.area, shots=self.number[held.shots], share=held.share
            )
            found[key] = Weights(shot=shot, change=change, spots=spots) * sign
        return {key: own for key, own in found.items() if len(own.shot)}


def plain_sheet(ground: Ground, key: str) -> Sheet:
    """A ground of one survey alone."""
    count = len(ground.points)
    return Sheet(
        ground=ground,
        surveys=(key,),
        of=np.zeros(count, dtype=np.int64),
        number=np.arange(count, dtype=np.int64),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What a day's ground leaves of a dig, all in cubic length units by label.

    Args:
        design: the whole dig, from the ground before it.
        left: what of the day's ground is still above the design.
        beyond: what was dug below the design, or outside where it meets the ground.
        elsewhere: net, dug where the design says nothing at all.
    """

    design: dict[Label, Measured]
    left: dict[Label, Measured]
    beyond: dict[Label, Measured]
    elsewhere: Measured

    @property
    def labels(self) -> list[Label]:
        """Every label that any of them has."""
        return sorted({*self.design, *self.left, *self.beyond})

    def dug(self, label: Label) -> Measured:
        """Dug so far of one row and part, net."""
        return (
            self.design.get(label, NOTHING)
            - self.left.get(label, NOTHING)
            + self.beyond.get(label, NOTHING)
        )


def standing(before: Sheet, now: Sheet, dig: Dig) -> Standing:
    """What is dug, left and beyond of a dig on one day.

    Args:
        before: the ground before the dig.
        now: the ground of the day, over as much of the plan.
        dig: the design.
    """
    return Standing(
        design=above_dig(before, dig),
        left=above_dig(now, dig),
        beyond=_beyond(before, now, dig),
        elsewhere=_elsewhere(before, now, dig.covered),
    )


def above_dig(sheet: Sheet, dig: Dig) -> dict[Label, Measured]:
    """The earth of a ground above a dig, solid by solid as the ledger books it."""
    ground = sheet.ground.surface
    amount: dict[Label, float] = {}

    def book(label: IntArray, volume: FloatArray, sign: float) -> None:
        for own, more in enumerate(np.bincount(label, volume).tolist()):
            if more:
                amount[own] = amount.get(own, 0.0) + sign * more

    pairs = overlay(ground, dig.main)
    book(dig.main.label[pairs.b], pairs.volume_above, 1.0)
    for step in dig.taken:
        pairs = overlay(ground, step.after)
        book(step.after.label[pairs.b], pairs.volume_above, 1.0)
        pairs = overlay(ground, step.before)
        book(step.after.label[pairs.b], pairs.volume_above, -1.0)
    weights = dig_weights(sheet.ground, dig)
    return {
        label: Measured(
            amount=amount[label], weights=sheet.parted(weights.get(label, Weights.nothing()))
        )
        for label in amount
    }


def _beyond(before: Sheet, now: Sheet, dig: Dig) -> dict[Label, Measured]:
    """The earth between the lower of design and ground before, and the day's ground below it."""
    dug = _dug_faces(before, now)
    under = overlay(before.ground.surface, dug)
    ground = picked(before.ground.surface, np.unique(under.a[under.area > 0]))
    pairs = overlay_faces(ground, dig.surface)
    inside = pairs.side > 0
    of_ground = sound_parts(pairs, ~inside, ground, pairs.a)
    owner = sound_parts(pairs, ~inside, dig.surface, pairs.b).label
    lower = join_faces(sound_parts(pairs, inside, dig.surface, pairs.b), labelled(of_ground, owner))
    found = overlay(lower, dug)
    volume = np.bincount(lower.label[found.a], found.volume_above, 1 + int(lower.label.max()))
    own = replace(now.ground, surface=dug)
    gone = weights_of(hats_between(own, lifted(lower, TIE), "below"), -1.0)
    there: dict[Label, Weights] = {}
    if len(of_ground):
        by_label = lifted(shared_out(dug, dig.surface), -TIE)
        there = weights_of(
            hats_between(replace(before.ground, surface=of_ground), by_label, "above")
        )
    none = Weights.nothing()
    return {
        label: Measured(amount=float(volume[label]), weights=now.parted(gone.get(label, none)))
        + Measured(amount=0.0, weights=before.parted(there.get(label, none)))
        for label in sorted({*np.flatnonzero(volume).tolist(), *gone, *there})
    }


def _dug_faces(before: Sheet, now: Sheet) -> Surface:
    """The faces of a day's ground that any shot of the day's own stands on."""
    fresh = np.array([key not in before.surveys for key in now.surveys], dtype=np.bool_)
    corners = fresh[now.of][now.ground.triangles]
    own = corners[:, 0] | corners[:, 1] | corners[:, 2]
    surface = now.ground.surface
    return picked(surface, np.flatnonzero(own[surface.label]))


def _elsewhere(before: Sheet, now: Sheet, covered: shapely.Geometry) -> Measured:
    """What was dug beyond all that the design covers, net."""
    dug = _dug_faces(before, now)
    low, high = span(dug)
    return net_over(before, now, within(dug, shapely.box(*low, *high).difference(covered)))


def hole_dug(before: Sheet, now: Sheet) -> Measured:
    """All that was dug where the day's shots are, net, whatever the design says."""
    return net_over(before, now, _dug_faces(before, now))


def subsoil_dug(before: Sheet, now: Sheet, strip: float) -> Measured:
    """What of it lies deeper than `strip` below the ground before."""
    dug = _flat(_dug_faces(before, now))
    low = replace(before.ground, surface=lifted(before.ground.surface, -strip))
    none = Weights.nothing()
    there = weights_of(hats_between(low, dug, "above")).get(0, none)
    own = replace(now.ground, surface=_dug_faces(before, now))
    gone = weights_of(hats_between(own, _flat(low.surface), "below")).get(0, none)
    return Measured(
        amount=float(overlay(low.surface, dug).volume_above.sum()), weights=before.parted(there)
    ) + Measured(amount=0.0, weights=now.parted(gone, -1.0))


def net_over(before: Sheet, now: Sheet, faces: Surface) -> Measured:
    """The ground before less some faces of the day's, over these."""
    pairs = overlay(before.ground.surface, faces)
    none = Weights.nothing()
    there = area_weights(before.ground, _flat(faces)).get(0, none)
    gone = area_weights(replace(now.ground, surface=faces), _flat(before.ground.surface))
    return Measured(
        amount=float(pairs.volume_above.sum() - pairs.volume_below.sum()),
        weights=before.parted(there),
    ) + Measured(amount=0.0, weights=now.parted(gone.get(0, none), -1.0))


def _flat(surface: Surface) -> Surface:
    return labelled(surface, np.zeros(len(surface), dtype=np.int32))
