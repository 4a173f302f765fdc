"""The doubt of a volume as a JSON object, every part apart."""

from typing import TypeAlias

from terrain.job.doubt_record import DoubtTold
from terrain.ledger.doubt import Doubt
from terrain.ledger.lot_doubt import SideDoubt

Json: TypeAlias = "str | int | float | dict[str, Json] | list[Json] | None"


def doubt_json(doubt: Doubt | None) -> Json:
    """Half widths of the 95 % intervals, in the unit of the doubt; null where not known."""
    if doubt is None:
        return None
    return {
        "random": doubt.random,
        "horizontal": doubt.horizontal,
        "datum": doubt.datum,
        "correlated": doubt.correlated,
        "terrain": doubt.terrain,
        "together": doubt.together,
    }


def side_doubt_json(doubt: SideDoubt | None) -> Json:
    """The doubts of one side of the house, or of the lot, by figure."""
    if doubt is None:
        return None
    return {
        "earth_out": doubt_json(doubt.earth_out),
        "backfill": doubt_json(doubt.backfill),
        "grade_fill": doubt_json(doubt.grade_fill),
        "cut": doubt_json(doubt.cut),
        "surplus": doubt_json(doubt.surplus),
    }


def doubt_told_json(told: DoubtTold | None) -> Json:
    """The shots that matter, where one more would help, and what leaving shots out showed."""
    if told is None:
        return None
    best = told.next_shot
    return {
        "do_not_add": told.do_not_add,
        "shots": [
            {
                "point": shot.name,
                "place": shot.place,
                "easting": shot.easting,
                "northing": shot.northing,
                "elevation": shot.elevation,
                "weight": shot.weight,
                "share": shot.share,
            }
            for shot in told.shots
        ],
        "next_shot": None
        if best is None
        else {
            "easting": best.easting,
            "northing": best.northing,
            "bank_plus_minus_95": best.plus_minus_95,
        },
        "left_out": told.left_out,
        "typical_miss": told.typical_miss,
    }
