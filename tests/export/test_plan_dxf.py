"""The DXF file, taken apart tag by tag: unit, layers, places and names; ezdxf's auditor agrees."""

import io
from collections import defaultdict
from dataclasses import replace

import ezdxf.recover
import numpy as np
import pytest

from terrain.export.plan_dxf import plan_dxf
from terrain.export.text import plain

# $INSUNITS as the DXF reference numbers them, from memory: 2 feet, 6 metres, 21 US survey feet
UNITS = {"ft": "2", "m": "6", "ftUS": "21"}


def tags(content: bytes) -> list[tuple[int, str]]:
    """The group codes and values of a DXF file: two lines each."""
    lines = content.decode("utf-8").replace("\r\n", "\n").split("\n")
    return [(int(code), value) for code, value in zip(lines[::2], lines[1::2], strict=False)]


def entities(content: bytes) -> list[tuple[str, dict[int, list[str]]]]:
    """Every entity of the ENTITIES section: its kind, and its values by group code."""
    found: list[tuple[str, dict[int, list[str]]]] = []
    section, naming = "", False
    for code, value in tags(content):
        if code == 0:
            naming = value == "SECTION"
            if section == "ENTITIES" and value != "ENDSEC":
                found.append((value, defaultdict(list)))
        elif naming and code == 2:
            section = value
        elif section == "ENTITIES" and found:
            found[-1][1][code].append(value)
    return found


def polylines(content: bytes, layer: str) -> list[np.ndarray]:
    """The corners (m, 3) of every polyline in space on a layer, closed ones as they are stored."""
    lines: list[list[list[float]]] = []
    for kind, values in entities(content):
        if values.get(8) != [layer]:
            continue
        if kind == "POLYLINE":
            lines.append([])
        elif kind == "VERTEX":
            lines[-1].append([float(values[code][0]) for code in (10, 20, 30)])
    return [np.array(line) for line in lines]


def test_the_header_tells_the_jobs_unit(job):
    _, layers = job
    found = tags(plan_dxf(layers))
    at = found.index((9, "$INSUNITS"))
    assert found[at + 1] == (70, UNITS[layers.unit.name])


@pytest.mark.parametrize(
    ("layer", "lines"), [("WALLS", "walls"), ("DIG_LINE", "dig_lines"), ("DAYLIGHT", "daylight"),
                         ("BREAKLINES", "breaklines")],
)  # fmt: skip
def test_lines_lie_where_they_are_on_the_site(job, layer, lines):
    _, layers = job
    drawn = polylines(plan_dxf(layers), layer)
    assert len(drawn) == len(getattr(layers, lines)) > 0
    origin = np.append(layers.frame.origin, 0.0)
    for seen, line in zip(drawn, getattr(layers, lines), strict=True):
        wanted = line.points + origin
        assert seen == pytest.approx(wanted[: len(seen)], abs=1e-6)
        assert len(wanted) - len(seen) == int((wanted[0] == wanted[-1]).all())


def test_contours_are_level_lines_at_their_elevation(job):
    _, layers = job
    content = plan_dxf(layers)
    seen = [
        (float(values[38][0]), values[8][0])
        for kind, values in entities(content)
        if kind == "LWPOLYLINE"
    ]
    assert [upward for upward, _ in seen] == pytest.approx(layers.contours.upward.tolist())
    for upward, layer in seen:
        step = round(upward / layers.contours.interval)
        assert layer == ("CONTOURS_INDEX" if step % 5 == 0 else "CONTOURS")


def test_every_wall_has_its_name_along_it_and_none_is_upside_down(job):
    _, layers = job
    document, auditor = ezdxf.recover.read(io.BytesIO(plan_dxf(layers)))
    assert not auditor.has_errors
    texts = document.modelspace().query("TEXT")
    assert [t.plain_text() for t in texts] == [plain(line.name) for line in layers.walls]
    for text, line in zip(texts, layers.walls, strict=True):
        along = np.diff(line.points[:, :2], axis=0)[0]
        angle = np.radians(text.dxf.rotation)
        assert abs(along[0] * np.sin(angle) - along[1] * np.cos(angle)) < 1e-6
        assert np.cos(angle) > -1e-9


def test_signs_that_dxf_reads_as_codes_come_out_as_themselves(demo):
    _, layers = demo
    names = ("a^b", "50%%d", "end\x00 0\nEOF")
    walls = tuple(replace(line, name=name) for line, name in zip(layers.walls, names, strict=False))
    document, auditor = ezdxf.recover.read(io.BytesIO(plan_dxf(replace(layers, walls=walls))))
    assert not auditor.has_errors
    seen = [t.plain_text() for t in document.modelspace().query("TEXT")]
    # a blank parts the two signs, or a degree sign would be drawn
    assert seen == ["a^b", "50% %d", "end  0 EOF"]


def test_where_nothing_is_dug_the_drawing_is_sound(nothing_dug):
    _, auditor = ezdxf.recover.read(io.BytesIO(plan_dxf(nothing_dug[1])))
    assert not auditor.has_errors
