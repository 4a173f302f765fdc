"""The words of the dig plan's page; every figure an attribute of the plan, rounded."""

from markupsafe import Markup

from terrain.job.dig_plan_buckets import filled
from terrain.job.dig_plan_record import DigPlan, Place
from terrain.job.dig_plan_set_out import Loaded, SetOut, setback_of
from terrain.report import figures
from terrain.report.dig_plan_drive_words import way_out_words, way_words
from terrain.report.dig_plan_inks import PILE
from terrain.report.dig_plan_order_words import (
    before_words,
    bucket_part,
    first_pass,
    first_wall,
    hours_words,
    order_name,
    start_words,
)
from terrain.report.dig_plan_piece_words import dug_words, mind_words, trim_words
from terrain.report.dig_plan_stand_words import (
    corner_letter,
    face_words,
    facing_words,
    load_words,
    loads_told,
    spot_words,
)
from terrain.report.dig_plan_start_words import first_words, truck_words
from terrain.report.dig_plan_truck_words import truck_at_words, truck_lines, waiting_words
from terrain.report.names import plain
from terrain.report.palette import EARTH
from terrain.report.svg import element
from terrain.report.told import Words

KINDS = {
    "wall": "in line with the wall, on ground not dug",
    "rim": "outside the edge, on the rim",
    "floor": "on the floor of the dig",
    "extra": "over the line of the ramp or trench",
}


def answer_words(plan: DigPlan) -> Words:
    """What the best order is and what it costs."""
    best = plan.orders[0]
    wall, one = first_wall(plan), first_pass(plan)
    first = None if one is None else one.stand
    part = bucket_part(plan)
    return {
        "wall": plain(wall),
        "number": None if first is None else figures.count(first.number),
        "facing": None if first is None else facing_words(first.heading),
        "before": before_words(plan),
        "round": first_words(plan),
        "order": order_name(best),
        "compared": figures.count(len(plan.orders)),
        "without": start_words(plan),
        "direction": best.direction,
        "why": plain(best.why),
        "hours": hours_words(plan.hours),
        "nearest": hours_words(best.nearest_hours),
        "hoe_hours": f"{plan.hoe_hours:.0f}",
        "of_them": f"{part[0].upper()}{part[1:]}",
        "stands": figures.count(len(plan.passes)),
        "rims": figures.count(best.rim_corners),
        "bank": figures.volume(plan.bank),
        "loose": figures.volume(plan.loose),
        "topsoil": figures.volume(plan.topsoil_bank) if plan.topsoil_bank > 0 else None,
        "rehandled": figures.volume(plan.rehandled_loose),
        "haul": figures.volume(plan.haul_loose),
        "loads": None if plan.loads is None else figures.counted(plan.loads, "truck load"),
        "left": figures.volume(plan.left_bank) if plan.left_why else None,
        "left_why": plain(plan.left_why),
        "short": figures.volume(plan.short_loose) if plan.short_loose > 0 else None,
    }


def pass_words(plan: DigPlan, told: SetOut) -> dict[str, object]:
    """What is done from one stand; topsoil came off before and is in none of it."""
    one, where = told.one, spot_words(plan, told)
    past = told.spot.past or told.spot.corner is None
    return {
        "number": one.stand.number,
        "wall": plain(one.wall),
        "kind": KINDS[one.stand.kind],
        "is_plain": one.stand.kind == "wall",
        "spot": f"{where[0].upper()}{where[1:]}",
        "way": way_words(plan, told),
        "judge": face_words(plan, told),
        "then": way_out_words(plan) if one.stand.number == plan.passes[-1].stand.number else None,
        "facing": facing_words(one.stand.heading),
        "heading": f"{one.stand.heading:.0f}",
        "at": _tapes(plan, told) if past else _along(plan, told),
        "dig": dug_words(plan, told),
        "face": mind_words(plan, one),
        "bank": figures.volume(told.bank),
        "loose": figures.volume(told.loose),
        "trim": trim_words(one),
        "casts": [_cast(plan, told, each) for each in told.casts if each.cast.buckets > 0],
    }


def _along(plan: DigPlan, told: SetOut) -> str:
    """Both distances of a stand, short: `F 4.0 north, 2.3 inside`."""
    spot, unit = told.spot, plan.length_unit
    off = f"{figures.length(abs(spot.inside), unit)} {'in' if spot.inside >= 0 else 'out'}side"
    letter = "" if spot.corner is None else corner_letter(spot.corner)
    return f"{letter} {figures.length(spot.along, unit)} {facing_words(spot.heading)}, {off}"


def _tapes(plan: DigPlan, told: SetOut) -> str:
    """Two tapes, short: `D 5.5 and E 2.7`."""
    return " and ".join(
        f"{corner_letter(tape.corner)} {figures.length(tape.length, plan.length_unit)}"
        for tape in told.spot.tapes
    )


