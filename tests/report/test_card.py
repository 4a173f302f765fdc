"""The operator's card: its figures are the plan's, its names are escaped, its sums are right."""

import json
import re
from base64 import b64encode
from dataclasses import replace
from hashlib import sha256
from importlib.resources import files
from itertools import combinations

import numpy as np
import pytest
import shapely
from py_mini_racer import MiniRacer
from shapely import MultiPolygon

from terrain.job.dig_plan_set_out import set_out
from terrain.job.dig_plan_truck_out import in_tail
from terrain.ledger.entries import LooseVolume
from terrain.report.card import card_html
from terrain.report.card_section import cut_section_svg
from terrain.report.card_turns import turns_of
from terrain.report.dig_plan_piece_words import dug_words, mind_words, trim_words
from terrain.report.dig_plan_stand_words import face_words, side_in_words
from tests.report.made_dig_plan import FACE, box, made_dig_plan

NASTY = ('<img src=x onerror="a">', "</script><script>b()", "back & front", "left's \u202eside")


@pytest.fixture(scope="module")
def sums():
    """The card's functions in the engine of a browser; each is called with JSON."""
    engine = MiniRacer()
    engine.eval(files("terrain.report").joinpath("templates", "card_sums.js").read_text("utf-8"))
    yield lambda name, *given: json.loads(
        engine.eval(f"JSON.stringify({name}(...{json.dumps(given)}))")
    )
    engine.close()


def facts_of(page):
    return json.loads(re.search(r'id="facts">(.*?)</script>', page, re.S).group(1))


def text_of(markup):
    return " ".join(re.sub(r"<[^>]*>", " ", markup).split())


@pytest.mark.parametrize(
    ("typed", "number"),
    [
        ("9.8", 9.8), (" 12,5 ", 12.5), (".5", 0.5), ("7.", 7.0), ("-1.25", -1.25),
        ("−2", -2.0), ("0", 0.0), ("", None), ("9.8ft", None), ("1.2.3", None), ("1e3", None),
        (".", None), ("12,5,1", None), ("abc", None), ("2 6", None),
    ],
)  # fmt: skip
def test_a_typed_number_is_read_with_point_or_comma_and_nothing_else_is(sums, typed, number):
    assert sums("readNumber", typed) == number


@pytest.mark.parametrize(
    ("typed", "feet"),
    [
        ("2' 6\"", 2.5), ("2 ft 6", 2.5), ("2ft 6in", 2.5), ("2′ 6″", 2.5), ("2' 6", 2.5),
        ("2'6 1/2\"", 2.0 + 6.5 / 12), ("2’ 6½”", 2.0 + 6.5 / 12), ("2'", 2.0), ("30 in", 2.5),
        ("30\"", 2.5), ("2.5 ft", 2.5), ("1/2\"", 1 / 24), ("0' 9", 0.75), ("2,5", 2.5),
        ("2 feet 6 inches", 2.5), ("2' 6''", 2.5), ("2' 1/2", 2.0 + 1 / 24),
        ("2' 13", None), ("2 6", None), ("-2' 6", None), ("'", None), ("6 1/2", None),
        ("2' 1/0", None), ("2 m", None), ("", None), ("\"", None), ("2' \"", None),
    ],
)  # fmt: skip
def test_feet_and_inches_are_read_as_they_are_said(sums, typed, feet):
    read = sums("readLength", typed, True)
    assert read is None if feet is None else read == pytest.approx(feet)


def test_a_job_in_metres_reads_no_feet(sums):
    assert sums("readLength", "2' 6", False) is None
    assert sums("readLength", "0,75", False) == 0.75


def test_the_rod_on_the_floor_reads_the_instrument_less_the_floor(sums):
    height = sums("instrumentHeight", 105.15, 4.2)
    assert height == pytest.approx(109.35)
    assert sums("rodTarget", height, 96.5) == pytest.approx(12.85)
    assert sums("rodTarget", -3.0, -10.5) == pytest.approx(7.5)


@pytest.mark.parametrize("instrument", [96.5, 4.2])
def test_an_instrument_that_is_not_above_the_floor_has_no_target(sums, instrument):
    assert sums("rodTarget", instrument, 96.5) is None
    assert sums("wantedOn", instrument, 96.5) is None


