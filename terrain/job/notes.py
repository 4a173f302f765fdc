"""Plain sentences on the survey: shots that stand out, and what is more than a note."""

from collections.abc import Iterable

from terrain.job.ground import ExistingGround
from terrain.ledger.entries import Caution
from terrain.survey.layout import CONTRADICTED
from terrain.survey.positions import NO_VOLUME, UNKNOWN
from terrain.survey.scan_ground import MOST_LEFT_OUT
from terrain.survey.shots import Shots

SPIKES_TOLD = 20
WARNINGS = {
    CONTRADICTED: "columns-disagree",
    NO_VOLUME: "positions-too-rough",
    UNKNOWN: "positions-of-unknown-accuracy",
    MOST_LEFT_OUT: "ground-filter-left-little",
}
"""Words of the survey's notes that all of the ground may be wrong by, and the caution for each."""


def spike_notes(existing: ExistingGround, unit: str) -> tuple[str, ...]:
    """A sentence for each spike, the farthest off first, and a count of those beyond twenty."""
    told = [_spike_note(existing.shots, existing, i, unit) for i in range(len(existing.spikes))]
    left = len(told) - SPIKES_TOLD
    stand = "shot stands" if left == 1 else "shots stand"
    more = [f"{left} more {stand} out of their neighbours."] if left > 0 else []
    return (*told[:SPIKES_TOLD], *more)


def is_warning(note: str) -> bool:
    """Whether a note of the survey says that all of the ground may be wrong."""
    return any(words in note for words in WARNINGS)


def survey_cautions(notes: Iterable[str]) -> tuple[Caution, ...]:
    """A caution for each of the survey's notes that is more than a note."""
    return tuple(
        Caution(code=code, message=note)
        for note in notes
        for words, code in WARNINGS.items()
        if words in note
    )


def _spike_note(shots: Shots, existing: ExistingGround, which: int, unit: str) -> str:
    spike = existing.spikes[which]
    name = shots.point_name(spike.shot)
    called = f"Shot {name}" if name else "The shot"
    word = "above" if spike.off > 0 else "below"
    return (
        f"{called} ({shots.place(spike.shot)}) at {spike.elevation:.2f} stands "
        f"{abs(spike.off):.2f} {unit} {word} the ground its neighbours make; it was used as it "
        "is. Check it."
    )
