"""The foundation's ring of corners in the local frame, from whichever form the job gives."""

from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.base.errors import DesignError, Fault
from terrain.base.frame import LocalFrame
from terrain.job.load import Job
from terrain.job.schema import Coordinates
from terrain.pit.foundation import StakeFit, fit_to_stakes, traverse
from terrain.survey.georef import Site
from terrain.survey.outline import OutlineAsked, read_outline
from terrain.survey.shots import Shots

CLOSURE_TOLERANCE = {"ft": 0.10, "ftUS": 0.10, "m": 0.03}
"""Misclosure or stake residual refused beyond this unless the job says; common practice, no
source."""

TURN_TOLERANCE = 0.5
ROUNDING = 1e-9
"""Length units by which lengths as written may pass a tolerance for want of digits."""
"""Degrees by which the turns of a closed figure may miss a full turn."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """The outside faces as drawn: `corners` (n, 2) local, `walls` in the job's order.

    `form` is how the job gives them. `misclosure` is how far the lengths and turns miss closing,
    None for drawn corners; `stakes` the fit to shot stakes, None without.
    """

    frame: LocalFrame
    corners: FloatArray
    walls: tuple[str, ...]
    form: str
    misclosure: float | None = None
    stakes: StakeFit | None = None


def foundation_figure(job: Job, shots: Shots | None = None) -> Figure:
    """The outside faces a job asks for; `shots` are needed where they are fitted to stakes.

    Raises:
        DesignError: the figure does not close, does not fit, or has not as many walls as names.
    """
    foundation = job.foundation
    if foundation.corners is not None:
        return _drawn(np.array(foundation.corners), "corners", foundation.walls)
    if foundation.outline is not None:
        asked = OutlineAsked(
            site=Site(unit=job.unit, crs=job.site.crs),
            coordinates=coordinates_of(job, foundation.coordinates),
        )
        outline = read_outline(job.path(foundation.outline), foundation.outline, asked)
        return _drawn(outline.plan, "outline", foundation.walls)
    if foundation.first_corner is not None:
        return _from_bearing(job, foundation.first_corner)
    return _from_stakes(job, shots)


def coordinates_of(job: Job, given: Coordinates | None) -> Coordinates:
    """What a file of lines is in: as given; else on a local grid it can only be that grid."""
    if given is not None:
        return given
    return "grid" if job.site.crs is None else "degrees"


def _drawn(corners: FloatArray, form: str, walls: list[str] | None) -> Figure:
    names = tuple(walls or ())
    if len(names) != len(corners):
        message = f"{len(names)} wall names do not go with {len(corners)} walls"
        raise _error("foundation.walls", f"{message}: wall i runs from corner i to the next")
    frame = LocalFrame.near(corners)
    return Figure(frame=frame, corners=frame.to_local(corners), walls=names, form=form)


def _closed_figure(job: Job, bearing: float) -> tuple[FloatArray, float]:
    """The figure of the job's lengths and turns from (0, 0), and its misclosure."""
    foundation = job.foundation
    lengths = np.array(foundation.lengths)
    turns = np.array(foundation.turns) if foundation.turns else np.full(len(lengths), 90.0)
    if len(turns) == len(lengths) and abs(abs(turns.sum()) - 360.0) > TURN_TOLERANCE:
        message = f"the turns sum to {turns.sum():g} degrees: a closed figure turns 360 or -360"
        raise _error("foundation.turns", message)
    closed = traverse(np.zeros(2), bearing, lengths, turns)
    miss = float(np.hypot(*closed.misclosure))
    allowed = foundation.closure_tolerance
    allowed = CLOSURE_TOLERANCE[job.unit.name] if allowed is None else allowed
    if miss > allowed + ROUNDING:
        east, north = closed.misclosure
        message = (
            f"the walls miss closing by {miss:.3f} {job.unit.name} ({east:+.3f} along east, "
            f"{north:+.3f} along north), more than closure_tolerance {allowed:g}; check the "
            "lengths and turns"
        )
        raise _error("foundation.lengths", message)
    return closed.corners, miss


def _from_bearing(job: Job, first_corner: tuple[float, float]) -> Figure:
    figure, miss = _closed_figure(job, job.foundation.bearing or 0.0)
    corner = np.array(first_corner)
    frame = LocalFrame.near(figure + corner)
    return Figure(
        frame=frame,
        corners=figure + frame.to_local(corner),
        walls=tuple(job.foundation.walls or ()),
        form="first corner and bearing",
        misclosure=miss,
    )


def _from_stakes(job: Job, shots: Shots | None) -> Figure:
    figure, miss = _closed_figure(job, 0.0)
    code = job.foundation.stakes or ""
    stakes = stake_positions(shots, code) if shots is not None else np.zeros((0, 2))
    if len(stakes) != len(figure):
        message = f'{len(stakes)} shots have the code "{code}", but the figure has {len(figure)}'
        raise _error("foundation.stakes", f"{message} corners: shoot each corner once, in order")
    frame = LocalFrame.near(stakes)
    fit = fit_to_stakes(figure, frame.to_local(stakes))
    allowed = job.foundation.stake_tolerance
    allowed = CLOSURE_TOLERANCE[job.unit.name] if allowed is None else allowed
    worst = int(np.argmax(fit.misses))
    if fit.misses[worst] > allowed + ROUNDING:
        message = (
            f"stake {worst + 1} stands {fit.misses[worst]:.3f} {job.unit.name} from its corner, "
            f"more than stake_tolerance {allowed:g}; all stakes: "
            + ", ".join(f"{m:.3f}" for m in fit.misses)
        )
        raise _error("foundation.stakes", message + _other_way_round(figure, stakes, allowed))
    return Figure(
        frame=frame,
        corners=fit.corners,
        walls=tuple(job.foundation.walls or ()),
        form="lengths fitted to stakes",
        misclosure=miss,
        stakes=fit,
    )


def _other_way_round(figure: FloatArray, stakes: FloatArray, allowed: float) -> str:
    mirrored = fit_to_stakes(figure * np.array([-1.0, 1.0]), stakes)
    if mirrored.misses.max() > allowed:
        return ""
    return "; they fit the other way round: give every turn the other sign"


def stake_positions(shots: Shots, code: str) -> FloatArray:
    """The plan positions (m, 2) of the shots with a code, in the order they were shot."""
    wanted = [
        k for k, name in enumerate(shots.code_names) if name.casefold() == code.strip().casefold()
    ]
    at = np.isin(shots.code, wanted)
    return np.column_stack([shots.easting[at], shots.northing[at]])


def _error(key: str, message: str) -> DesignError:
    return DesignError(Fault(key=key, message=message))