def test_no_reading_is_wanted_while_no_height_is_typed(sums):
    assert sums("wantedOn", None, -10.5) is None
    assert sums("wantedOn", -3.0, -10.5) == pytest.approx(7.5)


@pytest.mark.parametrize(
    ("reading", "word", "by"),
    [
        (12.85, "right", 0.0), (12.75, "right", 0.1), (12.95, "right", 0.1),
        (12.74, "high", 0.11), (12.96, "low", 0.11), (5.0, "high", 7.85), (13.35, "low", 0.5),
        (14.85, "low", 2.0), (14.86, "check-deep", 2.01), (100.85, "check-deep", 88.0),
        (0.85, "high", 12.0), (0.84, "check-high", 12.01), (-0.5, "upside", 0.5),
    ],
)  # fmt: skip
def test_a_short_reading_is_high_ground_and_a_long_one_low(sums, reading, word, by):
    answer = sums("sayRod", 12.85, reading, 0.1, 2.0, 10.0)
    assert answer["word"] == word
    assert answer["by"] == pytest.approx(by)


@pytest.mark.parametrize(
    ("tape", "word", "by"),
    [
        (3.0, "right", 0.0),
        (3.25, "right", 0.25),
        (3.3, "wide", 0.3),
        (2.0, "narrow", 1.0),
        (0.0, "narrow", 3.0),
        (5.0, "wide", 2.0),
        (5.1, "check-wide", 2.1),
        (30.0, "check-wide", 27.0),
        (-1.0, "check-inside", 1.0),
    ],
)
def test_a_long_tape_is_wide_and_a_short_one_narrow(sums, tape, word, by):
    answer = sums("sayTape", 3.0, tape, 0.25, 2.0)
    assert answer["word"] == word
    assert answer["by"] == pytest.approx(by)


@pytest.mark.parametrize(
    ("feet", "told"),
    [
        (0.0, "0″"), (0.25, "3″"), (2.4, "2′ 4¾″"), (1.0, "1′ 0″"), (0.98, "11¾″"),
        (0.9999, "1′ 0″"), (0.0208, "¼″"), (3.5, "3′ 6″"), (12.04, "12′ ½″"),
    ],
)  # fmt: skip
def test_feet_read_as_on_a_tape(sums, feet, told):
    assert sums("feetInches", feet) == told


def test_the_instruments_height_is_kept_for_its_own_day_alone(sums):
    kept = sums("keptText", "106,35", "2027-05-04", "07:12")
    assert sums("keptOn", kept, "2027-05-04") == {"height": "106,35", "hour": "07:12"}
    assert sums("keptOn", kept, "2027-05-05") is None


@pytest.mark.parametrize("text", [None, "", "106.35", "null", "[]", "{", '{"day": "2027-05-04"}'])
def test_what_is_no_height_kept_by_this_card_is_none(sums, text):
    assert sums("keptOn", text, "2027-05-04") is None


def test_the_height_is_kept_apart_for_each_job():
    keys = {
        facts_of(card_html(made_dig_plan(title=title, job_file=file)))["key"]
        for title in ("Lot 7", "Lot 8")
        for file in ("job.toml", "other.toml")
    }
    assert len(keys) == 4


def stands_of(page):
    """The words of each stand, without those in its drawings."""
    bare = re.sub(r"<svg.*?</svg>", "", page, flags=re.S)
    parts = bare.split('<div class="stand">')[1:]
    return [text_of(part.split('<p class="then">')[0]) for part in parts]


def test_every_stand_tells_its_casts_and_no_topsoil():
    plan = made_dig_plan()
    told = stands_of(card_html(plan))
    assert len(told) == len(plan.passes)
    for one, words in zip(plan.passes, told, strict=True):
        assert f"Stand {one.stand.number}," in words
        assert "topsoil" not in words
        for cast in one.to:
            said = f"{cast.buckets} bucket{'s' if cast.buckets != 1 else ''}"
            if cast.place != "topsoil":
                assert f"{cast.place}" in words
                assert said in words
    assert "Load the truck 10 buckets , load 1 of 2" in told[0]
    assert "Load the truck 12 buckets , loads 1 to 2 of 2" in told[1]
    assert "Pile along front (south-west) 15 buckets" in told[0]


