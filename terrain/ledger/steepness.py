"""Cautions on how deep and how steep each face of the dig stands."""

from terrain.ledger.entries import Caution
from terrain.ledger.facts import Face, SiteFacts, told
from terrain.ledger.profile import NOISE, Profile, profile_to, run_just_above
from terrain.ledger.rules import (
    BENCHES,
    DEFAULT_SLOPE,
    ENGINEER_DEPTH,
    MEMO_BENCH_RISE,
    MEMO_BENCH_RUN,
    MEMO_DEPTH,
    PROTECTION_DEPTH,
    SHORT_TERM_DEPTH,
    SHORT_TERM_HOURS,
    SHORT_TERM_SLOPE,
    STEEPEST,
    Limit,
)


def reaches(depth: float, limit: Limit, site: SiteFacts) -> bool:
    """Whether a depth is at or beyond a limit, to within rounding noise."""
    return depth >= limit.in_unit(site.unit) * (1.0 - NOISE)


def exceeds(depth: float, limit: Limit, site: SiteFacts) -> bool:
    """Whether a depth is beyond a limit by more than rounding noise."""
    return depth > limit.in_unit(site.unit) * (1.0 + NOISE)


def face_cautions(face: Face, site: SiteFacts) -> list[Caution]:
    """The cautions of one face, at most one a rule."""
    found = _depth_cautions(face, site)
    if not reaches(face.depth, PROTECTION_DEPTH, site):
        return found
    profile = profile_to(face.side, face.depth)
    steep = _steep_caution(face, profile, site)
    upright = _upright_caution(face, profile, site)
    found += [c for c in (steep, upright) if c is not None]
    if face.wall is not None and stands_too_steep(face, site):
        found += _memo_depth(face, profile, site)
    return found


def stands_too_steep(face: Face, site: SiteFacts) -> bool:
    """Whether a face that needs protection is steeper, or more upright, than its soil allows."""
    if not reaches(face.depth, PROTECTION_DEPTH, site):
        return False
    profile = profile_to(face.side, face.depth)
    return (
        _steep_caution(face, profile, site) is not None
        or _upright_caution(face, profile, site) is not None
    )


def _depth_cautions(face: Face, site: SiteFacts) -> list[Caution]:
    found = []
    depth = told(face.depth, site.unit)
    deep = f"{face.called} is up to {depth} deep"
    if site.soil_class != "stable rock" and reaches(face.depth, PROTECTION_DEPTH, site):
        rule = (
            f"From {PROTECTION_DEPTH.told(site.unit)} down, people in the dig are protected from "
            "cave-in by sloping, benching, shoring or a shield, unless it is all in stable rock "
            f"({PROTECTION_DEPTH.source.title})."
        )
        found.append(
            Caution(
                code="protection-depth",
                wall=face.wall,
                message=f"{deep}. {rule}",
                of=face.of,
                own=depth,
                rule=rule,
            )
        )
    if exceeds(face.depth, ENGINEER_DEPTH, site):
        rule = (
            f"Below {ENGINEER_DEPTH.told(site.unit)} a registered engineer designs the protection "
            f"({ENGINEER_DEPTH.source.title})."
        )
        found.append(
            Caution(
                code="engineer-depth",
                wall=face.wall,
                message=f"{deep}. {rule}",
                of=face.of,
                own=depth,
                rule=rule,
            )
        )
    return found


def _steep_caution(face: Face, profile: Profile, site: SiteFacts) -> Caution | None:
    """A side steeper than its class, or than the default for soil that has none.

    The whole side is measured from its toe to its top edge, which is on the safe side for
    benches: the last upright part counts and has no tread yet.
    """
    limit = DEFAULT_SLOPE if site.soil_class is None else STEEPEST[site.soil_class]
    allowed = limit.run_per_rise
    least = profile.run_per_rise
    if profile.steepest_slope is not None:
        least = min(least, profile.steepest_slope)
    bare_upright = site.soil_class is None and bool(profile.upright)
    if least >= allowed * (1.0 - NOISE) and not bare_upright:
        return None
    stance = _stance(profile, site)
    short_term = _short_term(face, profile, site)
    needs = f"{allowed:g}:1 all the way up needs {told(allowed * profile.rise, site.unit)}"
    code = "side-steeper-than-class"
    rule = (
        f"Soil of class {site.soil_class} stands at {allowed:g}:1 at the steepest, run to "
        f"rise from toe to top ({limit.source.title})."
    )
    if site.soil_class is None:
        code = "side-steeper-than-default"
        rule = (
            "Until a competent person has classified the soil, nothing steeper than "
            f"{allowed:g}:1, run to rise, and no benches ({limit.source.title})."
        )
    return Caution(
        code=code,
        wall=face.wall,
        message=f"{face.called} stands at {stance}. {rule}{short_term} Here {needs} back from the "
        "toe.",
        of=face.of,
        own=f"{stance}; {needs} back from the toe{short_term and '.'}{short_term[:-1]}",
        rule=rule,
    )


