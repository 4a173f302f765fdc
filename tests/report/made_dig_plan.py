"""A made-up dig plan: invented figures that add up, for tests of its pages. No survey, no machine.

A house of 40 by 30 ft; the machine starts along `front`, goes counter-clockwise, leaves one rim
corner and hauls off what the sides do not need.
"""

from dataclasses import replace

import numpy as np
import shapely

from terrain.base.frame import LocalFrame
from terrain.job.dig_plan_buckets import buckets_to, whole_buckets
from terrain.job.dig_plan_ground_record import (
    ExtraTold,
    GroundTold,
    MarkTold,
    RampTold,
    TopsoilTold,
    WallCut,
)
from terrain.job.dig_plan_record import (
    CardCast,
    CardTerms,
    CardWall,
    Cast,
    DigPlan,
    Face,
    Hours,
    MachineUsed,
    Move,
    OrderTold,
    Pass,
    Place,
    RimCorner,
    SiteDrawn,
    SpoilUsed,
    StakePoint,
    Stand,
)
from terrain.ledger.entries import BankVolume, Caution, LooseVolume

CORNERS = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 30.0], [0.0, 30.0]])
DIG_LINE = np.array([[-2.0, -2.0], [42.0, -2.0], [42.0, 32.0], [-2.0, 32.0]])
WALLS = ("front", "right", "back", "left")
FACE = Face(deep=6.0, ahead=7.25, high=0.0, steep=None)
SWELL = 0.25

STANDS = (  # wall, kind, station, spot, heading, bank, casts
    ("front", "wall", 30.0, (30.0, 4.0), 270.0, 20.0, {"front": 15.0, "truck": 10.0}),
    ("front", "wall", 20.0, (20.0, 4.0), 270.0, 24.0, {"front": 18.0, "truck": 12.0}),
    ("right", "wall", 10.0, (36.0, 10.0), 180.0, 16.0, {"right": 20.0}),
    ("back", "wall", 12.0, (28.0, 26.0), 90.0, 22.0, {"back": 22.5, "topsoil": 5.0}),
    ("left", "wall", 8.0, (4.0, 22.0), 0.0, 18.0, {"left": 20.0, "back": 2.5}),
    ("left", "rim", -14.0, (-10.0, 44.0), 135.0, 2.0, {"left": 2.5}),
)


def box(west, south, east, north):
    return shapely.MultiPolygon([shapely.box(west, south, east, north)])


GROUND = {
    "front": box(0, -20, 40, -8), "right": box(48, 0, 58, 30), "back": box(4, 38, 40, 48),
    "left": box(-20, 0, -8, 30), "topsoil": box(60, -20, 70, -10),
}  # fmt: skip
SPOTS = {name: (shape.centroid.x, shape.centroid.y) for name, shape in GROUND.items()}


def made_pass(number, told, names):
    wall, kind, station, spot, heading, bank, casts = told
    across, up = spot
    tracks = np.array([[across - 6, up - 4], [across + 6, up - 4], [across + 6, up + 4],
                       [across - 6, up + 4]])  # fmt: skip
    way = np.array([[across - 9, up], spot])
    stand = Stand(number=number, kind=kind, wall=names[wall], station=station, spot=spot,
                  heading=heading, tracks=tracks, way=way)  # fmt: skip
    to = tuple(
        Cast(place=names.get(place, place), loose=LooseVolume(loose), buckets=0,
             spot=SPOTS.get(place) if place != "topsoil" else None,
             swing=None if place == "topsoil" else 95.0)
        for place, loose in casts.items()
    )  # fmt: skip
    return Pass(stand=stand, wall=stand.wall, station_from=station - 9, station_to=station + 3,
                bank=BankVolume(bank), loose=LooseVolume(bank * (1 + SWELL)), to=to,
                dug=box(across - 8, up - 6, across + 8, up + 6),
                face=None if kind == "floor" else FACE,
                sides=(stand.wall,))  # fmt: skip


