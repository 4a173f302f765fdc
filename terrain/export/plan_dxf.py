"""The plan as DXF R2010 for the drawing office: lines in space on layers, names as text."""

import io
import math
from collections.abc import Iterable

import ezdxf
import numpy as np
from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from ezdxf.layouts.layout import Modelspace

from terrain.export.text import plain
from terrain.job.layers import DrawnLine, Layers
from terrain.surface.contours import INDEX_EVERY

UNITS = {"ft": 2, "m": 6, "ftUS": 21}
"""Codes of the header variable $INSUNITS, as ezdxf lists them."""

DRAWN = {
    "WALLS": (7, 50),
    "WALL_NAMES": (7, 25),
    "DIG_LINE": (30, 35),
    "DAYLIGHT": (94, 35),
    "BREAKLINES": (84, 18),
    "CONTOURS": (33, 9),
    "CONTOURS_INDEX": (33, 25),
}
"""Layers with their colour by DXF's index and line weight in hundredths of a millimetre."""

NAMES_TO_A_SIDE = 40
"""Names are drawn so high that so many would stand one on another along the house."""


def plan_dxf(layers: Layers) -> bytes:
    """The file, in site coordinates and the job's unit.

    Breaklines, daylight, dig lines and walls carry their elevations; so do contours.
    """
    fixed = ezdxf.options.write_fixed_meta_data_for_testing
    # no clock and no random number: the same job gives the same bytes
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        document = ezdxf.new("R2010", units=UNITS[layers.unit.name])
        _draw(document, layers)
        stream = io.StringIO()
        document.write(stream)
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = fixed
    return document.encode(stream.getvalue())


def _draw(document: Drawing, layers: Layers) -> None:
    for name, (colour, weight) in DRAWN.items():
        document.layers.add(name, color=colour, lineweight=weight)
    space = document.modelspace()
    _draw_lines(space, layers, "WALLS", layers.walls)
    _draw_lines(space, layers, "DIG_LINE", layers.dig_lines)
    _draw_lines(space, layers, "DAYLIGHT", layers.daylight)
    _draw_lines(space, layers, "BREAKLINES", layers.breaklines)
    _draw_contours(space, layers)
    _draw_names(space, layers)


def _draw_lines(space: Modelspace, layers: Layers, name: str, lines: Iterable[DrawnLine]) -> None:
    for line in lines:
        corners = np.column_stack([layers.frame.to_site(line.points[:, :2]), line.points[:, 2]])
        closed = len(corners) > 3 and bool((corners[0] == corners[-1]).all())
        drawn = corners[:-1] if closed else corners
        space.add_polyline3d(drawn.tolist(), close=closed, dxfattribs={"layer": name})


def _draw_contours(space: Modelspace, layers: Layers) -> None:
    drawn = layers.contours
    for which, upward in enumerate(drawn.upward.tolist()):
        corners = layers.frame.to_site(drawn.line(which))
        closed = len(corners) > 3 and bool((corners[0] == corners[-1]).all())
        index = drawn.step[which] % INDEX_EVERY == 0
        space.add_lwpolyline(
            (corners[:-1] if closed else corners).tolist(),
            format="xy",
            close=closed,
            dxfattribs={
                "layer": "CONTOURS_INDEX" if index else "CONTOURS",
                "elevation": upward,
            },
        )


def _draw_names(space: Modelspace, layers: Layers) -> None:
    """Each wall's name on the middle of the wall, along it, never upside down."""
    corners = np.concatenate([line.points[:, :2] for line in layers.walls])
    height = float(np.ptp(corners, axis=0).max()) / NAMES_TO_A_SIDE
    for line in layers.walls:
        start, end = layers.frame.to_site(line.points[:, :2])
        turn = math.degrees(math.atan2(end[1] - start[1], end[0] - start[0]))
        upside_down = turn > 90.0 or turn <= -90.0
        text = space.add_text(
            _shown(line.name),
            height=height,
            rotation=(turn + 180.0 if upside_down else turn) % 360.0,
            dxfattribs={"layer": "WALL_NAMES"},
        )
        text.set_placement(
            (*((start + end) / 2).tolist(), layers.floor), align=TextEntityAlignment.MIDDLE_CENTER
        )


def _shown(name: str) -> str:
    """The name without the signs that DXF reads as codes: `%%` and the caret."""
    return plain(name).replace("^", "^ ").replace("%%", "% %")
