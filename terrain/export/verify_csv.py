"""Stake-out points for what is still to do in a hole, as a rover and our own reader take them."""

import csv
import io
from collections.abc import Sequence

from terrain.export.text import inert
from terrain.job.verify_record import Todo, stake_names


def todo_points_csv(todo: Sequence[Todo]) -> str:
    """A point a spot to trim or fill, in the order of the work, at the elevation asked for.

    Points of a wall stand on the design's dig line: the face is to be dug out to them.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(["point", "northing", "easting", "elevation", "code", "what"])
    for one, names in zip(todo, stake_names(todo), strict=True):
        for name, (easting, northing, elevation, told) in zip(names, one.at, strict=True):
            place = [repr(northing), repr(easting), repr(elevation)]
            writer.writerow([name, *place, one.what, inert(told)])
    return out.getvalue()
