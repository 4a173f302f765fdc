"""What the later surveys of a job tell, in words for a page."""

from terrain.job.later_told import LaterTold
from terrain.report.asgraded_words import asgraded_words
from terrain.report.piles_words import piles_words
from terrain.report.progress_words import progress_words


def later_words(
    told: LaterTold, title: str, length_unit: str, volume_unit: str
) -> dict[str, object]:
    """What `progress.html`, `piles.html` and `asgraded.html` are filled from, newest first."""
    return {
        "progress": [progress_words(day, volume_unit) for day in reversed(told.progress)],
        "piles": [piles_words(day, length_unit, volume_unit) for day in reversed(told.piles)],
        "asgraded": [asgraded_words(day, title, length_unit) for day in reversed(told.asgraded)],
    }
