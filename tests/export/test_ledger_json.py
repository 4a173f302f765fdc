"""The JSON answer: the contract's keys, the ledger's own figures, never a NaN."""

import json
from dataclasses import replace

import pytest

from terrain.base.errors import OutputError
from terrain.export.ledger_json import ledger_dict, ledger_json
from terrain.job.answer import DeepestSpot, LooseRange
from tests.made_answer import made_volumes, with_ledger

VOLUMES = made_volumes()

# The keys of DESIGN.md, "spoilbank volumes JOB --json", written out by hand.
TOP_KEYS = {
    "title", "length_unit", "volume_unit", "total", "walls", "pits", "daylight_area",
    "deepest_cut", "cautions",
}  # fmt: skip
TOTAL_KEYS = {"bank", "loose", "compacted", "bank_plus_minus_95", "loads"}
WALL_KEYS = {"wall", "bank", "loose", "compacted", "topsoil", "parts"}
PIT_KEYS = {"name", "kind", "bank", "loose", "compacted"}


def read_back(volumes):
    return json.loads(ledger_json(volumes), parse_constant=pytest.fail)


def test_the_contracts_keys_are_all_there():
    answer = read_back(VOLUMES)
    assert answer.keys() >= TOP_KEYS
    assert answer["total"].keys() >= TOTAL_KEYS
    assert all(wall.keys() >= WALL_KEYS for wall in answer["walls"])
    assert all(wall["parts"].keys() == {"core", "overdig", "side", "footing"}
               for wall in answer["walls"])  # fmt: skip
    assert all(pit.keys() >= PIT_KEYS for pit in answer["pits"])
    assert all(c.keys() == {"code", "wall", "message"} for c in answer["cautions"])


def test_every_figure_reads_back_to_the_last_bit():
    answer, ledger = read_back(VOLUMES), VOLUMES.ledger
    for got, row in zip(answer["walls"], ledger.walls, strict=True):
        assert got["wall"] == row.wall
        assert got["bank"] == row.quantity.bank
        assert got["loose"] == row.quantity.loose
        assert got["compacted"] == row.quantity.compacted
        assert got["topsoil"] == row.topsoil
        assert got["bank_plus_minus_95"] == row.bank_plus_minus_95
        for part in ("core", "overdig", "side", "footing"):
            assert got["parts"][part] == getattr(row.parts, part)
    for got, row in zip(answer["pits"], ledger.pits, strict=True):
        assert (got["name"], got["kind"], got["bank"]) == (row.name, row.kind, row.quantity.bank)
        assert (got["loose"], got["compacted"]) == (row.quantity.loose, row.quantity.compacted)
    total = answer["total"]
    assert (total["bank"], total["loads"]) == (ledger.total.quantity.bank, ledger.total.loads)
    assert total["bank_plus_minus_95"] == ledger.total.bank_plus_minus_95
    assert answer["daylight_area"] == ledger.daylight_area
    assert answer["deepest_cut"] == ledger.deepest_cut
    assert answer["deepest_in"] == ledger.deepest_in


def test_where_it_is_deepest_and_how_far_loose_may_be_off_are_told_or_null():
    bare = read_back(VOLUMES)
    assert (bare["deepest_at"], bare["loose_range"]) == (None, None)
    spot = DeepestSpot(easting=514.5, northing=353.25, corner=("back", "left"), away=2.5)
    found = LooseRange(low=1.5, high=2.25, loads=(1, 2), swell=(0.15, 0.25), swell_of="loam")
    told = read_back(replace(VOLUMES, deepest_at=spot, loose_range=found))
    assert told["deepest_at"] == {
        "easting": 514.5, "northing": 353.25, "corner": ["back", "left"], "away": 2.5,
    }  # fmt: skip
    assert told["loose_range"] == {
        "low": 1.5, "high": 2.25, "loads": [1, 2], "swell": [0.15, 0.25], "swell_of": "loam",
    }  # fmt: skip


def test_parts_sum_to_walls_and_walls_and_pits_to_the_total():
    answer = read_back(VOLUMES)
    for wall in answer["walls"]:
        assert sum(wall["parts"].values()) == pytest.approx(wall["bank"], rel=1e-14)
    rows = answer["walls"] + answer["pits"]
    for state in ("bank", "loose", "compacted"):
        assert sum(r[state] for r in rows) == pytest.approx(answer["total"][state], rel=1e-14)


def test_without_accuracy_and_truck_the_doubt_and_the_loads_are_null():
    total = read_back(made_volumes(doubt=None, truck=None))["total"]
    assert total["bank_plus_minus_95"] is None
    assert total["loads"] is None


def test_a_nan_in_the_ledger_is_refused_by_its_key():
    ledger = VOLUMES.ledger
    bad = replace(ledger.walls[2], parts=replace(ledger.walls[2].parts, side=float("nan")))
    walls = (*ledger.walls[:2], bad, *ledger.walls[3:])
    with pytest.raises(OutputError) as caught:
        ledger_dict(with_ledger(VOLUMES, walls=walls, deepest_cut=float("inf")))
    assert [f.key for f in caught.value.faults] == ["walls[2].parts.side", "deepest_cut"]


def test_an_extent_without_heights_is_null():
    nan = float("nan")
    file = replace(VOLUMES.inputs[0], low=(1.0, 2.0, nan), high=(3.0, 4.0, nan))
    answer = read_back(replace(VOLUMES, inputs=(file,)))
    assert answer["inputs"][0]["low"] == [1.0, 2.0, None]
    assert answer["inputs"][0]["sha256"] == file.sha256


def test_a_job_file_whose_name_is_not_utf8_can_be_written_and_read_back():
    name = b"l\xf6t.toml".decode("utf-8", "surrogateescape")
    written = ledger_json(replace(VOLUMES, job_file=name)).encode("utf-8")
    assert json.loads(written)["job_file"] == name


def test_the_soil_and_where_its_factors_came_from_are_told():
    volumes = made_volumes()
    soil = ledger_dict(volumes)["soil"]
    assert soil == {
        "material": volumes.soil.material,
        "swell": volumes.soil.swell,
        "swell_plus_minus_95": None,
        "shrink": volumes.soil.shrink,
        "source": volumes.soil.source,
    }
