"""Cautions are said once: no wall is lost, none gains another's figures."""

from terrain.ledger.entries import Caution
from terrain.report.grouping import said_once


def caution(wall, message, code="c"):
    return Caution(code=code, wall=wall, message=message)


def test_the_same_words_of_several_walls_are_said_once_with_every_wall():
    said = said_once([caution(w, f"Wall {w} is 5.40 ft deep.") for w in ("a b", "c", "d")])
    assert [(s.wall, s.message, s.also) for s in said] == [
        (None, "Wall a b is 5.40 ft deep.", ("c", "d"))
    ]


def test_unlike_figures_codes_or_no_wall_stay_apart():
    said = said_once([
        caution("a", "Wall a is 5.4 ft deep."),
        caution("b", "Wall b is 5.5 ft deep."),
        caution("c", "Wall c is 5.4 ft deep.", code="other"),
        caution(None, "Locate utilities."),
        caution("d", "Locate utilities."),
    ])  # fmt: skip
    assert len(said) == 5
    assert all(s.also == () for s in said)


def test_a_rule_is_said_once_and_every_one_it_is_about_keeps_its_own_words():
    said = said_once([
        Caution(code="c", wall=w, message="m", of=of, own=own, rule="From 5 ft down.")
        for w, of, own in (("a", "a", "5.40 ft"), (None, "pit b", "6.00 ft"), ("c", "c", "5.40 ft"))
    ])  # fmt: skip
    assert [s.message for s in said] == ["From 5 ft down."]
    assert said[0].rows == ((("a", "c"), "5.40 ft"), (("pit b",), "6.00 ft"))


def test_two_rules_of_one_code_stay_apart():
    said = said_once([
        Caution(code="c", message="m", of=of, own="", rule=rule)
        for of, rule in (("a", "None."), ("b", "Some."), ("c", "None."))
    ])  # fmt: skip
    assert [(s.message, s.rows) for s in said] == [
        ("None.", ((("a", "c"), ""),)), ("Some.", ((("b",), ""),)),
    ]  # fmt: skip


def test_a_wall_that_the_message_does_not_name_is_named_before_it():
    said = said_once([caution("front", "It is deep."), caution("back", "It is deep.")])
    assert [(s.wall, s.also) for s in said] == [("front", ("back",))]
