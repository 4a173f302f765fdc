"""What a statement says of itself in words: each basis, its allowance, what a period gives."""

import shutil
from io import BytesIO
from pathlib import Path

import pypdf
import pytest

import terrain.cli
from terrain.billing.record import Statement
from terrain.export.statement_pdf import statement_pdf
from terrain.job.kept import issued_now
from terrain.job.load import load_job
from terrain.job.statement import StatementAsked, drafted
from tests.billing.made_bill import bill_job

DEMO = Path(terrain.cli.__file__).parent / "demo_job"


def drafted_of(path: Path, period: int = 1) -> Statement:
    return drafted(load_job(path), StatementAsked(period=period), lambda stage: None)


def test_each_basis_that_is_billed_is_explained_with_its_allowance(tmp_path: Path) -> None:
    notes = drafted_of(bill_job(tmp_path)).notes
    assert "B as dug, as dug: all that the survey shows dug." in notes
    assert (
        "C right wall, as dug to line: what the survey shows dug, no deeper than the floor "
        "and no farther out than 0.2 ft beyond the pay line."
    ) in notes
    assert not any(note.startswith("A basement") for note in notes)


@pytest.mark.parametrize(("share", "said"), [("", "this period gives none."),
                                             ("share = 0.25\n", "here 0.25.")])  # fmt: skip
def test_an_item_of_the_lot_says_what_share_its_period_gives(tmp_path, share, said) -> None:
    shutil.copytree(DEMO, tmp_path, dirs_exist_ok=True)
    job = tmp_path / "job.toml"
    job.write_text(
        job.read_text().replace("[[billing.periods]]\n", "[[billing.periods]]\n" + share, 1)
    )
    (told,) = [note for note in drafted_of(job).notes if note.startswith("Backfill, stone")]
    assert told.endswith(said)


def test_a_statement_can_be_signed_and_a_draft_says_it_is_one(tmp_path: Path) -> None:
    job = load_job(bill_job(tmp_path))
    draft = drafted_of(bill_job(tmp_path))
    text = text_of(draft)
    assert "Statement of work 1, draft" in text
    assert "not issued" in text
    assert "signature" not in text
    issued = text_of(issued_now(job, draft))
    assert "Statement of work 1" in issued
    assert "draft" not in issued.casefold()
    for party in ("Marl & Daughters", "Plover Homes"):
        assert f"For {party}" in issued


def text_of(statement: Statement) -> str:
    reader = pypdf.PdfReader(BytesIO(statement_pdf(statement)))
    return " ".join(" ".join(page.extract_text() for page in reader.pages).split())
