"""From ground and dig to figures by row: sums by label of one overlay, and of nothing else."""

from dataclasses import dataclass, replace

import numpy as np

from terrain.base.arrays import FloatArray, IntArray
from terrain.base.errors import SurfaceError
from terrain.ledger.errors_said import NOTHING_SAID
from terrain.ledger.ground import Ground as Ground
from terrain.ledger.row_doubts import RowDoubts, dig_weights, doubt_terms, row_doubts
from terrain.ledger.weights import total_of
from terrain.pit.dig import CORE, FOOTING, PARTS, Dig, Taken, part_of, row_of
from terrain.surface.overlay import Overlay, overlay
from terrain.surface.patches import Surface, picked

CLOSES_WITHIN = 1e-9
"""Rows must sum to the whole dig within this share of it: both are exact, computed apart."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """Figures by row (walls, then extras) in length units, square and cubic.

    Args:
        bank: (rows, 4), volume in place by part of PARTS; extras have theirs in the first.
        topsoil: (rows,), of which topsoil.
        doubts: of the bank volumes, or None where nothing is said of how the survey errs.
        plan_area: (rows,) plan area where the row takes earth out.
        deepest: (rows,) how deep below ground the row goes at most.
        face_depth: (rows,) how high the row's faces stand at most. For walls the depth on floor
            and side beyond the outline, or all of the row where it has nothing there; for extras
            up to the ground, or to the dig so far where that is lower.
        total: bank volume of all rows.
        daylight_area: plan area where ground is above the dig.
        deepest_cut: anywhere, extras included.
        whole: the overlay of the ground with the dig surface.
    """

    bank: FloatArray
    topsoil: FloatArray
    doubts: RowDoubts | None
    plan_area: FloatArray
    deepest: FloatArray
    face_depth: FloatArray
    total: float
    daylight_area: float
    deepest_cut: float
    whole: Overlay


def account(ground: Ground, dig: Dig, rows: int, topsoil_strip: float) -> Account:
    """The figures of a dig in a ground.

    Args:
        ground: the existing ground.
        dig: the dig surface with what each solid added.
        rows: how many rows there are, walls and extras.
        topsoil_strip: depth of topsoil from the ground down, >= 0.

    Raises:
        SurfaceError: the rows do not sum to the dig as a whole, which is a fault of ours.
    """
    main = overlay(ground.surface, dig.main)
    whole = overlay(ground.surface, dig.surface) if dig.taken else main
    cut = _faces_above(ground, main, whole)
    books = _Books.empty(cut, rows)
    books.add_main(main, dig.main)
    for step in dig.taken:
        books.add_step(step)
    total = float(np.sum(books.bank))
    at_once = float(np.sum(whole.volume_above))
    gross = at_once + float(np.sum(whole.volume_below))
    if abs(total - at_once) > CLOSES_WITHIN * gross:
        raise SurfaceError(
            f"the rows sum to {total:.9g} but the dig as a whole is {at_once:.9g} cubic units; "
            "please report this job"
        )
    return Account(
        bank=books.bank,
        topsoil=_topsoil(cut, dig, books.bank, topsoil_strip),
        doubts=_doubts(cut, dig, rows),
        plan_area=books.plan_area,
        deepest=books.deepest,
        face_depth=np.where(books.face_depth > 0, books.face_depth, books.deepest),
        total=total,
        daylight_area=float(np.sum(whole.area_above)),
        deepest_cut=float(whole.depth_above.max(initial=0.0)),
        whole=whole,
    )


def _faces_above(ground: Ground, *overlays: Overlay) -> Ground:
    """The ground's faces that are above the dig anywhere; no other face has earth to give."""
    above = np.zeros(len(ground.surface), dtype=bool)
    for pairs in overlays:
        above[pairs.a[pairs.area_above > 0]] = True
    return replace(ground, surface=picked(ground.surface, np.flatnonzero(above)))


