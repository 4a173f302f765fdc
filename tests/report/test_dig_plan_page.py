"""The dig plan's page: the plan's own figures, a drawing to scale, one group a pass, no network."""

import base64
import hashlib
import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import numpy as np
import pytest
import shapely

from terrain.job.dig_plan_buckets import thrown
from terrain.job.dig_plan_record import Hours
from terrain.job.dig_plan_set_out import set_out
from terrain.ledger.entries import LooseVolume
from terrain.report import figures
from terrain.report.dig_plan_page import dig_plan_html
from terrain.report.dig_plan_stand_words import facing_words
from terrain.report.dig_plan_svg import dig_plan_svg
from tests.report.made_dig_plan import WALLS, made_dig_plan
from tests.report.test_page import Reader
from tests.report.test_plan import boxes_of_names

SVG = "{http://www.w3.org/2000/svg}"
WIDTHS = (344.0, 720.0)
EVIL = "</script><script>alert(1)</script><b onclick='x'>&"


def drawn(plan, width=720.0):
    return ET.fromstring(dig_plan_svg(plan, width, "p"))


def groups(root, kind):
    return {
        int(g.get(kind)): g for g in root.iter(f"{SVG}g") if g.get(kind) is not None
    }  # fmt: skip


def numbers(path):
    return np.array(re.findall(r"-?[\d.]+", path), dtype=float).reshape(-1, 2)


def pixels_per_foot(root):
    bar = next(r for r in root.iter(f"{SVG}rect") if r.get("height") == "5")
    words = ["".join(t.itertext()) for t in root.iter(f"{SVG}text")]
    whole = next(w for w in words if re.fullmatch(r"[\d.]+ ft", w))
    return 2 * float(bar.get("width")) / float(whole.removesuffix(" ft"))


def test_the_best_order_comes_first_with_its_reason_and_cost():
    plan = made_dig_plan()
    said = Reader(dig_plan_html(plan)).said()
    answer = said[: said.index("Where the machine stands")]
    for words in ("First stand: 1, facing west, on wall front Back along each wall and go round "
                  "counter-clockwise , as seen from above: front, right, back, left.",
                  "the order “from front, counter-clockwise”, the best of 10 compared. Why: fewest "
                  "rim corners, then hours. A rim corner is one",
                  "Rim corners 1", "22.0 yd³ loose, 2 truck loads",
                  "1.2 yd³ in the ground: the middle is too far"):  # fmt: skip
        assert words in answer
    assert "4.5 to 6.8 where every bucket goes to its nearest side instead" in said


def test_the_working_day_comes_first_and_the_buckets_hours_as_a_part_of_it():
    plan = made_dig_plan()
    html = dig_plan_html(plan)
    facts = re.findall(r"<div><dt>([^<]*)</dt><dd>(.*?) <small>(.*?)</small></dd>", html)[:2]
    assert [(name, figure) for name, figure, _ in facts] == [
        ("Hours to plan your day by", f"{plan.hoe_hours:.0f}"),
        ("Of them the bucket is at work", "4.0 to 6.0"),
    ]  # fmt: skip
    assert html.index(facts[0][0]) == html.index("<dt>") + len("<dt>")
    assert "hours to bring and set up the machine" in facts[0][2]
    assert "without setting out, moving from stand to stand and taping by hand" in facts[1][2]
    longer = dig_plan_html(replace(plan, hours=Hours(low=6.0, high=9.0)))
    assert "<dt>The bucket at work, longer than that: plan by this</dt><dd>6.0 to 9.0" in longer
    assert "Of them" not in longer


def test_cautions_come_right_after_the_answer_and_the_printed_map_is_a_landscape_sheet():
    html = dig_plan_html(made_dig_plan())
    marks = ['class="answer"', 'id="cautions"', "Step 0", "Before the first stand", 'id="edges"',
             'id="passes"', "<footer>", 'class="paper-map"']  # fmt: skip
    places = [html.index(mark) for mark in marks]
    assert places == sorted(places)
    assert re.search(r"@page map { size: landscape", html)
    assert re.search(r"\.paper-map { page: map;", html)
    sheet = html[html.index('class="paper-map"') : html.index("<script>")]
    assert "data-pass" not in sheet
    assert len(re.findall("data-stand", sheet)) == len(made_dig_plan().passes)


