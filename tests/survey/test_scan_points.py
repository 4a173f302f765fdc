"""Every point of a scan is accounted for, and neither chunks nor their order change the ground."""

import numpy as np
import pytest

from terrain.base.errors import SurveyError
from terrain.base.units import FOOT, METRE
from terrain.job.notes import is_warning
from terrain.survey import cloud_file
from terrain.survey import read_file as read_module
from terrain.survey import thin as thin_module
from terrain.survey.georef import CloudAsRead
from terrain.survey.ground_filter import GroundFilter, ground_among
from terrain.survey.meshes import MeshAsRead
from terrain.survey.read import ReadOptions, read_shots

GENERATOR = np.random.default_rng(21)
START = GENERATOR.bit_generator.state
MM = 1000


@pytest.fixture(autouse=True)
def _same_chance_for_every_test():
    GENERATOR.bit_generator.state = START


def ground(plan):
    return 2.0 + 0.05 * plan[:, 0] + 0.4 * np.sin(plan[:, 1] / 6.0)


def made(count=6000, slope=0.05):
    plan = GENERATOR.uniform(0.0, 40.0, (count, 2))
    return np.column_stack([plan, ground(plan) + GENERATOR.normal(0.0, 0.01, count)])


def whole(points):
    return np.round(points * MM).astype(np.int32)


@pytest.fixture
def survey_of(make_cloud, tmp_path):
    def call(points, classes=2, name="scan.laz", version="1.4", point_format=6, **options):
        withheld = options.pop("withheld", 0)
        make_cloud(whole(points), name=name, version=version, point_format=point_format,
                   classes=classes, withheld=withheld)  # fmt: skip
        options = {"unit": METRE, "folder": tmp_path} | options
        return read_shots([name], ReadOptions(**options))

    return call


def sum_of(facts):
    return (
        facts.withheld + facts.noise + facts.other_classes + facts.outside + facts.not_ground
        + facts.stray + facts.merged + facts.thinned + facts.used
    )  # fmt: skip


@pytest.mark.parametrize("cell", [None, 1.0])
@pytest.mark.parametrize("bounds", [None, (5.0, 5.0, 30.0, 30.0), lambda top: (0, 0, 20, top)])
def test_every_point_read_is_left_out_for_one_reason_or_used(survey_of, cell, bounds):
    points = made()
    classes = GENERATOR.choice([1, 2, 2, 2, 7, 18, 5], len(points))
    withheld = GENERATOR.random(len(points)) < 0.02
    survey = survey_of(points, classes, withheld=withheld, cell=cell, bounds=bounds)
    facts = survey.files[0].cloud
    assert facts.read == len(points) == sum_of(facts)
    assert facts.withheld == withheld.sum()
    assert facts.noise == (np.isin(classes, (7, 18)) & ~withheld).sum()
    assert facts.used == len(survey.shots)
    assert (facts.thinned > 0) == (cell is not None)
    assert (facts.outside > 0) == (bounds is not None)


@pytest.mark.parametrize(("version", "point_format"), [("1.2", 1), ("1.4", 6)])
@pytest.mark.parametrize("cell", [None, 0.7])
def test_chunks_of_any_size_give_the_same_ground(
    survey_of, monkeypatch, cell, version, point_format
):
    points, classes = made(2500), GENERATOR.choice([1, 2], 2500)
    asked = {"cell": cell, "version": version, "point_format": point_format}
    one = survey_of(points, classes, name="a.laz", **asked).shots
    monkeypatch.setattr(cloud_file, "CHUNK", 170)
    other = survey_of(points, classes, name="b.laz", **asked).shots
    for axis in ("easting", "northing", "elevation", "row"):
        assert np.array_equal(getattr(one, axis), getattr(other, axis))


@pytest.mark.parametrize(("unit", "scale"), [(METRE, 1.0), (FOOT, 1.0 / 0.3048)])
def test_points_far_off_that_thinning_takes_away_are_told(survey_of, unit, scale):
    points = made(6000)
    points[:7, 2] -= 0.9
    points[7:10, 2] += 0.9
    survey = survey_of(points * scale, unit=unit, cell=2.0 * scale)
    assert survey.files[0].cloud.far == (7, 3)
    assert any("7 lay over " in note and "3 as far above" in note
               for note in survey.notes)  # fmt: skip


