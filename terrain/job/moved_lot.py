"""A lot with its wall grades, or its whole house, moved up or down: only what changes is redone."""

from dataclasses import replace

from terrain.base.errors import DesignError
from terrain.job.graded import Graded
from terrain.ledger.lot_account import LotAccount, account_of
from terrain.ledger.lot_dug import dug_of
from terrain.lot.design import LotDesign
from terrain.lot.edge import require_lot_surveyed
from terrain.lot.finish import Finished, finished
from terrain.pit.dig import dig_of
from terrain.pit.edge import require_surveyed


def reference_grade(graded: Graded) -> float:
    """The elevation that stands for all: `lot.wall_grade`, or the first wall's first corner."""
    lot = graded.worked.job.lot
    if lot is not None and lot.wall_grade is not None:
        return lot.wall_grade[0]
    own = [w.wall_grade for w in lot.walls.values() if w.wall_grade] if lot is not None else []
    return own[0][0]


def moved_account(graded: Graded, shift: float) -> LotAccount:
    """The account with all wall grades so much higher; only what depends on them is made anew.

    Raises:
        DesignError: pads that are too close, or ground at a wall below the footing.
        EdgeError: the survey ends before the finished ground ties in.
    """
    return account_of(graded.dug, _shifted_lot(graded, shift))


def _shifted_lot(graded: Graded, shift: float) -> Finished:
    design = shifted(graded.asked.design, shift)
    if float(design.apron.grades.min()) < graded.asked.structure.underside:
        raise DesignError("finished ground would lie below the footing")
    return _finished(graded, design)


def _finished(graded: Graded, design: LotDesign) -> Finished:
    worked = graded.worked
    tin, frame, unit = worked.existing.tin, worked.layout.frame, worked.job.unit
    lot = finished(design, tin.points, frame, unit)
    require_lot_surveyed(lot, tin, frame, unit)
    return lot


def shifted(design: LotDesign, shift: float) -> LotDesign:
    """The lot with all wall grades so much higher."""
    return replace(design, apron=replace(design.apron, grades=design.apron.grades + shift))


def sunk_account(graded: Graded, shift: float) -> LotAccount:
    """The account with the house, its dig and its wall grades so much higher."""
    worked, asked = graded.worked, graded.asked
    own = worked.layout.design
    footing = own.footing
    if footing is not None:
        footing = replace(footing, bottom=footing.bottom + shift)
    design = replace(own, floor=own.floor + shift, footing=footing)
    tin = worked.existing.tin
    dig = dig_of(design, tin.points)
    require_surveyed(design, dig, tin, worked.layout.frame, worked.job.unit)
    lot = _finished(graded, shifted(asked.design, shift))
    structure = replace(asked.structure, underside=asked.structure.underside + shift)
    dug = dug_of(graded.dug.screen, dig, lot, structure, asked.sides)
    return account_of(dug, lot)