def made_places(passes, names):
    cast = {}
    for one in passes:
        for each in one.to:
            cast[each.place] = cast.get(each.place, 0.0) + each.loose
    made = []
    for name in (*WALLS, "topsoil", "truck"):
        kind = name if name in ("topsoil", "truck") else "side"
        own = names.get(name, name)
        already = LooseVolume(4.5 if name == "back" else 0.0)
        loose = cast.get(own, 0.0)
        made.append(Place(
            name=own, kind=kind, wall=own if kind == "side" else None,
            needed=LooseVolume(loose if kind != "side" else loose - 3.5), cast=LooseVolume(loose),
            capacity=LooseVolume(loose + 11.25), already=already,
            ground=GROUND.get(name, shapely.MultiPolygon()),
            height=0.0 if kind == "truck" else 3.25, buckets=0,
            kept_open=name == "right", why="kept open for trucks" if name == "right" else "",
        ))  # fmt: skip
    return tuple(made)


def made_order(wall, direction, rims, hours, why):
    return OrderTold(
        start_wall=wall, direction=direction, rim_corners=rims, rehandled_loose=LooseVolume(2.5),
        volume_distance=75.0, haul_loose=LooseVolume(22.0),
        hours=Hours(low=hours, high=hours * 1.5),
        nearest_hours=Hours(low=hours + 0.5, high=hours * 1.5 + 0.75), left_bank=BankVolume(1.25),
        why=why,
    )  # fmt: skip


def made_card(passes, names):
    walls = []
    for k, wall in enumerate(WALLS):
        own = [one for one in passes if one.wall == names[wall]]
        sums = {}
        for one in own:
            for cast in one.to:
                sums[cast.place] = sums.get(cast.place, 0.0) + cast.loose
        ends = [k, (k + 1) % 4]
        walls.append(CardWall(
            wall=names[wall], face=CORNERS[ends], line=DIG_LINE[ends], length=44.0 if k % 2 == 0
            else 34.0, overdig=2.0, floor=92.5, side="4 up, 3 level, 0.75:1", top=100.4,
            bank=BankVolume(sum(one.bank for one in own)),
            loose=LooseVolume(sum(one.loose for one in own)),
            stands=tuple(one.stand.number for one in own),
            casts=tuple(CardCast(place=place, loose=LooseVolume(loose),
                                 buckets=buckets_to(own, place))
                        for place, loose in sums.items()),
            needed=LooseVolume(20.0), cast=LooseVolume(23.5),
            rim=(names["front"],) if wall == "left" else (),
        ))  # fmt: skip
    return tuple(walls)


def made_ground(names):
    """The ground: a side of 4 up, 3 level and three quarters out, 8 to 10 deep; a ramp, a mark."""
    steps = ((0.0, 4.0), (3.0, 0.0), (0.75, 1.0))
    cuts = tuple(
        WallCut(
            wall=names[wall], out=(8.0, 9.5 + k), ends=(8.0, 9.0 + k),
            ground=(100.5, 102.5), depth=(8.0, 10.0),
            steps=steps, ground_line=np.array([[0.0, 101.5], [14.0, 101.5]]),
            dig_line=np.array([[0.0, 92.5], [2.0, 92.5], [2.0, 96.5], [5.0, 96.5], [8.75, 101.5]]),
        )
        for k, wall in enumerate(WALLS)
    )  # fmt: skip
    return GroundTold(
        cuts=cuts,
        topsoil=TopsoilTold(depth=0.5, area=216.0, bank=BankVolume(4.0), loose=LooseVolume(5.0),
                            holds=LooseVolume(3.0), over=LooseVolume(2.0), over_loads=1,
                            middle=(65.0, -15.0), height=3.25),
        ramps=(RampTold(name="way in", width=10.0, run=4.0, leads_out=True),),
        extras=(ExtraTold(name="way in", kind="ramp", width=10.0,
                          spots=np.array([[40.0, 15.0], [60.0, 15.0]]),
                          floor=np.array([96.0, 101.0]), ground=np.array([102.0, 101.0]),
                          steps=((0.0, 1.0),), highest=6.5, upright=6.5,
                          stands=(2, 3), dug=box(42.0, 10.0, 60.0, 20.0)),),
        marks=(MarkTold(name="BM1", elevation=104.35, spot=(-30.0, 50.0)),),
        truck_load=LooseVolume(14.0), highest=10.0,
    )  # fmt: skip


