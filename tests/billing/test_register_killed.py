"""The register when its process is killed for good at each of its steps, the very first too."""

import hashlib
import signal
import subprocess
import sys
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from terrain.billing.binding import FIRST
from terrain.billing.record import InputKept, Statement
from terrain.billing.register import Register

TOP = Path(__file__).parent.parent.parent
CHILD = """
import os, signal, sqlite3, sys
from pathlib import Path
from tests.billing.test_register_killed import draft, INPUTS
from terrain.billing.register import Register

left = int(sys.argv[2])
on = False

def step(*given):
    global left
    if not on:
        return 0
    left -= 1
    if left < 0:
        os.kill(os.getpid(), signal.SIGKILL)
    return 0

def heard(event, given):
    if event in ("open", "os.mkdir", "os.rename", "os.remove", "sqlite3.connect"):
        step()

true = sqlite3.connect

def connect(*given, **more):
    opened = true(*given, **more)
    opened.set_trace_callback(step)
    opened.set_progress_handler(step, 12)  # within a statement, and within COMMIT
    return opened

sys.addaudithook(heard)
sqlite3.connect = connect
true_fsync = os.fsync

def fsync(file):
    step()
    true_fsync(file)

os.fsync = fsync
register = Register(Path(sys.argv[1]))
number = len(register.statements()) + 1
on = True
register.issue(draft(number), INPUTS)
"""
INPUTS = {"job.toml": b"title = 1\n", "shots.csv": b"1,2,3\n"}
MOST_STEPS = 400


def draft(number: int) -> Statement:
    """A statement of no lines; `terrain.billing` alone is needed to issue it."""
    nought = Decimal("0.00")
    kept = (InputKept(name=n, sha256=hashlib.sha256(c).hexdigest()) for n, c in INPUTS.items())
    return Statement(
        number=number, is_draft=True, title="A lot", from_="one", to="other", currency="USD",
        period=number, end="2027-05-31", survey=None, corrects=None, lines=(), subtotal=nought,
        tax_rate=nought, tax=nought, retainage_rate=nought, retainage=nought, total=nought,
        total_to_date=nought, notes=(), inputs=tuple(kept), version="0", previous_hash="", hash="",
    )  # fmt: skip


def killed(folder: Path, step: int) -> bool:
    done = subprocess.run(
        [sys.executable, "-c", CHILD, str(folder), str(step)], cwd=TOP, capture_output=True,
        text=True, check=False,
    )  # fmt: skip
    assert done.returncode in (0, -signal.SIGKILL), done.stderr
    return done.returncode != 0


def whole(folder: Path) -> list[int]:
    register = Register(folder)
    found = register.statements()
    assert all(register.damaged_inputs(one) == () for one in found)
    assert [one.previous_hash for one in found] == [FIRST, *(one.hash for one in found)][
        : len(found)
    ]
    return [one.number for one in found]


@pytest.mark.parametrize("before", [0, 1])
def test_killed_at_each_step_the_register_is_whole_and_goes_on_with_the_next_number(
    tmp_path: Path, before: int
) -> None:
    """The first issue makes the file and its table; later ones add to it."""
    seen = set()
    step = 0
    while True:
        folder = tmp_path / str(step)
        register = Register(folder)
        for number in range(1, before + 1):
            register.issue(draft(number), INPUTS)
        if not killed(folder, step):
            break
        stands = whole(folder)
        seen.add(len(stands))
        assert stands in (list(range(1, before + 1)), list(range(1, before + 2)))
        Register(folder).issue(draft(len(stands) + 1), INPUTS)
        assert whole(folder) == [*stands, len(stands) + 1]
        step += 1
        assert step < MOST_STEPS
    assert step > 12, "the steps of an issue were passed one by one"
    assert before in seen


def test_a_draft_made_for_a_number_that_is_taken_is_refused(tmp_path: Path) -> None:
    register = Register(tmp_path / "r")
    register.issue(draft(1), INPUTS)
    with pytest.raises(Exception, match="was issued meanwhile"):
        register.issue(replace(draft(1), title="another"), INPUTS)
    assert whole(tmp_path / "r") == [1]
