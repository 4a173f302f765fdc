"""From a job to the dig: whichever way the foundation is given or drawn, the same dig."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from terrain.base.errors import DesignError
from terrain.job.design import Layout, lay_out
from terrain.job.ground import existing_ground, read_survey
from terrain.job.load import load_job
from tests.job.made_job import RECTANGLE, SHOTS, WALLS, changed, full, small, write_job


def laid_out(folder: Path, data: dict[str, Any], shots: str = "") -> Layout:
    job = load_job(write_job(folder, data))
    if shots:
        (folder / "shots.csv").write_text(SHOTS + shots)
    return lay_out(job, read_survey(job).shots)


def refused(folder: Path, data: dict[str, Any], shots: str = "") -> list[str]:
    with pytest.raises(DesignError) as caught:
        laid_out(folder, data, shots)
    assert all(f.line is not None and f.key is not None for f in caught.value.faults)
    return [str(f) for f in caught.value.faults]


def faces(layout: Layout) -> dict[str, tuple[tuple[float, float], tuple[float, float]]]:
    """Each wall's face on the site, from left to right as seen from outside the house."""
    ring = layout.frame.to_site(layout.design.corners).round(9).tolist()
    after = ring[1:] + ring[:1]
    return {
        wall.name: (tuple(a), tuple(b))
        for wall, a, b in zip(layout.design.walls, ring, after, strict=True)
    }


def test_the_corners_are_kept_to_the_last_digit_in_a_frame_near_them(tmp_path: Path) -> None:
    far = [[e + 2_000_000.125, n + 700_000.5] for e, n in RECTANGLE]
    layout = laid_out(tmp_path, changed(small(), ("foundation", "corners"), far))
    assert (layout.frame.to_site(layout.design.corners) == np.array(far)).all()
    assert np.abs(layout.design.corners).max() < 30


def test_an_outline_drawn_the_other_way_round_keeps_each_name_on_its_face(tmp_path: Path) -> None:
    data = changed(small(), ("dig", "walls"), {"back": {"overdig": 3.5, "side": 0.5}})
    plain = laid_out(tmp_path, data)
    data["foundation"] = {
        "corners": RECTANGLE[::-1], "walls": ["back", "right", "front", "left"],
    }  # fmt: skip
    other = laid_out(tmp_path, data)
    assert faces(other) == faces(plain)
    for layout in (plain, other):
        by_name = {w.name: w for w in layout.design.walls}
        assert (by_name["back"].overdig, by_name["back"].side) == (3.5, ((0.5, 1.0),))
        assert (by_name["front"].overdig, by_name["front"].side) == (2.0, ((1.0, 1.0),))
    assert other.design.number == (2, 1, 0, 3)


FORMS: list[dict[str, Any]] = [
    {"outline": "foundation.csv"},
    {"outline": "foundation.geojson"},
    {"first_corner": [100, 200], "bearing": 90.0, "lengths": [48, 36, 48, 36]},
    {"first_corner": [100, 200], "bearing": -270.0, "lengths": [48, 36, 48, 36],
     "turns": [90, 90, 90]},
    {"stakes": "Stake", "lengths": [48, 36, 48, 36]},
]  # fmt: skip


@pytest.mark.parametrize("form", FORMS)
def test_every_form_of_a_foundation_makes_the_same_dig(
    tmp_path: Path, form: dict[str, Any]
) -> None:
    ring = ", ".join(f"[{e}, {n}]" for e, n in [*RECTANGLE, RECTANGLE[0]])
    (tmp_path / "foundation.geojson").write_text(
        f'{{"type": "Polygon", "coordinates": [[{ring}]]}}'
    )
    stakes = "".join(f"S,{n},{e},100.2,STAKE\n" for e, n in RECTANGLE)
    data = changed(small(), ("foundation",), form | {"walls": WALLS})
    layout = laid_out(tmp_path, data, stakes)
    assert_allclose(layout.frame.to_site(layout.design.corners), RECTANGLE, atol=1e-9)
    assert tuple(w.name for w in layout.design.walls) == tuple(WALLS)


def test_a_bearing_turns_the_house_clockwise(tmp_path: Path) -> None:
    form = {"first_corner": [100, 200], "bearing": 180.0, "lengths": [48, 36, 48, 36]}
    layout = laid_out(tmp_path, changed(small(), ("foundation",), form | {"walls": WALLS}))
    assert_allclose(faces(layout)["front"], [(100, 200), (100, 152)], atol=1e-9)
    assert_allclose(faces(layout)["right"], [(100, 152), (136, 152)], atol=1e-9)