def test_a_stand_for_a_bucket_or_two_is_told_as_a_trim_with_where_it_goes():
    plan = made_dig_plan()
    cast = replace(plan.passes[0].to[0], loose=LooseVolume(0.2), buckets=0)
    told = stands_of(card_html(replace(plan, passes=(replace(plan.passes[0], to=(cast,)),))))[0]
    assert "Trim, under a bucket: skip it if nothing stands proud of the line." in told
    assert "What there is goes to front; it is in no count." in told
    assert "0 bucket" not in told
    last = replace(plan.passes[5], to=(replace(plan.passes[5].to[0], buckets=2),))
    whole = stands_of(card_html(replace(plan, passes=(*plan.passes[:5], last))))
    assert "Trim, 2 buckets: skip it" in whole[5]
    assert not any("Trim" in words for words in whole[:5])


def test_a_place_s_count_says_what_it_has_and_what_it_still_needs_in_buckets_and_loads():
    told = stands_of(card_html(made_dig_plan()))
    assert "So far: nothing. After this still to come: 18 buckets, of 33 in all." in told[0]
    assert (
        "So far: nothing. After this still to come: 12 buckets (2 loads not full yet), of 22 in "
        "all."
    ) in told[0]
    assert (
        "So far: 10 buckets (0 loads full). After this still to come: nothing, of 22 in all."
    ) in told[1]


def test_under_a_bucket_to_a_place_is_left_out_of_words_and_of_the_map():
    plan = made_dig_plan()
    first = plan.passes[0]
    little = replace(first.to[0], loose=LooseVolume(0.3), buckets=0)
    page = card_html(replace(plan, passes=(replace(first, to=(little, first.to[1])),)))
    assert "Pile along" not in stands_of(page)[0]
    turn = page.split('data-turn="0"')[1].split("</svg>")[0]
    assert "front" not in re.findall(r"<text[^>]*>([^<]*)</text>", turn)


def test_topsoil_has_a_page_of_its_own_before_the_first_stand_where_there_is_any():
    plan = made_dig_plan()
    page = card_html(plan)
    assert page.index("Step 0: topsoil off") < page.index("Stand 1, facing")
    step = page[page.index("Step 0: topsoil off") :]
    assert step.index("<b>Not yet placed: 2.0 yd³ topsoil</b>") < step.index("<li>Strip")
    assert "or haul it, 1 truck load more on top of the 2." in step
    bare = card_html(replace(plan, ground=replace(plan.ground, topsoil=None)))
    assert "Step 0" not in bare
    assert [p[2] for p in facts_of(bare)["pages"]][:2] == ["Before you dig", "Stakes and paint"]


def test_the_floor_is_told_by_its_drop_below_the_mark_first_of_all_and_at_each_rod_reading():
    page = card_html(made_dig_plan())
    first = page.index("Dig down to elevation <b>92.50</b>")
    assert page.index("Before you dig") < first < page.index('id="read"')
    assert "11.85 ft below BM1 (104.35)." in page[first:]
    assert page.count("Floor 92.50 ft, 11.85 ft below BM1 (104.35).") == page.count('class="rod"')


def test_a_stand_tells_both_its_distances_and_what_is_dug_from_the_seat():
    told = stands_of(card_html(made_dig_plan()))
    assert (
        "Stand Middle of the machine 10.0 ft (10′ 0″) west of corner B (front / right) along the "
        "wall, and 4.0 ft (4′ 0″) inside the wall line."
    ) in told[0]
    assert "Dig this piece, hatched here." in told[0]
    assert "−8 to 8 ft ahead : 6 ft left to 6 ft right Down to the floor." in told[0]
    assert "true are the paint, the wall line and the floor" in told[0]


