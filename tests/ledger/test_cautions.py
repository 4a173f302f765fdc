"""Cautions against SOURCES section 4: OSHA's figures (S2 as quoted), its 1995 memo (S)."""

import numpy as np
import pytest

from terrain.base.errors import JobError
from terrain.base.units import FOOT, METRE, US_SURVEY_FOOT
from terrain.ledger.cautions import cautions
from terrain.ledger.facts import ExtraFacts, SiteFacts, WallFacts

VERTICAL = ((0.0, 1.0),)
GENERAL = ["no-permit", "buried-utilities", "spoil-setback"]


def wall(depth, side=VERTICAL, overdig=3.0, room=None, **more):
    room = overdig if room is None else room
    return WallFacts(
        wall="back", depth=depth, side=side, overdig=overdig, working_room=room, **more
    )


def site(unit=FOOT, deepest=8.0, **more):
    return SiteFacts(unit=unit, deepest_cut=deepest, **more)


def of_wall(found):
    return [c.code for c in found if c.wall == "back"]


def message(found, code):
    (caution,) = [c for c in found if c.code == code]
    return caution.message


def slope(run_per_rise):
    return ((run_per_rise, 1.0),)


def test_always_said_no_permit_utilities_and_the_setback():
    found = cautions(site(), (wall(8.0, slope(1.5)),))
    assert [c.code for c in found][:3] == GENERAL
    assert all(c.wall is None for c in found[:3])
    assert "no permit" in found[0].message
    assert "Local code and a competent person" in found[0].message


@pytest.mark.parametrize(
    ("depth", "codes"),
    [
        (4.99, []),
        (5.0, ["protection-depth"]),
        (5.0 - 1e-12, ["protection-depth"]),
        (20.0, ["protection-depth"]),
        (20.01, ["protection-depth", "engineer-depth"]),
    ],
)
def test_depth_counts_from_5_ft_and_beyond_20_ft(depth, codes):
    assert of_wall(cautions(site(), (wall(depth, slope(1.5)),))) == codes


def test_a_shallow_dig_still_needs_a_competent_persons_eye():
    found = cautions(site(deepest=4.0), (wall(4.0),))
    assert "sees no sign of a cave-in" in message(found, "shallow-dig")
    assert "shallow-dig" not in [c.code for c in cautions(site(), (wall(5.0),))]


def test_metres_are_compared_exactly_and_told_rounded():
    site_m = site(METRE, deepest=1.6)
    assert of_wall(cautions(site_m, (wall(1.523, slope(1.5)),))) == []
    found = cautions(site_m, (wall(1.524, slope(1.5)),))
    assert of_wall(found) == ["protection-depth"]
    assert "1.52 m (5 ft)" in message(found, "protection-depth")
    assert "0.61 m (2 ft)" in message(found, "spoil-setback")
    assert "1.4 m (Canada)" in message(found, "no-permit")


def test_either_foot_meets_the_rule_at_its_own_5_and_is_told_as_feet():
    found = cautions(site(US_SURVEY_FOOT), (wall(5.0, slope(1.5)),))
    assert of_wall(found) == ["protection-depth"]
    assert "5.00 ft deep. From 5 ft" in message(found, "protection-depth")
    assert "metre" not in " ".join(c.message for c in found)


@pytest.mark.parametrize(
    ("soil_class", "allowed"), [("A", 0.75), ("B", 1.0), ("C", 1.5), (None, 1.5)]
)
def test_a_side_steeper_than_table_b1_is_told_and_one_as_steep_is_not(soil_class, allowed):
    code = "side-steeper-than-default" if soil_class is None else "side-steeper-than-class"
    steep = cautions(site(soil_class=soil_class), (wall(8.0, slope(allowed - 0.01)),))
    assert code in of_wall(steep)
    assert f"{allowed:g}:1" in message(steep, code)
    right = cautions(site(soil_class=soil_class), (wall(8.0, slope(allowed)),))
    assert of_wall(right) == ["protection-depth"]


def test_stable_rock_stands_upright_and_needs_no_protection_but_an_engineer_below_20_ft():
    assert of_wall(cautions(site(soil_class="stable rock"), (wall(19.0),))) == []
    found = cautions(site(soil_class="stable rock", deepest=21), (wall(21.0),))
    assert of_wall(found) == ["engineer-depth"]