def test_a_misclosure_within_tolerance_is_told_and_beyond_it_refused(tmp_path: Path) -> None:
    form = {"first_corner": [100, 200], "bearing": 90.0, "lengths": [48, 36, 48.08, 36]}
    data = changed(small(), ("foundation",), form | {"walls": WALLS})
    assert laid_out(tmp_path, data).figure.misclosure == pytest.approx(0.08)
    tight = changed(data, ("foundation", "closure_tolerance"), 0.05)
    [said] = refused(tmp_path, tight)
    assert "miss closing by 0.080 ft (-0.080 along east" in said
    assert "closure_tolerance 0.05" in said


def staked(moved: float) -> str:
    shots = [[e, n] for e, n in RECTANGLE]
    shots[2][0] += moved
    return "".join(f"S,{n},{e},100.2,stake\n" for e, n in shots)


def test_a_stake_off_its_corner_is_told_and_beyond_tolerance_refused(tmp_path: Path) -> None:
    form = {"stakes": "stake", "lengths": [48, 36, 48, 36], "walls": WALLS}
    data = changed(small(), ("foundation",), form)
    fit = laid_out(tmp_path, data, staked(0.08)).figure.stakes
    assert fit is not None
    assert 0.02 < fit.misses.max() < 0.08
    [said] = refused(tmp_path, data, staked(0.8))
    assert "stake 3 stands 0." in said
    assert "stake_tolerance 0.1" in said


def test_stakes_shot_the_other_way_round_are_told_so(tmp_path: Path) -> None:
    form = {"stakes": "stake", "lengths": [48, 36, 24, 18, 24, 18], "walls": list("abcdef"),
            "turns": [90, 90, 90, -90, 90]}  # fmt: skip
    plan = [[0, 0], [0, 48], [36, 48], [36, 24], [18, 24], [18, 0]]
    shots = "".join(f"S,{n + 200},{e + 100},100.2,stake\n" for e, n in plan)
    [said] = refused(tmp_path, changed(small(), ("foundation",), form), shots)
    assert "give every turn the other sign" in said


def test_stakes_must_be_as_many_as_corners(tmp_path: Path) -> None:
    form = {"stakes": "stake", "lengths": [48, 36, 48, 36], "walls": WALLS}
    data = changed(small(), ("foundation",), form)
    [said] = refused(tmp_path, data, staked(0).split("\n")[0] + "\n")
    assert '1 shots have the code "stake", but the figure has 4 corners' in said


def test_pits_ramps_and_trenches_come_in_that_order_with_their_floors(tmp_path: Path) -> None:
    data = full()
    data["foundation"] = small()["foundation"]
    data["existing"] = small()["existing"]
    data["dig"]["ramps"][0] |= {"line": [[124, 200], [124, 172], [164, 172]]}
    del data["dig"]["ramps"][0]["floor"]
    layout = laid_out(tmp_path, data)
    pit, ramp, trench = layout.design.extras
    assert [(e.kind, e.name) for e in layout.design.extras] == [
        ("pit", "areaway"), ("ramp", "way in"), ("trench", "porch piers"),
    ]  # fmt: skip
    assert [len(e.pieces) for e in layout.design.extras] == [1, 2, 1]
    assert (pit.overdig, pit.side, pit.key) == (0.5, ((0.5, 1.0),), "dig.pits[1]")
    assert_allclose(pit.pieces[0].plane[2:], [94.0, 0.0, 0.0])
    assert trench.pieces[0].plane[2] == 96.0
    # from 92.5 at the house, 28 ft at 4 to 1 to the bend, then on eastwards
    first, second = (p.plane for p in ramp.pieces)
    assert_allclose(first[2:], [92.5, 0.0, -0.25], atol=1e-15)
    assert_allclose(second[2:], [92.5 + 28 / 4, 0.25, 0.0], atol=1e-15)
    assert_allclose(layout.frame.to_site(second[:2]), [124, 172])
    assert [piece.shared for piece in ramp.pieces] == [(1,), (3,)]
    assert_allclose(ramp.pieces[0].corners[1:3], ramp.pieces[1].corners[[0, 3]], atol=0)