def _cast(plan: DigPlan, told: SetOut, loaded: Loaded) -> Words:
    cast = loaded.cast
    got = filled(plan, told.one, cast)
    swing = None if cast.swing is None else f"swing {cast.swing:.0f}°"
    return {
        "place": plain(cast.place),
        "loose": figures.volume(cast.loose),
        "buckets": figures.counted(cast.buckets, "bucket"),
        "loads": load_words(plan, loaded),
        "where": truck_at_words(plan, told.one, cast) or swing,
        "waits": waiting_words(plan, told.one, cast),
        "so_far": f"{figures.count(got.before)} there before this, {figures.count(got.after)} to "
        f"come after it, of {figures.counted(got.whole, 'bucket')} in all",
    }


def place_words(plan: DigPlan, place: Place) -> dict[str, object]:
    """What one place needs, gets and has room for."""
    most = max((max(p.needed, p.cast) for p in plan.places if p.kind == "side"), default=1.0)
    back = setback_of(plan, place) if place.height > 0 else None
    return {
        "name": plain(place.name),
        "needed": figures.volume(place.needed),
        "cast": figures.volume(place.cast),
        "already": figures.volume(place.already) if place.already > 0 else None,
        "capacity": "–" if place.kind == "truck" else figures.volume(place.capacity),
        "buckets": figures.count(place.buckets),
        "height": figures.length(place.height, plan.length_unit) if place.height > 0 else "–",
        "why": plain(place.why),
        "back": "–" if back is None else figures.length(back, plan.length_unit),
        "bars": _bars(place, most) if place.kind == "side" else None,
    }


def _bars(place: Place, most: float) -> Markup:
    """What is cast, filled, within an outline as long as what is needed."""
    share = 100.0 / most if most > 0 else 0.0
    got = element("rect", x="0", y="2", width=f"{place.cast * share:.1f}%", height="8", fill=EARTH,
                  stroke=PILE["stroke"], stroke_width=0.8)  # fmt: skip
    need = element("path", d="M0 0V12", stroke="#2a2420", stroke_width=2.2)
    at = element("svg", need, x=f"{place.needed * share:.1f}%", overflow="visible")
    return Markup(element("svg", got, at, class_="got", aria_hidden="true"))


def rim_words(plan: DigPlan) -> list[Words]:
    """Each rim corner: between which walls, and the stand that finishes it."""
    return [
        {
            "between": " / ".join(map(plain, corner.between)),
            "inside": "inside corner" if corner.inside else "",
            "stand": None if corner.stand is None else figures.count(corner.stand),
        }
        for corner in plan.rim_corners
    ]


def truck_told(plan: DigPlan) -> list[str]:
    """Where trucks are loaded and what one takes; none where nothing leaves."""
    if not plan.trucks:
        said = truck_words(plan)
        return [] if said is None else [said]
    load, unit = plan.ground.truck_load, figures.unit_sign(plan.volume_unit)
    if load is None or plan.loads is None:
        return truck_lines(plan)
    taken = f"A truck takes {figures.volume(load)} {unit} loose; {loads_told(plan)}."
    return [*truck_lines(plan), taken]


def move_words(plan: DigPlan) -> list[Words]:
    """Each pile that a dozer moves again when its earth is needed."""
    return [
        {
            "loose": figures.volume(move.loose),
            "from": plain(move.source),
            "to": plain(move.target),
            "distance": f"{move.distance:,.0f}",
        }
        for move in plan.moves
    ]


def machine_words(plan: DigPlan) -> list[tuple[str, str]]:
    """The machine and the piles the plan is for; what is typical of its weight is marked."""
    unit, used, spoil = plan.length_unit, plan.machine, plan.spoil
    volume = figures.unit_sign(plan.volume_unit)
    sign = figures.unit_sign(unit)
    rows = [("weight_tonnes", "Weight", f"{used.weight_tonnes:g} t")] if used.weight_tonnes else []
    rows += [
        (key, words, f"{figures.length(getattr(used, key), unit)} {sign}")
        for key, words in (
            ("reach", "Reach, at ground level"), ("digging_depth", "Digging depth"),
            ("track_length", "Tracks, long"), ("track_width", "Tracks, wide over both"),
            ("tail_swing", "Tail swing"), ("bucket_width", "Bucket, wide"),
            ("step", "Step between stands"),
        )
    ]  # fmt: skip
    rows += [
        ("bucket_capacity", "Bucket, heaped and loose", f"{used.bucket_capacity:.2f} {volume}"),
        ("cycle_seconds", "Cycle", f"{used.cycle_seconds:g} s"),
    ]
    typical = {*used.typical, *spoil.typical}
    rows += [
        ("setback", "Piles and tracks from the edge", f"{figures.length(spoil.setback, unit)} "
         f"{sign}"),
        ("repose", "Slope a pile’s side comes to rest at (repose)", f"{spoil.repose:g} degrees"),
        ("height", "Highest pile", f"{figures.length(spoil.height, unit)} {sign}"),
    ]  # fmt: skip
    if spoil.keep_open is not None:
        rows.append(("keep_open", "Kept open", plain(spoil.keep_open)))
    return [(words, f"{value}, typical" if key in typical else value) for key, words, value in rows]