def test_the_face_in_front_is_told_where_it_is_deep_and_more_of_it_where_it_comes_too_near():
    plan = made_dig_plan()
    told = stands_of(card_html(plan))
    words = (
        "The face in front of you gets 6.0 ft deep. Its foot comes no nearer than 7.2 ft to your "
        "tracks, its top edge no nearer than 2.0 ft: stop there and lay it back between; that "
        "comes off what later stands take."
    )
    for one, said in zip(plan.passes, told, strict=True):
        assert (words in said) == (one.stand.kind != "floor")
    changed = replace(plan.passes[0], face=replace(FACE, steep=(2.5, 5.75, 5.8)))
    said = stands_of(card_html(replace(plan, passes=(changed, *plan.passes[1:]))))[0]
    assert (
        "Careful: where the face in front of you is 5.8 ft deep its foot comes to 2.5 ft before "
        "your tracks; it should stay 5.8 ft off. Take it in layers"
    ) in said
    assert "stop there" not in said
    low = replace(plan.passes[0], face=replace(FACE, deep=1.9, ahead=2.5))
    said = stands_of(card_html(replace(plan, passes=(low, *plan.passes[1:]))))[0]
    assert "The face in front" not in said


def test_the_sides_cut_at_a_stand_are_told_where_they_are_not_its_own_walls_alone():
    plan = made_dig_plan()
    assert "Sides you cut here" not in card_html(plan)
    first = replace(plan.passes[0], sides=("front", "right"))
    said = stands_of(card_html(replace(plan, passes=(first, *plan.passes[1:]))))[0]
    walls = {wall.wall: wall for wall in plan.card}
    told = "; ".join(f"{name} {side_in_words(plan, walls[name])}" for name in ("front", "right"))
    assert f"Sides you cut here: {told}." in said


def test_a_truck_that_another_stand_loads_is_sent_off_where_it_is_in_the_tail():
    plan = made_dig_plan()
    near = replace(plan, machine=replace(plan.machine, tail_swing=500.0))
    for one in plan.passes:
        elsewhere = tuple(
            truck.number for truck in plan.trucks if one.stand.number not in truck.stands
        )
        assert in_tail(near, one) == elsewhere
        said = mind_words(near, one) or ""
        assert ("empty while you dig here: a truck there is in your tail" in said) == bool(
            elsewhere
        )
    far = replace(plan, machine=replace(plan.machine, tail_swing=0.0, tail_clear=0.0))
    assert not any(in_tail(far, one) for one in plan.passes)


def test_a_bucket_or_two_out_in_the_floor_is_no_trim_of_a_side():
    plan = made_dig_plan()
    few = replace(plan.passes[0], to=tuple(replace(c, buckets=1) for c in plan.passes[0].to[:1]))
    assert trim_words(few) == "Trim, 1 bucket: skip it if nothing stands proud of the line."
    assert trim_words(replace(few, sides=())) == (
        "Only 1 bucket: leave it for whichever stand reaches it, if you like."
    )


@pytest.mark.parametrize(("high", "told"), [(0.0, None), (4.0, None), (4.04, "4.0"), (6.25, "6.2")])
def test_ground_ahead_that_rises_by_more_than_a_bucket_s_width_is_warned_of(high, told):
    plan = made_dig_plan()
    changed = replace(plan.passes[0], face=replace(FACE, high=high))
    words = stands_of(card_html(replace(plan, passes=(changed, *plan.passes[1:]))))
    warned = [re.search(r"The ground ahead rises: .* up to (\S+) ft above", said) for said in words]
    assert [each and each[1] for each in warned] == [told] + [None] * (len(plan.passes) - 1)
    assert "The face in front of you gets 6.0 ft deep" in words[0]


def test_two_pieces_of_a_stand_are_listed_and_drawn_apart_and_the_plan_s_page_says_the_same():
    plan = made_dig_plan()
    dug = MultiPolygon([shapely.box(4, -6, 14, 3), shapely.box(18, 6, 24, 9)])
    first = replace(plan.passes[0], dug=dug)
    changed = replace(plan, passes=(first, *plan.passes[1:]))
    page = card_html(changed)
    told = stands_of(page)[0]
    assert (
        "1 out in the floor, ahead to the right 6 to 12 ft ahead : 2 ft right to 5 ft right Down "
        "to the floor."
    ) in told
    assert (
        "2 by front (A–B), straight ahead 16 to 26 ft ahead : the paint, 10 ft left, to 1 ft left "
        "Its far corner, 27.9 ft off, is past your reach of 27.0: take what you get. Down to the "
        "floor, and the slope up to the paint."
    ) in told
    assert "What is under your tracks stays: stand" in told
    assert "All else in reach before you stays, for stands 2–5; their numbers are on it" in told
    drawn = re.findall(r'<g class="piece">.*?</g>', page.split('class="plan dig1"')[1], re.S)[:2]
    assert sorted(text_of(mark) for mark in drawn) == ["1", "2"]
    words = dug_words(changed, set_out(changed)[0])
    assert words.startswith(
        "2 pieces: (1) out in the floor, ahead to the right, 6 to 12 ft ahead: 2"
    )


