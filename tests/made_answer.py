"""A made-up answer of the main job: invented numbers that close, for report and export tests.

Nothing here comes from a survey. A house of 48 by 36 ft with a clipped corner stands on ground
that rises to the north; walls sum from their parts and the total from walls and pits.
"""

from dataclasses import replace

import numpy as np
from shapely import LineString, Polygon, contains_xy, distance, points

from terrain.base.frame import LocalFrame
from terrain.job.answer import CutGrid, DigCorner, ExtraOutline, InputFile, Plan, Volumes
from terrain.ledger.entries import (
    BankVolume,
    Caution,
    CompactedVolume,
    Ledger,
    LooseVolume,
    Parts,
    PitRow,
    Quantity,
    Total,
    WallRow,
)
from terrain.ledger.soil import SoilFactors

SWELL, SHRINK, TRUCK = 0.25, 0.10, 14.0
SOIL = SoilFactors(
    material="made earth", swell=SWELL, shrink=SHRINK, source="swell and shrink given by the job"
)
WALLS = ("front", "right", "clip", "back", "left")
CORNERS = np.array([[-24.0, -18.0], [24.0, -18.0], [24.0, 15.0], [21.0, 18.0], [-24.0, 18.0]])
PARTS = (
    (60.1234567890123, 12.25, 30.0625, 2.5),
    (71.0, 14.125, 48.75, 2.25),
    (8.1, 1.3, 0.0, 0.2),
    (131.7, 22.875, 97.3, 2.5),
    (70.5, 14.0, 47.9, 2.25),
)
FLOOR = 92.5


def quantity(bank):
    return Quantity(
        bank=BankVolume(bank),
        loose=LooseVolume(bank * (1 + SWELL)),
        compacted=CompactedVolume(bank * (1 - SHRINK)),
    )


def wall_row(name, parts, doubt):
    bank = sum(parts)
    return WallRow(
        wall=name,
        quantity=quantity(bank),
        topsoil=BankVolume(bank * 0.05),
        parts=Parts(**dict(zip(("core", "overdig", "side", "footing"), parts, strict=True))),
        bank_plus_minus_95=doubt,
        plan_area=400.0,
        deepest=7.0 + bank / 100,
    )


