"""Plain sentences on shots that stand out of their neighbours."""

from terrain.job.ground import ExistingGround
from terrain.survey.shots import Shots

SPIKES_TOLD = 20


def spike_notes(existing: ExistingGround, unit: str) -> tuple[str, ...]:
    """A sentence for each spike, the farthest off first, and a count of those beyond twenty."""
    told = [_spike_note(existing.shots, existing, i, unit) for i in range(len(existing.spikes))]
    left = len(told) - SPIKES_TOLD
    stand = "shot stands" if left == 1 else "shots stand"
    more = [f"{left} more {stand} out of their neighbours."] if left > 0 else []
    return (*told[:SPIKES_TOLD], *more)


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