def test_a_steep_side_less_than_5_ft_deep_is_no_caution():
    assert of_wall(cautions(site(deepest=4.5), (wall(4.5),))) == []


def test_an_upright_side_is_told_once_by_its_slope():
    codes = of_wall(cautions(site(soil_class="A"), (wall(7.0),)))
    assert codes == ["protection-depth", "side-steeper-than-class"]


def test_the_steepest_slope_counts_though_the_whole_is_flat_enough():
    side = ((0.5, 4.0), (20.0, 0.0))
    found = cautions(site(soil_class="A"), (wall(6.0, side),))
    assert "its steepest slope at 0.12:1" in message(found, "side-steeper-than-class")


def test_short_term_class_a_is_told_within_12_ft_only():
    told = "24 hours or less"
    side = slope(0.5)
    deep = {d: cautions(site(soil_class="A"), (wall(d, side),)) for d in (12.0, 12.1)}
    assert told in message(deep[12.0], "side-steeper-than-class")
    assert told not in message(deep[12.1], "side-steeper-than-class")
    steeper = cautions(site(soil_class="A"), (wall(8.0, slope(0.49)),))
    assert told not in message(steeper, "side-steeper-than-class")
    assert told not in message(
        cautions(site(soil_class="B"), (wall(8.0, side),)), "side-steeper-than-class"
    )


@pytest.mark.parametrize(
    ("soil_class", "side", "too_high"),
    [
        ("A", ((0.0, 4.0), (9.0, 0.0), (0.0, 5.0), (9.0, 0.0)), False),
        ("A", ((0.0, 4.1), (9.0, 0.0), (0.0, 5.0), (9.0, 0.0)), True),
        ("A", ((0.0, 4.0), (9.0, 0.0), (0.0, 5.1), (9.0, 0.0)), True),
        ("B", ((0.0, 4.0), (12.0, 0.0)), False),
        ("B", ((0.0, 4.0), (12.0, 0.0), (0.0, 5.0), (12.0, 0.0)), True),
        ("C", ((0.0, 1.0), (12.0, 0.0)), True),
        ("stable rock", ((0.0, 9.0), (1.0, 0.0)), False),
    ],
)
def test_bench_heights_by_class(soil_class, side, too_high):
    """29 CFR 1926 Subpart P App. B (S2): A first 4 ft then 5 ft, B 4 ft, C none."""
    found = cautions(site(soil_class=soil_class), (wall(9.5, side),))
    assert ("bench-height" in of_wall(found)) == too_high


def test_a_bench_too_high_is_told_with_its_place_and_its_limit():
    side = ((0.0, 4.0), (12.0, 0.0), (0.0, 6.0), (12.0, 0.0))
    found = cautions(site(soil_class="A"), (wall(11.0, side),))
    assert "the one 4.00 ft up is 6.00 ft (5 ft at most)" in message(found, "bench-height")


@pytest.mark.parametrize(
    ("depth", "side", "verdict"),
    [
        # 4 ft upright, 8 ft level: within 1:1 as a whole, so the soil decides
        (8.0, ((0.0, 4.0), (8.0, 0.0)), "allowed if the soil is cohesive"),
        (7.0, ((0.0, 4.0), (2.0, 0.0), (0.5, 1.0)), "since the side stands at 0.50:1, steeper"),
        (9.5, ((0.0, 4.5), (12.0, 0.0)), "since an upright part is higher than 4 ft"),
        (7.0, ((0.0, 3.5), (1.0, 1.0)), "3.50 ft upright under a slope, with no bench between"),
        (9.0, ((2.0, 2.0), (0.0, 3.0), (3.0, 1.0)), "3.00 ft upright that begins 2.00 ft up"),
    ],
)
def test_an_upright_part_in_class_b_is_told_allowed_or_not_and_what_to_do(depth, side, verdict):
    """29 CFR 1926 Subpart P App. B (S2): B 4 ft, cohesive only; upright foot shielded (S2)."""
    found = cautions(site(soil_class="B"), (wall(depth, side),))
    told = message(found, "bench-soil")
    assert told.startswith("Wall back: ")
    assert verdict in told
    assert "1:1" in told, "it says what to do instead"


