"""The layers of the dig plan's drawing under its names: the site, piles, stands, arrows."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from terrain.base.arrays import FloatArray
from terrain.job.dig_plan_record import DigPlan, Pass, Place, Stand
from terrain.report import dig_plan_inks as own
from terrain.report import inks, lot_inks
from terrain.report.drawing import closed, window_clip
from terrain.report.svg import Attribute, element, path_data, text
from terrain.report.view import NARROW, View, view_round

RADIUS, SMALL_RADIUS = 8.0, 6.2
BEAK, SMALL_BEAK = 7.0, 4.0
"""Pixels: of the circle round a stand's number, and how far the beak stands out of it."""

THINNEST, THICKEST = 2.0, 9.0
"""Pixels: how thick an arrow of hardly any earth is, and that of the most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanDrawing:
    """What one dig plan is drawn from; `size` is of its letters in pixels, `name` opens its ids."""

    plan: DigPlan
    view: View
    size: float
    name: str

    @property
    def radius(self) -> float:
        """Of the circle round a stand's number."""
        return SMALL_RADIUS if self.view.width < NARROW else RADIUS

    @property
    def beak(self) -> float:
        """How far a stand's beak stands out of its circle."""
        return SMALL_BEAK if self.view.width < NARROW else BEAK

    def spot(self, place: tuple[float, float]) -> FloatArray:
        """Where a place of the local frame falls, in pixels."""
        return self.view.pixels(np.array(place))

    def path(self, rings: Iterable[FloatArray], **style: Attribute) -> str:
        """Lines of the local frame as one path; nothing where there are none."""
        data = path_data(self.view.lines(rings))
        return element("path", d=data, **style) if data else ""

    def fill(self, kind: str) -> str:
        """A pattern of this drawing."""
        return f"url(#{self.name}-{kind})"


def window_of(plan: DigPlan, width: float) -> View:
    """The window that shows dig, stands and places for earth."""
    site = plan.site
    shown = [site.corners, site.dig_line, *(one.stand.tracks for one in plan.passes)]
    shown += rings_of([site.daylight, *(place.ground for place in plan.places)])
    points = np.concatenate([line for line in shown if len(line)])
    if width >= NARROW:
        return view_round(points, width, (0.02, 14.0), 0.6)
    return view_round(points, width, (0.01, 8.0), 0.7)


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
            drawing.path(keeps, fill="none", **lot_inks.KEEP),
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


def standing_layer(drawing: PlanDrawing) -> str:
    """The ground under the tracks at every stand, and how far all stands reach together."""
    plan = drawing.plan
    reach = shapely.union_all(
        [shapely.Point(one.stand.spot).buffer(plan.machine.reach) for one in plan.passes]
    )
    return drawing.path(rings_of([reach]), **own.REACH_ALL) + drawing.path(
        [closed(one.stand.tracks) for one in plan.passes], **own.TRACKS
    )


def mark_places(drawing: PlanDrawing) -> dict[int, FloatArray]:
    """Where each stand's number goes, in pixels: at its spot, or beside it where another is."""
    taken: list[FloatArray] = []
    found = {}
    for one in drawing.plan.passes:
        spot = drawing.spot(one.stand.spot)
        found[one.stand.number] = _free(spot, taken, 2 * drawing.radius + 0.5)
        taken.append(found[one.stand.number])
    return found


def _free(spot: FloatArray, taken: list[FloatArray], apart: float) -> FloatArray:
    """The place nearest to a spot that is so far apart from all that are taken."""
    for away in np.arange(0.0, 6.0) * 0.5 * apart:
        for turn in np.linspace(0, 2 * np.pi, 16, endpoint=False):
            place: FloatArray = spot + away * np.array([np.cos(turn), np.sin(turn)])
            if all(np.hypot(*(place - other)) >= apart for other in taken):
                return place
    return spot


