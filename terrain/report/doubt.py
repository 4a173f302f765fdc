"""The words on a plus-or-minus: what makes it, the shots that matter, where one more would help."""

from collections.abc import Iterator

from terrain.job.doubt_record import DoubtTold, NextShotTold, ShotTold
from terrain.ledger.doubt import Doubt
from terrain.ledger.lot_doubt import LotDoubts
from terrain.report import figures
from terrain.report.names import plain

PARTS = (
    ("random", "Elevations of the shots", "each errs for itself"),
    ("horizontal", "Places of the shots", "each errs for itself; it tells where the ground slopes"),
    ("datum", "Height of the whole survey", "all off together, as by a wrong mark"),
    ("correlated", "Errors that near shots share", "as a scan or one set-up has them"),
    ("terrain", "Ground between shots", "what nobody measured"),
)
"""Each part of a `Doubt`, its name, and what it is."""
SHOTS_TOLD = 3


def part_words(doubt: Doubt) -> list[dict[str, str]]:
    """The parts that are known, each with its name, what it is, and its figure."""
    return [
        {"name": name, "what": what, "figure": figures.plus_minus(getattr(doubt, part))}
        for part, name, what in PARTS
        if getattr(doubt, part) is not None
    ]


def doubt_words(doubt: Doubt | None, told: DoubtTold | None, length_unit: str) -> object:
    """All that a page says of the total's plus-or-minus; None where there is none."""
    if doubt is None or told is None:
        return None
    return {
        "parts": part_words(doubt),
        "together": figures.plus_minus(doubt.together),
        "shots": [_shot(shot, length_unit) for shot in told.shots],
        "next": None if told.next_shot is None else _next(told.next_shot, length_unit),
        "left_out": None if told.left_out is None else figures.count(told.left_out),
        "typical_miss": None
        if told.typical_miss is None
        else figures.length(told.typical_miss, length_unit),
        "do_not_add": told.do_not_add,
    }


def doubt_lines(doubt: Doubt | None, told: DoubtTold | None, length_unit: str) -> Iterator[str]:
    """The same for a terminal, briefly, a line each."""
    if doubt is None or told is None:
        return
    parts = ", ".join(f"{p['name'].lower()} {p['figure']}" for p in part_words(doubt))
    yield (
        f"Of the ±: {parts}. Errors seldom all fall one way, and walls share shots, so these and "
        "the walls' own do not add up to it."
    )
    if told.shots:
        shots = [_shot(shot, length_unit) for shot in told.shots[:SHOTS_TOLD]]
        said = ", ".join(f"{shot['name']} ({shot['share']})" for shot in shots)
        yield f"Shots that carry most of what single shots make of it: {said}."
    if told.next_shot is not None:
        best = _next(told.next_shot, length_unit)
        yield (
            f"One more shot helps most at easting {best['easting']}, northing "
            f"{best['northing']}: ± {best['figure']} then"
        )


def lot_doubt_words(doubts: LotDoubts | None) -> dict[str, str] | None:
    """The plus-or-minus of the lot's figures; None where there is none."""
    if doubts is None:
        return None
    return {
        "surplus": figures.plus_minus(doubts.lot.surplus.together),
        "backfill": figures.plus_minus(doubts.lot.backfill.together),
        "grade_fill": figures.plus_minus(doubts.lot.grade_fill.together),
    }


def _shot(shot: ShotTold, length_unit: str) -> dict[str, str]:
    return {
        "name": plain(shot.name) or plain(shot.place) or "made where lines meet",
        "place": plain(shot.place),
        "easting": figures.coordinate(shot.easting, length_unit),
        "northing": figures.coordinate(shot.northing, length_unit),
        "weight": figures.volume(shot.weight),
        "share": f"{shot.share:.0%}",
    }


def _next(best: NextShotTold, length_unit: str) -> dict[str, str]:
    return {
        "easting": figures.coordinate(best.easting, length_unit),
        "northing": figures.coordinate(best.northing, length_unit),
        "figure": figures.plus_minus(best.plus_minus_95),
    }
