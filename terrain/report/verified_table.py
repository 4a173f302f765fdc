"""All that `verify` answers on a terminal of 80 columns."""

from functools import partial

from rich.console import Console
from rich.text import Text

from terrain.job.verified import AllVerified
from terrain.report.names import encodable, plain
from terrain.report.progress_table import show_asgraded, show_piles, show_progress
from terrain.report.stages_words import stages
from terrain.report.table import WIDEST, print_listed
from terrain.report.verify_table import show_todo, show_verify


def show_verified(told: AllVerified, console: Console) -> None:
    """Print where the work stands and what to do in the hole, then the last day of each stage.

    All this moves the answer out of sight: it comes once more at the end.
    """
    job, later = told.worked.job, told.later
    units = (job.unit.name, job.unit.volume_name)
    say, width = partial(encodable, encoding=console.encoding), min(console.width, WIDEST)
    console.print(Text(say(plain(job.title)), style="bold"), width=width)
    _in_short(told, console)
    if told.hole is not None:
        show_verify(told.hole, console)
    show_progress(later.progress, job.unit.volume_name, console)
    show_piles(later.piles, units, console)
    show_asgraded(later.asgraded, units, console)
    for note in later.notes:
        print_listed(Text(say(plain(note))), console, width)
    console.print(Text("\nIn short", style="bold"))
    _in_short(told, console)


def _in_short(told: AllVerified, console: Console) -> None:
    """A line a stage, with what is to do under that of the hole."""
    say, width = partial(encodable, encoding=console.encoding), min(console.width, WIDEST)
    for stage in stages(told):
        line = Text(say(f"{stage.name}, {stage.date}: {stage.verdict}"), style="bold")
        line.append(say(f". {stage.said[:1].upper()}{stage.said[1:]}"), style="not bold")
        console.print(line, width=width)
        if stage.part == "hole" and told.hole is not None:
            show_todo(told.hole, console)
