"""The layers of a plan drawing under its names: shading, outlines and shots."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.job.answer import Plan, Volumes
from terrain.job.sections import Section
from terrain.report import figures, inks
from terrain.report.bands import Bands, band_colours
from terrain.report.svg import dots_data, element, path_data
from terrain.report.view import NARROW, View

MOST_SHOTS, MOST_SHOTS_NARROW = 3000, 900
MANY_SHOTS = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """What one drawing is made from; `size` is of its letters in pixels, `name` opens its ids.

    `sections` are those whose places are marked.
    """

    volumes: Volumes
    view: View
    bands: Bands
    size: float
    name: str
    sections: tuple[Section, ...] = ()

    @property
    def plan(self) -> Plan:
        """The lines that are drawn."""
        return self.volumes.plan

    def lines(self, lines: Iterable[FloatArray]) -> list[FloatArray]:
        """Polylines of the local frame in pixels, without corners too slight to see."""
        return self.view.lines(lines)


def closed(ring: FloatArray) -> FloatArray:
    """The ring with its first corner again at its end."""
    return ring if np.array_equal(ring[0], ring[-1]) else np.concatenate([ring, ring[:1]])


def definitions(drawing: Drawing) -> str:
    """The window, the area of cut and the hatch of pits, for the other layers to refer to."""
    view, name = drawing.view, drawing.name
    rings = [np.array(area.exterior.coords) for area in drawing.bands.region.geoms]
    rings += [
        np.array(hole.coords) for area in drawing.bands.region.geoms for hole in area.interiors
    ]
    region = element("path", d=path_data(drawing.lines(rings)), clip_rule="evenodd")
    stripe = element("path", d="M0 6L6 0", stroke=inks.INK, stroke_width=0.7, stroke_opacity=0.55)
    return element(
        "defs",
        window_clip(view, name),
        element("clipPath", region, id=f"{name}-cut"),
        element(
            "pattern",
            stripe,
            id=f"{name}-hatch",
            width=6.0,
            height=6.0,
            patternUnits="userSpaceOnUse",
        ),
    )


def window_clip(view: View, name: str) -> str:
    """The clip path of a drawing's window."""
    window = element("rect", width=view.width, height=view.height)
    return element("clipPath", window, id=f"{name}-window")


def shading(drawing: Drawing) -> str:
    """The depth bands and the lines between them, within the area of cut."""
    bands = drawing.bands
    fills = [
        element("path", d=path_data(drawing.lines(rings)), fill=colour, fill_rule="evenodd")
        for rings, colour in zip(bands.rings, band_colours(len(bands.rings)), strict=True)
        if rings
    ]
    lines = [
        element("path", d=path_data(drawing.lines(level)), **inks.CONTOUR)
        for level in bands.lines
        if level
    ]
    return element("g", *fills, *lines, clip_path=f"url(#{drawing.name}-cut)")


def outlines(drawing: Drawing) -> str:
    """Breaklines, seams, shares, pits, dig line, daylight and the foundation, the last on top."""
    plan, view = drawing.plan, drawing.view
    seams = "".join(path_data([view.pixels(seam)]) for seam in plan.seams)
    hatch = f"url(#{drawing.name}-hatch)"
    extras = [
        element("path", d=path_data(drawing.lines(map(closed, extra.rings))), fill=hatch,
                fill_rule="evenodd", **inks.EXTRA)
        for extra in plan.extras
    ]  # fmt: skip
    return "".join(
        [
            element("path", d=path_data(drawing.lines(plan.breaklines)), **inks.BREAKLINE),
            element("path", d=seams, **inks.SEAM),
            element("path", d=path_data(drawing.lines(plan.shares)), **inks.SHARE),
            *extras,
            element("path", d=path_data(drawing.lines(plan.daylight)), **inks.DAYLIGHT),
            element(
                "path", d=path_data(drawing.lines(map(closed, plan.dig_line))), **inks.DIG_LINE
            ),
            element("path", d=path_data([view.pixels(closed(plan.corners))]), **inks.FOUNDATION),
        ]
    )


def deepest_place(drawing: Drawing) -> FloatArray | None:
    """Where the cut is deepest, in pixels; None where that is not one spot."""
    spot = drawing.volumes.deepest_at
    if spot is None:
        return None
    site = np.array([[spot.easting, spot.northing]])
    place: FloatArray = drawing.view.pixels(drawing.plan.frame.to_local(site))[0]
    return place


def deepest_mark(drawing: Drawing) -> str:
    """The mark on the deepest spot; empty where there is none."""
    place = deepest_place(drawing)
    return "" if place is None else mark_at(place)


def mark_at(place: FloatArray) -> str:
    """A diamond on a spot, as the key shows it too."""
    across, down = (float(v) for v in place)
    outline = f"M{across:g} {down - 6:g}l6 6l-6 6l-6 -6Z"
    return element("path", d=outline, **inks.DEEPEST) + element(
        "path", d=f"M{across:g} {down:g}h0", stroke=inks.INK, stroke_width=3.2,
        stroke_linecap="round",
    )  # fmt: skip


def shots(drawing: Drawing) -> tuple[str, str]:
    """The dots of the shots in the window, and in words how many of how many they are."""
    places = drawing.view.within(drawing.view.pixels(drawing.plan.shots))
    shown = thinned(places, MOST_SHOTS if drawing.view.width >= NARROW else MOST_SHOTS_NARROW)
    every = figures.counted(len(drawing.plan.shots), "shot")
    words = f"{figures.count(len(shown))} of {every} lie in this view"
    if len(shown) < len(places):
        words = f"{figures.count(len(shown))} of {every} drawn, thinned out"
    style = inks.SHOT if len(shown) <= MANY_SHOTS else inks.SHOT_AMONG_MANY
    return element("path", d=dots_data(shown), **style), words


def thinned(places: FloatArray, most: int) -> FloatArray:
    """At most `most` of the places, spread as they are: the first in each square of a grid."""
    if len(places) <= most:
        return places
    low = places.min(axis=0)
    size = np.maximum(places.max(axis=0) - low, 1e-9)
    # Squares of this side are `most` in all, with room for the part squares at the far edges.
    side = float(np.sqrt(size[0] * size[1] / most) + (size[0] + size[1]) / most)
    square = ((places - low) // side).astype(np.int64)
    across = int(square[:, 0].max()) + 1
    number = square[:, 1] * across + square[:, 0]
    first = np.full(int(number.max()) + 1, -1)
    first[number[::-1]] = np.arange(len(places))[::-1]
    kept: FloatArray = places[np.sort(first[first >= 0])]
    return kept
