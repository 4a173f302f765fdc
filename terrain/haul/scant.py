"""Stands for a bucket or two are left out where others may dig their cells."""

from dataclasses import replace

import numpy as np

from terrain.base.arrays import BoolArray, FloatArray
from terrain.haul.casting import Casting, mostly_from
from terrain.haul.order import Order


def taken_from(order: Order, casting: Casting, cast: FloatArray, topsoil: FloatArray) -> FloatArray:
    """(k,): what is dug from each stand, loose in cubic length units.

    Args:
        order: whose stands they are.
        casting: the stand of each cell and place.
        cast: (n, p + 1) loose, the truck last.
        topsoil: (n,) loose; it goes with most of its cell.
    """
    taken = np.zeros(len(order.kind))
    cell, place = np.nonzero(cast > 0)
    np.add.at(taken, casting.stand[cell, place], cast[cell, place])
    dug = np.flatnonzero(~order.left)
    np.add.at(taken, mostly_from(casting, cast)[dug], topsoil[dug])
    return taken


def without_scant(order: Order, side: BoolArray, taken: FloatArray, least: float) -> Order:
    """The same order without stands that take less than `least`, as far as others dig their cells.

    Those that take nothing go first, so that no cell is handed to a stand for that cell alone. The
    ground a stand needs stays as it was, and its spot stays on the machine's way. The order itself
    comes back where no stand that takes anything can go.

    Args:
        order: with all of its stands.
        side: (n,) which cells lie outside the dig line.
        taken: (k,) what each stand takes.
        least: in the same unit.
    """
    digs = order.digs.copy()
    spare = _spare(order, side) & (taken >= least)[:, None]
    stands = digs.sum(axis=0)
    gone = False
    for k in np.argsort(taken, kind="stable").tolist():
        if taken[k] >= least:
            break
        sole = digs[k] & (stands == 1)
        if sole.any() and (taken[k] == 0.0 or not spare[:, sole].any(axis=0).all()):
            continue
        digs[spare[:, sole].argmax(axis=0), np.flatnonzero(sole)] = True
        stands += sole
        stands -= digs[k]
        digs[k] = False
        gone = gone or taken[k] > 0.0
    return replace(order, digs=digs) if gone else order


def _spare(order: Order, side: BoolArray) -> BoolArray:
    """(k, n): what a stand on the floor or the rim can take besides what was left for it.

    From the rim that are slopes in its reach, beside its own wall or one of the next, and no foot
    of a face: nothing stands or drives on a slope so late. On the floor it is all that it may dig
    and that no stand there has to have out of its way.
    """
    late = np.isin(order.kind, ["floor", "rim"])[:, None]
    inside = np.array(order.kind)[:, None] == "floor"
    gone = np.logical_or.accumulate(order.room, axis=0)
    slope = side & ~order.round.faces.foot & order.round.beside(order.of)
    return np.asarray(late & order.reached & np.where(inside, ~gone | slope, slope))
