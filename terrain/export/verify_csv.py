"""Stake-out points for what is still to do in a hole, as a rover and our own reader take them."""

import csv
import io
from collections.abc import Sequence

from terrain.export.text import inert
from terrain.job.verify_record import Todo


def todo_points_csv(todo: Sequence[Todo]) -> str:
    """A point a spot to trim or fill, in the order of the work, at the elevation asked for.

    Points of a wall stand on the design's dig line: the face is to be dug out to them.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(["point", "northing", "easting", "elevation", "code", "what"])
    number = 0
    for one in todo:
        for easting, northing, elevation, told in one.at:
            number += 1
            place = [repr(northing), repr(easting), repr(elevation)]
            row = [f"V{number}", *place, one.what, inert(told)]
            writer.writerow(row)
    return out.getvalue()