def test_an_upright_foot_under_a_slope_is_shielded_to_18_inches_above_its_top():
    side = ((0.0, 3.5), (1.0, 1.0))
    found = cautions(site(soil_class="B"), (wall(7.0, side),))
    assert "up to 5.00 ft above the floor" in message(found, "bench-soil")
    metres = ((0.0, 1.0), (1.0, 1.0))
    found = cautions(site(METRE, soil_class="B"), (wall(2.5, metres),))
    assert "up to 1.46 m above the floor" in message(found, "bench-soil")


@pytest.mark.parametrize(
    ("soil_class", "depth", "side"),
    [
        ("B", 4.9, ((0.0, 3.5), (1.0, 1.0))),
        ("B", 7.0, VERTICAL),
        ("B", 7.0, slope(1.0)),
        ("A", 7.0, ((0.0, 3.5), (1.0, 1.0))),
    ],
)
def test_no_word_on_upright_parts_where_there_are_none_or_another_rule_speaks(
    soil_class, depth, side
):
    found = cautions(site(soil_class=soil_class), (wall(depth, side),))
    assert "bench-soil" not in of_wall(found)


def test_benches_in_soil_of_no_class_fall_under_the_default_slope():
    found = cautions(site(), (wall(9.0, ((0.0, 4.0), (12.0, 0.0))),))
    told = message(found, "side-steeper-than-default")
    assert "no benches" in told
    assert "upright parts up to 4.00 ft high" in told


@pytest.mark.parametrize(
    ("depth", "side", "outside"),
    [
        (7.49, VERTICAL, False),
        (7.5, VERTICAL, True),
        (9.0, ((0.0, 5.0), (2.0, 0.0)), False),
        (9.0, ((0.0, 5.0), (1.9, 0.0)), True),
        (9.0, ((0.0, 5.1), (3.0, 0.0)), True),
        (11.0, ((0.0, 5.0), (2.0, 0.0)), False),
        (11.0, ((0.0, 5.0), (2.0, 0.0), (0.0, 5.0), (0.5, 0.0)), True),
        (9.0, slope(0.5), False),
        (9.0, slope(0.3), True),
        (9.0, slope(1.5), False),  # within the regulation: the policy does not matter
    ],
)
def test_the_memos_depth_of_7_ft_6_or_benches_of_2_ft_in_5(depth, side, outside):
    """OSHA memorandum of 30 June 1995 (S)."""
    found = cautions(site(), (wall(depth, side),))
    assert ("memo-depth" in of_wall(found)) == outside


def test_the_memos_conditions_are_listed_once_and_only_where_it_matters():
    walls = tuple(
        WallFacts(wall=n, depth=7.0, side=VERTICAL, overdig=3.0, working_room=3.0) for n in "abc"
    )
    told = message(cautions(site(deepest=7.0), walls), "memo-conditions")
    for words in ("7.5 ft deep", "2 ft for every 5 ft", "2 ft wide", "no water", "heavy equipment",
                  "here 7.00 ft", "never nearer than 2 ft", "as few people"):  # fmt: skip
        assert words in told
    assert "a policy, no regulation" in told
    assert "A competent person is needed either way" in told
    sloped = cautions(site(), (wall(8.0, slope(1.5)),))
    assert "memo-conditions" not in [c.code for c in sloped]


@pytest.mark.parametrize(
    ("room", "unit", "told"),
    [
        (2.0, FOOT, None),
        (2.0 - 1e-12, FOOT, None),
        (1.999, FOOT, "1.999 ft of working room (overdig 3.00 ft less the footing's projection)"),
        (0.0, FOOT, "no working room"),
        (-0.5, FOOT, "no working room (overdig 3.00 ft less"),
        (-0.5, FOOT, "The footing reaches 0.50 ft past the dig line"),
        (0.6096, METRE, None),
        (0.60, METRE, "0.60 m of working room"),
    ],
)
def test_working_room_under_2_ft_is_a_caution(room, unit, told):
    found = cautions(site(unit), (wall(1.2, room=room),))
    assert of_wall(found) == ([] if told is None else ["working-room"])
    if told:
        assert told in message(found, "working-room")


