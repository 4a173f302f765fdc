"""The balance as a picture: round the house, what each side gives and what it needs, to scale.

Each side has two half discs back to back, by area to one scale: on the left what it gives, on the
right what it needs, both in bank.
"""

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from shapely import LineString, Polygon, box

from terrain.base.arrays import FloatArray
from terrain.job.grade_answer import GradeAnswer
from terrain.job.lot_plan import LotPlan
from terrain.ledger.lot_rows import LotRow
from terrain.report import figures, inks, lot_inks
from terrain.report.drawing import closed
from terrain.report.key import NICE_LENGTHS, KeyItem, flow
from terrain.report.names import plain, shortened
from terrain.report.svg import Attribute, element, path_data, text, text_width
from terrain.report.view import NARROW

HOUSE_SHARE = {"wide": 0.42, "narrow": 0.2}
"""The house's longer side as a share of the drawing's width."""

MOST_RADIUS = {"wide": 46.0, "narrow": 31.0}
LONGEST_NAME = 14
GAP, LINE = 7.0, 1.2
OFF_WALL, ELBOW = 5.0, 13.0
"""Pixels out of the wall where a leader begins, and where it bends."""

SHIFTS = (0.0, 20.0, -20.0, 40.0, -40.0, 60.0, -60.0)
"""Pixels by which the columns may stand lower than the house."""

THROUGH_HOUSE, DETOUR = 400.0, 150.0
"""What it costs, in pixels of leader, if one goes through house, side or leader; or round."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """What is drawn: `pixels` of radius a half disc of one volume unit has; `size` of letters."""

    answer: GradeAnswer
    plan: LotPlan
    width: float
    scale: float
    size: float
    name: str
    pixels: float

    def radius(self, volume: float) -> float:
        """The radius of the half disc of a volume in bank."""
        return self.pixels * float(np.sqrt(max(volume, 0.0)))

    def places(self, ring: FloatArray) -> FloatArray:
        """Places (m, 2) of the local frame in pixels, the house's middle at nought."""
        house = self.plan.design.house
        middle = (house.min(axis=0) + house.max(axis=0)) / 2
        return np.asarray((ring - middle) * self.scale * [1, -1])


