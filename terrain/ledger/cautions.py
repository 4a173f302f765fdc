"""What to be careful of before and during the dig, in plain words with their figures.

One caution a wall a rule, and each general one once. `code` is stable; the words are for people.
"""

from terrain.base.units import LengthUnit
from terrain.ledger.benches import bench_cautions
from terrain.ledger.entries import Caution
from terrain.ledger.facts import Face, SiteFacts, WallFacts, faces, told, told_at_least
from terrain.ledger.nearby import nearby_cautions
from terrain.ledger.profile import NOISE
from terrain.ledger.rules import (
    EGRESS_DEPTH,
    EGRESS_TRAVEL,
    FORMED_TRENCH_WIDTH,
    MEMO_BENCH_RISE,
    MEMO_BENCH_RUN,
    MEMO_DEPTH,
    MEMO_ROOM,
    OTHER_CODES_METRES,
    PROTECTION_DEPTH,
    SPOIL_SETBACK,
)
from terrain.ledger.steepness import face_cautions, reaches, stands_too_steep


def cautions(site: SiteFacts, walls: tuple[WallFacts, ...]) -> tuple[Caution, ...]:
    """Every caution of a dig: general ones first, then by wall, then by extra, then what is near.

    Raises JobError if the lot line or a building crosses itself.
    """
    all_faces = faces(site, walls)
    found = [_no_permit(site.unit), _UTILITIES]
    found += _general(site, walls, all_faces)
    for wall in walls:
        found += _design_cautions(wall, site)
    found += _ramp_ends(site)
    for face in all_faces:
        found += face_cautions(face, site)
        found += bench_cautions(face, site)
    return (*found, *nearby_cautions(site))


_UTILITIES = Caution(
    code="buried-utilities",
    message="Have buried utilities located and marked before you dig: call your area's locating "
    "service, wait for the marks, and dig by hand beside them.",
)


def _no_permit(unit: LengthUnit) -> Caution:
    others = " and ".join(f"{depth:.1f} m ({country})" for country, depth, _ in OTHER_CODES_METRES)
    return Caution(
        code="no-permit",
        message="These cautions are no permit and no full list. Local code and a competent person "
        "on the site decide, each day and after rain or frost. The figures are of the United "
        "States' rules"
        + (f"; other codes ask for shoring from other depths, such as {others}." if unit.is_metric
           else "; your state or town may ask for more."),
    )  # fmt: skip


def _general(
    site: SiteFacts, walls: tuple[WallFacts, ...], all_faces: tuple[Face, ...]
) -> list[Caution]:
    found = []
    if site.deepest_cut > 0.0:
        found.append(
            Caution(
                code="spoil-setback",
                message=f"Keep spoil and equipment {SPOIL_SETBACK.told(site.unit)} or more back "
                f"from the edge of the dig ({SPOIL_SETBACK.source.title}).",
            )
        )
    if all_faces and not any(reaches(f.depth, PROTECTION_DEPTH, site) for f in all_faces):
        found.append(
            Caution(
                code="shallow-dig",
                message=f"No face is {PROTECTION_DEPTH.told(site.unit)} deep. Even so, people work "
                "below it unprotected only if a competent person has looked and sees no sign of a "
                f"cave-in ({PROTECTION_DEPTH.source.title}).",
            )
        )
    steep = any(f.wall is not None and stands_too_steep(f, site) for f in all_faces)
    if steep:
        found.append(_memo_conditions(site))
    return found + _ways_out(site, walls)


def _memo_conditions(site: SiteFacts) -> Caution:
    unit, deep = site.unit, told(site.deepest_cut, site.unit)
    rule = (
        "Some faces are steeper than the regulation allows. OSHA does not apply that part of the "
        "regulation (29 CFR 1926.652) to the dig for a house foundation as long as all of the "
        "points below hold (OSHA memorandum, 30 June 1995). If one fails, slope, bench or shore. "
        "The memorandum is a policy, no regulation, and may be withdrawn; a state may not follow "
        "it: ask before you count on it. A competent person is needed either way (OSHA letter, 1 "
        "February 1996)."
    )
    points = (
        f"the dig is less than {MEMO_DEPTH.told(unit)} deep, or benched back "
        f"{MEMO_BENCH_RUN.told(unit)} for every {MEMO_BENCH_RISE.told(unit)} or less of height",
        f"the bottom is {MEMO_ROOM.told(unit)} wide or more from face to formwork",
        "no water, tension cracks or the like",
        "no heavy equipment shakes the ground while people are in",
        f"no load stands nearer the edge than the dig is deep (here {deep})",
        f"soil from loaders as far off as can be, never nearer than {SPOIL_SETBACK.told(unit)}",
        "as few people as can be, for as short as can be",
    )
    return Caution(
        code="memo-conditions",
        message=f"{rule.replace('the points below', 'these points')} The points: "
        f"{'; '.join(points)}.",
        rule=rule,
        points=points,
    )


