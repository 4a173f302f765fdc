"""What to be careful of in backfilling and grading, in plain words with their figures."""

from collections.abc import Iterator

import numpy as np
import shapely

from terrain.base.arrays import FloatArray
from terrain.base.units import LengthUnit
from terrain.job.grade_answer import Untied
from terrain.job.graded import Graded
from terrain.job.misplaced import misplaced
from terrain.ledger.entries import Caution
from terrain.surface.locate import heights_at, triangle_grid
from terrain.surface.minimum import within
from terrain.surface.overlay import overlay, overlay_faces, overlay_sums
from terrain.surface.patches import Surface, lifted
from terrain.surface.pieces import level_floor

NEAR = {"ft": 3.0, "ftUS": 3.0, "m": 1.0}
"""Work this near a lot line or an area kept is told: room for a machine; common practice, no
source."""

OUT_OF_GROUND = {"ft": 0.5, "ftUS": 0.5, "m": 0.15}
"""How far a foundation's wall stands out of the finished ground at least: 6 in, 4 in behind
masonry veneer (IRC R404.1.6, from memory)."""


def lot_cautions(graded: Graded, untied: tuple[Untied, ...]) -> tuple[Caution, ...]:
    """General ones first, then walls, footings in the backfill, untied faces, work near lines."""
    return (
        *_BACKFILL,
        *_wall_heights(graded),
        *_footings_in_backfill(graded),
        *_untied(untied, graded.worked.job.unit),
        *_near_lines(graded),
        *_uncovered(graded),
        *_idle_swales(graded),
        *misplaced(graded.asked.design, graded.worked.job.unit),
    )


_BACKFILL = (
    Caution(
        code="backfill-strength",
        message="Do not backfill before the walls have their strength and are braced by the floor "
        "above or otherwise (a usual rule of building codes: ask yours).",
    ),
    Caution(
        code="backfill-lifts",
        message="Backfill in lifts, each compacted, in turn on all sides; nothing frozen, no "
        "stumps, topsoil or other organic matter, no rubble against the wall or its drain "
        "(common practice, no source).",
    ),
)


def _wall_heights(graded: Graded) -> Iterator[Caution]:
    """Finished ground above the wall's top or too near it, or down at the footing."""
    structure, unit = graded.asked.structure, graded.worked.job.unit
    design = graded.asked.design
    footing_top = structure.underside + structure.footing_depth
    top = footing_top + structure.wall_height
    own = set(graded.worked.layout.figure.walls)
    told = set()
    for name, ends in zip(design.walls, design.apron.grades, strict=True):
        low, high = float(ends.min()), float(ends.max())
        if name not in own or name in told:
            continue
        if structure.footing_depth > 0 and low < footing_top:
            told.add(name)
            yield Caution(
                code="footing-bare",
                wall=name,
                message=f"Finished ground at wall {name}, {low:.2f}, is below the top of the "
                f"footing, {footing_top:.2f}: the footing shows, and frost may reach under it.",
            )
        if structure.wall_height > 0 and high > top - OUT_OF_GROUND[unit.name]:
            told.add(name)
            how = f"leaves {top - high:.2f} {unit.name} of the wall above it"
            if high > top:
                how = f"goes {high - top:.2f} {unit.name} over the top of the wall"
            yield Caution(
                code="wall-buried",
                wall=name,
                message=f"Finished ground at wall {name}, {high:.2f}, {how} ({top:.2f}); 6 in are "
                "usual, 4 in behind masonry veneer: ask your building code.",
            )


def _footings_in_backfill(graded: Graded) -> Iterator[Caution]:
    """Trenches, pits and house off the foundation whose footing bears on backfill."""
    worked, unit = graded.worked, graded.worked.job.unit
    # earth is undisturbed below the main dig only
    main, ground = worked.dig.main, worked.existing.ground.surface
    first = len(worked.layout.design.walls)
    for row, extra in enumerate(worked.layout.design.extras, start=first):
        floor, lines = worked.dig.floors[row], worked.dig.extra_lines
        for own, line in lines:
            if own != row or extra.kind == "ramp":
                continue
            area = shapely.Polygon(line.ring.corners)
            found = _depth_below(ground, main, area, floor)
            if found is not None:
                yield _bears_on_fill(f"{extra.kind} {extra.name}", None, found, unit)
    yield from _house_lines(graded, main, ground)


def _house_lines(graded: Graded, main: Surface, ground: Surface) -> Iterator[Caution]:
    """Walls of house that is not pit, where the dig has been under them."""
    unit = graded.worked.job.unit
    inside = shapely.Polygon(graded.asked.structure.corners)
    house = graded.asked.design.house
    told = set()
    for start, end, name in zip(
        house, np.roll(house, -1, axis=0), graded.asked.design.walls, strict=True
    ):
        line = shapely.LineString([start, end]).difference(inside.buffer(1e-6))
        if line.length <= 1e-3 or name in told:
            continue
        # a strip a hand wide stands for the footing: its depth is not in the job
        found = _depth_below(ground, main, line.buffer(0.1, cap_style="flat"), None)
        if found is not None:
            told.add(name)
            yield _bears_on_fill(f"the footing of house wall {name}", name, found, unit)


