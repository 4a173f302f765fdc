"""What water does on the finished ground: plain records in the local frame."""

from dataclasses import dataclass

from terrain.base.arrays import FloatArray
from terrain.base.units import FOOT, LengthUnit


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowLimits:
    """What is worth telling, in length and square length units. Our choice, no source.

    Args:
        pond_depth: a pond is deeper than this somewhere,
        pond_area: and larger than this.
        returned_area: at one spot of a wall the house gets back the water of more than this.
        outlet_share: a way out takes more than this share of the lot's water.
    """

    pond_depth: float
    pond_area: float
    returned_area: float
    outlet_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Pond:
    """Water that stands after rain: deepest `spot`, greatest `depth`, `area`, `volume`, top level.

    `before` is how deep water stands there on the existing ground; `wall` is the house wall that
    it touches, None where it touches none.
    """

    spot: FloatArray
    depth: float
    area: float
    volume: float
    level: float
    before: float
    wall: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlet:
    """A stretch of the lot line, `width` long, where the water of `area` leaves; most at `spot`."""

    spot: FloatArray
    area: float
    width: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Return:
    """A `spot` at a house wall that the water of `area` further off runs to."""

    wall: int
    spot: FloatArray
    area: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Flow:
    """What water does on the finished ground, found on cells of side `cell`; largest first."""

    cell: float
    ponds: tuple[Pond, ...]
    outlets: tuple[Outlet, ...]
    returns: tuple[Return, ...]


def flow_limits(unit: LengthUnit) -> FlowLimits:
    """What is worth telling in the job's unit: ponds of 0.1 ft and 10 ft2, or 0.03 m and 1 m2."""
    if unit.is_metric:
        return FlowLimits(pond_depth=0.03, pond_area=1.0, returned_area=2.5, outlet_share=0.05)
    foot = float(FOOT.metres / unit.metres)
    return FlowLimits(
        pond_depth=0.1 * foot, pond_area=10.0 * foot**2, returned_area=25.0 * foot**2,
        outlet_share=0.05,
    )  # fmt: skip
