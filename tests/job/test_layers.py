"""What is drawn of a job: rows by name, lines where they run, faces that sum to the ledger."""

import numpy as np
import pytest

from terrain.job.layers import layers_of
from terrain.job.load import load_job
from terrain.job.volumes import told, work_out
from terrain.pit.solid import solid_volume
from tests.job.made_job import WALLS, changed, full, small, write_job

PLANE = """point,northing,easting,elevation,code
1,150,50,100,
2,150,250,100,
3,300,250,101,
4,300,50,101,
"""


def drawn(folder, data):
    job = write_job(folder, data)
    (folder / "shots.csv").write_text(PLANE)
    worked = work_out(load_job(job))
    answer = told(worked)
    return worked, answer, layers_of(worked, answer)


def fuller():
    """Every kind of dig, and a line laid on the ground."""
    data = small() | {"dig": full()["dig"], "haul": {"truck": 14.0}}
    data["existing"] = {"shots": ["shots.csv"], "lines": ["lines.geojson"], "coordinates": "grid"}
    return data


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    return drawn(tmp_path_factory.mktemp("job"), fuller())


def test_rows_carry_the_ledgers_figures_under_their_names(job):
    _, answer, layers = job
    ledger = answer.ledger
    wanted = {("wall", w.wall): w.quantity for w in ledger.walls}
    wanted |= {(p.kind, p.name): p.quantity for p in ledger.pits}
    assert {(r.kind, r.name): r.quantity for r in layers.rows} == wanted


def test_an_outline_drawn_clockwise_keeps_its_names_and_their_figures(job, tmp_path):
    _, answer, layers = job
    data = changed(fuller(), ("foundation", "corners"), fuller()["foundation"]["corners"][::-1])
    # the same sides: wall i runs from corner i to the next, whichever way round
    data = changed(data, ("foundation", "walls"), [WALLS[k] for k in (2, 1, 0, 3)])
    _, turned_answer, turned = drawn(tmp_path, data)
    assert turned_answer.ledger.total.quantity.bank == pytest.approx(
        answer.ledger.total.quantity.bank, rel=1e-12
    )
    for one, other in ((layers, turned), (turned, layers)):
        seen = {(one.row(p.label).name, one.part(p.label)): p for p in one.parts}
        same = {(other.row(p.label).name, other.part(p.label)): p for p in other.parts}
        for key, part in seen.items():
            assert part.bank == pytest.approx(same[key].bank, rel=1e-9, abs=1e-9)
            assert part.shape.symmetric_difference(same[key].shape).area < 1e-5
    ends = {line.name: {tuple(p) for p in line.points} for line in layers.walls}
    assert {line.name: {tuple(p) for p in line.points} for line in turned.walls} == ends


def test_faces_sum_to_the_rows_of_the_ledger(job):
    worked, _, layers = job
    sums = np.zeros(worked.figures.bank.size)
    for face in layers.faces:
        sums[face.label] += face.bank
    assert sums == pytest.approx(worked.figures.bank.ravel(), abs=1e-11 * worked.figures.total)
    assert solid_volume(layers.solid) == pytest.approx(worked.figures.total, rel=1e-9)


def test_dig_lines_lie_on_their_floors(job):
    _, _, layers = job
    by_name = {line.name: line for line in layers.dig_lines}
    assert (by_name[""].points[:, 2] == 92.5).all()
    assert (by_name["areaway"].points[:, 2] == 94.0).all()
    assert (by_name["porch piers"].points[:, 2] == 96.0).all()
    ramp = by_name["way in"].points[:, 2]
    # 28 ft at 4 run per rise: from the floor up by 7
    assert (ramp.min(), ramp.max()) == (pytest.approx(92.5), pytest.approx(99.5))
    for line in layers.dig_lines:
        assert (line.points[0] == line.points[-1]).all()


def test_a_line_laid_on_the_ground_has_the_grounds_heights(job):
    _, _, layers = job
    (line,) = layers.breaklines
    site = layers.frame.to_site(line.points[:, :2])
    assert tuple(site[0]) == (60.0, 170.0)
    assert tuple(site[-1]) == (240.0, 170.0)
    assert (np.diff(line.points[:, :2], axis=0) != 0).any(axis=1).all()
    # the ground is a plane: 100 at northing 150, 101 at 300
    assert line.points[:, 2] == pytest.approx(100 + (site[:, 1] - 150) / 150, abs=1e-9)


def test_daylight_lies_where_dig_and_ground_meet_or_at_the_top_of_an_upright_side(job):
    _, answer, layers = job
    assert len(layers.daylight) == len(answer.plan.daylight)
    for line, plan in zip(layers.daylight, answer.plan.daylight, strict=True):
        assert np.array_equal(line.points[:, :2], plan)
        northing = layers.frame.to_site(line.points[:, :2])[:, 1]
        assert line.points[:, 2] == pytest.approx(100 + (northing - 150) / 150, abs=1e-9)


def test_where_nothing_is_dug_nothing_is_drawn_but_lines(tmp_path):
    data = changed(small(), ("dig", "floor"), 150.0)
    _, answer, layers = drawn(tmp_path, data)
    assert answer.ledger.total.quantity.bank == 0.0
    assert len(layers.solid.faces) == len(layers.faces) == len(layers.daylight) == 0
    assert [line.name for line in layers.walls] == WALLS
    assert layers.solid_place[2] == 150.0