def made_dig_plan(names=WALLS, **changes):
    """The plan; `names` are its walls' names in place of front, right, back and left."""
    called = dict(zip(WALLS, names, strict=True))
    passes = tuple(made_pass(k, told, called) for k, told in enumerate(STANDS, start=1))
    passes, places = whole_buckets(passes, made_places(passes, called), 1.0)
    orders = (
        made_order(called["front"], "counter-clockwise", 1, 4.0, "fewest rim corners, then hours"),
        made_order(called["back"], "clockwise", 2, 4.5, "a rim corner more"),
        *(made_order(called[w], d, 3, 6.0, "") for w in ("right", "left", "back", "front")
          for d in ("clockwise", "counter-clockwise")),
    )  # fmt: skip
    bank = sum(one.bank for one in passes)
    plan = DigPlan(
        title="Lot 9, Plover Green (made up)", job_file="job.toml", version="0.1.0",
        date="2026-03-14", start="the design", length_unit="ft", volume_unit="yd3", crs=None,
        frame=LocalFrame(easting=5000.0, northing=2000.0),
        machine=MachineUsed(
            weight_tonnes=14.0, reach=27.0, digging_depth=18.0, track_length=12.0, track_width=8.0,
            tail_swing=7.5, tail_clear=1.6, bucket_width=4.0, bucket_capacity=1.0,
            cycle_seconds=18.0, step=10.0, typical=("reach",),
        ),
        spoil=SpoilUsed(setback=2.0, repose=35.0, height=6.0, keep_open=called["right"],
                        as_deep=False, typical=("repose",)),
        site=SiteDrawn(
            corners=CORNERS, walls=tuple(names), dig_line=DIG_LINE, daylight=box(-6, -6, 46, 36),
            boundary=np.array([[-40.0, -40.0], [80.0, -40.0], [80.0, 70.0], [-40.0, 70.0]]),
            house=None, keeps=(("old oak", CORNERS - [35.0, -35.0]),), buildings=(),
            extras=(("way in", "ramp", (np.array([[42.0, 10.0], [60.0, 10.0], [60.0, 20.0],
                                                   [42.0, 20.0]]),)),),
        ),
        orders=orders, passes=passes, places=places, trucks=(),
        rim_corners=(RimCorner(between=(called["front"], called["left"]), spot=(-2.0, -2.0),
                               inside=False, stand=6),),
        moves=(Move(source=called["left"], target=called["right"], loose=LooseVolume(2.5),
                    distance=30.0),),
        bank=BankVolume(bank + 1.25), loose=LooseVolume((bank + 1.25) * (1 + SWELL)),
        topsoil_bank=BankVolume(4.0), left_bank=BankVolume(1.25), left_why="the middle is too far",
        left=box(18, 14, 22, 17), haul_loose=LooseVolume(22.0), loads=2, loads_dug=2,
        short_loose=LooseVolume(0.0), rehandled_loose=LooseVolume(2.5), volume_distance=75.0,
        hours=Hours(low=4.0, high=6.0), hoe_hours=7.25,
        stakes=(StakePoint(point="S1", kind="stand", of=called["front"], easting=5030.0,
                           northing=2004.0, elevation=100.4),),
        card=made_card(passes, called),
        card_terms=CardTerms(
            floor=92.5, floor_tolerance=0.1, line_tolerance=0.25, marks=(("BM1", 104.35),),
        ),
        ground=made_ground(called),
        cautions=(Caution(code="plan-operator-decides", message="The operator decides."),),
        assumed=("Typical of an excavator of 14 t: reach.",), notes=("Piles are level.",),
    )  # fmt: skip
    return replace(plan, **changes)
