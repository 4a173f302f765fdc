"""Sections through the finished lot square to each wall: what is dug, put back, cut and filled."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.job.graded import Graded
from terrain.job.sections import Section, sections_of
from terrain.lot.rays import Ray, own_shares
from terrain.lot.wall_falls import other_wall, pads_met
from terrain.surface.cut import cut_along
from terrain.surface.patches import Surface
from terrain.surface.profile import Profile, lower_of, profile_along

PAST_APRON = 1.4
"""How far out a section goes at least, in lengths of the apron."""

HAIR = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class LotSection:
    """A section through a wall and the finished ground before it.

    Args:
        section: as of the dig, but carried out past the apron.
        finished: lines (m, 2) of station and elevation: finished ground.
        backfill: rings of what is put back, from the dig up to existing or finished ground.
        fill: rings where finished ground is above the existing.
        trimmed: rings where it is below.
        grade: elevation of finished ground at the outside face, None where there is none.
        apron: station and elevation where the fall from the house ends, None without.
        reach: how far out the ground is the wall's own, at most to the apron's end; None without.
        fall: how much lower it is there than at the face, None where either is not known.
        onto: the wall whose ground begins there, or else the pads that the ground runs on to.
        is_cut_short: whether it is another wall's ground that begins there.
    """

    section: Section
    finished: tuple[FloatArray, ...]
    backfill: tuple[FloatArray, ...]
    fill: tuple[FloatArray, ...]
    trimmed: tuple[FloatArray, ...]
    grade: float | None
    apron: tuple[float, float] | None
    reach: float | None
    fall: float | None
    onto: tuple[str, ...]
    is_cut_short: bool


def lot_sections_of(graded: Graded, surface: Surface) -> tuple[LotSection, ...]:
    """One section through every wall of the foundation; `surface` is the finished ground."""
    return tuple(_section(graded, surface, own) for own in sections_of(graded.worked))


def _section(graded: Graded, surface: Surface, own: Section) -> LotSection:
    worked, fall_distance = graded.worked, graded.lot.design.apron.fall_distance
    high = _outer_end(graded, own, max(own.high, PAST_APRON * fall_distance))
    end = own.start + (own.end - own.start) * ((high - own.low) / (own.high - own.low))
    line = np.stack([own.start, end])
    ground, dig, finished = (
        profile_along(each, line, own.low)
        for each in (worked.existing.ground.surface, worked.dig.surface, surface)
    )
    dug = cut_along(ground, dig)
    outside = finished.between(0.0, high)
    at_face = len(outside) > 0 and float(outside.low[0]) < HAIR
    grade = float(outside.upward_low[0]) if at_face else None
    apron = outside.at(fall_distance)
    reach, onto = _own_ground(graded, own)
    low = None if reach is None else outside.at(reach)
    return LotSection(
        section=replace(
            own, end=end, high=high, ground=ground.lines(),
            dig=tuple(run.bottom_line() for run in dug.runs),
            built=replace(own.built, stone=tuple(_buried(own.built.stone, outside.lines()))),
        ),
        finished=outside.lines(),
        backfill=tuple(_rings(lower_of(outside, ground), dig.between(0.0, high))),
        fill=tuple(_rings(outside, ground)),
        trimmed=tuple(_rings(ground, outside)),
        grade=grade,
        apron=None if apron is None else (fall_distance, apron),
        reach=reach,
        fall=None if grade is None or low is None else grade - low,
        onto=onto,
        is_cut_short=reach is not None and reach < fall_distance - HAIR,
    )  # fmt: skip


def _own_ground(graded: Graded, own: Section) -> tuple[float | None, tuple[str, ...]]:
    """How far the ground of the wall itself reaches, to the apron's end at most, and on to what."""
    lot = graded.lot
    if own.wall not in lot.design.walls:
        return None, ()
    out = (own.end - own.start) / (own.high - own.low)
    face, far = own.start - own.low * out, lot.design.apron.fall_distance
    line = np.stack([face + HAIR * out, face + far * out])
    ray = Ray(wall=lot.design.walls.index(own.wall), station=0.0, line=line, away=far)
    share = own_shares(lot, [ray])[0]
    line[1] = line[0] + share * (line[1] - line[0])
    if share < 1.0:
        return share * far, other_wall(line, lot)
    return far, pads_met(line, lot)


def _buried(
    stone: tuple[FloatArray, ...], finished: tuple[FloatArray, ...]
) -> Iterator[FloatArray]:
    """The rings of stone as far as they lie below finished ground, where there is any."""
    tops = [float(ring[:, 1].max()) for ring in (*stone, *finished)]
    lid = shapely.union_all(
        [
            shapely.Polygon([*line, (line[-1, 0], max(tops) + 1.0), (line[0, 0], max(tops) + 1.0)])
            for line in finished
        ]
    )
    for ring in stone:
        for part in shapely.get_parts(shapely.Polygon(ring).difference(lid)):
            if part.geom_type == "Polygon":
                yield np.asarray(part.exterior.coords)[:-1]


def _outer_end(graded: Graded, own: Section, wanted: float) -> float:
    """The last station: at most at the lot line, and just before the house where it comes again."""
    out = (own.end - own.start) / (own.high - own.low)
    face = own.start - own.low * out
    ray = shapely.LineString([face + HAIR * out, face + wanted * out])
    design = graded.lot.design
    rings = [shapely.LinearRing(design.boundary), shapely.LinearRing(design.house)]
    met = [
        float((spot - face) @ out)
        for ring in rings
        for spot in shapely.get_coordinates(shapely.intersection(ray, ring))
    ]
    beyond = [station for station in met if station > 10 * HAIR]
    return min([wanted, *beyond])


def _rings(upper: Profile, lower: Profile) -> Iterator[FloatArray]:
    """What lies between two profiles where the first is the higher, stretch by stretch."""
    for run in cut_along(upper, lower).runs:
        top = np.column_stack([run.station.ravel(), run.top.ravel()])
        bottom = np.column_stack([run.station.ravel(), run.bottom.ravel()])
        yield np.vstack([top, bottom[::-1]])
