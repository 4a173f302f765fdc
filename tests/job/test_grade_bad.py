"""Every impossible lot is told at its key, with both causes and the numbers, all at once."""

from pathlib import Path
from typing import Any

import pytest

from terrain.base.errors import SpoilbankError
from terrain.job.graded import grade_out
from terrain.job.load import load_job
from terrain.job.volumes import volumes, work_out
from tests.job.made_job import RECTANGLE, changed, small, without, write_job

LINE = [[60.0, 160.0], [240.0, 160.0], [240.0, 290.0], [60.0, 290.0]]
CROSSED = [LINE[0], LINE[2], LINE[1], LINE[3]]
PAD = {"name": "drive", "corners": [[170, 180], [190, 180], [190, 200], [170, 200]]}
LOW = PAD | {"elevation": 99.0}
OVER = {"name": "walk", "corners": [[180, 190], [200, 190], [200, 210], [180, 210]]}
NEXT = {"name": "walk", "corners": [[192, 180], [200, 180], [200, 200], [192, 200]]}
SWALE = {"line": [[210, 170], [210, 280]], "inverts": [98.0, 99.0], "bottom_width": 2.0}


def base() -> dict[str, Any]:
    return small() | {"lot": {"boundary": LINE, "wall_grade": 100.8}}


def told(folder: Path, data: dict[str, Any]) -> list[str]:
    """The faults of a job, each as text with its key."""
    with pytest.raises(SpoilbankError) as caught:
        grade_out(work_out(load_job(write_job(folder, data))), lambda stage: None)
    for fault in caught.value.faults:
        # a table that is not there stands on no line, a file of a line speaks for itself
        assert fault.file
        assert fault.line or fault.key == "lot" or fault.file == "lines.geojson"
    return [str(fault) for fault in caught.value.faults]


BAD: list[tuple[str, tuple[str | int, ...], Any, str, tuple[str, ...]]] = [
    ("a lot line that crosses itself", ("lot", "boundary"), CROSSED, "lot.boundary", ("cross",)),
    ("a lot line that is not round the house", ("lot", "boundary"),
     [[60, 160], [120, 160], [120, 290], [60, 290]], "lot.boundary", ("go round the house",)),
    ("a lot line that closes by itself", ("lot", "boundary"), [*LINE, LINE[0]], "lot.boundary",
     ("closes by itself",)),
    ("a lot line of two corners", ("lot", "boundary"), LINE[:2], "lot.boundary", ("at least 3",)),
    ("a lot line that is no file", ("lot", "boundary"), "line.csv", "lot.boundary", ("no file",)),
    ("a lot line that is not closed", ("lot", "boundary"), "lines.geojson", "lot.boundary",
     ("not closed",)),
    ("pads that overlap at unlike heights", ("lot", "pads"),
     [LOW, OVER | {"elevation": 100.0}], "lot.pads[2].corners", ('"walk" and "drive"', "1.00")),
    ("pads too close for their heights", ("lot", "pads"),
     [LOW, NEXT | {"elevation": 104.0}], "lot.pads[1]", ("pad walk", "pad drive", "4.33 ft")),
    ("finished ground below the footing", ("lot", "wall_grade"), 92.0, "lot.wall_grade",
     ("92", "92.5")),
    ("finished ground at one wall below the footing", ("lot", "walls"),
     {"back": {"wall_grade": 92.0, "step": True}}, "lot.walls.back.wall_grade", ("back", "92.5")),
    ("an area kept over the house", ("lot", "keep"),
     [{"name": "oak", "corners": [[90, 190], [110, 190], [110, 210], [90, 210]]}],
     "lot.keep[1].corners", ('"oak"', "100.0 of the house")),
    ("walls that do not agree", ("lot", "walls"), {"back": {"wall_grade": [100.8, 99.0]}},
     "lot.walls.back.wall_grade", ("left", "back", "100.8", "99", "step = true")),
    ("a wall that the house lacks", ("lot", "walls"), {"bck": {"wall_grade": 100}},
     "lot.walls.bck", ('"back"',)),
    ("three wall grades", ("lot", "wall_grade"), [1, 2, 3], "lot.wall_grade", ("wanted",)),
    ("no cut slope", ("lot", "cut_slope"), 0.0, "lot.cut_slope", ("over 0",)),
    ("a fill slope downwards", ("lot", "fill_slope"), -3.0, "lot.fill_slope", ("over 0",)),
    ("a fall in percent", ("lot", "fall"), 5.0, "lot.fall", ("under 1",)),
    ("a pad with no height", ("lot", "pads"), [PAD], "lot.pads[1].elevation", ("give one of",)),
    ("a pad with two heights", ("lot", "pads"), [LOW | {"elevations": [1, 2, 3, 4]}],
     "lot.pads[1].elevation", ("give one of",)),
    ("a pad not in one plane", ("lot", "pads"), [PAD | {"elevations": [99, 99, 99, 99.1]}],
     "lot.pads[1].elevations", ("one plane", "0.025")),
    ("a pad with too few heights", ("lot", "pads"), [PAD | {"elevations": [99, 99, 99]}],
     "lot.pads[1].elevations", ("3 elevations", "4 corners")),
    ("a pad that crosses itself", ("lot", "pads"),
     [LOW | {"corners": [LINE[0], LINE[2], LINE[1], LINE[3]]}], "lot.pads[1].corners", ("cross",)),
    ("a swale with too few inverts", ("lot", "swales"), [SWALE | {"inverts": [98.0]}],
     "lot.swales[1].inverts", ("1 inverts", "2 points")),
    ("a swale that folds", ("lot", "swales"),
     [SWALE | {"line": [[210, 170], [210, 280], [210, 170]], "inverts": [1, 2, 3]}],
     "lot.swales[1].line", ("doubles back",)),
    ("pads of one name", ("lot", "pads"), [LOW, LOW], "lot.pads[2].name", ("already",)),
    ("names without corners", ("house",), {"walls": ["a"]}, "house.walls", ("house.corners",)),
    ("a house beside the foundation", ("house",),
     {"corners": [[110, 200], [148, 200], [148, 236], [110, 236]]}, "house.corners",
     ("360.0 of the foundation",)),
    ("a house with too few names", ("house",), {"corners": RECTANGLE, "walls": ["a"]},
     "house.walls", ("1 wall names",)),
    ("settled away", ("lot", "settlement"), 1.0, "lot.settlement", ("under 1",)),
]  # fmt: skip


