"""Where names and figures go on a drawing: beside their thing, never over one another."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np
from shapely import LineString, MultiLineString, Polygon, box
from shapely.affinity import rotate, translate
from shapely.geometry.base import BaseGeometry

from terrain.base.arrays import FloatArray
from terrain.report.svg import text_width

LINE_HEIGHT = 1.25
SHUNNED_COST = 80.0
COMPASS = tuple(np.linspace(0, 2 * np.pi, 16, endpoint=False))


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A place for a text: its middle in pixels, its turn in degrees, and what choosing it costs.

    `leader` is the point it is tied to; `tie` the line there from the edge of the text.
    """

    middle: tuple[float, float]
    turn: float = 0.0
    cost: float = 0.0
    leader: tuple[float, float] | None = None
    tie: FloatArray | None = None


@dataclass(slots=True, kw_only=True)
class Sheet:
    """The drawing's free room: the window, what is taken already and lines better left clear.

    A text in the `shunned` area costs `shunned_cost` pixels, one over a pixel of line `line_cost`.
    """

    window: Polygon
    lines: MultiLineString
    shunned: BaseGeometry = field(default_factory=Polygon)
    taken: list[Polygon] = field(default_factory=list)
    line_cost: float = 1.0
    shunned_cost: float = SHUNNED_COST

    def place(
        self, content: str, size: float, spots: Iterator[Spot], most_covered: float = np.inf
    ) -> Spot | None:
        """The cheapest spot where the text is in the window and over no other; None if none is.

        Covering a pixel of line costs as much as standing a pixel away; a spot that covers more
        than `most_covered` pixels is not taken. The room of the spot is then taken.
        """
        width, height = text_width(content, size) + 4, LINE_HEIGHT * size
        best: tuple[float, Spot, list[Polygon]] | None = None
        for spot in spots:
            if best is not None and spot.cost >= best[0]:
                continue
            room = _room(spot, width, height)
            if not self.window.contains(room[0]) or any(
                mine.intersects(other) for mine in room for other in self.taken
            ):
                continue
            covered = room[0].intersection(self.lines).length
            cost = (
                spot.cost
                + self.line_cost * covered
                + self.shunned_cost * room[0].intersects(self.shunned)
            )
            if covered <= most_covered and (best is None or cost < best[0]):
                best = cost, spot, room
        if best is None:
            return None
        _, spot, room = best
        self.taken.extend(room)
        tie = _tie(spot, room[0])
        return replace(spot, tie=None if tie.is_empty else np.asarray(tie.coords))


def text_rooms(content: str, size: float, spot: Spot) -> list[Polygon]:
    """What a text takes at a spot, in pixels: its own box, and a strip along its leader."""
    return _room(spot, text_width(content, size) + 4, LINE_HEIGHT * size)


def _room(spot: Spot, width: float, height: float) -> list[Polygon]:
    """The text's own box, and a thin strip along its leader."""
    across, down = spot.middle
    own = box(-width / 2, -height / 2, width / 2, height / 2)
    own = translate(rotate(own, spot.turn, origin=(0, 0)), across, down)
    tie = _tie(spot, own)
    return [own] if tie.is_empty else [own, tie.buffer(1.5)]


def _tie(spot: Spot, own: Polygon) -> LineString:
    """The line from the text's box to the point it is tied to; empty for none."""
    if spot.leader is None:
        return LineString()
    return LineString([spot.middle, spot.leader]).difference(own)


def along_wall(start: FloatArray, end: FloatArray, out: float, length: float) -> Iterator[Spot]:
    """Spots beside a wall for a text of `length` pixels, along it where it is long enough.

    Args:
        start: the wall's first corner in pixels; going on, the outside is to the right.
        end: its other corner.
        out: how far out the text stands at least, in pixels.
        length: of the text.

    """
    wall = float(np.hypot(*(end - start)))
    if wall == 0:
        return
    along = (end - start) / wall
    outward = np.array([-along[1], along[0]])
    if wall >= 0.8 * length:
        turn = _upright(np.degrees(np.arctan2(along[1], along[0])))
        slack = max(wall - length, 0) / 2
        for off in (0.0, 7.0, 14.0, 22.0, 32.0):
            for share in (0.0, -0.5, 0.5, -1.0, 1.0):
                middle = (start + end) / 2 + along * slack * share + outward * (out + off)
                yield Spot(middle=_pair(middle), turn=turn, cost=off + 6 * abs(share))
    tied_to = (start + end) / 2 + outward * 0.6 * out
    yield from around(tied_to, outward, out, length, np.pi / 2)


def around(
    thing: FloatArray, outward: FloatArray, out: float, length: float, widest: float = np.pi
) -> Iterator[Spot]:
    """Level spots about a thing, tied to it by a leader, those to the `outward` side first.

    `widest` is the angle from outward that a leader may take at most.
    """
    bearing = float(np.arctan2(outward[1], outward[0]))
    for off in (18.0, 30.0, 44.0, 60.0, 80.0, 105.0, 140.0):
        for swing in COMPASS:
            aside = abs(np.angle(np.exp(1j * (swing - bearing))))
            if aside > widest:
                continue
            step = np.array([np.cos(swing), np.sin(swing)])
            reach = out + off + abs(step[0]) * length / 2
            spot = thing + step * np.array([reach, out + off])
            yield Spot(middle=_pair(spot), cost=60 + off + 40 * float(aside), leader=_pair(thing))


def along_line(line: FloatArray, apart: float) -> Iterator[Spot]:
    """Level spots on a line, every `apart` pixels, the middle of the line first."""
    whole = LineString(line)
    count = max(int(whole.length / apart), 1)
    for k in range(count):
        share = (k + 0.5) / count
        point = whole.interpolate(share, normalized=True)
        yield Spot(middle=(point.x, point.y), cost=4 * abs(share - 0.5))


def _upright(turn: float) -> float:
    """The turn by which a text along a line is read without standing on one's head."""
    turn = (turn + 180) % 360 - 180
    if turn > 90 - 1e-9:
        return turn - 180
    return turn + 180 if turn <= -90 - 1e-9 else turn


def _pair(point: FloatArray) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def inside(area: Polygon, length: float, height: float) -> Iterator[Spot]:
    """Level spots for a text wholly inside an area, those near its middle first."""
    west, top, east, bottom = area.bounds
    middle = area.representative_point()
    for share_across in np.linspace(0.1, 0.9, 9):
        for share_down in np.linspace(0.1, 0.9, 9):
            across, down = west + share_across * (east - west), top + share_down * (bottom - top)
            own = box(
                across - length / 2, down - height / 2, across + length / 2, down + height / 2
            )
            if area.contains(own):
                away = float(np.hypot(across - middle.x, down - middle.y))
                yield Spot(middle=(float(across), float(down)), cost=0.3 * away)
