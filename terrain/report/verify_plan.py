"""The hole as dug as inline SVG: high and low floor, walls to trim, the spots to dig out to."""

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiLineString, box

from terrain.base.arrays import FloatArray
from terrain.job.verify_record import Verified, WallChecked, stake_names
from terrain.report import figures, inks, lot_inks
from terrain.report.drawing import closed, thinned, window_clip
from terrain.report.frame import Framed, framed
from terrain.report.key import KeyItem, area_item, line_item
from terrain.report.labels import Sheet, along_wall, around
from terrain.report.names import plain, shortened
from terrain.report.naming import north_room
from terrain.report.svg import Attribute, dots_data, element, path_data, text_width
from terrain.report.view import NARROW, View, view_round
from terrain.report.written import LONGEST_NAME, SHORTEST_NAME, Written

MARGIN = (0.02, 46.0)
MOST_SHOTS = 1500
SHOT: dict[str, Attribute] = {**inks.SHOT, "stroke": inks.INK, "stroke_width": 2.2}
DUG: dict[str, Attribute] = {"fill": inks.PAPER, "stroke": inks.INK, "stroke_width": 1.4}
TRIM: dict[str, Attribute] = {
    "fill": "none", "stroke": inks.INK, "stroke_width": 5.0, "stroke_dasharray": "1.5 3",
}  # fmt: skip
STAKE: dict[str, Attribute] = {"fill": inks.PAPER, "stroke": inks.INK, "stroke_width": 1.6}


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleSheet:
    """A hole to draw `width` pixels wide; `name` opens its ids."""

    found: Verified
    width: float
    name: str


def verify_svg(sheet: HoleSheet) -> str:
    """The map: floor too high hatched, too low dotted, walls to trim with a heavy broken line."""
    found, name = sheet.found, sheet.name
    shown = found.map
    rings = [ring for ring in (shown.asked, shown.dug) if ring is not None]
    view = view_round(np.concatenate(rings), sheet.width, MARGIN)
    size = 10.5 if sheet.width < NARROW else 12.0
    unit = figures.unit_sign(found.length_unit)
    words, left_off = _names(sheet, view, size)
    notes = [f"surveyed {found.date} · lengths in {unit}, north is up"]
    if left_off:
        notes.append(f"names left off for want of room: {figures.count(left_off)}")
    frame = Framed(
        view=view, name=name, title=f"The hole as dug, {found.date}: {plain(found.title)}",
        unit=unit, size=size, notes=tuple(notes), keys=_keys(sheet),
    )  # fmt: skip
    definitions = element("defs", window_clip(view, name), lot_inks.patterns(name))
    return framed(frame, definitions, _floor(sheet, view), _lines(sheet, view), words)


def _keys(sheet: HoleSheet) -> tuple[list[KeyItem], ...]:
    found, name = sheet.found, sheet.name
    tolerance = f"{found.floor_tolerance:g} {figures.unit_sign(found.length_unit)}"
    areas = [
        area_item(f"floor over {tolerance} high", f"url(#{name}-cut)", **lot_inks.SAMPLE),
        area_item(f"over {tolerance} low", f"url(#{name}-fill)", **lot_inks.SAMPLE),
        KeyItem(sample=element("path", d="M12 5h0", **SHOT), words="shot of floor or toe"),
    ]
    lines = [
        line_item("foundation", inks.FOUNDATION),
        line_item("dig line asked for", inks.DIG_LINE),
    ]
    if found.map.dug is not None:
        lines.append(line_item("toe as dug", DUG | {"fill": "none"}))
    if _to_trim(found):
        lines.append(line_item("wall to trim", TRIM))
    if any(one.at for one in found.todo):
        stake = element("rect", x=8.5, y=1.5, width=7.0, height=7.0, **STAKE)
        lines.append(KeyItem(sample=stake, words="point to stake, V1 the first"))
    return areas, lines


def _to_trim(found: Verified) -> list[WallChecked]:
    return [wall for wall in found.walls if wall.verdict == "trim"]


def _path(view: View, rings: list[FloatArray], **style: Attribute) -> str:
    return element("path", d=path_data(view.lines(rings)), **style)


def _rings(shape: shapely.MultiPolygon) -> list[FloatArray]:
    return [np.asarray(r.coords) for p in shape.geoms for r in (p.exterior, *p.interiors)]


