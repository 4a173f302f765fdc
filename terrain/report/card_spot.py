"""The small drawing of one stand on the card: the machine's middle, and the tapes that find it."""

from collections.abc import Iterator

import numpy as np
from shapely import MultiLineString, Point, box

from terrain.base.arrays import FloatArray
from terrain.job.dig_plan_record import DigPlan
from terrain.job.dig_plan_set_out import SetOut
from terrain.report import dig_plan_inks as own
from terrain.report import figures, inks
from terrain.report.dig_plan_drawing import rings_of
from terrain.report.dig_plan_marks import belts, corner_letters, nose
from terrain.report.dig_plan_names import north_taken
from terrain.report.dig_plan_room import Put, letter_box, letter_places
from terrain.report.dig_plan_sheet import PlanDrawing, heading_of, view_about
from terrain.report.drawing import closed, window_clip
from terrain.report.frame import Framed, framed
from terrain.report.labels import Sheet
from terrain.report.labels import Spot as LabelSpot
from terrain.report.names import plain
from terrain.report.naming import north_place
from terrain.report.svg import element, path_data, text_width
from terrain.report.view import View
from terrain.report.written import Written

WIDTH, TALLEST, LEAST, SIZE = 344.0, 210.0, 120.0, 14.0
MARGIN, MACHINE = 34.0, 130.0
"""Pixels round what is shown, and how long the tracks are at most."""


def card_spot_svg(plan: DigPlan, told: SetOut) -> str:
    """Wall, machine and measures of one stand, north up, to scale."""
    stand = told.one.stand
    drawing = PlanDrawing(
        plan=plan, view=_window(plan, told), size=SIZE, name=f"spot{stand.number}"
    )
    site = plan.site
    lines = _measures(plan, told)
    letters = letter_places(drawing, [drawing.spot(stand.spot)])
    north = _north(drawing, told, letters)
    figures_drawn = _figures(drawing, told, letters, north)
    sheet = Framed(
        view=drawing.view,
        name=drawing.name,
        title=f"Where stand {stand.number} is: {plain(stand.wall)}",
        unit=figures.unit_sign(plan.length_unit),
        size=SIZE - 2,
        notes=(),
        keys=(),
        north=north,
    )
    return framed(
        sheet,
        element("defs", window_clip(drawing.view, drawing.name)),
        drawing.path(rings_of([site.daylight]), **own.EDGE),
        drawing.path([closed(site.dig_line)], **inks.DIG_LINE),
        drawing.path([closed(site.corners)], **inks.FOUNDATION),
        drawing.path([closed(stand.tracks)], **own.MACHINE),
        drawing.path(belts(stand), **own.BELT),
        nose(drawing, stand, plan.machine.track_length),
        "".join(_measure(drawing, one, two) for _, one, two, _ in lines),
        _cross(drawing.spot(stand.spot)),
        figures_drawn,
        corner_letters(drawing, [tape for tape, *_ in lines if tape is not None], letters),
    )


def _measures(
    plan: DigPlan, told: SetOut
) -> list[tuple[int | None, FloatArray, FloatArray, float]]:
    """The lines taped: from which corner, both ends, and how long."""
    spot, middle = told.spot, np.array(told.one.stand.spot)
    corners = plan.site.corners
    if spot.past or spot.corner is None or spot.foot is None:
        return [(tape.corner, corners[tape.corner], middle, tape.length) for tape in spot.tapes]
    return [
        (spot.corner, corners[spot.corner], spot.foot, spot.along),
        (None, spot.foot, middle, abs(spot.inside)),
    ]


def _window(plan: DigPlan, told: SetOut) -> View:
    ends = [end for _, one, two, _ in _measures(plan, told) for end in (one, two)]
    points = np.vstack([told.one.stand.tracks, *ends])
    largest = MACHINE / plan.machine.track_length
    return view_about(points, largest, (WIDTH, TALLEST, LEAST, MARGIN))