def stand_mark(drawing: PlanDrawing, stand: Stand, place: FloatArray) -> str:
    """A stand's number in a circle at a place in pixels, its beak the way the machine faces."""
    across, down = (float(value) for value in place)
    radius, size = drawing.radius, drawing.size - (2 if stand.number < 100 else 4)
    ahead = heading_of(stand)
    aside = np.array([-ahead[1], ahead[0]])
    beak = [place + ahead * (radius + drawing.beak),
            place + ahead * radius * 0.6 + aside * radius * 0.75,
            place + ahead * radius * 0.6 - aside * radius * 0.75]  # fmt: skip
    tie = path_data([np.stack([drawing.spot(stand.spot), place])])
    return element(
        "g",
        element("path", d=tie, **inks.LEADER) if len(tie) > 1 else "",
        element("path", d=path_data([np.array([*beak, beak[0]])]), **own.HEADING),
        element("circle", cx=across, cy=down, r=radius, **own.CIRCLE),
        text(f"{stand.number}", x=across, y=down + 0.36 * size, text_anchor="middle",
             font_size=size, font_weight="bold", fill=inks.INK),
        class_="stand", data_stand=stand.number,
    )  # fmt: skip


def heading_of(stand: Stand) -> FloatArray:
    """The way a machine faces in the picture, where north is up: right and down."""
    turn = np.radians(stand.heading)
    return np.array([np.sin(turn), -np.cos(turn)])


def wall_casts(plan: DigPlan) -> list[tuple[FloatArray, FloatArray, float]]:
    """From where each wall's stands stand to where their earth goes, and its share of the most.

    Both are means by volume; places without a spot, the truck and the topsoil, are left out.
    """
    sums: dict[tuple[str, str], list[tuple[float, FloatArray, FloatArray]]] = {}
    for one in plan.passes:
        for cast in one.to:
            if cast.spot is not None:
                ends = np.array(one.stand.spot), np.array(cast.spot)
                sums.setdefault((one.wall, cast.place), []).append((float(cast.loose), *ends))
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


def step(drawing: PlanDrawing, one: Pass) -> str:
    """What one pass shows: its ground, the way there, the machine in its reach, its casts."""
    plan, stand = drawing.plan, one.stand
    across, down = (float(value) for value in drawing.spot(stand.spot))
    scale = drawing.view.scale
    most = max((float(c.loose) for p in plan.passes for c in p.to if c.spot), default=1.0)
    casts = [
        arrow(drawing, (np.array(stand.spot), np.array(cast.spot)), cast.loose / most)
        for cast in one.to
        if cast.spot is not None
    ]
    machine = [
        drawing.path([stand.way], **own.WAY),
        element("circle", cx=across, cy=down, r=plan.machine.reach * scale, **own.REACH),
        drawing.path([closed(stand.tracks)], **own.MACHINE),
        drawing.path(_belts(stand), **own.BELT),
        _nose(drawing, stand, plan.machine.track_length),
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


def _nose(drawing: PlanDrawing, stand: Stand, track_length: float) -> str:
    """A beak before the tracks, the way the machine faces."""
    ahead = heading_of(stand)
    aside = np.array([-ahead[1], ahead[0]])
    foot = drawing.spot(stand.spot) + ahead * (track_length / 2 * drawing.view.scale + 2)
    ring = [foot + aside * 6, foot + ahead * 10, foot - aside * 6, foot + aside * 6]
    return element("path", d=path_data([np.array(ring)]), class_="nose", **own.HEADING)


def _belts(stand: Stand) -> list[FloatArray]:
    """The two tracks within the footprint: its outer quarters along the heading."""
    corners = stand.tracks
    turn = np.radians(stand.heading)
    ahead = np.array([np.sin(turn), np.cos(turn)])
    first, second = corners[1] - corners[0], corners[2] - corners[1]
    lengthwise = abs(first @ ahead) > abs(second @ ahead)
    start = corners if lengthwise else np.roll(corners, -1, axis=0)
    a, b, c, d = start
    return [
        np.array([a, b, b + (c - b) * 0.26, a + (d - a) * 0.26, a]),
        np.array([d, c, c + (b - c) * 0.26, d + (a - d) * 0.26, d]),
    ]