def _floor(sheet: HoleSheet, view: View) -> str:
    shown = sheet.found.map
    drawn = [] if shown.dug is None else [_path(view, [closed(shown.dug)], **DUG)]
    for kind, shape in (("fill", shown.low), ("cut", shown.high)):
        style = {**lot_inks.SAMPLE, "fill": f"url(#{sheet.name}-{kind})", "fill_rule": "evenodd"}
        drawn.append(_path(view, _rings(shape), **style))
    return "".join(drawn)


def _lines(sheet: HoleSheet, view: View) -> str:
    found, shown = sheet.found, sheet.found.map
    shots = thinned(view.within(view.pixels(shown.plan)), MOST_SHOTS)
    drawn = [
        _path(view, [closed(shown.corners)], **inks.FOUNDATION),
        _path(view, [closed(shown.asked)], **inks.DIG_LINE),
        element("path", d=dots_data(shots), **SHOT),
    ]
    for wall in _to_trim(found):
        start, end = _ends(found, wall)
        drawn.append(_path(view, [np.stack([start, end])], **TRIM))
    for _, across, down in _stakes(sheet, view):
        place = {"x": across - 3.5, "y": down - 3.5}
        drawn.append(element("rect", width=7.0, height=7.0, **place, **STAKE))
    return "".join(drawn)


def _stakes(sheet: HoleSheet, view: View) -> list[tuple[str, float, float]]:
    """What each point to stake is called, and where it is in pixels."""
    found, told = sheet.found, []
    for names, one in zip(stake_names(found.todo), found.todo, strict=True):
        for name, (easting, northing, *_) in zip(names, one.at, strict=True):
            at = sheet.found.map.frame.to_local(np.array([easting, northing]))
            across, down = view.pixels(at)
            told.append((name, float(across), float(down)))
    return told


def _ends(found: Verified, wall: WallChecked) -> tuple[FloatArray, FloatArray]:
    k, corners = found.map.walls.index(wall.wall), found.map.corners
    return corners[k], corners[(k + 1) % len(corners)]


def _names(sheet: HoleSheet, view: View, size: float) -> tuple[str, int]:
    """The worst shots with how far off, and outside the dig line each wall with its verdict."""
    found, shown, written = sheet.found, sheet.found.map, Written()
    rings = [closed(view.pixels(ring)) for ring in (shown.corners, shown.asked)]
    lines = MultiLineString(rings)
    window = box(3, 3, view.width - 3, view.height - 3)
    dig = shapely.Polygon(rings[1])
    room = Sheet(window=window, lines=lines, shunned=dig, taken=[north_room(view)])
    floor, names = found.floor, {(a, d): name for name, a, d in _stakes(sheet, view)}
    if floor is not None:
        for off, worst in ((floor.worst_high, floor.high_at), (floor.worst_low, floor.low_at)):
            if worst is not None:
                place = view.pixels(shown.frame.to_local(np.array(worst)))
                told = figures.signed_fine(off, found.length_unit)
                name = names.pop((float(place[0]), float(place[1])), None)
                told = told if name is None else f"{name} {told}"
                beside = around(place, np.array([0.0, -1.0]), 6.0, text_width(told, size))
                inner = Sheet(window=window, lines=lines, taken=room.taken)
                written.add(told, inner.place(told, size, beside), size, font_weight=700.0)
    for (across, down), name in names.items():
        beside = around(
            np.array([across, down]), np.array([1.0, -1.0]), 8.0, text_width(name, size)
        )
        inner = Sheet(window=window, lines=lines, taken=room.taken)
        written.add(name, inner.place(name, size, beside), size, font_style="italic")
    order = sorted(found.walls, key=lambda wall: float(np.hypot(*np.subtract(*_ends(found, wall)))))
    for wall in order:
        start, end = (view.pixels(spot) for spot in _ends(found, wall))
        out = view.scale * wall.asked + 0.9 * size
        spot, said = None, ""
        for said in _said(wall):
            spots = along_wall(start, end, out, text_width(said, size))
            spot = room.place(said, size, spots)
            if spot is not None:
                break
        written.add(said, spot, size, font_weight=600.0)
    return written.markup(), written.left_off


def _said(wall: WallChecked) -> list[str]:
    """A wall's name with what is to do there, then in less room."""
    verdict = {"ready": "ready", "trim": "trim", "not enough shots": "few shots"}[wall.verdict]
    return [f"{shortened(plain(wall.wall), most)}: {verdict}" for most in (LONGEST_NAME, 16)] + [
        shortened(plain(wall.wall), SHORTEST_NAME)
    ]
