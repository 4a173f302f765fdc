"""Level notes: elevations by least squares, closures, and published worked examples."""

import math

import numpy as np
import pytest

from terrain.base.errors import SurveyError
from terrain.base.units import LENGTH_UNITS
from terrain.survey.level_net import LevelRules, closure_sentences, level
from terrain.survey.level_notes import read_notes

FT, METRE = LENGTH_UNITS["ft"], LENGTH_UNITS["m"]
RULES = LevelRules(unit=FT, rod_accuracy=0.01, sight=100.0)
HEAD = "point,backsight,rod,foresight\n"


def notes_of(text: str):
    return read_notes("level.csv", text.encode())


def differences(*observed: tuple[str, str, float]) -> str:
    """Notes in which each measured difference is a set-up of its own."""
    rows = [HEAD]
    for one, other, rise in observed:
        rows += [f"{one},{rise + 5!r},,\n", f"{other},,,5\n"]
    return "".join(rows)


def test_an_instrument_over_a_mark_reads_as_the_borrow_pit_of_the_textbook():
    # Ghilani & Wolf, Elementary Surveying, plate B.2: BM 360.48, backsight 4.22, HI 364.70.
    found = level(notes_of(HEAD + "BM,4.22,,\nA0,,5.2,\nE4,,6.2,\n"), {"BM": 360.48}, RULES)
    assert found.heights[0] == pytest.approx(364.70, abs=1e-12)
    assert found.elevation["A0"] == pytest.approx(359.5, abs=1e-12)
    assert found.elevation["E4"] == pytest.approx(358.5, abs=1e-12)


def test_two_points_from_four_marks_are_the_means_of_the_worked_example():
    # Mahun, Least Squares Lite, chapter B: residuals of Q -0.015 0.015 -0.035 0.035, of R 0.007
    # -0.033 0.027 (read in the source); marks chosen so that the first run to Q is exact.
    observed = (
        ("BMA", "Q", 8.91), ("BMB", "Q", -2.92), ("BMC", "Q", -4.67), ("BMD", "Q", -8.66),
        ("BMA", "R", -3.56), ("BMC", "R", -17.12), ("BMD", "R", -21.10),
    )  # fmt: skip
    q, r = 100.0, 90.0
    misses_q = {"BMA": -0.015, "BMB": 0.015, "BMC": -0.035, "BMD": 0.035}
    marks = {mark: q - rise - misses_q[mark] for mark, _, rise in observed[:4]}
    misses_r = {mark: r - (marks[mark] + rise) for mark, _, rise in observed[4:]}
    loose = LevelRules(unit=FT, rod_accuracy=0.01, closure=20.0, sight=100.0)
    found = level(notes_of(differences(*observed)), marks, loose)
    assert found.elevation["Q"] == pytest.approx(q, abs=1e-9)
    assert found.elevation["R"] == pytest.approx(r - np.mean(list(misses_r.values())), abs=1e-9)
    assert sum(m**2 for m in misses_q.values()) == pytest.approx(0.0029, abs=1e-12)


GAMA = (
    ("1a", "4", -1.225), ("4", "3", -0.848), ("3", "2", 1.342), ("2", "1a", 0.720),
    ("1a", "2", -0.724), ("2", "3", -1.335), ("3", "4", 0.842), ("4", "1a", 1.231),
)  # fmt: skip


def test_a_ring_run_both_ways_is_adjusted_as_by_gnu_gama():
    # Printed by GNU Gama 1.5.09 for its sample of eight differences with one known point: heights
    # 998.77513, 997.93325, 999.27487, m0' 5.42 mm, standard deviations at 5 mm 3.1, 3.5, 3.1 mm.
    rules = LevelRules(unit=METRE, rod_accuracy=1e-9, closure=0.1, sight=30.0)
    found = level(notes_of(differences(*GAMA)), {"1a": 1000.0}, rules)
    heights = [round(found.elevation[name], 5) for name in ("4", "3", "2")]
    assert heights == [998.77513, 997.93325, 999.27487]
    a_difference = found.found_accuracy * math.sqrt(2)
    assert round(a_difference * 1000, 2) == 5.42
    shown = [found.accuracy[name] / a_difference * 5.0 for name in ("4", "3", "2")]
    assert [round(value, 1) for value in shown] == [3.1, 3.5, 3.1]


def test_a_run_that_closes_tells_by_how_much_and_what_is_allowed():
    text = HEAD + "BM1,5.00,,\nT1,6.00,,4.00\nA,,3.00,\nBM2,,,7.01\n"
    found = level(notes_of(text), {"BM1": 100.0, "BM2": 100.0}, RULES)
    (closure,) = found.closures
    assert closure.miss == pytest.approx(-0.01, abs=1e-12)
    assert closure.setups == 2
    assert closure.length == 400.0
    assert closure.allowed == pytest.approx(0.02 * math.sqrt(2))
    # a quarter of the miss goes into each of four readings
    assert found.elevation["T1"] == pytest.approx(101.005, abs=1e-9)
    assert found.elevation["A"] == pytest.approx(100 + 5 - 4 + 6 - 3 + 0.0075, abs=1e-9)
    said = closure_sentences(notes_of(text), found, RULES)
    assert "closes on BM2 by -0.010 ft after 2 set-ups; 0.028 is allowed" in said[0]


def test_a_circuit_that_branches_counts_its_own_set_ups_and_length_only():
    text = (
        "point,backsight,rod,foresight,distance\n"
        "BM,5,,,200\nT1,5,,5,100\nT2,5,,5,40\nT3,5,,5,50\nT1,,,5,60\n"
    )
    found = level(notes_of(text), {"BM": 100.0}, RULES)
    (closure,) = found.closures
    assert closure.setups == 3
    # a row's distance serves the sights of both its set-ups
    assert closure.length == pytest.approx(100 + 40 + 40 + 50 + 50 + 60)


