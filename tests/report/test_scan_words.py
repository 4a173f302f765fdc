"""What became of the points of a scan is told whole: each reason once, summing to what is used."""

import json
from dataclasses import fields

import pytest

from terrain.export.check_json import check_json
from terrain.export.ledger_json import ledger_json
from terrain.job.check import check
from terrain.job.volumes import volumes
from terrain.report.check_lines import check_lines
from terrain.report.scan_words import scan_rows
from terrain.report.told import input_words
from terrain.survey.cloud_facts import CloudFacts
from tests.job.made_cloud import cloud_job

REASONS = [
    "withheld", "noise", "other_classes", "outside", "thinned", "merged", "stray", "not_ground",
]  # fmt: skip


def number(shown: str) -> int:
    return int(shown.replace(",", "").replace("\N{MINUS SIGN}", "-"))


def test_each_reason_has_a_row_and_the_rows_sum_to_what_is_used():
    counts = {reason: 3**k for k, reason in enumerate(REASONS)}
    used = 5_000
    facts = CloudFacts(read=used + sum(counts.values()), used=used, way="cloth", **counts)
    numbers = [number(shown) for _, shown in scan_rows(facts)]
    assert sorted(numbers[1:-1]) == sorted(-count for count in counts.values())
    assert sum(numbers[:-1]) == numbers[-1] == used
    known = {field.name for field in fields(CloudFacts)}
    assert known == {*REASONS, "read", "used", "far", "classed", "way"}


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    return cloud_job(tmp_path_factory.mktemp("cloud"))


def test_page_terminal_and_json_tell_the_same(job):
    answer, checked = volumes(job), check(job)
    facts = answer.inputs[0].cloud
    assert facts.read == 60_000 == facts.outside + facts.thinned + facts.used
    assert min(facts.outside, facts.thinned, facts.used) > 0
    for text in (ledger_json(answer), check_json(checked)):
        told = json.loads(text)["inputs"][0]["points"]
        assert (told["read"], told["outside"], told["used"]) == (60_000, facts.outside, facts.used)
    rows = scan_rows(facts)
    assert input_words(answer.inputs[0], "ft")["points"] == rows
    lines = list(check_lines(checked))
    for name, shown in rows:
        assert any(line.split() == [shown, *name.split()] for line in lines)