def test_what_is_under_a_bucket_is_left_out_of_a_pass_as_on_the_card():
    plan = made_dig_plan()
    first = plan.passes[0]
    assert [cast.place for cast in first.to] == ["front", "truck"]
    scant = tuple(replace(c, buckets=0) if c.place == "truck" else c for c in first.to)
    none = tuple(replace(c, buckets=0) for c in first.to)
    for to, row, step in (
        (scant, "front 15.0", "<b>front</b>"),
        (none, "under a bucket", "Trim, under a bucket"),
    ):
        html = dig_plan_html(replace(plan, passes=(replace(first, to=to), *plan.passes[1:])))
        assert Reader(html).tables["passes"][1][4].replace("\u00a0", " ") == row
        told = re.search(r'<li data-number="1" hidden>(.*?)</ul>', html, re.S).group(1)
        assert step in told
        assert "<b>truck</b>" not in told


def test_the_answer_names_the_wall_of_the_first_stand_where_the_orders_own_has_none():
    plan = made_dig_plan()
    best, *others = plan.orders
    said = Reader(
        dig_plan_html(replace(plan, orders=(replace(best, start_wall="left"), *others)))
    ).said()
    assert "on wall front Back along each wall" in said
    assert (
        "the order “from left, counter-clockwise”, the best of 10 compared (left itself has "
        in (said)
    )
    assert "itself has" not in Reader(dig_plan_html(plan)).said()
    assert "1. from left, counter-clockwise" in said


def test_every_pass_is_told_in_the_table_and_in_the_steps_without_its_topsoil():
    plan = made_dig_plan()
    html = dig_plan_html(plan)
    page = Reader(html)
    rows = page.tables["passes"][1:]
    assert [row[0].split()[0] for row in rows] == [str(one.stand.number) for one in plan.passes]
    for told, row in zip(set_out(plan), rows, strict=True):
        assert told.one.wall in row[0]
        assert row[2] == facing_words(told.one.stand.heading)
        assert row[3] == figures.volume(told.bank)
        for cast in told.one.to:
            said = f"{cast.place} {figures.volume(cast.loose)}" in row[4].replace("\u00a0", " ")
            assert said == (cast.place != "topsoil")
    assert rows[0][1] == "B 10.0 west, 4.0 inside"
    assert rows[5][1] == "C 51.9 and D 17.2"
    steps = re.findall(r'<li data-number="(\d+)" hidden>(.*?)</ul>', html, re.S)
    assert [int(number) for number, _ in steps] == [one.stand.number for one in plan.passes]
    for one, (_, step) in zip(plan.passes, steps, strict=True):
        assert "topsoil" not in step
        for cast in thrown(one):
            assert f"<b>{cast.place}</b>" in step
            assert f"{cast.buckets} bucket" in step


def test_topsoil_comes_off_first_and_is_told_with_the_room_its_stack_lacks():
    said = Reader(dig_plan_html(made_dig_plan())).said()
    for words in ("Step 0: topsoil off", "Strip 0.5 ft (6″) over the whole cut",
                  "216.0 ft², 4.0 yd³ in the ground, 5.0 loose", "about 5 buckets",
                  "25.0 ft (25′ 0″) east and 15.0 ft (15′ 0″) south of corner B (front / right)",
                  "That stack holds 3.0 yd³ loose"):  # fmt: skip
        assert words in said
    ground = replace(made_dig_plan().ground, topsoil=None)
    assert "Step 0" not in Reader(dig_plan_html(made_dig_plan(ground=ground))).said()