@dataclass(slots=True)
class _Books:
    """Sums in the making: bank by row and part, areas and depths by row."""

    ground: Ground
    bank: FloatArray
    plan_area: FloatArray
    deepest: FloatArray
    face_depth: FloatArray

    @classmethod
    def empty(cls, ground: Ground, rows: int) -> "_Books":
        return cls(
            ground=ground,
            bank=np.zeros((rows, len(PARTS))),
            plan_area=np.zeros(rows),
            deepest=np.zeros(rows),
            face_depth=np.zeros(rows),
        )

    def add_main(self, pairs: Overlay, main: Surface) -> None:
        """Book the main dig."""
        self._add(pairs, main.label[pairs.b], 1.0)
        row = row_of(main.label[pairs.b])
        self.plan_area += np.bincount(row, pairs.area_above, len(self.plan_area))
        np.maximum.at(self.deepest, row, pairs.depth_above)
        beyond = part_of(main.label[pairs.b]) != CORE
        np.maximum.at(self.face_depth, row[beyond], pairs.depth_above[beyond])

    def _add(self, pairs: Overlay, label: IntArray, sign: float) -> None:
        size = self.bank.size
        booked = np.bincount(label, pairs.volume_above, size).reshape(self.bank.shape)
        self.bank += sign * booked

    def add_step(self, step: Taken) -> None:
        """Book what one more solid takes below the dig so far, under that solid's labels."""
        after = overlay(self.ground.surface, step.after)
        before = overlay(self.ground.surface, step.before)
        # the faces of `before` are the first of `after`, with the planes of the dig so far
        self._add(after, step.after.label[after.b], 1.0)
        self._add(before, step.after.label[before.b], -1.0)
        depth = np.zeros(len(step.after))
        np.maximum.at(depth, after.b, after.depth_above)
        row = row_of(step.after.label)
        np.maximum.at(self.deepest, row, depth)
        inside = len(step.before)
        depth[:inside] = np.minimum(depth[:inside], _heights_between(step))
        own = part_of(step.after.label) != FOOTING
        np.maximum.at(self.face_depth, row[own], depth[own])
        self.plan_area += np.bincount(
            row_of(step.after.label[after.b]), after.area_above, len(self.plan_area)
        )


def _doubts(cut: Ground, dig: Dig, rows: int) -> RowDoubts | None:
    if not cut.errors.is_said:
        return None
    weights = dig_weights(cut, dig)
    return row_doubts(weights, rows, doubt_terms(cut, total_of(list(weights.values()))))


def _heights_between(step: Taken) -> FloatArray:
    """For each face of `before`, how far the new solid lies below it at most."""
    faces = np.repeat(np.arange(len(step.before)), np.diff(step.before.start))
    corners = step.before.ring
    gap = _upward(step.before.plane[faces], corners) - _upward(step.after.plane[faces], corners)
    most = np.zeros(len(step.before))
    np.maximum.at(most, faces, gap)
    return most


def _upward(plane: FloatArray, plan: FloatArray) -> FloatArray:
    rise: FloatArray = plane[:, 2] + np.sum(plane[:, 3:] * (plan - plane[:, :2]), axis=1)
    return rise


def _topsoil(ground: Ground, dig: Dig, bank: FloatArray, strip: float) -> FloatArray:
    """Of each row's bank volume, what lies within `strip` of the ground."""
    if strip == 0.0:
        return np.zeros(len(bank))
    lowered = ground.surface.plane.copy()
    lowered[:, 2] -= strip
    subsoil = replace(ground, surface=ground.surface.with_plane(lowered), errors=NOTHING_SAID)
    books = _Books.empty(subsoil, len(bank))
    main = overlay(subsoil.surface, dig.main)
    books.add_main(main, dig.main)
    for step in dig.taken:
        books.add_step(step)
    return np.asarray((bank - books.bank).sum(axis=1))