def test_a_slant_is_told_as_the_paint_s_where_it_is_and_else_as_the_piece_s_own():
    slant = shapely.Polygon([(4, -6), (14, -6), (14, 4)])
    plan = made_dig_plan()
    plan = replace(plan, passes=(replace(plan.passes[0], dug=MultiPolygon([slant])),))
    assert "Not all of that: its edges step or slant, as drawn." in stands_of(card_html(plan))[0]
    cut = plan.site.daylight.difference(shapely.Polygon([(4, -6), (14, 4), (4, 4)]))
    site = replace(plan.site, daylight=MultiPolygon([cut]))
    told = stands_of(card_html(replace(plan, site=site)))[0]
    assert "The paint slants there: dig up to it." in told
    assert "Not all of that" not in told


def boxes_of(drawn):
    """What each text of a drawing takes at least, in pixels, by a narrow letter's width."""
    found = []
    for style, words in re.findall(r"<text([^>]*)>([^<]*)</text>", drawn):
        at = dict(re.findall(r'([a-z-]+)="([^"]*)"', style))
        if "transform" in at:
            x, y = map(float, re.search(r"translate\((\S+) (\S+)\)", at["transform"]).groups())
        else:
            x, y = float(at["x"]), float(at["y"]) - 0.36 * float(at["font-size"])
        half, high = 0.25 * len(words) * float(at["font-size"]), 0.3 * float(at["font-size"])
        found.append((words, shapely.box(x - half, y - high, x + half, y + high)))
    return found


CORNER = MultiPolygon([shapely.box(36, -5.5, 41, -1), shapely.box(37, 0.5, 39.5, 3)])
"""Two pieces about a lettered corner, so that figures, marks and the letter want one place."""


@pytest.mark.parametrize("dug", [None, CORNER])
@pytest.mark.parametrize("metric", [False, True])
def test_no_figure_number_or_letter_of_a_stand_s_drawings_stands_on_another(metric, dug):
    plan = made_dig_plan()
    if dug is not None:
        plan = replace(plan, passes=(replace(plan.passes[0], dug=dug), *plan.passes[1:]))
    if metric:
        plan = replace(plan, length_unit="m", volume_unit="m3")
    page = card_html(plan)
    for number in range(1, len(plan.passes) + 1):
        for name in ("spot", "dig"):
            drawn = page.split(f'class="plan {name}{number}"')[1].split("</svg>")[0]
            within = drawn.split("</clipPath>")[1].split('class="key"')[0]
            boxes = boxes_of(within)
            assert len(boxes) > 2
            for (one, first), (two, second) in combinations(boxes, 2):
                assert not first.intersects(second), (name, number, one, two)


def test_rod_tape_and_tolerances_are_held_to_the_plan_s_own_figures():
    plan = made_dig_plan()
    walls = tuple(
        replace(wall, floor=92.5 - k, overdig=2.0 + k) for k, wall in enumerate(plan.card)
    )
    page = card_html(replace(plan, card=walls))
    facts = facts_of(page)
    by_name = {wall.wall: wall for wall in walls}
    assert facts["walls"][:3] == [{}, {}, {}]
    for turn, told in zip(
        turns_of(plan, set_out(plan)), facts["walls"][facts["starts"] :], strict=True
    ):
        wall = by_name[turn.name]
        assert told == {"floor": wall.floor, "overdig": wall.overdig}
        assert f"Floor {wall.floor:.2f} ft" in page
        assert f'<p class="big">{wall.overdig:.1f} ft' in page
    assert (facts["deepest"], facts["far"]) == (plan.ground.highest, 2.0)
    assert (facts["floorWithin"], facts["lineWithin"]) == (0.1, 0.25)
    assert facts["marks"] == [104.35]


