"""The drawing "dig now" carries the figures of the words for the seat, once each, and no others."""

import re
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely

from terrain.job.dig_plan import plan
from terrain.job.dig_plan_pieces import dug_now
from terrain.job.dig_plan_set_out import set_out
from terrain.job.load import load_job
from terrain.report.card_dig import card_dig_svg
from terrain.report.dig_plan_piece_words import piece_words
from tests.report.made_dig_plan import made_dig_plan
from tests.report.test_card import boxes_of

ELL = shapely.union_all([shapely.box(18, 6, 24, 9), shapely.box(18, 9, 21, 15)])
BLOCK = shapely.box(4, -6, 14, 3)
STEPPED = shapely.union_all([shapely.box(18, 4, 24, 9), shapely.box(12, 4, 18, 15)])
"""Seen from stand 1, at (30, 4) facing west: an L ahead to the right, a block out to the paint, two
boxes with one side on the line straight ahead."""

SIDE = r"(the paint, )?(?:your middle line|(\S+) (?:ft|m) (left|right))"


def digging(*parts, **changes):
    made = made_dig_plan(**changes)
    first = replace(made.passes[0], dug=shapely.MultiPolygon(parts))
    return replace(made, passes=(first, *made.passes[1:]))


@pytest.fixture(scope="module")
def demo():
    return plan(load_job("terrain/cli/demo_job/job.toml"))


def figures_of(plan, told):
    """Its figures in a row, without numbers of pieces and stands; and the whole drawing."""
    drawn = card_dig_svg(plan, told, dug_now(plan, told.one))
    own = drawn.split('<g class="measures">')[1].split('<g class="piece">')[0]
    return re.findall(r"<text[^>]*>([^<]*)</text>", own), drawn


def words_of(plan, one):
    """Out of the words: how far ahead, and each box's side to either hand, once in a piece where
    the next box's is the same.
    """
    ahead, aside = set(), []
    for piece in dug_now(plan, one).pieces:
        hands = [[], []]
        for along, across in piece_words(plan, one, piece).boxes:
            ahead |= set(re.fullmatch(r"(\S+) to (\S+) (?:ft|m) ahead", along).groups())
            found = re.fullmatch(f"{SIDE},? to {SIDE}", across).groups()
            for hand, (paint, far, side) in zip(hands, (found[:3], found[3:]), strict=True):
                words = "paint" if paint else f"{far} {side[0].upper()}" if far else "0"
                if hand[-1:] != [words]:
                    hand.append(words)
        aside += [*hands[0], *hands[1]]
    return ahead, aside


@pytest.mark.parametrize("unit", ["ft", "m"])
@pytest.mark.parametrize("parts", [(ELL, BLOCK), (STEPPED,), (BLOCK,)])
def test_the_drawing_has_every_figure_of_the_words_once_and_no_other(unit, parts):
    made = digging(*parts, length_unit=unit)
    ahead, aside = words_of(made, made.passes[0])
    drawn, _ = figures_of(made, set_out(made)[0])
    assert sorted(drawn) == sorted([*ahead, *aside])


def test_the_figures_are_whole_feet_by_hand():
    made = digging(ELL, BLOCK)
    drawn, _ = figures_of(made, set_out(made)[0])
    assert drawn[:5] == ["26", "16", "12", "9", "6"]
    assert sorted(drawn[5:]) == ["1 L", "11 R", "2 R", "5 R", "paint"]


def test_ticks_stand_on_the_line_straight_ahead_as_far_apart_as_they_say():
    made = digging(ELL, BLOCK)
    drawn, markup = figures_of(made, set_out(made)[0])
    ticks = np.array([
        np.array(re.findall(r"-?[\d.]+", path), dtype=float).reshape(-1, 2).mean(axis=0)
        for path in re.findall(r'<path(?=[^>]*class="tick")[^>]* d="([^"]*)"', markup)
    ])  # fmt: skip
    assert np.ptp(ticks[:, 1]) == pytest.approx(0.0, abs=0.11)
    ahead = np.array([float(words) for words in drawn[:5]])
    scale = np.ptp(ticks[:, 0]) / np.ptp(ahead)
    assert ticks[:, 0] - ticks[0, 0] == pytest.approx(scale * (ahead[0] - ahead), abs=0.2)


def test_on_the_demo_no_figure_is_but_the_words_and_none_lies_on_another(demo):
    missing = said = 0
    for told in set_out(demo):
        ahead, aside = words_of(demo, told.one)
        drawn, markup = figures_of(demo, told)
        left = [*ahead, *aside]
        for words in drawn:
            left.remove(words)
        missing, said = missing + len(left), said + len(ahead) + len(aside)
        boxes = boxes_of(markup.split("</clipPath>")[1].split('class="key"')[0])
        for (one, first), (two, second) in combinations(boxes, 2):
            assert not first.intersects(second), (told.one.stand.number, one, two)
    assert missing <= said / 20
