"""The dig plan's drawing: no number, letter or name over another; a moved number is tied down.

Held over the demo and over made lots, some with far more stands and shorter walls than a plan has.
"""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from importlib.resources import files
from itertools import combinations

import numpy as np
import pytest
import shapely

from terrain.job.dig_plan import plan
from terrain.job.dig_plan_record import TruckSpot
from terrain.job.dig_plan_set_out import set_out
from terrain.job.load import load_job
from terrain.ledger.entries import LooseVolume
from terrain.report import figures
from terrain.report.card_map import card_map_svg
from terrain.report.card_spot import card_spot_svg
from terrain.report.dig_plan_svg import dig_plan_close, dig_plan_paper, dig_plan_svg
from tests.report.made_dig_plan import box, made_dig_plan
from tests.report.test_plan import boxes_of_names

SVG = "{http://www.w3.org/2000/svg}"
SCREENS = (344.0, 720.0)
PHONE, LEAST_SEEN = 390.0, 4.0
"""Pixels: of a phone's screen, and of a leader that must be seen beside its number's circle."""

OUTLINES = {
    "rectangle": [[0, 0], [40, 0], [40, 30], [0, 30]],
    "jog": [[0, 0], [40, 0], [40, 18], [26, 18], [26, 34], [0, 34]],
    "bay": [[0, 0], [14, 0], [17, -3], [23, -3], [26, 0], [40, 0], [40, 26], [0, 26]],
    "steps": [[0, 0], [40, 0], [40, 20], [38, 20], [38, 22], [36, 22], [36, 24], [34, 24],
              [34, 30], [0, 30]],
    "narrow": [[0, 0], [70, 0], [70, 8], [0, 8]],
}  # fmt: skip


def crowded(kind, apart):
    """A made plan round an outline, a stand every `apart` feet inside each wall."""
    corners = np.array(OUTLINES[kind], dtype=float)
    made, house = made_dig_plan(), shapely.Polygon(corners)
    rim = shapely.get_coordinates(house.buffer(-2.0, join_style="mitre").exterior)
    line = shapely.LineString(rim)
    passes = []
    for k, far in enumerate(np.arange(0.0, line.length, apart), start=1):
        one = made.passes[k % len(made.passes)]
        spot = line.interpolate(far).coords[0]
        by = np.array(spot) - one.stand.spot
        stand = replace(one.stand, number=k, spot=spot, heading=37.0 * k % 360,
                        tracks=one.stand.tracks + by, way=one.stand.way + by)  # fmt: skip
        passes.append(replace(one, stand=stand))
    walls = tuple(f"wall {k}" for k in range(len(corners)))
    low, high = corners.min(axis=0), corners.max(axis=0)
    site = replace(
        made.site, corners=corners, walls=walls, daylight=box(*(low - 6), *(high + 6)),
        dig_line=shapely.get_coordinates(house.buffer(2.0, join_style="mitre").exterior)[:-1],
    )  # fmt: skip
    return replace(made, site=site, passes=tuple(passes))


@pytest.fixture(scope="module")
def demo():
    return plan(load_job("terrain/cli/demo_job/job.toml"))


PLANS = [("demo", 0.0), *((kind, apart) for kind in OUTLINES for apart in (6.0, 3.5))]


@pytest.fixture(scope="module", params=PLANS, ids=lambda told: f"{told[0]}-{told[1]:g}")
def drawn(request, demo):
    """A plan and its drawings for a phone, a screen and paper, and the close-up."""
    kind, apart = request.param
    told = demo if kind == "demo" else crowded(kind, apart)
    made = [dig_plan_svg(told, width, "p") for width in SCREENS]
    made += [dig_plan_close(told, SCREENS[0], "p"), dig_plan_paper(told, "p")[0]]
    return told, [ET.fromstring(one) for one in made]


def letters_of(root):
    """Boxes of corners' letters, as narrow as print sans gets."""
    found = []
    for text in root.iter(f"{SVG}text"):
        if text.get("class") == "corner":
            across, foot, size = (float(text.get(key)) for key in ("x", "y", "font-size"))
            half = 0.33 * size * len(text.text)
            found.append((text.text, shapely.box(across - half, foot - 0.72 * size,
                                                 across + half, foot)))  # fmt: skip
    return found


def stands_of(root):
    """Each stand's group, and its circle with its number as a shape."""
    found = {}
    for group in root.iter(f"{SVG}g"):
        if group.get("data-stand"):
            circle = group.find(f"{SVG}circle")
            middle = np.array([float(circle.get("cx")), float(circle.get("cy"))])
            found[int(group.get("data-stand"))] = group, middle, float(circle.get("r"))
    return found