def test_the_elevation_to_dig_to_is_said_at_the_top_by_its_drop_below_each_mark():
    plan = made_dig_plan()
    said = Reader(dig_plan_html(plan)).said()
    told = (
        "Dig down to elevation 92.50 : what the bucket leaves, the underside of what is laid on it "
        "(footing or stone), 11.85 ft below BM1 (104.35). Check it by rod."
    )
    assert said.index(told) < said.index("Be careful")
    terms = replace(plan.card_terms, marks=(("BM1", 104.35), ("curb", 90.0)))
    said = Reader(dig_plan_html(replace(plan, card_terms=terms))).said()
    assert "11.85 ft below BM1 (104.35) and 2.50 ft above curb (90.00). Check" in said
    said = Reader(dig_plan_html(replace(plan, card_terms=replace(terms, marks=())))).said()
    assert "(footing or stone). Check it by rod." in said


def test_topsoil_without_a_place_is_a_warning_at_the_top_and_in_step_0_with_both_choices():
    plan = made_dig_plan()
    soil = plan.ground.topsoil
    html = dig_plan_html(plan)
    said = Reader(html).said()
    told = f"Not yet placed {soil.over:.1f} yd³ topsoil loose, of {soil.loose:.1f} that come off"
    ways = (
        "Settle before the first bucket: agree on another place for it, or haul it, 1 truck "
        f"load more on top of the {plan.loads}."
    )
    head, step = said.index(told), said.index("Step 0: topsoil off Not yet placed: 2.0 yd³")
    assert head < said.index("Be careful") < step
    assert said.count(ways) == 2
    assert html.count('class="open"') == html.count('class="settle"') == 1
    all_placed = replace(soil, over=LooseVolume(0.0), over_loads=0, holds=soil.loose)
    for none in (all_placed, None):
        other = dig_plan_html(replace(plan, ground=replace(plan.ground, topsoil=none)))
        assert "Not yet placed" not in other
        assert "on top of" not in other
    no_truck = replace(soil, over_loads=None)
    other = dig_plan_html(replace(plan, ground=replace(plan.ground, topsoil=no_truck)))
    assert "or haul it. This plan counts neither." in other


def test_the_edge_to_paint_is_told_wall_by_wall_with_ground_depth_and_side():
    said = Reader(dig_plan_html(made_dig_plan())).said()
    for words in ("A–B front 8.0 ft (8′ 0″) at A, 9.0 ft (9′ 0″) at B ; ground there 100.50 to "
                  "102.50, cut 8.0 to 10.0 ft deep. 4 ft straight up, then a level bench 3 ft "
                  "wide, then 0.75 out : 1 up. stands 1–2",
                  "up to 10.0 ft, or have a competent person",
                  "The ramp way in Its middle leaves the wall line B–C 15.0 ft (15′ 0″) north",
                  "Bench mark BM1, elevation 104.35: 30.0 ft (30′ 0″) west and 20.0 ft (20′ 0″) "
                  "north of corner D (back / left)",
                  "A load is 14.0 yd³ loose, 2 loads in all"):  # fmt: skip
        assert words in said


def test_orders_and_places_show_the_plans_figures():
    plan = made_dig_plan()
    page = Reader(dig_plan_html(plan))
    rows = page.tables["orders"][1:] + page.tables["other-orders"][1:]
    assert len(rows) == len(plan.orders)
    for number, (order, row) in enumerate(zip(plan.orders, rows, strict=True), start=1):
        assert row[0].startswith(f"{number}. from {order.start_wall}, {order.direction}")
        assert order.why in row[0]
        assert row[1:] == [
            str(order.rim_corners), f"{order.hours.low:.1f} to {order.hours.high:.1f}",
            figures.volume(order.rehandled_loose), figures.volume(order.haul_loose),
            figures.volume(order.left_bank),
        ]  # fmt: skip
    for place, row in zip(plan.places, page.tables["places"][1:], strict=True):
        assert row[0].startswith(place.name)
        assert row[1:3] == [figures.volume(place.needed), figures.volume(place.cast)]
        assert row[4] == str(place.buckets)