def test_thinned_the_order_of_a_file_changes_nothing(survey_of):
    points = made(4000)
    mixed = GENERATOR.permutation(points)
    one, other = (
        survey_of(p, name=n, cell=0.5).shots for p, n in ((points, "a.laz"), (mixed, "b.laz"))
    )
    assert np.array_equal(one.plan, other.plan)
    assert np.array_equal(one.elevation, other.elevation)


@pytest.mark.parametrize("unit", [METRE, FOOT])
def test_a_cloud_of_many_points_is_thinned_unless_the_job_says_how(survey_of, monkeypatch, unit):
    points = made(4000)
    points[:400, :2] = points[400:800, :2] + 0.001
    monkeypatch.setattr(thin_module, "MOST_UNTHINNED", 4000)
    metres = CloudAsRead(horizontal_unit="m", vertical_unit="m")
    as_asked = {"unit": unit, "cloud": metres}
    assert survey_of(points, name="a.laz", **as_asked).files[0].cloud.thinned == 0
    monkeypatch.setattr(thin_module, "MOST_UNTHINNED", 3999)
    survey = survey_of(points, name="a.laz", **as_asked)
    cells = {tuple(place // 50) for place in whole(points)[:, :2]}
    assert len(survey.shots) == len(cells) == 4000 - survey.files[0].cloud.thinned
    assert any("says nothing of thin: cells of 0." in note for note in survey.notes)
    for cell in (0.0, 1e-6):
        kept = survey_of(points, name="a.laz", cell=cell, **as_asked)
        assert kept.files[0].cloud.thinned == 0
        assert not any("says nothing of thin" in note for note in kept.notes)


def test_a_header_with_wrong_extents_thins_to_the_same_heights(survey_of, tmp_path):
    points = made(3000)
    right = survey_of(points, name="a.las", cell=2.0).shots
    survey_of(points, name="b.las", cell=2.0)
    data = bytearray((tmp_path / "b.las").read_bytes())
    data[179:187] = np.array([20.0]).tobytes()  # LAS 1.4: max x stands at byte 179
    (tmp_path / "b.las").write_bytes(bytes(data))
    wrong = read_shots(["b.las"], ReadOptions(unit=METRE, folder=tmp_path, cell=2.0)).shots
    assert sorted(wrong.elevation.tolist()) == sorted(right.elevation.tolist())


def test_lengths_in_feet_thin_and_crop_in_the_jobs_feet(survey_of):
    points = made(4000)
    survey = survey_of(
        points, unit=FOOT, cell=3.28084, bounds=(0.0, 0.0, 65.6168, 65.6168),
        cloud=CloudAsRead(horizontal_unit="m", vertical_unit="m"),
    )  # fmt: skip
    assert survey.shots.easting.max() <= 65.6168
    cells = {(x // 1.0, y // 1.0) for x, y in whole(points)[:, :2] / MM if x <= 20 and y <= 20}
    assert len(survey.shots) == len(cells)
    assert np.abs(survey.shots.elevation * 0.3048 - ground(survey.shots.plan * 0.3048)).max() < 0.05


def with_things(points, weeds=0.3):
    """The points with weeds on a share of them and a shed; and how high each now stands."""
    high = np.where(
        GENERATOR.random(len(points)) < weeds, GENERATOR.exponential(0.4, len(points)), 0
    )
    shed = (points[:, 0] > 15) & (points[:, 0] < 22) & (points[:, 1] > 12) & (points[:, 1] < 20)
    high = np.where(shed, 3.0, high)
    return points + np.outer(high, [0.0, 0.0, 1.0]), high


@pytest.mark.parametrize("way", ["cloth", "opening"])
def test_a_filter_takes_weeds_and_sheds_off_and_leaves_the_ground(way):
    points, high = with_things(made(60_000))
    kept = ground_among(points, GroundFilter(way=way), METRE).ground
    assert kept[high == 0].mean() > 0.9
    assert not kept[high > 1.0].any()
    above = points[:, 2] - ground(points)
    # with three in ten points in weeds, their mean height is 0.12 m above all the ground there is
    assert 0.0 < above[kept].mean() < 0.012
    assert above.mean() > 0.1


@pytest.mark.parametrize("way", ["cloth", "opening"])
def test_a_filter_finds_the_same_ground_every_time_whatever_the_order(way):
    # On several threads the cloth's library finds other ground every time.
    points, _ = with_things(made(40_000))
    mixed = GENERATOR.permutation(len(points))
    once = ground_among(points, GroundFilter(way=way), METRE).ground
    for _ in range(3):
        assert np.array_equal(ground_among(points, GroundFilter(way=way), METRE).ground, once)
    again = ground_among(points[mixed], GroundFilter(way=way), METRE).ground
    assert np.array_equal(again, once[mixed])


def test_points_of_a_grid_that_lie_as_near_as_one_another_are_judged_in_any_order():
    column, row = np.meshgrid(np.arange(0.0, 30.0, 0.25), np.arange(0.0, 30.0, 0.25))
    plan = np.column_stack([column.ravel(), row.ravel()])
    points, _ = with_things(np.column_stack([plan, ground(plan)]))
    mixed = GENERATOR.permutation(len(points))
    once, again = (ground_among(p, GroundFilter(), METRE).ground for p in (points, points[mixed]))
    assert np.array_equal(again, once[mixed])


@pytest.mark.parametrize("way", ["cloth", "opening"])
def test_stray_points_far_below_are_told_and_spoil_no_ground_round_them(survey_of, way):
    points, high = with_things(made(60_000))
    stray = GENERATOR.choice(np.flatnonzero(high == 0), 12, replace=False)
    sunk = points.copy()
    sunk[stray, 2] -= 4.0
    told, before = (ground_among(p, GroundFilter(way=way), METRE) for p in (sunk, points))
    assert np.flatnonzero(told.stray).tolist() == sorted(stray)
    assert not told.ground[stray].any()
    assert not before.stray.any()
    assert (told.ground ^ before.ground).mean() < 0.001
    survey = survey_of(sunk, classes=1, ground_filter=GroundFilter(way=way))
    assert survey.files[0].cloud.stray == 12
    assert any("12 stray points far below all round them left out" in n for n in survey.notes)


def test_a_hole_that_more_than_a_few_points_lie_in_is_no_stray():
    points = made(60_000)
    hole = (np.abs(points[:, :2] - [20.0, 15.0]) < 0.75).all(axis=1)
    points[hole, 2] -= 3.0
    told = ground_among(points, GroundFilter(), METRE)
    assert not told.stray.any()
    assert told.ground[hole].mean() > 0.2


def test_a_cloud_that_is_not_classed_is_filtered_and_told(survey_of, capfd):
    points, high = with_things(made(30_000))
    survey = survey_of(points, classes=1)
    facts = survey.files[0].cloud
    assert facts.way == "cloth"
    assert facts.not_ground > 0.8 * (high > 0.1).sum()
    assert sum_of(facts) == facts.read
    assert any("are no ground by the filter (cloth)" in note for note in survey.notes)
    assert capfd.readouterr().out == ""  # the library prints; JSON must stand alone
    none = survey_of(points, classes=1, ground_filter=GroundFilter(way="none"))
    assert len(none.shots) == len(points)


def test_a_filter_that_is_asked_for_and_has_no_use_is_told(survey_of):
    asked = GroundFilter(way="cloth")
    classed = survey_of(made(3000), classes=2, ground_filter=asked)
    assert any("ground_filter is not used" in note for note in classed.notes)
    few = survey_of(made(900), classes=1, ground_filter=asked)
    assert any("900 points, too few for a ground filter" in note for note in few.notes)
    for ground_filter in (None, GroundFilter(way="none")):
        silent = survey_of(made(3000), classes=2, ground_filter=ground_filter)
        assert not any("ground filter" in n or "ground_filter" in n for n in silent.notes)


def test_a_filter_that_leaves_less_than_half_is_warned_of(survey_of):
    points = made(6000)
    strict = GroundFilter(way="opening", threshold=1e-7, slope=1e-6)
    survey = survey_of(points, classes=1, ground_filter=strict)
    assert len(survey.shots) < 3000
    assert any(is_warning(note) for note in survey.notes)
    usual = survey_of(points, classes=1, ground_filter=GroundFilter(way="opening"))
    assert not any(is_warning(note) for note in usual.notes)


def test_spots_that_a_scan_hits_twice_take_their_mean_and_shots_of_a_rover_are_refused(
    survey_of, tmp_path
):
    points = made(1200)
    twice = np.concatenate([points, points[:3] + np.array([0.0, 0.0, 0.4])])
    shots = survey_of(twice).shots
    for k in range(3):
        near = np.abs(shots.plan - points[k, :2]).max(axis=1)
        (at,) = np.flatnonzero(near < 0.0006)
        assert shots.elevation[at] == pytest.approx(points[k, 2] + 0.2, abs=0.001)
    np.savetxt(tmp_path / "a.csv", np.round(twice, 3), delimiter=",", fmt="%.3f",
               header="easting,northing,elevation", comments="")  # fmt: skip
    with pytest.raises(SurveyError, match="disagree"):
        read_shots(["a.csv"], ReadOptions(unit=METRE, folder=tmp_path))


def test_a_filter_in_feet_is_the_same_filter(survey_of):
    points, _ = with_things(made(20_000))
    metres = ground_among(points, GroundFilter(), METRE).ground
    feet = ground_among(points / 0.3048, GroundFilter(), FOOT).ground
    assert (metres == feet).mean() > 0.99


def test_an_xyz_scan_is_thinned_and_filtered_only_if_asked(tmp_path):
    points, _ = with_things(made(5000))
    np.savetxt(tmp_path / "scan.xyz", np.round(points, 3), fmt="%.3f")
    plain = read_shots(["scan.xyz"], ReadOptions(unit=METRE, folder=tmp_path, same_spot=None))
    assert len(plain.shots) == 5000
    assert plain.files[0].cloud is None
    asked = ReadOptions(unit=METRE, folder=tmp_path, cell=1.0, ground_filter=GroundFilter())
    scanned = read_shots(["scan.xyz"], asked)
    assert scanned.files[0].cloud.read == 5000 == sum_of(scanned.files[0].cloud)
    assert len(scanned.shots) < 1600


def write_ply(path, points, form):
    """A PLY of points with a colour and without faces; binary ones in doubles."""
    head = ["ply", f"format {form} 1.0", f"element vertex {len(points)}"]
    head += [f"property double {axis}" for axis in "xyz"] + ["property uchar red", "end_header"]
    if form == "ascii":
        rows = "".join(f"{x!r} {y!r} {z!r} 7\n" for x, y, z in points.tolist())
        body = rows.encode()
    else:
        kind = np.dtype([("xyz", "<f8", 3), ("red", "u1")])
        table = np.zeros(len(points), dtype=kind)
        table["xyz"] = points
        body = table.tobytes()
    path.write_bytes("\n".join([*head, ""]).encode() + body)


@pytest.mark.parametrize("form", ["ascii", "binary_little_endian"])
def test_a_ply_of_points_is_a_cloud_that_is_not_classed(tmp_path, form):
    points, _ = with_things(np.round(made(5000), 3))
    turned = np.column_stack([points[:, 0], points[:, 2], -points[:, 1]]) * 100.0
    write_ply(tmp_path / "scan.ply", turned, form)
    np.savetxt(tmp_path / "scan.xyz", points, fmt="%.17g")
    asked = {"unit": METRE, "folder": tmp_path, "mesh": MeshAsRead(up="y", unit="cm")}
    every = GroundFilter(way="none")
    plain = read_shots(["scan.ply"], ReadOptions(**asked, ground_filter=every)).shots
    assert np.abs(plain.plan - points[:, :2]).max() < 1e-9
    assert np.abs(plain.elevation - points[:, 2]).max() < 1e-9
    filtered = read_shots(["scan.ply"], ReadOptions(**asked))
    assert filtered.files[0].cloud.not_ground > 100
    assert sum_of(filtered.files[0].cloud) == 5000
    thinned, same = (
        read_shots([name], ReadOptions(**asked, cell=1.0, ground_filter=every)).shots
        for name in ("scan.ply", "scan.xyz")
    )
    assert 1000 < len(thinned) < 1700
    assert np.abs(thinned.elevation - same.elevation).max() < 1e-9


def test_a_ply_of_points_that_lie_on_one_spot_or_nowhere_is_refused(tmp_path):
    asked = ReadOptions(unit=METRE, folder=tmp_path, mesh=MeshAsRead(up="z", unit="m"))
    for points, said in (
        (np.full((50, 3), 2.0), "all its points stand at one place in plan"),
        (np.where(np.arange(150).reshape(50, 3) == 9, np.nan, 1.0), "1 point without a place"),
    ):
        write_ply(tmp_path / "scan.ply", points, "binary_little_endian")
        with pytest.raises(SurveyError, match=said):
            read_shots(["scan.ply"], asked)


def test_a_file_that_changes_while_it_is_read_is_refused(survey_of, tmp_path, monkeypatch):
    points = made(500)
    survey_of(points)
    true = read_module.sha256_of_file

    def grows(path):
        with path.open("ab") as file:
            file.write(b"more")
        return true(path)

    monkeypatch.setattr(read_module, "sha256_of_file", grows)
    with pytest.raises(SurveyError, match="changed while it was read"):
        read_shots(["scan.laz"], ReadOptions(unit=METRE, folder=tmp_path))


@pytest.mark.parametrize(
    ("points", "said"),
    [
        (np.full((2000, 3), 5.0), r"at one place in plan \(5.000, 5.000 in m\)"),
        (made(1500) * [0.001, 0.001, 1.0], "too small for a lot"),
        (made(1500)[:, [0, 2, 1]] * [0.1, 1.0, 3.0], "taller|tall"),
        (made(1500) * 1000.0, "too wide for a lot"),
    ],
)
def test_a_scan_that_can_be_no_lot_is_refused(survey_of, points, said):
    with pytest.raises(SurveyError, match=said):
        survey_of(points)


def test_a_cloud_all_outside_the_lot_is_told(survey_of):
    with pytest.raises(SurveyError, match="is it of another lot"):
        survey_of(made(500), bounds=(500.0, 500.0, 600.0, 600.0))


@pytest.mark.parametrize(
    ("asked", "said"), [({"classes": 7}, "1,200 are marked"), ({"withheld": 1}, "1,200 as with")]
)
def test_a_cloud_whose_points_are_all_marked_says_how(survey_of, asked, said):
    with pytest.raises(SurveyError, match=f"no usable point: of its 1,200, .*{said}"):
        survey_of(made(1200), **asked)


def test_a_truncated_cloud_is_refused(survey_of, tmp_path):
    survey_of(made(3000))
    data = (tmp_path / "scan.laz").read_bytes()
    for share in (0.3, 0.7, 0.99):
        (tmp_path / "cut.laz").write_bytes(data[: int(len(data) * share)])
        with pytest.raises(SurveyError, match=r"cut\.laz"):
            read_shots(["cut.laz"], ReadOptions(unit=METRE, folder=tmp_path, cell=1.0))


@pytest.mark.parametrize("way", ["cut off before it", "placed nowhere", "placed past the end"])
def test_a_cloud_without_its_table_of_chunks_is_refused(survey_of, tmp_path, way):
    survey_of(made(3000))
    data = bytearray((tmp_path / "scan.laz").read_bytes())
    begin = int.from_bytes(data[96:100], "little")  # LAS 1.4: where the points begin
    table = int.from_bytes(data[begin : begin + 8], "little")
    if way == "cut off before it":
        del data[table:]
    else:
        place = 0 if way == "placed nowhere" else len(data) + 1000
        data[begin : begin + 8] = place.to_bytes(8, "little")
    (tmp_path / "scan.laz").write_bytes(bytes(data))
    with pytest.raises(SurveyError, match="table of chunks is missing") as caught:
        read_shots(["scan.laz"], ReadOptions(unit=METRE, folder=tmp_path, cell=1.0))
    assert [fault.file for fault in caught.value.faults] == ["scan.laz"]
