"""The doubt of a finished lot's volumes: backfill, fill, cut and surplus by side of the house.

The overlays of `lot_account` once more, with the weights of their faces. What a strip of topsoil
is worth by its area alone has no weights and is left out: it moves with the rim of the cut only.
"""

from dataclasses import dataclass, fields

import numpy as np
import shapely

from terrain.ledger.doubt import Doubt, Terms, doubt_of
from terrain.ledger.ground import Ground
from terrain.ledger.hats import hats_between
from terrain.ledger.lot_account import LotAccount, over_in_hole, surfaces_under
from terrain.ledger.lot_dug import Dug, Where
from terrain.ledger.lot_rows import LotTerms
from terrain.ledger.weights import Weights, total_of, weights_of
from terrain.lot.finish import Finished
from terrain.lot.structure import Top, footing_top, stone_top
from terrain.pit.dig import Dig
from terrain.surface.minimum import shared_out, within
from terrain.surface.patches import Surface, labelled
from terrain.surface.screen import screened
from terrain.surface.shares import core_faces

ByRow = list[Weights]


@dataclass(frozen=True, slots=True, kw_only=True)
class LotWeights:
    """Weights by side of the house of the figures of the same names in `LotAccount`."""

    earth_out: ByRow
    backfill: ByRow
    grade_fill: ByRow
    cut: ByRow


@dataclass(frozen=True, slots=True, kw_only=True)
class SideDoubt:
    """Doubts of one side of the house, or of the lot, in cubic length units.

    Backfill and fill are in place, compacted; the others in bank.
    """

    earth_out: Doubt
    backfill: Doubt
    grade_fill: Doubt
    cut: Doubt
    surplus: Doubt

    def times(self, factor: float) -> "SideDoubt":
        """The doubts of the volumes times a factor, such as one to another unit."""
        return SideDoubt(**{f.name: getattr(self, f.name).times(factor) for f in fields(self)})


@dataclass(frozen=True, slots=True, kw_only=True)
class LotDoubts:
    """By side of the house, and of all sides together: they don't add."""

    sides: tuple[SideDoubt, ...]
    lot: SideDoubt

    def times(self, factor: float) -> "LotDoubts":
        """The doubts of the volumes times a factor, such as one to another unit."""
        return LotDoubts(
            sides=tuple(side.times(factor) for side in self.sides), lot=self.lot.times(factor)
        )


def lot_weights(
    ground: Ground, dig: Dig, dug: Dug, lot: Finished, account: LotAccount
) -> LotWeights:
    """What shots weigh in a lot's account."""
    at = _Ground(ground=ground, dug=dug)
    over = at.in_hole(over_in_hole(dug, lot))
    gross = _less(at.in_hole(dug.surface), over)
    cut = at.of(screened(dug.screen, lot.upper, "above"), lot.upper, "above")
    fill = at.of(screened(dug.screen, lot.lower, "below"), lot.lower, "below")
    core = _core_by_row(dig, dug)
    inside = at.by_row(screened(dug.screen, core, "above"), core, "above")
    # the stone's top lies over the footing's on a side or not at all, as in the account
    footing = at.under(lot, footing_top(dug.structure))
    stone = at.under(lot, stone_top(dug.structure))
    filled = [stone[k] if account.stone[k] > 0 else footing[k] for k in range(len(gross))]
    return LotWeights(
        earth_out=[total_of(list(each)) for each in zip(gross, cut, inside, strict=True)],
        backfill=_less(gross, filled),
        grade_fill=fill,
        cut=cut,
    )


def _core_by_row(dig: Dig, dug: Dug) -> Surface:
    """The dig inside the foundation, labelled by side of the house."""
    walls = core_faces(dug.structure.corners)
    inside = within(dig.surface, shapely.Polygon(dug.structure.corners))
    shared = shared_out(inside, walls)
    return labelled(shared, np.array(dug.sides.of_foundation)[shared.label])


def lot_doubts(weights: LotWeights, terms: Terms, told: LotTerms) -> LotDoubts:
    """The doubts of every side and of the lot."""
    gives = 1.0 - told.unsuitable
    needs = 1.0 / (1.0 - told.soil.shrink)
    surplus = [
        total_of([out * gives, (back + fill) * -needs])
        for out, back, fill in zip(
            weights.earth_out, weights.backfill, weights.grade_fill, strict=True
        )
    ]
    by_figure = {
        "earth_out": weights.earth_out,
        "backfill": weights.backfill,
        "grade_fill": weights.grade_fill,
        "cut": weights.cut,
        "surplus": surplus,
    }

    def doubts(side: int | None) -> SideDoubt:
        """Of one side, or with None of all."""
        return SideDoubt(
            **{
                figure: doubt_of(total_of(rows) if side is None else rows[side], terms)
                for figure, rows in by_figure.items()
            }
        )

    sides = tuple(doubts(side) for side in range(len(surplus)))
    return LotDoubts(sides=sides, lot=doubts(None))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ground:
    """A ground to be weighed against surfaces of the lot."""

    ground: Ground
    dug: Dug

    def in_hole(self, surface: Surface) -> ByRow:
        return self.of(self.dug.hole, surface, "above")

    def of(self, faces: Surface, surface: Surface, where: Where) -> ByRow:
        return self.by_row(faces, self.dug.rows(surface)[0], where)

    def by_row(self, faces: Surface, surface: Surface, where: Where) -> ByRow:
        """By row of a surface labelled so, what of these faces of the ground is above or below."""
        seen = Ground(surface=faces, points=self.ground.points, triangles=self.ground.triangles)
        # a fill shrinks as the ground under it rises
        sign = 1.0 if where == "above" else -1.0
        found = weights_of(hats_between(seen, surface, where), sign)
        none = Weights.nothing()
        return [found.get(row, none) for row in range(len(self.dug.sides.names))]

    def under(self, lot: Finished, top: Top | None) -> ByRow:
        """Volume in the dig up to a top, as `lot_account` has it."""
        if top is None:
            return [Weights.nothing() for _ in self.dug.sides.names]
        own, filled = surfaces_under(self.dug, lot, top)
        return _less(self.in_hole(own), self.in_hole(filled))


def _less(one: ByRow, other: ByRow) -> ByRow:
    return [a - b for a, b in zip(one, other, strict=True)]