def test_every_stand_is_stepped_through_once_in_order():
    plan = made_dig_plan()
    facts = facts_of(card_html(plan))
    starts, pages = facts["pages"][: facts["starts"]], facts["pages"][facts["starts"] :]
    assert [name for *_, name in starts] == [
        "Before you dig", "Topsoil", "Stakes and paint", "Ramps, pits, trenches", "Trucks",
    ]  # fmt: skip
    assert [stand for _, stand, _ in pages] == list(range(len(plan.passes)))
    assert [name for *_, name in pages] == [f"Stand {p.stand.number}" for p in plan.passes]


def test_the_map_has_a_turn_for_every_pass_with_the_places_it_is_cast_to():
    plan = made_dig_plan()
    drawn = card_html(plan).split('<div id="map">')[1].split("</svg>")[0]
    turns = re.split(r'data-turn="', drawn)[1:]
    assert [int(turn.split('"')[0]) for turn in turns] == list(range(len(plan.passes)))
    assert re.findall(r'data-before="(\d+)"', drawn) == [str(k) for k in range(len(plan.passes))]
    for one, turn in zip(plan.passes, turns, strict=True):
        told = re.findall(r"<text[^>]*>([^<]*)</text>", turn)
        cast = [each.place for each in one.to if each.spot is not None]
        assert told[: len(cast) + 1] == [*cast, str(one.stand.number)]


def test_a_stand_s_own_drawing_has_its_measures_and_every_corner_s_letter():
    page = card_html(made_dig_plan())
    drawn = page.split('<div class="spot">')[1].split("</svg>")[0]
    told = re.findall(r"<text[^>]*>([^<]*)</text>", drawn)
    assert told[:2] == ["10.0", "4.0"]
    assert told[2:6] == ["A", "B", "C", "D"]


def test_a_wall_come_back_to_has_a_second_turn_and_one_without_stands_is_still_checked():
    plan = made_dig_plan()
    again = replace(
        plan.passes[-1],
        wall="front",
        sides=("front",),
        stand=replace(plan.passes[-1].stand, wall="front", kind="floor"),
    )
    beside = replace(plan.passes[3], dug=box(30, 20, 43, 30))
    passes = (*plan.passes[:2], beside, *plan.passes[4:], again)
    changed = replace(plan, passes=passes)
    turns = turns_of(changed, set_out(changed))
    assert [turn.name for turn in turns] == ["front", "back", "left", "front", "right"]
    assert [turn.again for turn in turns] == [False, False, False, True, False]
    page = card_html(changed)
    assert "Back to front" in page
    assert "No stand of its own: dug from stand 4" in page
    assert "Down on the floor: middle" in page
    assert "a competent person judges the face along front, up to 10.0 ft high" in page
    assert "Your tail swings 7.5 ft (7′ 6″) round: this spot is 1.6 ft (1′ 7″) more" in page
    named = re.findall(r"<option[^>]*>([^<]*)</option>", page)
    assert named[5:] == ["front (stands 1–2)", "back (stand 4)", "left (stands 5–6)",
                         "front again (stand 6, from the floor)",
                         "right (no stand of its own: dug from stand 4)"]  # fmt: skip


def test_a_stand_past_its_wall_is_told_by_two_tapes_from_named_corners():
    plan = made_dig_plan()
    first, *rest = plan.passes
    past = replace(first.stand, station=-6.34, spot=(-6.0, 8.0))
    page = card_html(replace(plan, passes=(replace(first, stand=past), *rest)))
    assert (
        "by two tapes, 10.0 ft (10′ 0″) from corner A (left / front) and 22.8 ft (22′ 10″) from "
        "corner D (back / left), on the west side of the line A to D; that is past corner A, "
        "8.0 ft (8′ 0″) inside the wall line of front."
    ) in page