@pytest.mark.parametrize(("path", "value", "key", "words"), [b[1:] for b in BAD],
                         ids=[b[0] for b in BAD])  # fmt: skip
def test_a_bad_lot_is_told_at_its_key(
    tmp_path: Path, path: tuple[str | int, ...], value: Any, key: str, words: tuple[str, ...]
) -> None:
    faults = told(tmp_path, changed(base(), path, value))
    named = [f for f in faults if f": {key}: " in f]
    assert named, faults
    for word in words:
        assert any(word in f for f in named), (word, named)


def test_what_is_missing_to_grade_is_told_and_volumes_go_on(tmp_path: Path) -> None:
    assert "table [lot] is required to grade" in told(tmp_path, small())[0]
    bare = small() | {"lot": {"buildings": {}}}
    faults = "\n".join(told(tmp_path, bare))
    assert "lot.boundary: give the lot line" in faults
    assert "lot.wall_grade: give the finished ground" in faults
    only_line = small() | {"lot": {"boundary": LINE}}
    assert volumes(load_job(write_job(tmp_path, only_line))).ledger.total.quantity.bank > 0


def test_walls_without_a_grade_are_named(tmp_path: Path) -> None:
    data = changed(without(base(), "lot", "wall_grade"), ("lot", "walls"),
                   {"back": {"wall_grade": 100.8}})  # fmt: skip
    (fault,) = told(tmp_path, data)
    assert "these walls have none: front, right, left" in fault


def test_all_that_is_wrong_is_told_at_once(tmp_path: Path) -> None:
    data = changed(base(), ("lot", "walls"), {"back": {"wall_grade": [100.8, 99.0]}})
    oak = {"name": "oak", "corners": [[90, 190], [110, 190], [110, 210], [90, 210]]}
    data = changed(data, ("lot", "keep"), [oak])
    data = changed(data, ("lot", "pads"), [LOW, OVER | {"elevation": 100.0}])
    faults = "\n".join(told(tmp_path, data))
    for key in ("lot.walls.back.wall_grade", "lot.keep[1].corners", "lot.pads[2].corners"):
        assert key in faults


def test_a_survey_that_ends_in_the_fill_is_told(tmp_path: Path) -> None:
    wide = changed(base(), ("lot", "boundary"), [[-90, 0], [400, 0], [400, 400], [-90, 400]])
    faults = told(tmp_path, changed(wide, ("lot", "wall_grade"), 140.0))
    assert any("the survey ends at" in f and "of fill" in f for f in faults)


def test_a_wall_may_step_where_it_says_so(tmp_path: Path) -> None:
    data = changed(base(), ("lot", "walls"), {"back": {"wall_grade": [100.8, 99.0], "step": True}})
    work = work_out(load_job(write_job(tmp_path, data)))
    graded = grade_out(work, lambda stage: None)
    assert any("wall back and wall left" in face.where for face in graded.untied)
