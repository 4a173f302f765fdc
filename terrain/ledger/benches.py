"""Cautions on upright parts of a side in soil of class B: which are allowed, and what to do."""

from terrain.ledger.entries import Caution
from terrain.ledger.facts import Face, SiteFacts, told
from terrain.ledger.profile import Profile, profile_to
from terrain.ledger.rules import BENCHES, PROTECTION_DEPTH, SHIELD_ABOVE, STEEPEST
from terrain.ledger.steepness import reaches, stands_too_steep


def bench_cautions(face: Face, site: SiteFacts) -> list[Caution]:
    """What becomes of a face's upright parts in class B, if it needs protection; at most one.

    A side that is upright all the way up is left to its slope.
    """
    if site.soil_class != "B" or not reaches(face.depth, PROTECTION_DEPTH, site):
        return []
    profile = profile_to(face.side, face.depth)
    if not profile.upright or profile.run == 0.0:
        return []
    rule, own = _rule(site), _verdict(profile, stands_too_steep(face, site), site)
    return [
        Caution(
            code="bench-soil",
            wall=face.wall,
            message=f"{face.called}: {own}. {rule}",
            of=face.of,
            own=own,
            rule=rule,
        )
    ]


def _rule(site: SiteFacts) -> str:
    limit, unit = BENCHES["B"].first, site.unit
    assert limit is not None
    return (
        "Upright parts of a side in soil of class B: where OSHA's memorandum for house foundations "
        f"does not hold, they are allowed only below a bench, up to {limit.told(unit)} high, and "
        "only in cohesive soil, as a competent person finds it. Any other upright part is shielded "
        f"or shored to {SHIELD_ABOVE.told(unit)} above its top ({SHIELD_ABOVE.source.title})."
    )


def _verdict(profile: Profile, too_steep: bool, site: SiteFacts) -> str:
    """Whether the upright parts are allowed as drawn, and what to do."""
    unit = site.unit
    slope = f"{STEEPEST['B'].run_per_rise:g}:1"
    bare = _under_slopes(profile)
    if bare:
        foot, height = max(bare, key=lambda part: part[1])
        top = foot + height + SHIELD_ABOVE.in_unit(unit)
        where = "" if foot == 0.0 else f" that begins {told(foot, unit)} up"
        return (
            f"{told(height, unit)} upright{where} under a slope, with no bench between: not "
            f"allowed bare. Shield or shore it up to {told(top, unit)} above the floor, or slope "
            f"the side at {slope} from the toe"
        )
    most = told(max(profile.upright), unit)
    if too_steep:
        return (
            f"{most} upright under a bench: not allowed as drawn, even in cohesive soil, since the "
            f"side is too steep or its upright part too high. Lay it back to {slope} as a whole, "
            "or shore it"
        )
    return (
        f"{most} upright under a bench: allowed if the soil is cohesive. If it is not, slope the "
        f"side at {slope} from the toe, or shore it"
    )


def _under_slopes(profile: Profile) -> list[tuple[float, float]]:
    """Foot above the floor and height of each upright part that a slope follows without a bench."""
    found, foot = [], 0.0
    for (run, rise), (next_run, next_rise) in zip(profile.steps, profile.steps[1:], strict=False):
        if run == 0.0 and next_run > 0.0 and next_rise > 0.0:
            found.append((foot, rise))
        foot += rise
    return found