def test_third_order_is_twelve_millimetres_a_root_of_a_kilometre():
    rules = LevelRules(unit=METRE, rod_accuracy=0.003, closure="third order", sight=30.0)
    assert rules.allowed(9, 4000.0) == pytest.approx(0.024, abs=1e-12)
    feet = LevelRules(unit=FT, rod_accuracy=0.01, closure="third order", sight=100.0)
    assert feet.allowed(9, 5280.0) == pytest.approx(0.05, abs=0.001)  # 0.05 ft a root of a mile


def test_notes_that_do_not_close_are_refused_and_the_blunder_is_named():
    text = differences(*GAMA)
    wrong = text.replace("3,6.34", "3,6.44", 1)
    assert wrong != text
    rules = LevelRules(unit=METRE, rod_accuracy=0.003, closure=0.05, sight=30.0)
    with pytest.raises(SurveyError) as caught:
        level(notes_of(wrong), {"1a": 1000.0}, rules)
    assert all("is allowed" in fault.message for fault in caught.value.faults)
    row = wrong[: wrong.index("3,6.44")].count("\n") + 1
    assert f"(line {row})" in str(caught.value) or f"(line {row + 1})" in str(caught.value)


def test_of_one_circuit_no_reading_is_blamed():
    text = HEAD + "BM,5.42,,\nT,4.9,,5.35\nBM,,,5.27\n"
    with pytest.raises(SurveyError, match="which is wrong can't be told") as caught:
        level(notes_of(text), {"BM": 100.0}, RULES)
    assert "0.300 ft low" in str(caught.value)
    assert "look there first" not in str(caught.value)


def test_the_stated_accuracy_holds_for_made_notes():
    generator = np.random.default_rng(7)
    true = {"BM": 0.0, "T1": 1.5, "T2": 2.5, "P": 0.7, "S": -0.4}
    order = [("BM", "T1", "S"), ("T1", "T2", "P"), ("T2", "BM", None)]
    rules = LevelRules(unit=FT, rod_accuracy=0.01, closure=1.0, sight=100.0)
    misses = {"T1": [], "T2": [], "P": [], "S": []}
    for _ in range(600):
        rows, height = [HEAD], 6.0
        for back, front, side in order:
            noise = generator.normal(0.0, 0.01, 3).tolist()
            rows.append(f"{back},{height - true[back] + noise[0]!r},,\n")
            if side:
                rows.append(f"{side},,{height - true[side] + noise[1]!r},\n")
            rows.append(f"{front},,,{height - true[front] + noise[2]!r}\n")
        found = level(notes_of("".join(rows)), {"BM": 0.0}, rules)
        for name, list_ in misses.items():
            # as stated, not as the three readings of one circuit happen to show
            stated = found.accuracy[name] * 0.01 / max(0.01, found.found_accuracy)
            list_.append((found.elevation[name] - true[name]) / stated)
    for name, scaled in misses.items():
        assert np.std(scaled) == pytest.approx(1.0, abs=0.09), name


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "holds no notes"),
        ("point,rod\nA,1\n", "no column is backsight"),
        ("point,bs,bs\nA,1,2\n", "two columns are the backsight"),
        (HEAD, "no readings"),
        (HEAD + "A,,1.0,\n", "before any backsight"),
        (HEAD + "BM,x,,\n", 'backsight "x" is not a number'),
        (HEAD + ",1,,\n", "names no point"),
        (HEAD + "BM,1,,\nA,,,\n", "A has neither a reading nor a place"),
        (HEAD + "BM,1,,,,7\n", "more fields than the 4 of the header"),
        ("point,bs,rod,distance\nBM,1,,-9\n", "distance -9 is no length"),
        ("point,bs,rod,from,tape,from2,tape2,side\nA,1,,p,0,q,4,left\n", "tape 0 is no length"),
        ("point,bs,rod,from,tape,from2,tape2,side\nA,1,,p,3,q,-4,left\n", "tape2 -4 is no length"),
        (HEAD + "BM,1,,\nA,,1,2\n", "give each a row of its own"),
        ("point,bs,rod,easting,northing\nBM,1,,,\nA,,1,5,\n", "A has no northing"),
        ("point,bs,rod,easting,northing,line,at\nA,1,,5,5,w,3\n", "placed in two ways"),
        ("point,bs,rod,from,tape,from2,tape2,side\nA,1,,p,3,q,4,up\n", "left or right"),
        ("point,bs,rod,easting,northing\nBM,1,,5,5\nBM,,1,5,6\n", "stands elsewhere in line 2"),
    ],
)
def test_notes_that_cannot_be_understood_name_line_and_fault(text, said):
    with pytest.raises(SurveyError) as caught:
        notes_of(text)
    assert said in str(caught.value)
    assert "level.csv" in str(caught.value)


def test_no_mark_and_a_set_up_in_the_air_are_refused():
    with pytest.raises(SurveyError, match="name a mark"):
        level(notes_of(HEAD + "BM,1,,\nA,,2,\n"), {}, RULES)
    with pytest.raises(SurveyError, match="none of the marks is in the notes"):
        level(notes_of(HEAD + "BM,1,,\nA,,2,\n"), {"XX": 3.0}, RULES)
    with pytest.raises(SurveyError, match="hangs in the air") as caught:
        level(notes_of(HEAD + "BM,1,,\nA,,2,\nZ,3,,\nY,,4,\n"), {"BM": 3.0}, RULES)
    assert caught.value.faults[0].line == 4
