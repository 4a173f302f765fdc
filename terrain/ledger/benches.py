"""Cautions on upright parts of a side in soil of class B: which are allowed, and what to do."""

from terrain.ledger.entries import Caution
from terrain.ledger.facts import Face, SiteFacts, told
from terrain.ledger.profile import NOISE, Profile, profile_to
from terrain.ledger.rules import BENCHES, PROTECTION_DEPTH, SHIELD_ABOVE, STEEPEST
from terrain.ledger.steepness import exceeds, reaches


def bench_cautions(face: Face, site: SiteFacts) -> list[Caution]:
    """What becomes of a face's upright parts in class B, if it needs protection; at most one.

    A side that is upright all the way up is left to its slope.
    """
    if site.soil_class != "B" or not reaches(face.depth, PROTECTION_DEPTH, site):
        return []
    profile = profile_to(face.side, face.depth)
    if not profile.upright or profile.run == 0.0:
        return []
    rule, own = _rule(site), _verdict(profile, site)
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


def _verdict(profile: Profile, site: SiteFacts) -> str:
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
    wrong = _wrong(profile, site)
    if wrong:
        return (
            f"{most} upright under a bench: not allowed as drawn, even in cohesive soil, since "
            f"{wrong}. Lay the side back to {slope} as a whole, with upright parts within the "
            "limit, or shore it"
        )
    return (
        f"{most} upright under a bench: allowed if the soil is cohesive. If it is not, slope the "
        f"side at {slope} from the toe, or shore it"
    )


def _wrong(profile: Profile, site: SiteFacts) -> str:
    """What keeps a benched side from what class B allows, in words; empty for nothing."""
    limit, allowed, found = BENCHES["B"].first, STEEPEST["B"].run_per_rise, []
    least = min(profile.run_per_rise, profile.steepest_slope or profile.run_per_rise)
    if least < allowed * (1.0 - NOISE):
        found.append(f"the side stands at {least:.2f}:1, steeper than {allowed:g}:1")
    if limit is not None and any(exceeds(height, limit, site) for height in profile.upright):
        found.append(f"an upright part is higher than {limit.told(site.unit)}")
    return " and ".join(found)


def _under_slopes(profile: Profile) -> list[tuple[float, float]]:
    """Foot above the floor and height of each upright part that a slope follows without a bench."""
    found, foot = [], 0.0
    for (run, rise), (next_run, next_rise) in zip(profile.steps, profile.steps[1:], strict=False):
        if run == 0.0 and next_run > 0.0 and next_rise > 0.0:
            found.append((foot, rise))
        foot += rise
    return found