def test_the_rest_of_the_orders_is_folded_and_paper_says_how_many_more_there_are():
    plan = made_dig_plan()
    html = dig_plan_html(plan)
    folded = html[html.index("<details>") : html.index("</details>")]
    shown = len(Reader(html).tables["orders"]) - 1
    more = len(plan.orders) - shown
    assert shown == 6
    assert folded.count('<th scope="row">') == more
    assert f'<p class="on-paper more">{more} more orders were compared' in html
    print_rules = html[html.index("@page map") :]
    assert "details { display: none !important; }" in print_rules
    assert re.search(r"^\.on-paper \{ display: none; \}", html, re.M)
    few = dig_plan_html(replace(plan, orders=plan.orders[:shown]))
    assert "more order" not in few
    assert "<details>" not in few


def test_paper_hides_only_what_it_has_otherwise_and_sets_its_long_lists_in_columns():
    html = dig_plan_html(made_dig_plan())
    sheets = re.findall(r"@media print \{(.*?)^\}", html, re.S | re.M)
    rules = [
        (one.strip(), body)
        for sheet in sheets
        for selectors, body in re.findall(r"([^{}@]+)\{([^{}]*)\}", sheet)
        for one in selectors.split(",")
    ]
    hidden = {one for one, body in rules if "display: none" in body}
    assert hidden == {".off-paper", ".dig", "details", "footer", ".jump", ".turning .live"}
    columns = {one: body for one, body in rules if "columns: " in body}
    for name in ("edges", "extras", "moves", "machine", "assumed"):
        assert f'id="{name}"' in html
        assert f"#{name}" in columns


@pytest.mark.parametrize("width", WIDTHS)
def test_each_pass_is_a_group_with_its_machine_in_its_reach_to_scale(width):
    plan = made_dig_plan()
    root = drawn(plan, width)
    scale = pixels_per_foot(root)
    passes, stands = groups(root, "data-pass"), groups(root, "data-stand")
    assert sorted(passes) == sorted(stands) == [one.stand.number for one in plan.passes]
    for one in plan.passes:
        radii = [float(c.get("r")) for c in passes[one.stand.number].iter(f"{SVG}circle")]
        assert radii == pytest.approx(
            [plan.machine.reach * scale, plan.machine.tail_swing * scale], rel=0.01
        )
        shown = [p for p in passes[one.stand.number].iter(f"{SVG}path")
                 if p.get("stroke-width") == "2"]  # fmt: skip
        assert len(shown) == 1
        size = np.ptp(numbers(shown[0].get("d")), axis=0)
        assert size == pytest.approx(np.array([12.0, 8.0]) * scale, abs=0.3)


@pytest.mark.parametrize("heading", [0.0, 90.0, 200.0, 315.0])
def test_a_stands_beak_points_where_the_machine_faces(heading):
    plan = made_dig_plan()
    first = plan.passes[0]
    turned = replace(first, stand=replace(first.stand, heading=heading))
    root = drawn(replace(plan, passes=(turned, *plan.passes[1:])))
    mark = groups(root, "data-stand")[1]
    circle = mark.find(f"{SVG}circle")
    beak = numbers([p.get("d") for p in mark.iter(f"{SVG}path")][-1])
    off = beak[0] - [float(circle.get("cx")), float(circle.get("cy"))]
    assert np.degrees(np.arctan2(off[0], -off[1])) % 360 == pytest.approx(heading, abs=2.0)


def test_an_arrow_of_more_earth_is_thicker_and_ends_where_it_is_cast():
    plan = made_dig_plan()
    root = drawn(plan)
    scale = pixels_per_foot(root)
    group = groups(root, "data-pass")[5]
    arrows = [p for p in group.iter(f"{SVG}path") if p.get("stroke-linejoin") == "round"]
    assert len(arrows) == 2
    widths = []
    for path in arrows:
        ring = numbers(path.get("d"))
        widths.append(np.hypot(*(ring[0] - ring[6])))
    casts = [cast for cast in plan.passes[4].to if cast.spot is not None]
    assert widths[0] > 2 * widths[1]  # 20.0 against 2.5
    tips = np.array([numbers(path.get("d"))[3] for path in arrows])
    apart = np.array(casts[1].spot) - np.array(casts[0].spot)
    assert tips[1] - tips[0] == pytest.approx(apart * [scale, -scale], abs=0.3)