def _ways_out(site: SiteFacts, walls: tuple[WallFacts, ...]) -> list[Caution]:
    deep = [
        f"{e.name} ({told(e.depth, site.unit)} deep)"
        for e in site.extras
        if e.kind == "trench" and reaches(e.depth, EGRESS_DEPTH, site)
    ]
    width = FORMED_TRENCH_WIDTH.in_unit(site.unit)
    formed = any(
        w.dig_line == "kept" and w.working_room <= width and reaches(w.depth, EGRESS_DEPTH, site)
        for w in walls
    )
    if not deep and not formed:
        return []
    places = f"Trenches {', '.join(deep)}: a" if deep else "A"
    strip = (
        " Once forms stand, the strip between them and the face may count as a trench too."
        if formed
        else ""
    )
    return [
        Caution(
            code="trench-egress",
            message=f"{places} trench {EGRESS_DEPTH.told(site.unit)} deep or more has a ladder, "
            f"steps or ramp within {EGRESS_TRAVEL.told(site.unit)} of everyone in it "
            f"({EGRESS_DEPTH.source.title}).{strip}",
        )
    ]


RAMP_END_FACE = 0.1
"""Of a length unit: a lower face at a ramp's end is none. Common practice, no source."""


def _ramp_ends(site: SiteFacts) -> list[Caution]:
    return [
        Caution(
            code="ramp-ends-below-ground",
            message=f"Ramp {ramp.name} ends {told(ramp.end_face, site.unit)} below ground, with an "
            "upright face there: nothing drives out over it. Make its line longer, or run_per_rise "
            "smaller.",
        )
        for ramp in site.extras
        if ramp.kind == "ramp" and ramp.end_face > RAMP_END_FACE
    ]


def _design_cautions(wall: WallFacts, site: SiteFacts) -> list[Caution]:
    if wall.dig_line == "vanished":
        return [
            Caution(
                code="wall-vanished",
                wall=wall.wall,
                message=f"Wall {wall.wall} has no length left on the dig line: the overdig of its "
                "neighbours takes it up. Its row stays in the ledger.",
                of=wall.wall,
                rule="No length is left on the dig line, as the neighbours' overdig takes it up. "
                "The row stays in the ledger.",
            )
        ]
    limit = MEMO_ROOM.in_unit(site.unit)
    if wall.depth <= 0.0 or wall.working_room >= limit * (1.0 - NOISE):
        return []
    room = f"{told(wall.working_room, site.unit, beside=limit)} of working room"
    if wall.working_room <= 0.0:
        room = "no working room"
    past = ""
    if wall.working_room < 0.0:
        past = (
            f" The footing reaches {told(-wall.working_room, site.unit)} past the dig line, where "
            "the floor ends: widen the overdig, or no form can stand there."
        )
    less = " less the footing's projection" if wall.working_room != wall.overdig else ""
    overdig = f"overdig {told(wall.overdig, site.unit)}{less}"
    needed = limit + wall.overdig - wall.working_room
    needs = f"needs overdig {told_at_least(needed, site.unit)}"
    rule = (
        "OSHA's memorandum for house foundations holds only with "
        f"{MEMO_ROOM.told(site.unit)} or more from face to formwork."
    )
    return [
        Caution(
            code="working-room",
            wall=wall.wall,
            message=f"Wall {wall.wall} has {room} ({overdig}); it {needs}. {rule}{past}",
            of=wall.wall,
            own=f"{room} ({overdig}); {needs}{past and '.'}{past[:-1]}",
            rule=rule,
        )
    ]
