"""No stand for less than three buckets, unless no other stand may dig what it digs."""

import numpy as np
import pytest

from terrain.haul.order import order_of
from tests.haul.made_lot import Asked, jogged, made, replayed
from tests.oracles.dig_plan import replay

LOTS = [
    Asked(corners=jogged(12, 8), topsoil=0.5),
    Asked(corners=jogged(20, 18), size=4.0, weight=20.0, needs=(0.02, 0.1, 0.02, 0.02, 0.1, 0.02)),
]


@pytest.mark.parametrize("asked", LOTS, ids=["small jog", "large jog"])
def test_a_stand_for_less_than_three_buckets_digs_what_no_other_in_use_may(asked):
    lot = made(asked)
    machine, topsoil = lot.field.work.machine, lot.field.work.cells.topsoil * 1.25
    rounds = {ring.direction: ring for ring in lot.rounds}
    left_out = 0
    for one in lot.orders():
        assert replay(*replayed(lot, one)) == []
        order, cast, stand = one.order, one.shipped.cast, one.casting.stand
        may = order_of(lot.field, rounds[order.direction], order.first).digs
        digs, loose = np.zeros(may.shape, dtype=bool), np.zeros(len(may))
        for cell, place in zip(*np.nonzero(cast), strict=True):
            digs[stand[cell, place], cell] = True
            loose[stand[cell, place]] += cast[cell, place]
        bare = np.flatnonzero((cast.sum(axis=1) == 0) & ~order.left)
        digs[stand[bare, -1], bare] = True
        used = digs.any(axis=1)
        left_out += int((may.any(axis=1) & ~used).sum())
        for k in np.flatnonzero(used):
            if loose[k] + topsoil[digs[k]].sum() < 3.0 * machine.bucket_capacity:
                others = used & (np.arange(len(used)) != k)
                assert not may[others][:, digs[k]].any(axis=0).all(), (order.first, k)
    assert left_out > 0
