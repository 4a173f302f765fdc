"""The layers of the dig plan's drawing under its names: the site, piles, stands, arrows."""

from collections.abc import Iterable
from typing import Literal

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from terrain.base.arrays import FloatArray
from terrain.job.dig_plan_record import DigPlan, Pass, Place
from terrain.report import dig_plan_inks as own
from terrain.report import inks, lot_inks
from terrain.report.dig_plan_marks import belts, nose
from terrain.report.dig_plan_sheet import PlanDrawing
from terrain.report.drawing import closed, window_clip
from terrain.report.svg import Attribute, element, path_data, text
from terrain.report.view import NARROW, View, view_round

THINNEST, THICKEST = 2.0, 9.0
"""Pixels: how thick an arrow of hardly any earth is, and that of the most."""

TRUCK = 13.5
"""Pixels: the letters on a truck."""

PAPER_MARGIN, CLOSE_MARGIN = 16.0, 30.0
"""Pixels round what is shown on a sheet of its own, and round the dig in the close-up."""


def window_of(plan: DigPlan, width: float, height: float | None = None) -> View:
    """The window that shows dig, stands and places for earth, as high as it needs or as given."""
    site = plan.site
    shown = [site.corners, site.dig_line, *(one.stand.tracks for one in plan.passes)]
    shown += [truck.ring for truck in plan.trucks]
    shown += rings_of([site.daylight, *(place.ground for place in plan.places)])
    points = np.concatenate([line for line in shown if len(line)])
    if height is not None:
        return _filling(points, width, height)
    if width >= NARROW:
        return view_round(points, width, (0.02, 14.0), 0.6)
    return view_round(points, width, (0.01, 8.0), 0.7)


def close_window(plan: DigPlan, width: float) -> View:
    """The window that shows the dig and the stands alone."""
    site = plan.site
    shown = [site.corners, site.dig_line, *(np.array([one.stand.spot]) for one in plan.passes)]
    return view_round(np.concatenate(shown), width, (0.02, CLOSE_MARGIN), 0.5)


def _filling(points: FloatArray, width: float, height: float) -> View:
    """The window of that size in which the points are as large as they can be."""
    low, high = points.min(axis=0), points.max(axis=0)
    room = np.array([width, height]) - 2 * PAPER_MARGIN
    scale = float(np.min(room / np.maximum(high - low, 1e-9)))
    west, north = (low + high) / 2 + np.array([-width, height]) / scale / 2
    return View(west=float(west), north=float(north), scale=scale, width=width, height=height)


def rings_of(shapes: Iterable[BaseGeometry]) -> list[FloatArray]:
    """The rings of areas, holes with them."""
    return [
        np.asarray(ring.coords)
        for shape in shapes
        for part in shapely.get_parts(shape)
        for ring in (part.exterior, *part.interiors)
    ]


def plan_definitions(drawing: PlanDrawing) -> str:
    """The window and the patterns of areas."""
    return element("defs", window_clip(drawing.view, drawing.name), own.patterns(drawing.name))


def site_layer(drawing: PlanDrawing) -> str:
    """Lot line, areas kept, buildings, the house, the cut's edge, pits, the dig line."""
    site = drawing.plan.site
    keeps = [closed(ring) for _, ring in site.keeps]
    others = [closed(ring) for _, ring in site.buildings]
    extras = [closed(ring) for _, _, rings in site.extras for ring in rings]
    house = [] if site.house is None else [closed(site.house)]
    lot = [] if site.boundary is None else [closed(site.boundary)]
    hatched: dict[str, Attribute] = {"fill": drawing.fill("hatch"), "fill_rule": "evenodd"}
    return "".join(
        [
            drawing.path(keeps, fill=drawing.fill("keep"), **own.KEEP),
            drawing.path(others, fill=inks.PAPER, stroke=inks.INK, stroke_width=1.2),
            drawing.path(rings_of([site.daylight]), **own.EDGE),
            drawing.path(house, fill="none", stroke=inks.FAINT, stroke_width=0.8),
            drawing.path(extras, **hatched, stroke=inks.INK, stroke_width=0.8),
            drawing.path([closed(site.dig_line)], **inks.DIG_LINE),
            drawing.path([closed(site.corners)], **inks.FOUNDATION),
            drawing.path(lot, **lot_inks.LOT_LINE),
        ]
    )


def pile_layer(drawing: PlanDrawing) -> str:
    """Piles as they are cast, places that stay empty, and ground that no stand digs."""
    plan = drawing.plan
    piles = [place for place in plan.places if is_pile(place)]
    empty = [place for place in plan.places if not is_pile(place)]
    return "".join(
        [
            drawing.path(rings_of(place.ground for place in empty), **own.EMPTY),
            drawing.path(rings_of(place.ground for place in piles), fill=drawing.fill("pile"),
                         fill_rule="evenodd", **own.PILE),
            drawing.path(rings_of([plan.left]), fill=drawing.fill("left"), fill_rule="evenodd",
                         **own.LEFT),
        ]
    )  # fmt: skip


def is_pile(place: Place) -> bool:
    """Whether a place has a pile that is seen: earth on ground of its own."""
    return place.height > 0 and not place.ground.is_empty


def reach_layer(drawing: PlanDrawing) -> str:
    """How far all stands reach together."""
    plan = drawing.plan
    reach = shapely.union_all(
        [shapely.Point(one.stand.spot).buffer(plan.machine.reach) for one in plan.passes]
    )
    return drawing.path(rings_of([reach]), **own.REACH_ALL)


