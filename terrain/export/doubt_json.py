"""The doubt of a volume as a JSON object, every part apart."""

from typing import TypeAlias

from terrain.ledger.doubt import Doubt

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
