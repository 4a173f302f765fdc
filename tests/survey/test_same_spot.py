"""Shots at one spot: repeats change nothing, disagreements are told and settled as chosen."""

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.base.errors import SurveyError
from terrain.survey import merge as merge_module
from terrain.survey.merge import SameSpot, merge
from terrain.survey.shots import Shots, lines, plain_shots

SPOT = st.tuples(st.integers(0, 3), st.integers(0, 3), st.integers(0, 8).map(lambda k: k / 4))


def shots_of(rows: list[tuple[float, float, float]]) -> Shots:
    values = np.array(rows, dtype=np.float64).reshape(-1, 3)
    row = np.arange(2, len(rows) + 2, dtype=np.int32)
    return plain_shots((values[:, 0], values[:, 1]), values[:, 2].copy(), row, "a.csv")


def spots_by_hand(rows, choice, tolerance):
    """The oracle: a dictionary from spot to the elevation that should stand."""
    heaps: dict[tuple[float, float], list[float]] = {}
    for easting, northing, elevation in rows:
        heaps.setdefault((easting, northing), []).append(elevation)
    settled = {}
    for spot, heights in heaps.items():
        distinct = sorted(set(heights))
        mean = sum(distinct) / len(distinct)
        if distinct[-1] - distinct[0] <= tolerance or choice == "mean":
            settled[spot] = mean
        else:
            settled[spot] = {"lowest": distinct[0], "last": heights[-1]}[choice]
    return settled


def stands_for(merged: Shots, row: int) -> int:
    """The one shot that stands for what was written in a row."""
    stays = np.flatnonzero(merged.row == row).tolist()
    absorbed = merged.absorbed.into[merged.absorbed.row == row].tolist()
    (shot,) = stays + absorbed
    return shot


@settings(max_examples=300, deadline=None)
@given(st.lists(SPOT, min_size=1, max_size=30), st.sampled_from(["lowest", "mean", "last"]))
def test_each_spot_has_the_elevation_that_the_choice_says(rows, choice):
    merged = merge(shots_of(rows), SameSpot(tolerance=0.3, choice=choice), "ft")
    expected = spots_by_hand(rows, choice, 0.3)
    got = {
        (float(e), float(n)): float(z)
        for e, n, z in zip(merged.easting, merged.northing, merged.elevation, strict=True)
    }
    assert got.keys() == expected.keys()
    assert len(merged) == len(expected)
    for spot, elevation in expected.items():
        assert got[spot] == pytest.approx(elevation, abs=1e-12)
    for k, (easting, northing, _) in enumerate(rows):
        first = stands_for(merged, k + 2)
        assert (merged.easting[first], merged.northing[first]) == (easting, northing)


@settings(deadline=None)
@given(st.lists(SPOT, min_size=1, max_size=15))
def test_reading_all_shots_twice_changes_no_elevation(rows):
    rule = SameSpot(tolerance=9.0, choice="mean")
    once = merge(shots_of(rows), rule, "ft")
    twice = merge(shots_of(rows + rows), rule, "ft")
    assert once.elevation.tolist() == twice.elevation.tolist()


def test_spots_whose_hashes_collide_are_still_told_apart(monkeypatch):
    monkeypatch.setattr(merge_module, "_hash", lambda e, n: np.zeros(len(e), dtype=np.uint64))
    rows = [(0, 0, 1.0), (5, 5, 2.0), (0, 0, 1.5), (5, 5, 2.0), (7, 7, 3.0)]
    merged = merge(shots_of(rows), SameSpot(tolerance=1.0), "ft")
    assert merged.easting.tolist() == [0, 5, 7]
    assert merged.elevation.tolist() == [1.25, 2.0, 3.0]


def test_shots_that_share_no_spot_are_untouched():
    shots = shots_of([(k, k * k, k / 7) for k in range(50)])
    merged = merge(shots, SameSpot(tolerance=0.0), "ft")
    assert merged is shots


def test_nought_and_minus_nought_are_one_spot():
    rule = SameSpot(tolerance=0.1, choice="mean")
    assert len(merge(shots_of([(0.0, -0.0, 1), (-0.0, 0.0, 1)]), rule, "ft")) == 1


def test_refusal_lists_each_spot_with_its_lines():
    rows = [(0, 0, 5.0), (1, 1, 7.0), (0, 0, 5.0), (1, 1, 7.8), (2, 2, 3.0), (0, 0, 6.0)]
    with pytest.raises(SurveyError) as caught:
        merge(shots_of(rows), SameSpot(tolerance=0.05), "ft")
    first, second = caught.value.faults
    assert (first.line, second.line) == (5, 7)
    assert "disagree by 0.800 ft" in first.message
    assert re.search(r"5\.000 at a\.csv:2, 5\.000 at a\.csv:4, 6\.000 at a\.csv:7", second.message)


def test_repeats_are_counted_in_a_note():
    merged = merge(shots_of([(0, 0, 5.0)] * 4 + [(1, 1, 1.0)]), SameSpot(tolerance=0.0), "ft")
    assert merged.notes == ("3 exact repeats merged into the first of its kind.",)
    assert merged.absorbed.row.tolist() == [3, 4, 5]


BREAKS = """pt,n,e,z,code,line
1,0,0,10,DITCH,1
2,0,10,11,DITCH,1
3,50,0,12,DITCH,2
4,0,20,12,ditch,1
5,50,10,12,DITCH,2
6,0,20,12,ROAD,
7,10,20,12,ROAD,
8,0,0,10,ROAD,
9,90,90,10,GS,
"""


def test_a_merged_shot_stays_on_every_line_it_belonged_to(read):
    shots = read({"a.csv": BREAKS}).shots
    found = {(b.code, b.line): b.shots.tolist() for b in lines(shots, ["ROAD"]).lines}
    plan = shots.plan
    (road,) = found.values()
    assert plan[road].tolist() == [[20, 0], [20, 10], [0, 0]]
    assert len(shots) == 7


def test_lines_are_split_by_the_line_column_and_codes_ignore_capitals(read):
    shots = read({"a.csv": BREAKS}).shots
    found = lines(shots, ["ditch"])
    told = {(b.code, b.line): shots.plan[b.shots].tolist() for b in found.lines}
    assert told == {("DITCH", "1"): [[0, 0], [10, 0]], ("DITCH", "2"): [[0, 50], [10, 50]]}
    assert any('"ditch" line 1 has one shot only' in note for note in found.notes)


def test_without_codes_every_value_of_the_line_column_is_a_line(read):
    text = "n,e,z,line\n0,0,1,a\n0,9,1,a\n5,5,1,\n9,0,1,b\n9,9,1,b\n0,0,1,a\n"
    shots = read({"a.csv": text}).shots
    found = lines(shots).lines
    assert [b.line for b in found] == ["a", "b"]
    assert found[0].shots.tolist() == [0, 1, 0], "a line that comes home is closed"


def test_a_line_does_not_run_from_one_file_into_the_next(read):
    more = BREAKS.replace(",0,", ",3,")
    shots = read({"a.csv": BREAKS, "b.csv": more}).shots
    assert {b.file for b in lines(shots, ["ROAD"]).lines} == {"a.csv", "b.csv"}


def test_a_code_no_shot_has_is_an_error_that_names_the_nearest(read):
    shots = read({"a.csv": BREAKS}).shots
    with pytest.raises(SurveyError, match=r'existing\.breaklines: .*"DICH".*"(ditch|DITCH)"'):
        lines(shots, ["DICH"])
