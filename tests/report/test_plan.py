"""The plan drawing: to scale, every wall named once, no text over another, whatever the plan."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from shapely import MultiLineString, Point, Polygon, box, union_all

from terrain.job.load import load_job
from terrain.job.sections import sections_of
from terrain.job.volumes import told, work_out
from terrain.report.bands import band_colours, cut_region, depth_bands, depth_levels
from terrain.report.drawing import thinned
from terrain.report.naming import north_place
from terrain.report.plan import plan_svg
from terrain.report.view import view_of
from tests.job.made_pit import plane, worked
from tests.made_answer import FLOOR, made_plan, made_volumes

SVG = "{http://www.w3.org/2000/svg}"
WIDTHS = (344.0, 720.0)


def drawn(volumes, width=720.0):
    return ET.fromstring(plan_svg(volumes, width, "p"))


def with_plan(**changes):
    volumes = made_volumes()
    return replace(volumes, plan=replace(volumes.plan, **changes))


def texts(root):
    return ["".join(t.itertext()) for t in root.iter(f"{SVG}text")]


def boxes_of_names(root):
    """Boxes of the texts that were placed, with letters as narrow as print sans gets."""
    found = []
    for text in root.iter(f"{SVG}text"):
        turn = re.match(r"translate\((\S+) (\S+)\) rotate\((\S+)\)", text.get("transform", ""))
        if turn:
            across, down, angle = map(float, turn.groups())
            size = float(text.get("font-size"))
            half = 0.5 * 0.5 * size * len("".join(text.itertext()))
            turned = np.radians(angle)
            frame = np.array([[np.cos(turned), np.sin(turned)], [-np.sin(turned), np.cos(turned)]])
            ring = np.array(
                [[-half, -size / 2], [half, -size / 2], [half, size / 2], [-half, size / 2]]
            )
            found.append((text, Polygon(ring @ frame + [across, down])))
    return found


@pytest.mark.parametrize("width", WIDTHS)
def test_every_wall_and_pit_is_named_once_with_the_walls_bank_volume(width):
    volumes = made_volumes()
    said = texts(drawn(volumes, width))
    for row in volumes.ledger.walls:
        assert said.count(f"{row.wall} {row.quantity.bank:.1f} yd³") == 1
    for extra in volumes.plan.extras:
        assert said.count(extra.name) == 1


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("walls", [5, 9, 24])
def test_no_text_stands_over_another_nor_outside_the_window(width, walls):
    names = tuple(f"wall number {k}" for k in range(walls))
    volumes = made_volumes(walls=names)
    placed = boxes_of_names(drawn(volumes, width))
    view = view_of(volumes.plan, width)
    for k, (_, mine) in enumerate(placed):
        assert box(0, 0, view.width, view.height).contains(mine)
        for _, other in placed[:k]:
            assert not mine.intersects(other)


def test_names_without_room_are_counted_not_drawn_over_others():
    volumes = made_volumes(walls=tuple(f"wall number {k} of many" for k in range(150)))
    said = texts(drawn(volumes, 344.0))
    named = sum(re.match(r"(\d+: )?wal", text) is not None for text in said)
    note = next(text for text in said if "left off for want of room" in text)
    left_off = int(re.search(r"room: (\d+)", note).group(1))
    assert 0 < named < 150
    assert named + left_off >= 150


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("walls", [4, 24, 60])
def test_with_sections_every_wall_has_its_volume_on_the_sheet(tmp_path, width, walls):
    """Beside its wall, or in the list under the plan by the number that stands at the wall."""
    turn = 2 * np.pi * np.arange(walls) / walls
    corners = np.column_stack([np.cos(turn), np.sin(turn)]) * 40.0
    names = tuple(f"wall number {k} of the round house" for k in range(walls))
    made = worked(tmp_path, ground=plane(fall=(0.02, 0.05)), corners=corners, names=names)
    volumes, sections = told(made), sections_of(made)
    root = ET.fromstring(plan_svg(volumes, width, "p", sections))
    said = texts(root)
    for number, row in enumerate(volumes.ledger.walls, start=1):
        told_whole = f"{row.wall} {row.quantity.bank:.1f} yd³"
        assert said.count(told_whole) == 1  # beside the wall, or in the list
        placed = ["".join(text.itertext()) for text, _ in boxes_of_names(root)]
        assert told_whole in placed or said.count(str(number)) >= 2


def test_the_list_by_number_is_within_the_sheet_whatever_the_letters(tmp_path):
    names = tuple("W" * 79 + c for c in "ABCD")
    made = worked(tmp_path, ground=plane(fall=(0.02, 0.05)), names=names)
    svg = plan_svg(told(made), 344.0, "p", sections_of(made))
    said = [t for t in texts(ET.fromstring(svg)) if t.startswith("WW") and t.endswith("yd³")]
    assert len(said) >= 4
    bold_w = 0.94  # em, of a W in Arial Bold
    assert all(bold_w * 11.0 * t.count("W") < 344.0 - 30.0 for t in said)


def test_the_foundation_and_the_scale_bar_are_to_one_scale():
    volumes = made_volumes()
    root = drawn(volumes)
    outline = next(p for p in root.iter(f"{SVG}path") if p.get("stroke-width") == "2.6")
    numbers = np.array(re.findall(r"-?[\d.]+", outline.get("d")), dtype=float).reshape(-1, 2)
    front = np.hypot(*(numbers[1] - numbers[0])) / 48.0  # the front wall is 48 ft
    bar = next(r for r in root.iter(f"{SVG}rect") if r.get("height") == "5")
    words = [t for t in texts(root) if re.fullmatch(r"[\d.]+ ft", t)]
    half = float(words[0].removesuffix(" ft")) / 2
    assert float(bar.get("width")) / half == pytest.approx(front, rel=0.01)


def test_north_is_up_and_east_is_right():
    view = view_of(made_plan(), 720.0)
    south_west, north_east = view.pixels(np.array([[-1.0, -1.0], [1.0, 1.0]]))
    assert north_east[0] > south_west[0]
    assert north_east[1] < south_west[1]


def test_the_whole_dig_is_in_the_window():
    plan = made_plan()
    view = view_of(plan, 344.0)
    for line in (plan.corners, *plan.dig_line, *plan.daylight, plan.extras[1].rings[0]):
        assert len(view.within(view.pixels(line))) == len(line)


def test_a_drawing_says_its_unit_date_and_north():
    said = " ".join(texts(drawn(made_volumes())))
    assert "2026-03-14" in said
    assert "lengths in ft" in said
    assert " N" in said


def test_an_outline_drawn_clockwise_still_has_its_names_outside():
    volumes = made_volumes()
    plan = volumes.plan
    turned = replace(plan, corners=plan.corners[[0, 4, 3, 2, 1]],
                     walls=("left", "back", "clip", "right", "front"))  # fmt: skip
    outline = Polygon(view_of(plan, 720.0).pixels(plan.corners))
    placed = boxes_of_names(drawn(replace(volumes, plan=turned)))
    walls = [place for text, place in placed if text.get("font-weight") == "600"]
    assert len(walls) == 5
    assert not any(outline.intersects(place) for place in walls)


def test_a_million_shots_are_thinned_and_it_says_so():
    random = np.random.default_rng(3)
    shots = random.uniform(-60, 60, (1_000_000, 2))
    svg = plan_svg(with_plan(shots=shots), 720.0, "p")
    said = next(t for t in texts(ET.fromstring(svg)) if "shots drawn" in t)
    assert re.match(r"[\d,]+ of 1,000,000 shots drawn, thinned out", said)
    assert len(svg) < 200_000


@pytest.mark.parametrize("spread", [(700, 700), (700, 1e-3), (0, 500), (0, 0)])
@pytest.mark.parametrize("most", [3000, 7])
def test_thinned_shots_are_some_of_the_shots_and_never_too_many(spread, most):
    random = np.random.default_rng(5)
    places = random.uniform(0, 1, (20_000, 2)) * spread
    kept = thinned(places, most)
    assert 1 <= len(kept) <= most
    if min(spread) > 0.1 * max(spread):
        assert len(kept) > most / 4
    assert set(map(tuple, kept)) <= set(map(tuple, places))
    assert np.array_equal(thinned(places[:most], most), places[:most])


NOTHING = np.zeros((0, 2))
ODD_PLANS = {
    "no daylight": {"daylight": ()},
    "no dig line": {"dig_line": ()},
    "no seams": {"seams": np.zeros((0, 2, 2))},
    "no extras, lines or shots": {"extras": (), "breaklines": (), "shots": NOTHING,
                                  "shot_upward": np.zeros(0)},
    "one shot": {"shots": np.zeros((1, 2)), "shot_upward": np.zeros(1)},
    "empty lines": {"daylight": (NOTHING,), "breaklines": (NOTHING,)},
}  # fmt: skip


@pytest.mark.parametrize("changes", ODD_PLANS.values(), ids=ODD_PLANS.keys())
@pytest.mark.parametrize("width", WIDTHS)
def test_an_odd_plan_is_drawn_all_the_same(changes, width):
    root = drawn(with_plan(**changes), width)
    assert any(text.startswith("front ") for text in texts(root))


@pytest.mark.parametrize("depth", [np.full((4, 4), np.nan), np.zeros((0, 0)), np.zeros((3, 3))])
def test_no_cut_at_all_has_no_bands(depth):
    plan = made_plan()
    assert depth_bands(replace(plan, cut=replace(plan.cut, depth=depth))).rings == ()
    volumes = replace(made_volumes(), plan=replace(plan, cut=replace(plan.cut, depth=depth)))
    assert drawn(volumes) is not None


def test_two_corners_at_one_spot_are_drawn():
    plan = made_plan()
    corners = plan.corners.copy()
    corners[3] = corners[2]
    root = drawn(with_plan(corners=corners))
    figures = [value for each in root.iter() for value in each.attrib.values()]
    assert len(figures) > 100
    assert not any(re.search(r"\b(nan|inf)\b", value) for value in figures)


@pytest.mark.parametrize("deepest", [0.05, 0.4, 3.0, 9.65, 12.0, 47.0, 900.0])
def test_depth_levels_start_at_the_ground_and_reach_past_the_deepest(deepest):
    levels = depth_levels(deepest)
    assert levels[0] == 0
    assert levels[-1] >= deepest * (1 - 1e-12)
    assert levels[-2] < deepest
    assert len(levels) <= 7


def test_deeper_bands_print_darker_in_grey():
    for count in range(2, 7):
        greys = []
        for colour in band_colours(count):
            red, green, blue = (int(colour[k : k + 2], 16) for k in (1, 3, 5))
            greys.append(0.2126 * red + 0.7152 * green + 0.0722 * blue)  # ITU-R BT.709 luma
        assert all(a - b > 15 for a, b in pairwise(greys))


def test_the_bands_cover_the_cut_and_lie_where_the_cut_is_that_deep():
    """A dig with vertical sides into a ground that rises 1 in 10: bands are straight strips."""
    ring = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 20.0], [0.0, 20.0], [0.0, 0.0]])
    cell = 0.5
    easting = np.arange(-5, 45, cell) + cell / 2
    northing = np.arange(-5, 25, cell) + cell / 2
    e, n = np.meshgrid(easting, northing)
    inside = (e > 0) & (e < 40) & (n > 0) & (n < 20)
    depth = np.where(inside, 95.0 + 0.1 * e - FLOOR, np.nan)
    plan = made_plan()
    grid = replace(plan.cut, easting=-5.0, northing=-5.0, cell=cell, depth=depth)
    plan = replace(plan, cut=grid, daylight=(ring,), dig_line=(ring,), extras=())
    assert cut_region(plan).equals(Polygon(ring))
    assert cut_region(replace(plan, daylight=(), dig_line=())).equals(Polygon(ring))
    bands = depth_bands(plan)
    for level, lines in zip(bands.levels[1:-1], bands.lines, strict=True):
        at = (level - 2.5) / 0.1
        middle = [p for line in lines for p in line if 1 < p[1] < 19]
        if 1 < at < 39:
            assert np.allclose([p[0] for p in middle], at, atol=1e-9)
            assert middle


def test_a_wall_named_like_markup_is_text():
    name = "<script>alert(1)</script>&\"'"
    root = drawn(made_volumes(walls=(name, "right", "clip", "back", "left")))
    assert not list(root.iter(f"{SVG}script"))
    assert any(text.startswith("<script>") for text in texts(root))


@pytest.mark.parametrize("width", WIDTHS)
def test_wall_names_keep_off_hatch_dig_and_daylight_where_there_is_room(width):
    volumes = told(work_out(load_job("terrain/cli/demo_job/job.toml")))
    plan, view = volumes.plan, view_of(volumes.plan, width)
    rings = [plan.corners, *plan.dig_line, *plan.daylight]
    rings += [ring for extra in plan.extras for ring in extra.rings]
    dug = union_all([Polygon(view.pixels(ring)).buffer(0) for ring in rings])
    placed = boxes_of_names(drawn(volumes, width))
    named = [place for text, place in placed if text.get("font-weight") == "600"]
    assert len(named) == len(plan.walls)
    assert not any(place.intersects(dug) for place in named)


def test_no_line_runs_through_the_north_arrow_where_a_place_is_free():
    volumes = made_volumes()
    view = view_of(volumes.plan, 720.0)
    corner = north_place(view)
    low, high = corner - np.array([60, 60]), corner + np.array([40, 40])
    lines = MultiLineString([[low, high], [[low[0], high[1]], [high[0], low[1]]]])
    place = north_place(view, lines)
    assert not lines.intersects(box(*(place - np.array([7, 26])), *(place + np.array([7, 12]))))
    assert box(0, 0, view.width, view.height).contains(Point(place))
    assert np.hypot(*(place - corner)) < 0.3 * view.width


def test_depth_figures_are_read_at_a_contrast_of_4_5_on_paper_of_their_own():
    """WCAG 2.2, 1.4.3 (read in the source): 4.5 to 1; its formula of relative luminance."""
    root = drawn(made_volumes())
    pills = [r for r in root.iter(f"{SVG}rect") if r.get("rx") == "2" and r.get("fill")]
    depths = [(t, place) for t, place in boxes_of_names(root)
              if re.fullmatch(r"−[\d.]+", "".join(t.itertext()))]  # fmt: skip
    assert len(depths) >= 3
    inks = {g.get("fill") for g in root.iter(f"{SVG}g") if g.get("paint-order") == "stroke"}
    for _, place in depths:
        under = [p for p in pills if box(
            float(p.get("x")), float(p.get("y")),
            float(p.get("x")) + float(p.get("width")), float(p.get("y")) + float(p.get("height")),
        ).contains(place.centroid)]  # fmt: skip
        assert len(under) == 1
        for ink in inks:
            assert contrast(ink, under[0].get("fill")) >= 4.5


def contrast(one, two):
    def luminance(colour):
        parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return float(np.dot([0.2126, 0.7152, 0.0722], linear))

    dark, light = sorted([luminance(one), luminance(two)])
    return (light + 0.05) / (dark + 0.05)
