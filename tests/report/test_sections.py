"""Section drawings: to one scale, every figure an attribute of its section, names as text."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain.job.sections import sections_of
from terrain.report import figures
from terrain.report.section import section_scale, section_svg
from terrain.report.section_parts import CONCRETE
from terrain.report.section_words import level_column, levels_of, spread
from terrain.report.sections import compass, sections_key, shown_sections
from tests.job.made_pit import plane, worked

SVG = "{http://www.w3.org/2000/svg}"
WALL = (
    "wall_thickness = 0.5\nwall_height = 8.0\n"
    "footing = {width = 2.0, depth = 1.0, projection = 0.75}\n"
    "stone = {beyond = 1.0, over = 0.5, under_slab = 0.25}\n"
)


@pytest.fixture(scope="module")
def sections(tmp_path_factory):
    folder = tmp_path_factory.mktemp("pit")
    return sections_of(worked(folder, ground=plane(fall=(0.02, 0.05)), foundation=WALL))


def drawn(section, most=20.0, unit="ft"):
    return ET.fromstring(section_svg(section, unit, most))


def texts(root):
    return ["".join(t.itertext()) for t in root.iter(f"{SVG}text")]


def points(path):
    return np.array(re.findall(r"-?[\d.]+", path.get("d")), dtype=float).reshape(-1, 2)


def scale_of(root):
    """Pixels a unit, from the scale bar and its words."""
    bar = next(r for r in root.iter(f"{SVG}rect") if r.get("height") == "5")
    whole = next(t for t in texts(root) if re.fullmatch(r"[\d.]+ ft", t))
    return 2 * float(bar.get("width")) / float(whole.removesuffix(" ft"))


def test_heights_and_widths_are_to_the_scale_of_the_bar(sections):
    for section in sections:
        root = drawn(section)
        scale = scale_of(root)
        dig = next(p for p in root.iter(f"{SVG}path") if p.get("stroke-width") == "1.6")
        pixels = points(dig)
        line = section.dig[0]
        width, height = np.ptp(line, axis=0)
        assert np.ptp(pixels[:, 0]) == pytest.approx(width * scale, rel=0.01)
        assert np.ptp(pixels[:, 1]) == pytest.approx(height * scale, rel=0.01)


def test_every_figure_is_an_attribute_of_the_section(sections):
    for section in sections:
        said = texts(drawn(section))
        for level in section.levels:
            assert any(t.endswith(f" {level.elevation:,.2f}") for t in said)
        assert f"grade {section.grade_at_face:,.2f}" in said
        assert f"daylight {section.daylight[1]:,.2f}" in said
        assert f"{section.cut_at_face:.1f} cut" in said
        assert f"dig line {section.dig_line:.1f} ft out" in said
        assert f"daylight {section.daylight[0]:.1f} ft out" in said


def test_levels_stand_in_order_without_covering_one_another(sections):
    for section in sections:
        root = drawn(section)
        column = [
            (float(t.get("y")), float("".join(t.itertext()).rpartition(" ")[2].replace(",", "")))
            for t in root.iter(f"{SVG}text")
            if t.get("text-anchor") == "end" and re.search(r" [\d,]+\.\d\d$", "".join(t.itertext()))
        ]
        places, heights = zip(*sorted(column), strict=True)
        assert list(heights) == sorted(heights, reverse=True)
        assert min(np.diff(places)) >= 12.9


@given(st.lists(st.floats(-500, 500), min_size=1, max_size=12).map(sorted))
def test_spread_keeps_the_order_and_the_distance_and_moves_nothing_without_need(wanted):
    places = spread(wanted, 10.0)
    assert len(places) == len(wanted)
    assert all(b - a >= 10.0 - 1e-9 for a, b in pairwise(places))
    if all(b - a >= 10.0 for a, b in pairwise(wanted)):
        assert places == pytest.approx(wanted)


def test_all_sections_have_one_scale_unless_one_is_far_too_wide_and_then_says_so(sections):
    most = section_scale(sections, "ft")
    for section in sections:
        assert scale_of(drawn(section, most)) == pytest.approx(most, rel=0.01)
    wide = replace(sections[0], high=sections[0].high * 6, wall="wide")
    shown = shown_sections((*sections, wide), "ft")
    for cut in shown[:-1]:
        assert scale_of(ET.fromstring(cut.drawing)) == pytest.approx(most, rel=0.01)
        assert "scale" not in cut.place
    share = int(re.search(r"drawn at (\d+)% of it", shown[-1].place).group(1))
    own = scale_of(ET.fromstring(shown[-1].drawing))
    assert 100 * own / most == pytest.approx(share, abs=0.7)


def test_existing_grade_is_written_over_neither_wall_nor_stone(sections):
    for section in sections:
        for beyond in (0.0, 0.2, 0.5, 1.0):
            short = replace(
                section,
                high=section.high * beyond + 1.0,
                ground=tuple(line[line[:, 0] < section.high * beyond + 1.0] for line in
                             (np.column_stack([np.linspace(section.low, section.high, 200),
                                               np.linspace(100, 101, 200)]),)),
            )  # fmt: skip
            root = drawn(short)
            solids = [points(p) for p in root.iter(f"{SVG}path") if p.get("fill") == CONCRETE]
            right = max(ring[:, 0].max() for ring in solids)
            top = min(ring[:, 1].min() for ring in solids)
            for text in root.iter(f"{SVG}text"):
                if "".join(text.itertext()) in ("existing grade", "existing", "grade"):
                    length = 0.5 * 10.5 * len("".join(text.itertext()))
                    clear = float(text.get("x")) - length >= right or float(text.get("y")) <= top
                    assert clear


def test_a_section_says_whose_the_cut_is_beyond_its_own_side(sections):
    section = sections[0]
    assert "farther out" not in shown_sections((section,), "ft")[0].place
    inside = np.array([[-4.0, 95.0], [-2.0, 95.0], [-2.0, 97.0]])
    other = replace(section.cut[-1], name="the next <wall>", kind="wall", part="side")
    beyond = replace(section, cut=(*section.cut, other))
    assert "farther out the cut, with its steps, is the side of the next <wall>" in (
        shown_sections((beyond,), "ft")[0].place
    )
    within = replace(section, cut=(*section.cut, replace(other, ring=inside)))
    assert "farther out" not in shown_sections((within,), "ft")[0].place


def test_levels_closer_than_a_line_share_one_tie_with_a_tick_at_each(sections):
    section = sections[0]
    root = drawn(section, most=8.0)
    scale = scale_of(root)
    heights = sorted({round(v, 6) for _, v in levels_of(section)}, reverse=True)
    groups = []
    for height in heights:
        if not groups or (groups[-1] - height) * scale >= 13.0:
            groups.append(height)
    ties = [p for p in root.iter(f"{SVG}path") if p.get("stroke-width") == "0.7"]
    column = level_column(levels_of(section), "ft")
    slanted = [p for p in ties if p.get("d").startswith(f"M{column - 14:.1f} ".replace(".0 ", " "))]
    assert len(slanted) == len(groups)


def test_a_section_says_where_it_is_cut_and_which_way_one_looks(sections):
    shown = shown_sections((replace(sections[1], place="deepest"),), "ft")
    assert shown[0].place == (
        "where the cut along it is deepest; at its middle nothing is dug, looking north"
    )
    assert shown_sections((), "ft") == []


def test_compass_points_are_the_nearest_of_eight():
    assert [compass(h) for h in (0, 22, 23, 90, 180, 270, 337, 338)] == [
        "north", "north", "north-east", "east", "south", "west", "north-west", "north",
    ]  # fmt: skip


def test_the_key_names_just_what_is_drawn(sections):
    said = texts(ET.fromstring(sections_key(sections, 720.0)))
    assert said == ["existing grade", "dig", "cut: core", "cut: overdig", "cut: side",
                    "wall and footing", "stone"]  # fmt: skip


def test_a_wall_that_the_job_does_not_draw_is_a_broken_line_at_the_outside_face(sections):
    built = replace(sections[0].built, wall=None, face=(93.0, None))
    root = drawn(replace(sections[0], built=built))
    face = next(p for p in root.iter(f"{SVG}path") if p.get("stroke-dasharray") == "7 2")
    places = points(face)
    assert places[0, 0] == places[1, 0]
    assert "outside face (the job draws no wall)" in texts(
        ET.fromstring(sections_key((replace(sections[0], built=built),), 720.0))
    )


@pytest.mark.parametrize(
    "change",
    [
        {"ground": (), "grade_at_face": None, "cut_at_face": None, "daylight": None},
        {"dig": (), "cut": (), "daylight": None, "cut_at_face": None},
        {"dig_line": None},
        {"wall": "<script>alert(1)</script>"},
    ],
)
def test_a_section_that_lacks_something_is_drawn_all_the_same(sections, change):
    root = drawn(replace(sections[0], **change))
    numbers = " ".join(v for e in root.iter() for k, v in e.attrib.items() if k != "aria-label")
    assert "nan" not in numbers
    assert "inf" not in numbers
    assert not [e for e in root.iter() if e.tag.endswith("script")]


def test_metres_read_to_millimetres_and_centimetres(sections):
    said = texts(drawn(sections[0], unit="m"))
    assert f"grade {sections[0].grade_at_face:,.3f}" in said
    assert f"{figures.length(sections[0].cut_at_face, 'm')} cut" in said