def test_the_way_to_a_stand_that_leaves_the_lot_is_told_with_its_ramp():
    plan = made_dig_plan()
    first, *rest = plan.passes
    way = np.array([[30.0, 4.0], [90.0, 4.0], [90.0, 15.0], [30.0, 15.0]])
    floor = replace(first.stand, kind="floor", way=way)
    told = stands_of(card_html(replace(plan, passes=(replace(first, stand=floor), *rest))))
    assert "Way there: Leave the lot on the east (ask for that ground first)." in told[0]
    assert "then west down the ramp “way in” (10.0 ft wide, 4 out : 1 down)" in told[0]
    assert "Way there" not in told[1]


def test_a_ramp_has_stands_but_neither_rod_nor_tape():
    plan = made_dig_plan()
    stand = replace(plan.passes[-1].stand, wall="way in", kind="extra")
    passes = (*plan.passes[:-1], replace(plan.passes[-1], wall="way in", stand=stand))
    page = card_html(replace(plan, passes=passes))
    ramp = page.split('<section class="wall"')[-1].split("<section")[0]
    assert "Over the line of way in: middle of the machine by two tapes" in ramp
    assert "To the floor of way in" in ramp
    assert "take them from the drawing" in ramp
    assert "<input" not in ramp
    assert facts_of(page)["walls"][-1] == {}


def test_names_are_escaped_and_the_policy_runs_only_the_card_s_scripts():
    page = card_html(made_dig_plan(names=NASTY, title="<b>lot</b> </script>"))
    for text in ("<img", "<b>lot", "\u202e", "<script>b()"):
        assert text not in page
    assert "&lt;img src=x" in page
    scripts = re.findall(r"<script>(.*?)</script>", page, re.S)
    own = files("terrain.report").joinpath("templates")
    assert scripts == [own.joinpath(n).read_text("utf-8") for n in ("card_sums.js", "card.js")]
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', page).group(1)
    assert policy.startswith("default-src")
    for script in scripts:
        mark = b64encode(sha256(script.encode()).digest()).decode()
        assert f"sha256-{mark}" in policy.replace("&#43;", "+").replace("&#34;", '"')
    assert not re.search(r"""(src|href)=["']?(https?:)?//""", page)


def test_loose_that_changes_changes_the_card():
    plan = made_dig_plan()
    first = plan.passes[0]
    more = replace(first.to[0], loose=LooseVolume(99.0), buckets=99)
    changed = replace(plan, passes=(replace(first, to=(more, *first.to[1:])), *plan.passes[1:]))
    assert "99 buckets" in card_html(changed)


def test_all_that_the_script_looks_for_stands_on_the_page():
    page = card_html(made_dig_plan())
    script = files("terrain.report").joinpath("templates", "card.js").read_text("utf-8")
    ids = set(re.findall(r'getElementById\("([^"]+)"\)', script))
    classes = {
        name
        for sought in re.findall(r'querySelector(?:All)?\("([^"]+)"\)', script)
        for name in re.findall(r"\.([a-z-]+)", sought)
    }
    assert len(ids) > 8
    assert len(classes) > 6
    assert all(f'id="{name}"' in page for name in ids)
    assert all(re.search(rf'class="[^"]*\b{name}\b', page) for name in classes)


def test_a_section_calls_the_stretch_from_wall_to_dig_line_by_its_name():
    plan = made_dig_plan()
    for wall, cut in zip(plan.card, plan.ground.cuts, strict=True):
        assert "overdig 2.0 ft" in text_of(cut_section_svg(plan, wall, cut))


def test_the_first_stand_on_the_floor_says_it_in_full_and_those_after_it_in_short():
    made = made_dig_plan()
    passes = tuple(
        replace(one, stand=replace(one.stand, kind="floor")) if one.stand.number > 3 else one
        for one in made.passes
    )
    plan = replace(made, passes=passes)
    said = [face_words(plan, told) for told in set_out(plan)]
    assert said[:3] == [None] * 3
    assert "a competent person judges the face along back" in said[3]
    assert "Your tail swings 7.5 ft (7′ 6″) round: this spot is 1.6 ft" in said[3]
    for later in said[4:]:
        assert later.startswith("Judged as before stand 4: the face along left, up to 10.0 ft high")
        assert "Check your tail, 7.5 ft (7′ 6″) round: 1.6 ft (1′ 7″) to spare" in later
        assert len(later) < len(said[3]) / 2