def test_less_room_than_2_ft_tells_the_overdig_that_gives_it():
    """2 ft from face to formwork (S): a footing of 0.5 ft past the face needs overdig 2.5 ft."""
    found = cautions(site(), (wall(6.0, overdig=2.0, room=1.5),))
    assert "needs overdig 2.50 ft" in message(found, "working-room")
    third = cautions(site(), (wall(6.0, overdig=1.0, room=2.0 / 3.0),))
    assert "needs overdig 2.34 ft" in message(third, "working-room")  # 2.333 would be too little


@pytest.mark.parametrize(
    ("soil_class", "run"), [("A", "6.00"), ("B", "8.00"), ("C", "12.00"), (None, "12.00")]
)
def test_a_side_too_steep_tells_how_far_back_its_class_goes(soil_class, run):
    found = cautions(site(soil_class=soil_class), (wall(8.0),))
    code = "side-steeper-than-default" if soil_class is None else "side-steeper-than-class"
    assert f"needs {run} ft back from the toe" in message(found, code)


def test_every_parted_caution_says_its_rule_and_its_own_in_its_message_too():
    pit = ExtraFacts(kind="pit", name="areaway", depth=21.0, side=VERTICAL)
    found = cautions(site(soil_class="A", extras=(pit,), deepest=21), (wall(21.0, room=1.0),))
    parted = [c for c in found if c.rule and c.of]
    assert {c.of for c in parted} == {"back", "pit areaway"}
    assert {c.code for c in parted} == {"working-room", "protection-depth", "engineer-depth",
                                        "side-steeper-than-class", "memo-depth"}  # fmt: skip
    for caution in parted:
        assert caution.rule in caution.message
        assert caution.own.split(" deep")[0].split(";")[0] in caution.message


def test_a_metric_job_hears_the_enforcement_policy_in_metres():
    found = cautions(site(METRE, deepest=3.0), (wall(3.0),))
    codes = [c.code for c in found]
    assert "memo-conditions" in codes
    assert "memo-depth" in of_wall(found)
    assert "2.29 m (7.5 ft)" in message(found, "memo-depth")


def test_a_wall_where_nothing_is_cut_needs_no_room():
    assert of_wall(cautions(site(), (wall(0.0, room=0.5),))) == []


def test_a_wall_that_left_the_dig_line_is_told_and_nothing_else_of_it():
    found = cautions(site(), (wall(9.0, room=0.5, dig_line="vanished"),))
    assert of_wall(found) == ["wall-vanished"]


def test_trenches_from_4_ft_want_a_way_out_within_25_ft():
    def trench(name, depth):
        return ExtraFacts(kind="trench", name=name, depth=depth, side=VERTICAL)

    extras = (trench("piers", 4.0), trench("drain", 3.9), trench("sewer", 6.0))
    found = cautions(site(extras=extras, deepest=6.0), ())
    told = message(found, "trench-egress")
    assert "piers (4.00 ft deep), sewer (6.00 ft deep)" in told
    assert "drain" not in told
    assert "within 25 ft" in told
    assert "strip between" not in told
    codes = [c.code for c in cautions(site(extras=(trench("drain", 3.9),), deepest=3.9), ())]
    assert "trench-egress" not in codes


def test_the_strip_behind_the_forms_may_be_a_trench():
    found = cautions(site(), (wall(8.0, slope(1.5)),))
    assert "strip between them and the face" in message(found, "trench-egress")
    far = cautions(site(), (wall(8.0, slope(1.5), overdig=16.0),))
    assert "trench-egress" not in [c.code for c in far]


def test_pits_are_held_to_the_same_depths_and_slopes_and_called_by_name():
    pit = ExtraFacts(kind="pit", name="areaway", depth=6.0, side=VERTICAL)
    found = cautions(site(extras=(pit,)), ())
    told = {c.code: c for c in found}
    for code in ("protection-depth", "side-steeper-than-default"):
        assert told[code].message.startswith("Pit areaway")
        assert told[code].wall is None
    assert "memo-depth" not in told


