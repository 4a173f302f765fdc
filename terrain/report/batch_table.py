"""What became of a batch, on a terminal of 80 columns."""

from collections.abc import Iterator, Sequence
from textwrap import wrap

from rich.console import Console
from rich.text import Text

from terrain.job.batch import Outcome, Status
from terrain.report.names import encodable, plain, shortened

WIDTH = 80
NAME, STATUS = 34, 9
MOST_LINES = 6


def show_batch(question: str, outcomes: Sequence[Outcome], console: Console) -> None:
    """Print a line a job and, under it, why it has no answer; no line is wider than 80 columns."""
    for line in batch_lines(question, outcomes):
        console.print(Text(encodable(line, console.encoding)), soft_wrap=True)


def batch_lines(question: str, outcomes: Sequence[Outcome]) -> Iterator[str]:
    """The lines of the table, each at most 80 columns."""
    for one in outcomes:
        name = shortened(plain(one.name), NAME)
        yield f"{name:<{NAME}} {one.status.value:<{STATUS}} {_answer(one)}".rstrip()
        yield from _message(one.message)
    counts = (
        f"{number} {status.value}"
        for status in Status
        if (number := sum(one.status is status for one in outcomes))
    )
    yield ""
    yield f"{question} of {len(outcomes)} jobs: " + ", ".join(counts)


def _answer(one: Outcome) -> str:
    """The first figure of an answer with its plus-or-minus, in the job's own unit."""
    first = next(iter(one.figures.items()), None)
    if first is None or first[1] is None:
        return ""
    name, value = first
    if isinstance(value, str):
        return f"{name} {plain(value)} {plain(str(one.figures.get('currency') or ''))}".rstrip()
    doubt = one.figures.get(f"{name}_plus_minus_95")
    more = f" \N{PLUS-MINUS SIGN} {doubt:,.1f}" if isinstance(doubt, float) else ""
    return f"{value:>10,.1f}{more} {one.volume_unit} {name}"


def _message(message: str) -> Iterator[str]:
    lines = message.splitlines()
    for line in lines[:MOST_LINES]:
        yield from wrap(plain(line), WIDTH, initial_indent="    ", subsequent_indent="      ") or [
            ""
        ]
    if len(lines) > MOST_LINES:
        yield f"    ... and {len(lines) - MOST_LINES} lines more, in the summary"