def _measure(drawing: PlanDrawing, one: FloatArray, two: FloatArray) -> str:
    """A measured line with ticks at its ends."""
    ends = drawing.view.pixels(np.stack([one, two]))
    run = ends[1] - ends[0]
    far = float(np.hypot(*run))
    if far < 1.0:
        return ""
    aside = np.array([-run[1], run[0]]) / far
    ticks = [np.stack([end - 6 * aside, end + 6 * aside]) for end in ends]
    return element("path", d=path_data([ends]), **own.TAPE_UNDER) + element(
        "path", d=path_data([ends, *ticks]), **own.TAPE
    )


def _north(drawing: PlanDrawing, told: SetOut, letters: dict[int, Put]) -> FloatArray:
    """Where the north arrow stands: over no letter, no measure and not over the machine."""
    view = drawing.view
    boxes = [np.array(letter_box(k, put.middle).exterior.coords) for k, put in letters.items()]
    shown = [np.stack([one, two]) for _, one, two, _ in _measures(drawing.plan, told)]
    shown.append(closed(told.one.stand.tracks))
    return north_place(view, MultiLineString([*boxes, *(view.pixels(line) for line in shown)]))


def _figures(drawing: PlanDrawing, told: SetOut, letters: dict[int, Put], north: FloatArray) -> str:
    """The length of each measure on it or beside it, over no other and over no letter."""
    view, stand = drawing.view, told.one.stand
    ahead = drawing.plan.machine.track_length / 2 * view.scale + 7  # where the beak is
    measures = _measures(drawing.plan, told)
    lines = [view.pixels(np.stack([one, two])) for _, one, two, _ in measures]
    sheet = Sheet(
        window=box(2, 2, view.width - 2, view.height - 2),
        lines=MultiLineString(lines),
        taken=[
            *(letter_box(k, put.middle) for k, put in letters.items()),
            north_taken(north),
            Point(drawing.spot(stand.spot)).buffer(6),
            Point(drawing.spot(stand.spot) + ahead * heading_of(stand)).buffer(7),
        ],
    )
    said = [figures.length(length, drawing.plan.length_unit) for *_, length in measures]
    found: dict[int, LabelSpot | None] = {}
    for k in sorted(range(len(measures)), key=lambda k: measures[k][3]):
        if np.hypot(*(lines[k][1] - lines[k][0])) >= 1.0:
            found[k] = sheet.place(said[k], SIZE + 1, _beside(lines[k], said[k]))
    written = Written()
    for k in sorted(found):
        written.add(said[k], found[k], SIZE + 1, font_weight="bold")
    return written.markup()


def _beside(line: FloatArray, said: str) -> Iterator[LabelSpot]:
    """Spots for a measure's figure: by its line, near its middle first, farther with a leader."""
    run = line[1] - line[0]
    far = float(np.hypot(*run))
    aside = np.array([-run[1], run[0]]) / far
    half = np.array([text_width(said, SIZE + 1) / 2 + 3, SIZE * 0.7])
    clear = float(np.abs(aside) @ half)
    for share in (0.5, 0.35, 0.65, 0.2, 0.8):
        at = line[0] + share * run
        if far > 4 * half[0]:
            yield LabelSpot(middle=(float(at[0]), float(at[1])), cost=30 * abs(share - 0.5))
        for off in (0.0, 8.0, 18.0, 30.0, 44.0, 60.0):
            for side in (1.0, -1.0):
                spot = at + side * (clear + off) * aside
                yield LabelSpot(
                    middle=(float(spot[0]), float(spot[1])),
                    cost=8 + off + 30 * abs(share - 0.5),
                    leader=(float(at[0]), float(at[1])) if off > 8 else None,
                )


def _cross(at: FloatArray) -> str:
    lines = [
        np.stack([at - arm, at + arm]) for arm in (np.array([6.0, 6.0]), np.array([6.0, -6.0]))
    ]
    return element("path", d=path_data(lines), **own.CROSS)