def box(left, low, right, high):
    return np.array([[left, low], [right, low], [right, high], [left, high]], dtype=float)


def closed(corners):
    return np.vstack([corners, corners[:1]])


EDGE = (closed(box(0, 0, 30, 20)),)


def test_a_cut_over_the_lot_line_is_told_with_how_far():
    lot = box(-5, -5, 28, 25)
    found = cautions(site(lot=lot, daylight=EDGE), ())
    assert "by up to 2.00 ft" in message(found, "lot-line-crossed")


def test_a_cut_up_to_the_lot_line_is_within_it():
    found = cautions(site(lot=box(0, 0, 30, 20)[::-1], daylight=EDGE), ())
    assert "lot-line-crossed" not in [c.code for c in found]


def test_the_farthest_point_past_a_reentrant_lot_line_is_found_between_the_corners():
    lot = np.array(
        [[-50, -50], [80, -50], [80, 10], [0, 10], [0, 12], [80, 12], [80, 50], [-50, 50]]
    )
    line = (np.array([[20.0, 8.0], [20.0, 14.0]]),)
    found = cautions(site(lot=lot.astype(float), daylight=line), ())
    assert "by up to 1.00 ft" in message(found, "lot-line-crossed")


@pytest.mark.parametrize(
    ("outline", "code", "says"),
    [
        (box(27, 5, 40, 15), "building-undercut", "reaches up to 3.00 ft inside"),
        (box(10, 5, 20, 15), "building-undercut", "whole of it stands within"),
        (box(37, 5, 50, 15), "building-near", "7.00 ft from the edge of the cut"),
        (box(38, 5, 50, 15), None, None),
    ],
)
def test_buildings_in_the_cut_or_nearer_than_it_is_deep_are_told(outline, code, says):
    found = cautions(site(buildings=(("shed", outline),), daylight=EDGE), ())
    assert [c.code for c in found if c.code.startswith("building")] == ([code] if code else [])
    if code:
        assert says in message(found, code)
        assert "Building shed" in message(found, code)


def test_a_building_on_an_island_of_ground_within_the_cut_is_near_it_not_in_it():
    daylight = (*EDGE, closed(box(5, 5, 25, 15)))
    found = cautions(site(buildings=(("shed", box(8, 8, 20, 12)),), daylight=daylight), ())
    assert "3.00 ft from the edge" in message(found, "building-near")


def test_an_open_edge_that_runs_through_a_building_is_told():
    line = (np.array([[0.0, 0.0], [30.0, 0.0]]),)
    found = cautions(site(buildings=(("shed", box(10, -4, 20, 9)),), daylight=line), ())
    assert "reaches up to 4.00 ft inside" in message(found, "building-undercut")


def test_a_lot_line_that_crosses_itself_is_refused_at_its_key():
    crossed = box(0, 0, 9, 9)[[0, 2, 1, 3]]
    with pytest.raises(JobError) as caught:
        cautions(site(lot=crossed, daylight=EDGE), ())
    assert caught.value.faults[0].key == "lot.boundary"
    with pytest.raises(JobError) as caught:
        cautions(site(buildings=(("shed", crossed),)), ())
    assert caught.value.faults[0].key == "lot.buildings.shed"


def test_no_rule_says_twice_what_it_says_of_a_wall():
    side = ((0.0, 6.0), (0.2, 1.0))
    for soil_class in (None, "A", "B", "C"):
        found = cautions(site(soil_class=soil_class, deepest=25), (wall(25.0, side, room=1.0),))
        codes = of_wall(found)
        assert len(codes) == len(set(codes))


@pytest.mark.parametrize(("end_face", "told"), [(0.0, 0), (0.05, 0), (3.5, 1)])
def test_a_ramp_that_ends_below_ground_is_told(end_face, told):
    ramp = ExtraFacts(kind="ramp", name="way in", depth=6.0, side=((0.0, 1.0),), end_face=end_face)
    found = [
        c
        for c in cautions(SiteFacts(unit=FOOT, deepest_cut=8.0, extras=(ramp,)), ())
        if c.code == "ramp-ends-below-ground"
    ]
    assert len(found) == told
    assert all("3.50 ft below ground" in c.message for c in found)
