"""Whether water runs away from the house and off the lot, in names, site coordinates and words."""

from dataclasses import dataclass

from terrain.base.arrays import FloatArray
from terrain.base.frame import LocalFrame
from terrain.base.units import LengthUnit
from terrain.job.rasters import flow_grid
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