def test_a_pit_drawn_clockwise_is_the_same_pit(tmp_path: Path) -> None:
    pit = full()["dig"]["pits"][0]
    turned = pit | {"corners": pit["corners"][::-1]}
    one, other = (
        laid_out(tmp_path, changed(small(), ("dig", "pits"), [p])).design.extras[0].pieces[0]
        for p in (pit, turned)
    )
    assert {tuple(c) for c in one.corners} == {tuple(c) for c in other.corners}
    for piece in (one, other):
        east, north = piece.corners.T
        assert np.sum(east * np.roll(north, -1) - np.roll(east, -1) * north) / 2 == 30.0


def test_a_footing_in_a_trench_goes_into_the_design_and_one_on_the_floor_does_not(
    tmp_path: Path,
) -> None:
    footing = {"width": 1.5, "depth": 0.75}
    data = changed(small(), ("foundation", "wall_thickness"), 0.7)
    on_floor = laid_out(tmp_path, changed(data, ("foundation", "footing"), footing))
    assert on_floor.design.footing is None
    assert on_floor.projection == pytest.approx(0.4)
    below = laid_out(
        tmp_path, changed(data, ("foundation", "footing"), footing | {"bottom": 91.5})
    ).design.footing
    assert below is not None
    assert (below.width, below.bottom) == (1.5, 91.5)


def test_faults_of_foundation_levels_and_extras_are_told_together(tmp_path: Path) -> None:
    data = full()
    data["foundation"]["corners"] = [RECTANGLE[k] for k in (0, 2, 1, 3)]
    data["foundation"]["top"] = 103.0
    data["dig"]["trenches"][0]["line"] = [[0, 0], [0, 0]]
    data["lot"]["buildings"]["barn"] = [[0, 0], [9, 0], [9, 0]]
    job = load_job(write_job(tmp_path, data))
    with pytest.raises(DesignError) as caught:
        lay_out(job)
    keys = {f.key for f in caught.value.faults}
    assert keys == {
        "foundation.corners", "foundation.footing.bottom", "dig.trenches[1].line",
        "lot.buildings.barn",
    }  # fmt: skip


def test_ground_is_broken_along_codes_lines_and_draped_files(tmp_path: Path) -> None:
    data = changed(small(), ("existing",), {
        "shots": ["shots.csv"], "breaklines": ["Ditch"], "lines": ["lines.geojson"],
        "boundary_code": "edge", "hole_codes": ["pond"],
    })  # fmt: skip
    job = load_job(write_job(tmp_path, data))
    rows = ["point,northing,easting,elevation,code,line"]
    rows += [f"E,{n},{e},100,edge," for e, n in [(0, 0), (300, 0), (300, 300), (0, 300)]]
    rows += [f"D,{n},{e},99,ditch,{line}" for line, n in ((1, 20), (2, 40)) for e in (20, 90)]
    rows += [f"R,{n},{e},100,road,7" for e, n in [(20, 250), (90, 260)]]
    rows += [f"P,{n},{e},100,pond," for e, n in [(200, 20), (220, 20), (220, 40), (200, 40)]]
    (tmp_path / "shots.csv").write_text("\n".join(rows) + "\n")
    survey = read_survey(job)
    layout = lay_out(job, survey.shots)
    ground = existing_ground(job, survey, layout.frame)
    assert [line.label for line in ground.lines] == [
        'breakline "ditch 1 (shots.csv:6-7)"',
        'breakline "ditch 2 (shots.csv:8-9)"',
        'boundary "edge (shots.csv:2-5)"',
        'hole "pond (shots.csv:12-15)"',
        'breakline "road 7 (shots.csv:10-11)"',
    ]
    assert len(ground.draped) == 1
    corners = ground.tin.points[ground.tin.triangles, :2]
    ab, ac = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    area = np.sum(ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0]) / 2
    assert area == pytest.approx(300 * 300 - 20 * 20, rel=1e-12)


def test_a_misclosure_of_just_the_tolerance_is_within_it(tmp_path: Path) -> None:
    # 48 less 47.9 is a hair more than 0.1 in binary figures
    figure = {"first_corner": [100.0, 200.0], "bearing": 90.0, "lengths": [48, 36, 47.9, 36]}
    data = changed(small(), ("foundation",), {**figure, "walls": WALLS, "closure_tolerance": 0.1})
    assert laid_out(tmp_path, data).figure.misclosure == pytest.approx(0.1)