def _depth_below(
    ground: Surface, main: Surface, area: shapely.Geometry, floor: float | None
) -> float | None:
    """How far below a floor (or the ground) the main dig goes under it, None where it does not."""
    dug = within(main, area)
    if not len(dug):
        return None
    if floor is None:
        deepest = float(overlay_sums(ground, dug).depth_above[0])
    else:
        # only where the dig comes out of the ground above is its floor dug at all
        parts = overlay_faces(ground, dug)
        dug_faces = np.unique(parts.b[parts.side > 0])
        if not len(dug_faces):
            return None
        level = lifted(level_floor(area, 0), floor)
        pairs = overlay(level, dug)
        kept = np.isin(pairs.b, dug_faces)
        deepest = float(pairs.depth_above[kept].max(initial=0.0))
    return deepest if deepest > 1e-6 else None


def _bears_on_fill(what: str, wall: str | None, deepest: float, unit: LengthUnit) -> Caution:
    return Caution(
        code="footing-on-backfill",
        wall=wall,
        message=f"{what[0].upper()}{what[1:]} crosses the backfill: undisturbed soil lies up to "
        f"{deepest:.2f} {unit.name} under it. Carry it down to undisturbed soil, or have an "
        "engineer say what it may stand on.",
    )


def _untied(untied: tuple[Untied, ...], unit: LengthUnit) -> Iterator[Caution]:
    for face in untied:
        (e1, n1), (e2, n2) = face.start, face.end
        yield Caution(
            code="untied",
            message=f"{face.where[0].upper()}{face.where[1:]}: the ground does not tie in from "
            f"({e1:.1f}, {n1:.1f}) to ({e2:.1f}, {n2:.1f}); a face up to {abs(face.height):.2f} "
            f"{unit.name} high is left" + _side_words(face) + ". Hold it up, or change the grades.",
        )


def _side_words(face: Untied) -> str:
    if face.where.startswith("step"):
        return ""
    return ", finished ground the higher" if face.height > 0 else ", finished ground the lower"


def _near_lines(graded: Graded) -> Iterator[Caution]:
    """Earth moved close to the lot line or to ground that must not change."""
    design, unit = graded.asked.design, graded.worked.job.unit
    near = NEAR[unit.name]
    boundary = shapely.Polygon(design.boundary)
    if _moved_within(graded, boundary.difference(boundary.buffer(-near))):
        yield Caution(
            code="work-near-lot-line",
            message=f"Earth is moved within {near:g} {unit.name} of the lot line: stake the line "
            "before the work, and keep machine, spoil and run-off on this side of it.",
        )
    for keep in design.keeps:
        shape = shapely.Polygon(keep.corners)
        if _moved_within(graded, shape.buffer(near).difference(shape)):
            yield Caution(
                code="work-near-kept-area",
                message=f"Earth is moved within {near:g} {unit.name} of area {keep.name}: fence it "
                "off first; no wheels, spoil or fill on it.",
            )


def _moved_within(graded: Graded, strip: shapely.Geometry) -> bool:
    ground = graded.worked.existing.ground.surface
    upper, lower = within(graded.lot.upper, strip), within(graded.lot.lower, strip)
    noise = 1e-9 * strip.area
    return bool(
        overlay_sums(ground, upper).volume_above[0] > noise
        or overlay_sums(ground, lower).volume_below[0] > noise
    )


def _uncovered(graded: Graded) -> Iterator[Caution]:
    """How much of the lot has no survey; nothing is changed there, or it would be an error."""
    bare = graded.lot.region.area - float(
        overlay_sums(graded.worked.existing.ground.surface, graded.lot.upper).area[0]
    )
    if bare > 1e-6 * graded.lot.region.area:
        unit = graded.worked.job.unit
        yield Caution(
            code="lot-not-surveyed",
            message=f"{bare:.0f} {unit.area_sign} of the lot have no survey; the grading does not "
            "reach them.",
        )


def _idle_swales(graded: Graded) -> Iterator[Caution]:
    """Swales whose bottom is above the ground it is to drain, by the highest such invert."""
    worked = graded.worked
    for swale in graded.asked.design.swales:
        high = _above_ground(graded, swale.line, swale.inverts)
        for index, over in high:
            easting, northing = worked.layout.frame.to_site(swale.line[index])
            yield Caution(
                code="invert-above-ground",
                message=f"Swale {swale.name}: its invert {index + 1} at ({easting:.1f}, "
                f"{northing:.1f}) is {over:.2f} {worked.job.unit.name} above the ground there; a "
                "swale only cuts, so it does nothing at that spot.",
            )


def _above_ground(graded: Graded, line: FloatArray, inverts: FloatArray) -> list[tuple[int, float]]:
    tin = graded.worked.existing.tin
    over = inverts - heights_at(tin, line, triangle_grid(tin))
    return [(int(i), float(over[i])) for i in np.flatnonzero(over > 1e-6)]
