"""What is dug from a stand as seen from the seat: how far ahead, how far to either hand."""

from dataclasses import dataclass

import numpy as np
import shapely

from terrain.job.dig_plan_boxes import SQUARE, Box, boxes_of, runs_along, turned_to
from terrain.job.dig_plan_record import DigPlan, Stand

AT_EDGE = 0.5
"""Bucket widths from a box's side within which the edge of the cut is that side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ahead:
    """A box of ground from the seat.

    `near` to `far` ahead of the middle of the machine, `left` to `right` of the line straight
    ahead, to the right positive; `left_paint` and `right_paint` if that side is the edge of the
    cut.
    """

    near: float
    far: float
    left: float
    right: float
    left_paint: bool
    right_paint: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A piece as few boxes from the seat, nearest first.

    `is_square` is whether it nearly fills them, `to_paint` whether it does but for what of them is
    outside the cut.
    """

    boxes: tuple[Ahead, ...]
    is_square: bool
    to_paint: bool


def seen_ahead(plan: DigPlan, stand: Stand, part: shapely.Polygon) -> Seen:
    """A piece as it is seen from the seat of a stand."""
    turn = np.radians(stand.heading)
    facing = np.array([np.sin(turn), np.cos(turn)])
    right = np.array([facing[1], -facing[0]])
    own, edge, cut = turned_to(plan, part, (np.array(stand.spot), facing, right))
    boxes, fills = boxes_of(own, plan.machine.bucket_width)
    in_cut = shapely.union_all([shapely.box(*box) for box in boxes]).intersection(cut).area
    return Seen(
        boxes=tuple(_ahead(box, edge, plan.machine.bucket_width) for box in boxes),
        is_square=fills >= SQUARE,
        to_paint=bool(own.intersection(cut).area >= SQUARE * in_cut > 0.0),
    )


def _ahead(box: Box, edge: shapely.Geometry, width: float) -> Ahead:
    near, low, far, high = box
    off, middle = AT_EDGE * width, (low + high) / 2
    at_left = shapely.box(near, low - off, far, min(low + off, middle))
    at_right = shapely.box(near, max(high - off, middle), far, high + off)
    return Ahead(
        near=near,
        far=far,
        left=low,
        right=high,
        left_paint=runs_along(edge.intersection(at_left), (near, far)),
        right_paint=runs_along(edge.intersection(at_right), (near, far)),
    )
