"""All that `verify` answers on a terminal of 80 columns."""

from functools import partial

from rich.console import Console
from rich.text import Text

from terrain.job.verified import AllVerified
from terrain.report.names import encodable, plain
from terrain.report.progress_table import show_asgraded, show_piles, show_progress
from terrain.report.table import WIDEST, print_listed
from terrain.report.verify_table import show_verify
from terrain.report.verify_words import in_short


def show_verified(told: AllVerified, console: Console) -> None:
    """Print the check of the hole, then the last day of progress, piles and the graded lot.

    The verdict, which all this moves out of sight, comes once more at the end.
    """
    job, later = told.worked.job, told.later
    units = (job.unit.name, job.unit.volume_name)
    say = partial(encodable, encoding=console.encoding)
    if told.hole is None:
        console.print(Text(say(plain(job.title)), style="bold"))
    else:
        show_verify(told.hole, console)
    show_progress(later.progress, job.unit.volume_name, console)
    show_piles(later.piles, units, console)
    show_asgraded(later.asgraded, units, console)
    if later.notes:
        console.print(Text("\nDays left out", style="bold"))
    for note in later.notes:
        print_listed(Text(say(plain(note))), console, min(console.width, WIDEST))
    if told.hole is not None:
        console.print(Text(say(f"\n{in_short(told.hole)}"), style="bold"))
