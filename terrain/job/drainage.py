"""Whether water runs away from the house and off the lot, in names, site coordinates and words."""

from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.base.frame import LocalFrame
from terrain.base.units import LengthUnit
from terrain.job.rasters import flow_grid
from terrain.ledger.entries import Caution
from terrain.lot.fall_rays import rays_over
from terrain.lot.falls import End, FallFailure, FallRule, Why, failures_of, fall_rule
from terrain.lot.finish import Finished
from terrain.lot.flow import flow_over
from terrain.lot.flow_record import Flow, FlowLimits, flow_limits
from terrain.lot.rays import Settling
from terrain.lot.wall_falls import WallFall, wall_falls
from terrain.surface.patches import Surface

Spot = tuple[float, float]
"""Easting and northing on the site."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FailedFall:
    """A station of a house wall from which water does not run away, in length units.

    `spot` is at the wall, `to` where the fall was measured; `end` says why there. `distance` is
    how far that is from the wall's line.
    """

    wall: str
    station: float
    spot: Spot
    to: Spot
    distance: float
    end: End
    fall: float
    needed: float
    why: Why


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingWater:
    """A low spot that holds water: deepest `spot`, in length, square and cubic length units.

    `level` is the elevation to which it fills; `before` how deep water stands there on the
    existing ground; `wall` the house wall it touches, or None.
    """

    spot: Spot
    depth: float
    area: float
    volume: float
    level: float
    before: float
    wall: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class WayOut:
    """A stretch of the lot line, `width` long, where the water of `share` of the lot leaves."""

    spot: Spot
    area: float
    share: float
    width: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BackToHouse:
    """A `spot` at a house wall that the water of `area` further off runs to."""

    wall: str
    spot: Spot
    area: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Drainage:
    """What water does on the finished lot. Ponds and flow are found on cells of side `cell`.

    `settlement` is the share of its depth by which the backfill was taken to settle. `walls` has
    the fall from each house wall, none where it is told elsewhere.
    """

    rule: FallRule
    limits: FlowLimits
    settlement: float
    cell: float
    failures: tuple[FailedFall, ...]
    ponds: tuple[StandingWater, ...]
    outlets: tuple[WayOut, ...]
    returns: tuple[BackToHouse, ...]
    walls: tuple[WallFall, ...] = ()

    @property
    def failing(self) -> tuple[str, ...]:
        """The walls from which water does not run away somewhere, each once."""
        return tuple(dict.fromkeys(failed.wall for failed in self.failures))

    @property
    def unseen(self) -> tuple[str, ...]:
        """The other walls of which the survey is too short to tell it all along."""
        short = (fall.wall for fall in self.walls if not fall.is_seen_whole)
        return tuple(wall for wall in short if wall not in self.failing)

    def is_new(self, pond: StandingWater) -> bool:
        """Whether a pond is made by the grading: the existing ground holds none there."""
        return pond.before < self.limits.pond_depth

    def is_deeper(self, pond: StandingWater) -> bool:
        """Whether the grading makes a pond deeper by as much as makes one at all."""
        return pond.depth - pond.before >= self.limits.pond_depth

    @property
    def passing(self) -> int:
        """From how many walls the ground falls away as asked, all along them."""
        return len(self.walls) - len(self.failing) - len(self.unseen)


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Failing falls and the flow of water on some ground, in the local frame."""

    rule: FallRule
    limits: FlowLimits
    settlement: float
    failures: tuple[FallFailure, ...]
    flow: Flow
    walls: tuple[WallFall, ...] = ()


def drainage(
    ground: Surface, lot: Finished, settling: Settling | None, frame: LocalFrame, unit: LengthUnit
) -> Drainage:
    """Falls from every wall, standing water, ways out of the lot, water that comes back."""
    rule, limits = fall_rule(unit), flow_limits(unit)
    grid = flow_grid(lot.design.boundary, frame, unit)
    rays = rays_over(ground, lot, rule, settling)
    found = Found(
        rule=rule,
        limits=limits,
        settlement=0.0 if settling is None else settling.share,
        failures=failures_of(rays, lot.design, rule),
        flow=flow_over(ground, lot, grid, limits),
        walls=wall_falls(rays, lot, rule),
    )
    return drainage_told(found, lot, frame)


def drainage_told(found: Found, lot: Finished, frame: LocalFrame) -> Drainage:
    """What was found, in names and site coordinates."""
    walls, flow = lot.design.walls, found.flow

    def spot(plan: FloatArray) -> Spot:
        easting, northing = frame.to_site(plan)
        return float(easting), float(northing)

    whole = sum(outlet.area for outlet in flow.outlets)
    lot_area = max(lot.region.area, whole)
    return Drainage(
        rule=found.rule,
        limits=found.limits,
        settlement=found.settlement,
        cell=flow.cell,
        failures=tuple(_failed(failure, walls, frame) for failure in found.failures),
        ponds=tuple(
            StandingWater(
                spot=spot(pond.spot), depth=pond.depth, area=pond.area, volume=pond.volume,
                level=pond.level, before=pond.before,
                wall=None if pond.wall is None else walls[pond.wall],
            )
            for pond in flow.ponds
        ),
        outlets=tuple(
            WayOut(spot=spot(out.spot), area=out.area, share=out.area / lot_area, width=out.width)
            for out in flow.outlets
        ),
        returns=tuple(
            BackToHouse(wall=walls[back.wall], spot=spot(back.spot), area=back.area)
            for back in flow.returns
        ),
        walls=found.walls,
    )  # fmt: skip


def _failed(failure: FallFailure, walls: tuple[str, ...], frame: LocalFrame) -> FailedFall:
    (easting, northing), (to_easting, to_northing) = frame.to_site(failure.line)
    return FailedFall(
        wall=walls[failure.wall],
        station=failure.station,
        spot=(float(easting), float(northing)),
        to=(float(to_easting), float(to_northing)),
        distance=failure.away,
        end=failure.end,
        fall=failure.fall,
        needed=failure.needed,
        why=failure.why,
    )


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