def made_ledger(walls=WALLS, title="Lot 3, Heron Bank (made up)", *, doubt=8.4, truck=TRUCK):
    rows = tuple(
        wall_row(name, PARTS[k % len(PARTS)], doubt and doubt / 4) for k, name in enumerate(walls)
    )
    pits = tuple(
        PitRow(
            name=name,
            kind=kind,
            quantity=quantity(bank),
            topsoil=BankVolume(0.25),
            bank_plus_minus_95=doubt and 0.3,
        )
        for name, kind, bank in (
            ("areaway", "pit", 6.875),
            ("way in", "ramp", 18.0625),
            ("porch piers", "trench", 1.1),
        )
    )
    bank = sum(r.quantity.bank for r in rows) + sum(p.quantity.bank for p in pits)
    total = Total(
        quantity=quantity(bank),
        topsoil=BankVolume(sum(r.topsoil for r in rows) + 0.75),
        bank_plus_minus_95=doubt,
        loads=None if truck is None else int(-(-bank * (1 + SWELL) // truck)),
    )
    cautions = (
        Caution(
            code="depth-over-5-ft",
            wall=walls[0],
            message="The dig is 9.1 ft deep along this wall: over 5 ft a side needs protection "
            "unless it is stable rock (29 CFR 1926.652(a)(1)). This is no permit: local code "
            "and a competent person decide.",
        ),
        Caution(
            code="utilities",
            message="Have buried utilities located before anyone digs.",
        ),
    )
    return Ledger(
        title=title,
        length_unit="ft",
        volume_unit="yd3",
        total=total,
        walls=rows,
        pits=pits,
        daylight_area=3321.987,
        deepest_cut=9.6543,
        cautions=cautions,
    )


def cut_grid(dig, ramp):
    """Cut depth over the cells by the distance from the dig line, sides at 1:1."""
    cell = 0.5
    easting, northing = np.arange(-48, 48, cell) + cell / 2, np.arange(-48, 48, cell) + cell / 2
    e, n = np.meshgrid(easting, northing)
    ground = 100.0 + 0.06 * n + 0.01 * e + 0.5 * np.sin(e / 15)
    beyond = distance(points(e, n), dig)
    depth = ground - (FLOOR + beyond)
    down = np.where(contains_xy(ramp, e, n), ground - (FLOOR + np.maximum(0, -18 - n) / 4), -1)
    depth = np.maximum(depth, down)
    return CutGrid(
        easting=-48.0, northing=-48.0, cell=cell, depth=np.where(depth > 0, depth, np.nan)
    )


def daylight_of(grid):
    from contourpy import contour_generator

    rows, columns = grid.depth.shape
    easting = grid.easting + (np.arange(columns) + 0.5) * grid.cell
    northing = grid.northing + (np.arange(rows) + 0.5) * grid.cell
    return tuple(contour_generator(easting, northing, np.nan_to_num(grid.depth)).lines(0.02))


def made_plan(walls=WALLS):
    if len(walls) == len(CORNERS):
        corners = CORNERS
    else:
        turn = np.linspace(0, 2 * np.pi, len(walls), endpoint=False)
        corners = np.column_stack([26 * np.cos(turn), 20 * np.sin(turn)])
    dig = Polygon(corners).buffer(2.0, join_style="mitre")
    ring = np.array(dig.exterior.coords)
    outer = np.array(dig.buffer(8.0, join_style="mitre").exterior.coords)
    ramp = Polygon([(-6, -18), (6, -18), (6, -46), (-6, -46)])
    grid = cut_grid(dig, ramp)
    random = np.random.default_rng(7)
    shots = random.uniform(-70, 70, (120, 2))
    ditch = np.array(LineString([(-70, -36), (0, -40), (70, -34)]).segmentize(12).coords)
    return Plan(
        frame=LocalFrame(easting=512_000.0, northing=1_204_000.0),
        corners=corners,
        walls=tuple(walls),
        dig_line=(ring,),
        daylight=daylight_of(grid),
        seams=np.stack([ring[:-1], outer[:-1]], axis=1),
        shares=tuple(np.stack([corner * 0.2, corner]) for corner in corners),
        extras=(
            outline("areaway", "pit", [(24, -6), (29, -6), (29, 0), (24, 0)]),
            outline("way in", "ramp", list(ramp.exterior.coords)),
            outline("porch piers", "trench", [(-20, -22), (-8, -22), (-8, -20.5), (-20, -20.5)]),
        ),
        shots=shots,
        shot_upward=100.0 + 0.06 * shots[:, 1],
        breaklines=(ditch,),
        cut=grid,
    )


def outline(name, kind, corners):
    return ExtraOutline(name=name, kind=kind, rings=(np.array(corners, dtype=np.float64),))


def made_volumes(walls=WALLS, **ledger):
    """The whole made-up answer; `walls` renames them, other words go to `made_ledger`."""
    return Volumes(
        ledger=made_ledger(walls, **ledger),
        soil=SOIL,
        plan=made_plan(walls),
        inputs=(
            InputFile(
                name="shots.csv",
                kind="delimited text",
                sha256="5f0c" * 16,
                shots=120,
                low=(511_930.0, 1_203_930.0, 95.83),
                high=(512_070.0, 1_204_070.0, 104.17),
            ),
        ),
        truck=ledger.get("truck", TRUCK),
        assumed=(("Floor", "92.5 ft, given"), ("Truck", "14 yd³ loose, heaped")),
        dig_corners=(
            DigCorner(walls=walls[:2], easting=512_026.0, northing=1_203_980.0),
            DigCorner(walls=walls[1:3], easting=512_026.5, northing=1_204_016.25),
        ),
        notes=("2 exact repeats among the shots were merged.", "The ground is told in feet."),
        crs="EPSG:2223",
        job_file="job.toml",
        version="0.1.0",
        date="2026-03-14",
    )


def with_ledger(volumes, **changes):
    """The same answer with some fields of its ledger changed."""
    return replace(volumes, ledger=replace(volumes.ledger, **changes))