def wall_casts(plan: DigPlan) -> list[tuple[FloatArray, FloatArray, float]]:
    """From where each wall's stands stand to where their earth goes, and its share of the most.

    Both are means by volume, each truck apart; what has no spot, like topsoil, is left out.
    """
    sums: dict[tuple[str, str, int | None], list[tuple[float, FloatArray, FloatArray]]] = {}
    for one in plan.passes:
        for cast in one.to:
            if cast.spot is not None:
                ends = np.array(one.stand.spot), np.array(cast.spot)
                sums.setdefault((one.wall, cast.place, cast.truck), []).append(
                    (float(cast.loose), *ends)
                )
    loose = [sum(part[0] for part in parts) for parts in sums.values()]
    most = max(loose, default=1.0)
    return [
        (_mean(parts, 1), _mean(parts, 2), whole / most)
        for parts, whole in zip(sums.values(), loose, strict=True)
        if whole > 0
    ]


def _mean(parts: list[tuple[float, FloatArray, FloatArray]], which: Literal[1, 2]) -> FloatArray:
    weights = np.array([part[0] for part in parts])
    spots = np.array([part[which] for part in parts])
    mean: FloatArray = weights @ spots / weights.sum()
    return mean


def cast_arrows(drawing: PlanDrawing) -> str:
    """An arrow for each wall and place its earth goes to."""
    return "".join(
        arrow(drawing, (tail, tip), share) for tail, tip, share in wall_casts(drawing.plan)
    )


def arrow(drawing: PlanDrawing, ends: tuple[FloatArray, FloatArray], share: float) -> str:
    """A solid arrow between places of the local frame; `share` of the thickest."""
    tail, tip = (drawing.view.pixels(end) for end in ends)
    length = float(np.hypot(*(tip - tail)))
    if length < 4:
        return ""
    along = (tip - tail) / length
    aside = np.array([-along[1], along[0]])
    half = (THINNEST + (THICKEST - THINNEST) * min(share, 1.0)) / 2
    head = min(half * 2 + 5, length * 0.7)
    neck = tip - along * head
    wide = half + 3.5
    ring = [tail + aside * half, neck + aside * half, neck + aside * wide, tip,
            neck - aside * wide, neck - aside * half, tail - aside * half]  # fmt: skip
    return element("path", d=path_data([np.array([*ring, ring[0]])]), **own.ARROW)


def rim_marks(drawing: PlanDrawing) -> str:
    """A triangle at every rim corner."""
    drawn = []
    for corner in drawing.plan.rim_corners:
        across, down = drawing.spot(corner.spot)
        ring = np.array([[across, down - 7], [across + 6.5, down + 5], [across - 6.5, down + 5],
                         [across, down - 7]])  # fmt: skip
        drawn.append(element("path", d=path_data([ring]), class_="rim-corner", **own.RIM))
    return "".join(drawn)


def truck_marks(drawing: PlanDrawing) -> str:
    """Each truck to scale where it is loaded, a beak the way it faces, T and its number on it."""
    drawn = []
    for truck in drawing.plan.trucks:
        middle = drawing.view.pixels(truck.ring).mean(axis=0)  # arrows end on the body behind it
        front = drawing.view.pixels(truck.ring[:2].mean(axis=0))
        way = np.array([np.sin(np.radians(truck.heading)), -np.cos(np.radians(truck.heading))])
        aside = 4.5 * np.array([-way[1], way[0]])
        beak = np.array([front + aside, front + 8 * way, front - aside, front + aside])
        drawn += [
            drawing.path([closed(truck.ring)], class_="truck", **own.TRUCK),
            element("path", d=path_data([beak]), **own.HEADING),
            text(f"T{truck.number}", x=middle[0], y=middle[1] + 0.36 * TRUCK, text_anchor="middle",
                 font_size=TRUCK, font_weight="bold", **own.HALO),
        ]  # fmt: skip
    return "".join(drawn)


def truck_rooms(drawing: PlanDrawing) -> list[BaseGeometry]:
    """What the trucks take, in pixels."""
    return [shapely.Polygon(drawing.view.pixels(t.ring)).buffer(3) for t in drawing.plan.trucks]


def step(drawing: PlanDrawing, one: Pass) -> str:
    """What one pass shows: its ground, the way there, the machine in its reach, its casts."""
    plan, stand = drawing.plan, one.stand
    across, down = (float(value) for value in drawing.spot(stand.spot))
    scale = drawing.view.scale
    most = max((float(c.loose) for p in plan.passes for c in p.to if c.spot), default=1.0)
    casts = [
        arrow(drawing, (np.array(stand.spot), np.array(cast.spot)), cast.loose / most)
        for cast in one.to
        if cast.spot is not None and cast.buckets > 0
    ]
    machine = [
        drawing.path([stand.way], **own.WAY),
        element("circle", cx=across, cy=down, r=plan.machine.reach * scale, **own.REACH),
        drawing.path([closed(stand.tracks)], **own.MACHINE),
        drawing.path(belts(stand), **own.BELT),
        nose(drawing, stand, plan.machine.track_length),
        element("circle", cx=across, cy=down, r=plan.machine.tail_swing * scale, **own.SWING),
        *casts,
    ]
    return element(
        "g",
        drawing.path(rings_of([one.dug]), fill=drawing.fill("dig"), fill_rule="evenodd",
                     class_="ground"),
        element("g", *machine, class_="machine"),
        class_="pass", data_pass=stand.number,
    )  # fmt: skip
