"""Stands in line with a wall: the machine faces where it came from and backs along the dig line.

Its outer track follows the dig line. It keeps the setback between its tracks and what it digs, on
all sides, so the ground it needs is that of its tracks and as much round them.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.haul.legs import NO_CORNER, Leg, footprint
from terrain.haul.machine import Machine

WITHIN = 1e-3
"""Length units by which tracks may overlap a line: far less than anyone sets out."""

HALVINGS = 40

NOTHING_DUG = shapely.Polygon()


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """The ground that stands are looked for on.

    Args:
        dig: inside the dig line.
        cut: all that is dug, at the ground.
        free: where the machine may stand outside the cut; None where the job has no lot line and
            so no ground is known to be barred.
        setback: between tracks or piles and an edge.
        dug: what was dug before this plan begins, empty where it starts from whole ground.
        extras: of the cut, pits, ramps and trenches beside the walls' own dig.
        spared: ground along the cut beyond the setback that piles and trucks keep off too.
    """

    dig: shapely.Geometry
    cut: shapely.Geometry
    free: shapely.Geometry | None
    setback: float
    dug: shapely.Geometry = NOTHING_DUG
    extras: shapely.Geometry = NOTHING_DUG
    spared: shapely.Geometry = NOTHING_DUG

    @property
    def edge(self) -> shapely.Geometry:
        """All ground that piles and trucks keep off."""
        cut = self.cut.union(self.dug).buffer(self.setback, join_style="mitre")
        return cut if self.spared.is_empty else cut.union(self.spared)

    def may_stand(self, tracks: FloatArray) -> bool:
        """Whether tracks (4, 2) outside the dig line are on ground where a machine may stand.

        They keep the setback from what was dug before.
        """
        shape = shapely.Polygon(tracks)
        if self.over_dug(shape.buffer(self.setback, join_style="mitre")):
            return False
        return self.free is None or bool(self.free.buffer(WITHIN).covers(shape))

    def over_dug(self, shape: shapely.Geometry) -> bool:
        """Whether a piece of the plan shares ground with what was dug before."""
        return not self.dug.is_empty and bool(self.dug.intersects(shape.buffer(-WITHIN)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Stands:
    """Stands (m,) in order: the middle of the tracks and the unit vector faced, (m, 2) each."""

    spot: FloatArray
    facing: FloatArray

    def __len__(self) -> int:
        return len(self.spot)

    def tracks(self, machine: Machine, margin: float = 0.0) -> list[FloatArray]:
        """The footprint (4, 2) of each, with so much round it."""
        length, width = machine.track_length + 2 * margin, machine.track_width + 2 * margin
        return [
            footprint(spot, facing, length, width)
            for spot, facing in zip(self.spot, self.facing, strict=True)
        ]


@dataclass(frozen=True, slots=True, kw_only=True)
class LegStands:
    """The stands in line with one leg.

    Args:
        station: (m,) along the leg.
        ends_from: the station from which on the next wall's first stands may dig its face: what
            the last of them no longer has in front, and a machine's length from the corner; half
            its length where there is no stand.
    """

    leg: Leg
    station: FloatArray
    stands: Stands
    ends_from: float

    def __len__(self) -> int:
        return len(self.station)


def front_of(machine: Machine, setback: float) -> float:
    """How far ahead of the middle of its tracks a machine begins to dig."""
    return machine.track_length / 2 + setback


def leg_stands(
    leg: Leg, machine: Machine, site: Site, faces: shapely.Geometry = NOTHING_DUG
) -> LegStands:
    """The stands of a leg, none where there is no room for one.

    They begin where a bucket's width of the corner is in front and go on to where the tracks
    reach the next dig line, or past an inside corner until all of the leg is in front. There they
    keep the setback from `faces`, the feet of walls across the dig, so as not to stand where those
    are to be dug in line.
    """
    front = front_of(machine, site.setback)
    first = usual = front + machine.bucket_width
    goes_on = leg.turn < NO_CORNER
    limit = leg.length + first if goes_on else leg.length - machine.track_length / 2
    inside = machine.track_width / 2
    kept_off = site.dug.buffer(site.setback - WITHIN, join_style="mitre")
    room = site.dig.buffer(WITHIN, join_style="mitre").difference(kept_off)
    shapely.prepare(room)

    def tracks_at(station: float, margin: float) -> FloatArray:
        one = Stands(spot=leg.at(station, inside)[None], facing=-leg.along[None])
        return one.tracks(machine, margin)[0]

    def fits(station: float) -> bool:
        return bool(room.covers(shapely.Polygon(tracks_at(station, 0.0))))

    def stays_clear(station: float) -> bool:
        if station + machine.track_length / 2 <= leg.length:
            return fits(station)
        ground = shapely.Polygon(tracks_at(station, site.setback))
        return fits(station) and not faces.intersects(ground)

    stations: list[float] = []
    if not site.dug.is_empty:
        first = _first_that_fits(fits, first, limit, machine.step)
    if first <= limit + WITHIN and fits(first):
        last = _last_that_fits(stays_clear, first, limit, machine.step)
        count = int(np.ceil((last - first) / machine.step - 1e-9))
        stations = np.linspace(first, last, count + 1).tolist()
    spots = np.array([leg.at(s, inside) for s in stations]).reshape(-1, 2)
    return LegStands(
        leg=leg,
        station=np.array(stations),
        stands=Stands(spot=spots, facing=np.tile(-leg.along, (len(spots), 1))),
        ends_from=min(stations[-1] - front, leg.length - usual) if stations else -np.inf,
    )


def _first_that_fits(
    fits: Callable[[float], bool], first: float, limit: float, step: float
) -> float:
    """The first station from which the tracks fit on ground that is partly dug already."""
    while first <= limit and not fits(first):
        first += step / 2
    return first


def _last_that_fits(
    fits: Callable[[float], bool], first: float, limit: float, step: float
) -> float:
    """The furthest station to which the tracks fit all the way from the first."""
    good = first
    while good < limit:
        ahead = min(good + step / 2, limit)
        if not fits(ahead):
            bad = ahead
            for _ in range(HALVINGS):
                middle = (good + bad) / 2
                good, bad = (middle, bad) if fits(middle) else (good, middle)
            return good
        good = ahead
    return good


def way_out(last: LegStands, after: Leg, machine: Machine, site: Site) -> Stands:
    """The stands that lead from the last of a round out over the edge of the cut.

    At an outside corner the machine backs on in line with the wall, over the next wall's face; at
    an inside corner it turns and backs out over the corner itself.
    """
    leg = last.leg
    if leg.turn >= NO_CORNER:
        begin = leg.at(last.station[-1] if len(last) else 0.0, machine.track_width / 2)
        back = leg.along
        if not len(last):
            begin = begin + front_of(machine, site.setback) * back
    else:
        back = -(leg.inward + after.inward)
        back = back / np.hypot(*back)
        begin = leg.end - (machine.track_length / 2 + machine.step) * back
    return _backing(begin, back, machine, site)


def _backing(begin: FloatArray, back: FloatArray, machine: Machine, site: Site) -> Stands:
    """Stands, step by step, back from a spot until the tracks are clear of the cut."""
    far = float(np.hypot(*np.ptp(shapely.get_coordinates(site.cut), axis=0))) + machine.reach
    across = np.array([-back[1], back[0]]) * machine.track_width / 2
    strip = shapely.Polygon(
        [begin - across, begin + far * back - across, begin + far * back + across, begin + across]
    )
    edge = shapely.get_coordinates(strip.intersection(site.cut))
    reached = float(((edge - begin) @ back).max()) if len(edge) else 0.0
    end = reached + site.setback + machine.track_length / 2
    count = max(1, int(np.ceil(end / machine.step - 1e-9)))
    spots = begin + np.linspace(0.0, end, count + 1)[1:, None] * back
    return Stands(spot=spots, facing=np.tile(-back, (len(spots), 1)))
