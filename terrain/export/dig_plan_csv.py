"""The dig plan as tables: passes for a spreadsheet, stands and piles as points for a rover."""

import csv
import io

import numpy as np

from terrain.export.text import inert
from terrain.job.dig_plan_record import DigPlan


def dig_plan_passes_csv(plan: DigPlan) -> str:
    """Pass by pass what is dug and where it goes, a column a place; every figure in full."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    places = [place.name for place in plan.places]
    unit, volume = plan.length_unit, plan.volume_unit
    writer.writerow(
        ["stand", "kind", "wall", f"easting ({unit})", f"northing ({unit})", "heading (degrees)",
         f"station ({unit})", f"from ({unit})", f"to ({unit})", f"bank ({volume})",
         f"loose ({volume})", *(f"{inert(name)} (loose {volume})" for name in places)]
    )  # fmt: skip
    for one in plan.passes:
        stand = one.stand
        east, north = plan.frame.to_site(np.array(stand.spot)).tolist()
        casts = {cast.place: cast.loose for cast in one.to}
        writer.writerow(
            [stand.number, stand.kind, inert(one.wall), repr(east), repr(north),
             repr(stand.heading), repr(stand.station), repr(one.station_from),
             repr(one.station_to), repr(float(one.bank)), repr(float(one.loose)),
             *(repr(float(casts.get(name, 0.0))) for name in places)]
        )  # fmt: skip
    return out.getvalue()


def dig_plan_stakes_csv(plan: DigPlan) -> str:
    """A points file that a rover, and our own survey reader, takes; the code is the kind."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(["point", "northing", "easting", "elevation", "code"])
    for stake in plan.stakes:
        height = "" if stake.elevation is None else repr(stake.elevation)
        writer.writerow(
            [stake.point, repr(stake.northing), repr(stake.easting), height, stake.kind]
        )
    return out.getvalue()
