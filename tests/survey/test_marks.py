"""Known marks: each difference is told, a shift common to all is named, too much is refused."""

import pytest

from terrain.base.errors import SurveyError

SHOTS = """pt,n,e,z,code
BM1,0,0,{a},BM
2,10,30,101,GS
BM2,40,0,{b},BM
3,40,40,103,GS
BM3,20,20,{c},BM
"""
MARKS = {"BM1": 100.0, "BM2": 102.0, "BM3": 101.5}


def survey(read, a, b, c, **options):
    return read({"a.csv": SHOTS.format(a=a, b=b, c=c)}, marks=MARKS, **options)


def test_each_mark_is_reported_with_its_difference(read):
    result = survey(read, 100.02, 102.0, 101.47)
    assert [m.difference for m in result.marks] == pytest.approx([0.02, 0.0, -0.03], abs=1e-9)
    told = " ".join(result.notes)
    assert "BM1 reads 100.020 against 100.000 ft stated: 0.020 high" in told
    assert "BM2 reads 102.000 ft as stated" in told
    assert "0.030 low" in told


def test_a_rod_height_set_wrong_is_named_as_a_shift_of_all(read):
    with pytest.raises(SurveyError) as caught:
        survey(read, 100.50, 102.51, 101.99)
    (fault,) = caught.value.faults
    assert "all 3 marks read 0.500 ft too high" in fault.message
    assert "rod height" in fault.message
    assert fault.line == 2


def test_one_mark_out_of_three_is_named_alone(read):
    with pytest.raises(SurveyError) as caught:
        survey(read, 100.0, 102.4, 101.5)
    (fault,) = caught.value.faults
    assert "mark BM2 reads 0.400 ft too high" in fault.message
    assert fault.line == 4


def test_marks_apart_both_ways_are_no_common_shift(read):
    with pytest.raises(SurveyError) as caught:
        survey(read, 100.4, 101.6, 101.9)
    assert len(caught.value.faults) == 3


def test_the_tolerance_is_the_jobs(read):
    assert len(survey(read, 100.5, 102.5, 102.0, mark_tolerance=0.6).marks) == 3
    with pytest.raises(SurveyError):
        survey(read, 100.02, 102.0, 101.5, mark_tolerance=0.01)


def test_a_mark_that_no_shot_is_named_after_lists_the_nearest_names(read):
    text = SHOTS.format(a=100, b=102, c=101.5)
    with pytest.raises(SurveyError, match=r'existing\.marks\.BN1: no shot is named "BN1".*"BM1"'):
        read({"a.csv": text}, marks={"BN1": 100.0})


def test_a_mark_shot_twice_is_compared_both_times(read):
    text = SHOTS.format(a=100, b=102, c=101.5) + "BM1,0.1,0,100.05,BM\n"
    result = read({"a.csv": text}, marks={"BM1": 100.0})
    assert [m.row for m in result.marks] == [2, 7]