@pytest.mark.parametrize("width", WIDTHS)
def test_sides_are_named_with_what_they_get_and_no_name_covers_another(width):
    plan = made_dig_plan()
    placed = boxes_of_names(drawn(plan, width))
    said = ["".join(text.itertext()) for text, _ in placed]
    for place in plan.places:
        if place.kind == "side":
            assert f"{place.name} {figures.volume(place.cast)} yd³" in said
    for k, (_, mine) in enumerate(placed):
        assert not any(mine.intersects(other) for _, other in placed[:k])


def test_stands_on_one_spot_have_numbers_apart():
    plan = made_dig_plan()
    same = tuple(
        replace(one, stand=replace(one.stand, spot=plan.passes[0].stand.spot))
        for one in plan.passes
    )
    marks = groups(drawn(replace(plan, passes=same)), "data-stand").values()
    circles = [mark.find(f"{SVG}circle") for mark in marks]
    places = shapely.points([(float(c.get("cx")), float(c.get("cy"))) for c in circles])
    gaps = shapely.distance(places[:, None], places[None])
    assert gaps[~np.eye(len(places), dtype=bool)].min() >= 2 * float(circles[0].get("r"))


def test_rim_corners_moves_and_cautions_are_told():
    plan = made_dig_plan()
    page = Reader(dig_plan_html(plan))
    said = page.said()
    assert "front / left : finished from stand 6" in said.replace(" :", " :")
    assert "2.5 yd³ loose from left to right , 30 ft by dozer" in said
    for words in (plan.cautions[0].message, plan.assumed[0], plan.notes[0], "27.0 ft, typical"):
        assert words in said


def test_a_plan_without_extras_or_rim_corners_says_nothing_of_them():
    bare = made_dig_plan(rim_corners=(), moves=(), left_why="", left=shapely.MultiPolygon())
    html = dig_plan_html(bare)
    assert 'id="rims"' not in html
    assert 'id="moves"' not in html
    assert "Not dug by this plan" not in html
    assert "rim-corner" not in html


def test_markup_in_any_name_is_text_on_the_plans_page():
    names = (EVIL, *WALLS[1:])
    plan = made_dig_plan(names, title=EVIL, job_file=EVIL, crs=EVIL, notes=(EVIL,),
                         assumed=(EVIL,), left_why=EVIL, start=EVIL)  # fmt: skip
    html = dig_plan_html(plan)
    page = Reader(html)
    assert len(page.scripts) == 1
    assert "alert(1)" not in "".join(page.scripts[0][1])
    assert "onclick" not in [name for name, _ in page.attributes]
    assert page.said().count(EVIL) >= 8


def test_the_policy_lets_only_the_stepper_run_and_nothing_be_fetched():
    html = dig_plan_html(made_dig_plan())
    page = Reader(html)
    policy = next(v for n, v in page.attributes if n == "content" and "default-src" in v)
    own = "".join(page.scripts[0][1])
    mark = base64.b64encode(hashlib.sha256(own.encode()).digest()).decode()
    assert policy.endswith(f"script-src 'sha256-{mark}'")
    assert "default-src 'none'" in policy
    assert not {"link", "img", "iframe", "object"} & set(page.tags)
    assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)", html)
    ids = [value for name, value in page.attributes if name == "id"]
    assert len(ids) == len(set(ids))
    assert set(re.findall(r"url\(#([^)]+)\)", html)) <= set(ids)


@pytest.mark.parametrize("direction", [1, -1])
def test_an_outline_drawn_either_way_round_has_its_names_outside(direction):
    plan = made_dig_plan()
    site = replace(plan.site, corners=plan.site.corners[::direction])
    root = drawn(replace(plan, site=site))
    outline = next(p for p in root.iter(f"{SVG}path") if p.get("stroke-width") == "2.6")
    house = shapely.Polygon(numbers(outline.get("d")))
    walls = [place for text, place in boxes_of_names(root) if text.get("font-weight") == "600"]
    assert len(walls) == 4
    assert not any(house.intersects(place) for place in walls)