def balance_svg(answer: GradeAnswer, plan: LotPlan, width: float, name: str) -> str:
    """A drawing `width` pixels wide; `name` keeps its ids apart from others on the page."""
    kind = "narrow" if width < NARROW else "wide"
    most = max((max(row.gives, row.needs) for row in answer.walls), default=0.0)
    picture = Picture(
        answer=answer,
        plan=plan,
        width=width,
        scale=HOUSE_SHARE[kind] * width / float(np.ptp(plan.design.house, axis=0).max()),
        size=10.5 if kind == "narrow" else 12.0,
        name=name,
        pixels=MOST_RADIUS[kind] / float(np.sqrt(most)) if most > 0 else 0.0,
    )
    house = picture.places(closed(plan.design.house))
    placed = _placed(picture)
    reach = [house[:, 1], *(each.tie[:, 1] for each in placed)]
    reach += [np.array([-1, 1]) * each.size[1] / 2 + each.middle[1] for each in placed]
    top = min(float(heights.min()) for heights in reach) - 4
    floor = max(float(heights.max()) for heights in reach) + 14
    key, bottom = flow(_key_items(picture), width, floor, picture.size)
    drawn = element(
        "g",
        element("path", d=path_data([house]), **{**inks.FOUNDATION, "fill": inks.LAND}),
        *(_side(picture, each) for each in placed),
        transform=f"translate({width / 2:g} 0)",
    )
    return element(
        "svg",
        element("defs", lot_inks.patterns(name)),
        drawn,
        key,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"-1 {top:.0f} {width + 2:g} {bottom - top:.0f}",
        role="img",
        aria_label=f"What each side gives and needs: {plain(answer.title)}",
        font_family=inks.FACE,
        class_=f"plan {name}",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A side with the middle and size of its box in pixels, and the line that ties it."""

    row: LotRow
    middle: tuple[float, float]
    size: tuple[float, float]
    tie: FloatArray


def _placed(picture: Picture) -> list[Placed]:
    """Every side in a column on the right or the left, in the order one walks round the house.

    Of all places to begin the walk, and heights of the house beside them, those with the shortest
    leaders, none through the house.
    """
    rows = sorted(picture.answer.walls, key=lambda row: _bearing(_wall_of(picture, row.wall)))
    house = Polygon(picture.places(picture.plan.design.house))
    turned = [rows[first:] + rows[:first] for first in range(len(rows))]
    found = [_in_columns(picture, order, shift) for order in turned for shift in SHIFTS]
    return min(found, key=lambda placed: _cost(placed, house), default=[])


def _bearing(wall: "_Wall") -> float:
    """Clockwise from straight up, as seen from the middle of the house."""
    middle = (wall.start + wall.end) / 2
    return float(np.arctan2(middle[0], -middle[1]) % (2 * np.pi))


def _cost(placed: list[Placed], house: Polygon) -> float:
    lines = [LineString(each.tie) for each in placed]
    through = sum(line.intersects(house) for line in lines)
    rooms = [_room(each) for each in placed]
    through += sum(
        line.intersects(room)
        for k, line in enumerate(lines)
        for m, room in enumerate(rooms)
        if k != m
    )
    crossed = sum(one.crosses(two) for one, two in combinations(lines, 2))
    detours = sum(len(each.tie) > 3 for each in placed)
    length = sum(line.length for line in lines)
    return float(length + THROUGH_HOUSE * (through + crossed) + DETOUR * detours)


def _room(placed: Placed) -> Polygon:
    """The box of a side."""
    (across, down), (wide, tall) = placed.middle, placed.size
    return box(across - wide / 2, down - tall / 2, across + wide / 2, down + tall / 2)


def _in_columns(picture: Picture, rows: list[LotRow], shift: float) -> list[Placed]:
    """The first half of the rows down the right column, the rest up the left one.

    Both columns stand `shift` pixels lower than the house.
    """
    sizes = [_size(picture, row) for row in rows]
    heights = np.cumsum([size[1] for size in sizes])
    split = int(np.searchsorted(heights, heights[-1] / 2)) + 1
    columns = ((1.0, list(range(split))), (-1.0, list(range(split, len(rows)))[::-1]))
    tall = max(sum(sizes[k][1] for k in own) for _, own in columns)
    placed = []
    for way, own in columns:
        wide = max((sizes[k][0] for k in own), default=0.0)
        across = way * (picture.width / 2 - wide / 2 - 1)
        spare = (tall - sum(sizes[k][1] for k in own)) / max(len(own), 1)
        down = shift - tall / 2
        for k in own:
            down += (sizes[k][1] + spare) / 2
            middle = (across, down)
            placed.append(
                Placed(row=rows[k], middle=middle, size=sizes[k],
                       tie=_tie(picture, rows[k], (middle[0] - way * (sizes[k][0] / 2 + 2), down)))
            )  # fmt: skip
            down += (sizes[k][1] + spare) / 2
    return placed


def _tie(picture: Picture, row: LotRow, end: tuple[float, float]) -> FloatArray:
    """From just off a row's wall out, then straight to the near edge of its box.

    Where that would go through the house, it goes past the house's side first.
    """
    wall = _wall_of(picture, row.wall)
    face = (wall.start + wall.end) / 2
    bend = [face + out * wall.outward for out in (OFF_WALL, ELBOW)]
    straight = np.array([*bend, end])
    house = picture.places(picture.plan.design.house)
    if not LineString(straight).intersects(Polygon(house)):
        return straight
    side = float(np.abs(house[:, 0]).max()) + ELBOW
    return np.array([*bend, (np.sign(end[0]) * side, bend[1][1]), end])


def _told(row: LotRow) -> list[tuple[str, float]]:
    """What stands under a side's half discs, line by line, and its weight."""
    return [
        (f"{shortened(plain(row.wall), LONGEST_NAME)} {figures.signed(row.surplus)}", 700.0),
        (f"{figures.volume(row.gives)} | {figures.volume(row.needs)}", 400.0),
    ]


def _high(picture: Picture, row: LotRow) -> float:
    """Half the height of a side's half discs."""
    return max(picture.radius(row.gives), picture.radius(row.needs), 3.0)


def _size(picture: Picture, row: LotRow) -> tuple[float, float]:
    """How wide and high a side's half discs with their words are, in pixels."""
    size, high = picture.size, _high(picture, row)
    words = max(text_width(content, size) for content, _ in _told(row))
    return max(2 * high, words) + GAP, 2 * high + 2 * LINE * size + GAP


def _side(picture: Picture, placed: Placed) -> str:
    """One side's half discs and figures, tied to its wall."""
    row, size = placed.row, picture.size
    high = _high(picture, row)
    across, top = placed.middle[0], placed.middle[1] - (placed.size[1] - GAP) / 2
    middle = top + high
    drawn = [element("path", d=path_data([placed.tie]), **inks.LEADER)]
    for volume, kind, side in ((row.gives, "cut", "left"), (row.needs, "fill", "right")):
        fill = f"url(#{picture.name}-{kind})"
        drawn.append(_half(across, middle, picture.radius(volume), fill, side))
    spine = f"M{across:.1f} {middle - high:.1f}V{middle + high:.1f}"
    drawn.append(element("path", d=spine, stroke=inks.INK, stroke_width=1.0))
    for line, (words, weight) in enumerate(_told(row)):
        drawn.append(
            text(words, x=across, y=top + 2 * high + (line + 0.95) * LINE * size, font_size=size,
                 text_anchor="middle", font_weight=weight, fill=inks.INK)
        )  # fmt: skip
    return "".join(drawn)


def _half(across: float, middle: float, radius: float, fill: str, side: str) -> str:
    """Half a disc on one side of a spine."""
    sweep = 0 if side == "left" else 1
    d = f"M{across:.1f} {middle - radius:.1f}A{radius:.1f} {radius:.1f} 0 0 {sweep} "
    d += f"{across:.1f} {middle + radius:.1f}Z"
    return element("path", d=d, fill=fill, stroke=inks.INK, stroke_width=0.8)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wall:
    """The longest wall of a name, in pixels: its ends, and which way is out of it."""

    start: FloatArray
    end: FloatArray
    outward: FloatArray


def _wall_of(picture: Picture, name: str) -> _Wall:
    """The longest wall of a name: of the house, or of the foundation where the house has none."""
    design = picture.plan.design
    is_house = name in design.walls
    names = design.walls if is_house else picture.plan.walls
    corners = picture.places(design.house if is_house else picture.plan.foundation)
    ends = np.roll(corners, -1, axis=0)
    own = [k for k, wall in enumerate(names) if wall == name]
    longest = max(own, key=lambda k: float(np.hypot(*(ends[k] - corners[k]))))
    along = ends[longest] - corners[longest]
    # counter-clockwise on the ground, but pixels run downwards: the outside is to the right
    outward = np.array([-along[1], along[0]]) / np.hypot(*along)
    return _Wall(start=corners[longest], end=ends[longest], outward=outward)


def _key_items(picture: Picture) -> list[KeyItem]:
    """What the halves mean, and one half disc of a round volume to measure by."""
    unit = figures.unit_sign(picture.answer.volume_unit)
    edge: dict[str, Attribute] = {"stroke": inks.INK, "stroke_width": 0.8}

    def half(kind: str, side: str) -> str:
        return _half(12.0, 5.0, 8.0, f"url(#{picture.name}-{kind})", side)

    items = [
        KeyItem(sample=half("cut", "left"), words=f"left: gives, {unit} bank"),
        KeyItem(sample=half("fill", "right"), words=f"right: needs, {unit} bank"),
        KeyItem(sample=element("path", d="M7 5H17M12 0V10", **edge),
                words="name and surplus: + too much, − too little"),
    ]  # fmt: skip
    fits = [n for n in NICE_LENGTHS if 0 < picture.radius(n) <= 9.5]
    if fits:
        own = _half(16.0, 5.0, picture.radius(fits[-1]), inks.PAPER, "left")
        items.append(KeyItem(sample=own, words=f"a half of this size: {fits[-1]:g} {unit}"))
    return items