def outline_of(root):
    """The corners of the foundation as drawn."""
    outline = next(p for p in root.iter(f"{SVG}path") if p.get("stroke-width") == "2.6")
    return np.array(re.findall(r"-?[\d.]+", outline.get("d")), dtype=float).reshape(-1, 2)


def pixels_in(told, root, spot):
    """Where a place falls in pixels, worked out from the outline as drawn."""
    drawn, corners = outline_of(root), told.site.corners
    low, high = corners.min(axis=0), corners.max(axis=0)
    least, most = drawn.min(axis=0), drawn.max(axis=0)
    scale = (most - least) / (high - low)
    across, up = (np.array(spot) - low) * scale
    return np.array([least[0] + across, most[1] - up])


def spots_of(told, root):
    """Where each stand's spot falls in pixels, worked out from the outline as drawn."""
    return {one.stand.number: pixels_in(told, root, one.stand.spot) for one in told.passes}


def test_no_number_letter_or_name_lies_over_another(drawn):
    told, roots = drawn
    for root in roots:
        stands = stands_of(root)
        shapes = [(f"stand {k}", shapely.Point(at).buffer(r)) for k, (_, at, r) in stands.items()]
        shapes += [(f"corner {letter}", place) for letter, place in letters_of(root)]
        shapes += [("".join(t.itertext()), place) for t, place in boxes_of_names(root)]
        trucks = [p.get("d") for p in root.iter(f"{SVG}path") if p.get("class") == "truck"]
        shapes += [
            (
                f"truck {k}",
                shapely.Polygon(
                    np.array(re.findall(r"-?[\d.]+", path), dtype=float).reshape(-1, 2)
                ),
            )
            for k, path in enumerate(trucks)
        ]
        missing = len(told.passes) - len(stands)
        said = " ".join("".join(text.itertext()) for text in root.iter(f"{SVG}text"))
        assert (f"stands left off for want of room: {missing}" in said) == (missing > 0)
        assert missing == 0 or len(told.passes) > 30
        assert len(letters_of(root)) == len(told.site.corners)
        over = [
            (one, two)
            for (one, a), (two, b) in combinations(shapes, 2)
            if a.intersection(b).area > 0.5
        ]
        assert over == []


def test_on_a_phone_no_letter_of_a_drawing_is_smaller_than_the_pages_small_print(demo):
    css = files("terrain.report").joinpath("templates", "page.css").read_text("utf-8")
    small = 16.0 * float(re.search(r"\.unit \{[^}]*font-size: ([\d.]+)rem", css).group(1))
    padding = 16.0 * float(re.search(r"body \{ padding: ([\d.]+)rem", css).group(1))
    for drawn in (dig_plan_svg(demo, SCREENS[0], "p"), dig_plan_close(demo, SCREENS[0], "p")):
        root = ET.fromstring(drawn)
        wide = (PHONE - 2 * padding) / float(root.get("viewBox").split()[2])
        sizes = [float(text.get("font-size")) * wide for text in root.iter(f"{SVG}text")]
        assert min(sizes) >= small


def test_no_figure_of_a_stands_own_drawing_lies_over_another_or_a_letter(demo):
    for told in set_out(demo):
        root = ET.fromstring(card_spot_svg(demo, told))
        figures = [("".join(t.itertext()), place) for t, place in boxes_of_names(root)]
        assert len(figures) == 2
        arrow = next(t for t in root.iter(f"{SVG}text") if t.text == "N")
        across, down = float(arrow.get("x")), float(arrow.get("y"))
        room = shapely.box(across - 7, down - 38, across + 7, down)
        shapes = [*figures, *letters_of(root), ("north", room)]
        over = [
            (one, two)
            for (one, a), (two, b) in combinations(shapes, 2)
            if a.intersection(b).area > 0.5
        ]
        assert over == [], told.one.stand.number


def test_each_truck_is_drawn_to_scale_with_its_number_and_a_beak_the_way_it_faces():
    ring = np.array([[52.0, 40.0], [60.0, 40.0], [60.0, 15.0], [52.0, 15.0]])
    truck = TruckSpot(number=1, body=(56.0, 22.0), heading=0.0, ring=ring,
                      way=shapely.MultiPolygon(), stands=(1,), loose=LooseVolume(10.0),
                      between=("right",))  # fmt: skip
    made = replace(made_dig_plan(), trucks=(truck,))
    for text in (dig_plan_svg(made, 720.0, "p"), dig_plan_paper(made, "p")[0]):
        root = ET.fromstring(text)
        (box_,) = [p for p in root.iter(f"{SVG}path") if p.get("class") == "truck"]
        drawn_ring = np.array(re.findall(r"-?[\d.]+", box_.get("d")), dtype=float).reshape(-1, 2)
        outline = outline_of(root)
        scale = np.ptp(outline, axis=0) / np.ptp(made.site.corners, axis=0)
        assert np.ptp(drawn_ring, axis=0) == pytest.approx([8 * scale[0], 25 * scale[1]], abs=0.3)
        siblings = list(next(g for g in root.iter(f"{SVG}g") if box_ in list(g)))
        beak = siblings[siblings.index(box_) + 1].get("d")
        tip = np.array(re.findall(r"-?[\d.]+", beak), dtype=float).reshape(-1, 2)[1]
        assert tip == pytest.approx([drawn_ring[:, 0].mean(), drawn_ring[:, 1].min() - 8], abs=0.3)
        assert [t.text for t in root.iter(f"{SVG}text")].count("T1") == 1


