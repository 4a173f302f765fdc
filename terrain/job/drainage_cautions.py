"""What to be careful of where water does not run away from the house, or stands, in words."""

import numpy as np

from terrain.base.units import LengthUnit
from terrain.job.drainage import Drainage, FailedFall, Spot, StandingWater
from terrain.ledger.entries import Caution
from terrain.lot.falls import Why


def drainage_cautions(drained: Drainage, unit: LengthUnit) -> tuple[Caution, ...]:
    """A caution for each wall that fails, at its worst station, each pond and each wall wetted."""
    worst: dict[tuple[str, Why], FailedFall] = {}
    count: dict[tuple[str, Why], int] = {}
    for failed in drained.failures:
        key = failed.wall, failed.why
        count[key] = count.get(key, 0) + 1
        short = failed.needed - failed.fall
        if key not in worst or short > worst[key].needed - worst[key].fall:
            worst[key] = failed
    cautions = [
        Caution(
            code="fall_from_house",
            wall=failed.wall,
            message=f"{_fault(failed, drained, unit)} ({_stations(count[key])}).",
        )
        for key, failed in worst.items()
    ]
    for pond in drained.ponds:
        cautions.append(Caution(code="pond", wall=pond.wall, message=_pond(pond, drained, unit)))
    for back in drained.returns:
        cautions.append(
            Caution(
                code="water_at_house",
                wall=back.wall,
                message=f"the water of {back.area:.0f} {unit.area_sign} runs to wall {back.wall} "
                f"at {_at(back.spot)}.",
            )
        )
    return tuple(cautions)


def _fault(failed: FailedFall, drained: Drainage, unit: LengthUnit) -> str:
    """What fails at a station, in words, with the rule's source."""
    name = unit.name
    where = f"wall {failed.wall}, {failed.station:.1f} {name} along it"
    over = f"{failed.distance:.1f} {name}"
    stopped = {
        "distance": "", "lot line": ", to the lot line",
        "other wall": ", as far as no other wall is nearer",
        "swale": ", to the swale", "survey": ", to the end of the survey",
    }[failed.end]  # fmt: skip
    least = f"{failed.needed:.2f} {name} at least is asked (IRC R401.3, as quoted)"
    fall = _fall(failed.fall, name)
    if failed.why == "rises":
        return f"{where}: the ground rises {-failed.fall:.2f} {name} above that at the wall"
    if failed.why == "swale":
        return f"{where}: the swale there {fall} along its line; {least}"
    if failed.why == "hard surface":
        return f"{where}: the hard surface {fall}; {least}"
    if failed.why == "settlement":
        share = 100.0 * drained.settlement
        return (
            f"{where}: once the backfill has settled {share:g} % the ground {fall} in {over}"
            f"{stopped}; {least}"
        )
    return f"{where}: the ground {fall} in {over}{stopped}; {least}"


def _fall(fall: float, unit: str) -> str:
    """A fall with digits enough to tell it from what is asked."""
    if fall < 0.0:
        return f"rises {-fall:.3f} {unit}"
    return f"falls {np.floor(fall * 1000.0 + 1e-6) / 1000.0:.3f} {unit}"


def _pond(pond: StandingWater, drained: Drainage, unit: LengthUnit) -> str:
    """Whether a pond is new, where it stands, and what would be rid of it."""
    against = "" if pond.wall is None else f", against wall {pond.wall}"
    deep = f"up to {pond.depth:.2f} {unit.name} deep over {pond.area:.0f} {unit.area_sign}"
    where = f"at {_at(pond.spot)}{against}: {deep}, to elevation {pond.level:.2f}"
    held = unit.volume(pond.volume)
    much = f"about {held:.1f}" if held >= 0.05 else "less than 0.1"
    rid = (
        f"fill it to {pond.level:.2f} (it holds {much} {unit.volume_sign}), or lead a swale out "
        "of it"
    )
    if drained.is_new(pond):
        return f"New, made by this grading: water will stand {where}. To be rid of it, {rid}."
    before = f"{pond.before:.2f} {unit.name}"
    if drained.is_deeper(pond):
        return (
            f"There today, up to {before} deep, and made deeper by this grading: water will stand "
            f"{where}. To be rid of it, {rid}."
        )
    return (
        f"There today, up to {before} deep: this grading does not drain it. Water will stand "
        f"{where}. Whether it may stay is yours to say; to be rid of it, {rid}."
    )


def _stations(count: int) -> str:
    return "1 station" if count == 1 else f"the worst of {count} stations"


def _at(spot: Spot) -> str:
    return f"({spot[0]:.1f}, {spot[1]:.1f})"
