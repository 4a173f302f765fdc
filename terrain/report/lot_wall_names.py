"""The names of walls on a lot plan: beside their wall, or a letter told under the plan."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from shapely import LineString, Polygon, distance, union_all
from shapely.geometry.base import BaseGeometry

from terrain.report.labels import Sheet, Spot, along_wall, text_rooms
from terrain.report.lot_drawing import LotDrawing
from terrain.report.names import plain, shortened
from terrain.report.svg import text_width
from terrain.report.written import SHORTEST_NAME, Written

LONGEST_NAME = 20
FARTHEST_NAME = 110.0
"""What the spot of a wall's name may cost at most: farther off it is not read as that wall's."""

LETTERS = "abcdefghijklmnopqrstuvwxyz"
"""What a wall is marked by whose name has no room; the name then stands under the plan."""


def name_walls(drawing: LotDrawing, sheet: Sheet, written: Written) -> list[tuple[str, str]]:
    """Each wall's name outside it, short walls first: they have the least choice.

    A wall whose name has no room near it gets a letter. Returned are letters and names.
    """
    design, size = drawing.plan.design, drawing.size
    corners = drawing.view.pixels(design.house)
    ends = np.roll(corners, -1, axis=0)
    lengths = np.hypot(*(ends - corners).T)
    shunned = _not_for_names(drawing)
    walls = [LineString(pair) for pair in zip(corners, ends, strict=True)]
    done: set[str] = set()
    lettered: list[tuple[str, str]] = []
    for k in np.argsort(lengths, kind="stable").tolist():
        name = design.walls[k]
        if name in done:
            continue
        done.add(name)
        letter = LETTERS[len(lettered) % len(LETTERS)]
        shown = shortened(plain(name), LONGEST_NAME)
        room = NameRoom(shunned=shunned, own=walls[k], others=[w for w in walls if w != walls[k]])
        for said, off in ((shown, 0.8), (shortened(shown, SHORTEST_NAME), 0.8), (letter, 0.6)):
            # pixels run downwards, so an outline that goes round to the left has its inside left
            spots = along_wall(corners[k], ends[k], off * size, text_width(said, size))
            spot = sheet.place(said, size, _near(spots, said, size, room))
            if spot is not None:
                break
        written.add(said, spot, size, font_weight=600.0)
        if spot is not None and said == letter:
            lettered.append((letter, plain(name)))
    return lettered


def _not_for_names(drawing: LotDrawing) -> BaseGeometry:
    """The house, and the swales: a wall's name there would be taken for the name of the place."""
    view, design = drawing.view, drawing.plan.design
    # half a pixel in, so that a name may stand right at its wall
    house = Polygon(view.pixels(design.house)).buffer(-0.5)
    swales = [
        LineString(view.pixels(s.line)).buffer(view.scale * s.width / 2) for s in design.swales
    ]
    return union_all([house, *swales])


@dataclass(frozen=True, slots=True, kw_only=True)
class NameRoom:
    """Where a wall's name may stand, in pixels: off what is `shunned`, nearer its `own` wall."""

    shunned: BaseGeometry
    own: LineString
    others: list[LineString]

    def holds(self, rooms: list[Polygon]) -> bool:
        """Whether a text, and its leader, may stand there."""
        if any(room.intersects(self.shunned) for room in rooms):
            return False
        return bool(rooms[0].distance(self.own) <= min(distance(rooms[0], self.others)) + 1.0)


def _near(spots: Iterator[Spot], content: str, size: float, room: NameRoom) -> Iterator[Spot]:
    """Those spots near their wall at which neither text nor leader would be misread."""
    for spot in spots:
        if spot.cost <= FARTHEST_NAME and room.holds(text_rooms(content, size, spot)):
            yield spot