def test_a_number_off_its_spot_is_tied_to_it_by_a_line_that_is_seen(drawn):
    moved, (told, roots) = 0, drawn
    for root in roots:
        spots, stands = spots_of(told, root), stands_of(root)
        circles = {k: shapely.Point(at).buffer(r) for k, (_, at, r) in stands.items()}
        for number, (group, middle, radius) in stands.items():
            spot = spots[number]
            ties = [p for p in group.iter(f"{SVG}path") if p.get("class") == "leader"]
            if np.hypot(*(middle - spot)) <= 1.0:
                assert ties == []
                continue
            moved += 1
            (tie,) = ties
            ends = np.array(re.findall(r"-?[\d.]+", tie.get("d")), dtype=float).reshape(-1, 2)
            assert ends[0] == pytest.approx(spot, abs=0.3)
            assert ends[-1] == pytest.approx(middle, abs=0.3)
            seen = shapely.LineString(ends).difference(shapely.union_all(list(circles.values())))
            assert seen.length >= LEAST_SEEN
            assert np.hypot(*(middle - spot)) > radius
    assert moved > 0


def test_no_number_covers_the_spot_of_another_stand(drawn):
    told, roots = drawn
    for root in roots:
        spots = spots_of(told, root)
        for number, (_, middle, radius) in stands_of(root).items():
            others = np.array([spot for k, spot in spots.items() if k != number])
            assert np.hypot(*(others - middle).T).min() >= radius


def maps_of(told):
    """Every drawing of the whole dig: of the page, of paper, and of the card."""
    made = [dig_plan_svg(told, width, "p") for width in SCREENS]
    made += [dig_plan_close(told, SCREENS[0], "p"), dig_plan_paper(told, "p")[0]]
    return [ET.fromstring(one) for one in (*made, card_map_svg(told, set_out(told)))]


@pytest.mark.parametrize("spot", [(-300.0, 200.0), (400.0, 31.0), (20.0, -500.0), (39.0, 700.0)])
def test_an_arrow_at_the_edge_points_to_a_bench_mark_off_the_drawing_and_says_how_far(spot):
    made = made_dig_plan()
    mark = replace(made.ground.marks[0], spot=spot)
    told = replace(made, ground=replace(made.ground, marks=(mark,)))
    away = np.hypot(*(made.site.corners - np.array(spot)).T)
    said = f"BM1 {figures.length(away.min(), 'ft')} ft from {'ABCD'[away.argmin()]}"
    for root in maps_of(told):
        (arrow,) = [p for p in root.iter(f"{SVG}path") if p.get("class") == "bench off"]
        ring = np.array(re.findall(r"-?[\d.]+", arrow.get("d")), dtype=float).reshape(-1, 2)
        tip, tail = ring[3], (ring[0] + ring[6]) / 2
        goal = pixels_in(told, root, spot) - tip
        way = tip - tail
        turn = np.degrees(np.arctan2(way[0] * goal[1] - way[1] * goal[0], way @ goal))
        assert abs(turn) < 1.5
        window = next(r for r in root.iter(f"{SVG}rect") if float(r.get("height")) > 100)
        size = np.array([float(window.get(key)) for key in ("width", "height")])
        assert min(*tip, *(size - tip)) == pytest.approx(4.0, abs=0.2)
        words = ["".join(text.itertext()) for text in root.iter(f"{SVG}text")]
        assert said in words


def test_a_bench_mark_on_the_drawing_is_a_triangle_with_its_name_and_one_unknown_is_nothing():
    made = made_dig_plan()
    for spot, count in (((-5.0, 33.0), 1), (None, 0)):
        mark = replace(made.ground.marks[0], spot=spot)
        for root in maps_of(replace(made, ground=replace(made.ground, marks=(mark,)))):
            assert [p.get("class") for p in root.iter(f"{SVG}path")].count("bench") == count
            assert [p.get("class") for p in root.iter(f"{SVG}path")].count("bench off") == 0
            words = ["".join(text.itertext()) for text in root.iter(f"{SVG}text")]
            assert words.count("BM1") == count