def _stance(profile: Profile, site: SiteFacts) -> str:
    """How a face stands, in words: the whole, its steepest slope, its highest upright part."""
    words = (
        f"{profile.run_per_rise:.2f}:1 ({told(profile.run, site.unit)} back in "
        f"{told(profile.rise, site.unit)} of height)"
    )
    slope = profile.steepest_slope
    if slope is not None and slope < profile.run_per_rise * (1.0 - NOISE):
        words += f", its steepest slope at {slope:.2f}:1"
    if profile.upright and profile.run > 0.0:
        words += f", its upright parts up to {told(max(profile.upright), site.unit)} high"
    return words


def _short_term(face: Face, profile: Profile, site: SiteFacts) -> str:
    least = SHORT_TERM_SLOPE.run_per_rise * (1.0 - NOISE)
    slopes = (profile.run_per_rise, profile.steepest_slope or profile.run_per_rise)
    if site.soil_class != "A" or profile.upright or min(slopes) < least:
        return ""
    if exceeds(face.depth, SHORT_TERM_DEPTH, site):
        return ""
    return (
        f" Open for {SHORT_TERM_HOURS} hours or less, class A stands at "
        f"{SHORT_TERM_SLOPE.run_per_rise:g}:1 down to {SHORT_TERM_DEPTH.told(site.unit)}."
    )


def _upright_caution(face: Face, profile: Profile, site: SiteFacts) -> Caution | None:
    """Benches higher than the class allows. A side that is all upright is left to its slope."""
    if site.soil_class in (None, "stable rock") or not profile.upright or profile.run == 0.0:
        return None
    allowed = BENCHES[site.soil_class]
    if allowed.first is None or allowed.later is None:
        most = told(max(profile.upright), site.unit)
        rule = f"Soil of class {site.soil_class} allows no upright parts ({allowed.source.title})."
        return Caution(
            code="bench-height",
            wall=face.wall,
            message=f"{face.called} has upright parts up to {most} high. {rule}",
            of=face.of,
            own=f"upright parts up to {most} high",
            rule=rule,
        )
    too_high = []
    for foot, height in zip(profile.upright_foot, profile.upright, strict=True):
        limit = allowed.first if foot == 0.0 else allowed.later
        if exceeds(height, limit, site):
            place = "the first" if foot == 0.0 else f"the one {told(foot, site.unit)} up"
            high = told(height, site.unit, beside=limit.in_unit(site.unit))
            too_high.append(f"{place} is {high} ({limit.told(site.unit)} at most)")
    if not too_high:
        return None
    parts = "; ".join(too_high)
    return Caution(
        code="bench-height",
        wall=face.wall,
        message=f"{face.called} has upright parts higher than soil of class {site.soil_class} "
        f"allows: {parts} ({allowed.source.title}).",
        of=face.of,
        own=parts,
        rule=f"Some upright parts are higher than soil of class {site.soil_class} allows "
        f"({allowed.source.title}).",
    )


def _memo_depth(face: Face, profile: Profile, site: SiteFacts) -> list[Caution]:
    """Where the policy bears with no such face."""
    if not reaches(face.depth, MEMO_DEPTH, site):
        return []
    if _benched_by_memo(profile, site):
        return []
    depth = told(face.depth, site.unit)
    rule = (
        f"From {MEMO_DEPTH.told(site.unit)} down, a face that is not benched back "
        f"{MEMO_BENCH_RUN.told(site.unit)} for every {MEMO_BENCH_RISE.told(site.unit)} or less of "
        "height is outside OSHA's memorandum for house foundations (30 June 1995): the regulation "
        "itself applies."
    )
    return [
        Caution(
            code="memo-depth",
            wall=face.wall,
            message=f"{face.called} is {depth} deep and not so benched. {rule}",
            of=face.of,
            own=f"{depth} deep",
            rule=rule,
        )
    ]


def _benched_by_memo(profile: Profile, site: SiteFacts) -> bool:
    """Whether the side has gone back by the bench's run each time it has climbed the bench's rise.

    No upright part is higher than the rise, and just above k rises the side is k runs back.
    """
    run, rise = MEMO_BENCH_RUN.in_unit(site.unit), MEMO_BENCH_RISE.in_unit(site.unit)
    if any(exceeds(height, MEMO_BENCH_RISE, site) for height in profile.upright):
        return False
    climbed = range(1, int(profile.rise / rise * (1.0 - NOISE)) + 1)
    return all(run_just_above(profile, k * rise) >= k * run * (1.0 - NOISE) for k in climbed)
