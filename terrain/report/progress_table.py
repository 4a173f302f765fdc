"""Progress, the graded lot and piles on a terminal of 80 columns."""

from collections.abc import Iterable, Iterator, Sequence
from functools import partial

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from terrain.job.asgraded_record import GradedSurvey
from terrain.job.piles_record import PilesSurvey
from terrain.job.progress_record import ProgressSurvey
from terrain.report import figures
from terrain.report.asgraded_words import fall_fault, fall_words, spot_of
from terrain.report.asgraded_words import side_words as graded_side_words
from terrain.report.grouping import said_once
from terrain.report.names import encodable, plain, shortened
from terrain.report.piles_words import in_all_words, pile_words, side_words, soil_words
from terrain.report.progress_words import rate_words, with_doubt
from terrain.report.table import WIDEST, Say, caution_text, print_listed

NAME_ROOM = 15
TOTALS = ("to_come", "needs", "spare")
Cells = Sequence[str | None]


def show_progress(surveys: tuple[ProgressSurvey, ...], volume_unit: str, console: Console) -> None:
    """Print the last day of a dig: every row, the total and the rate."""
    if not surveys:
        return
    day = surveys[-1]
    unit = figures.unit_sign(volume_unit)
    since = "the beginning" if day.last is None else day.last
    rows = [
        (row.name, with_doubt(row.dug), with_doubt(row.since_last), with_doubt(row.left),
         with_doubt(row.beyond))
        for row in (*day.rows, day.total)
    ]  # fmt: skip
    _print(
        console,
        f"\nHow far the dig is, {day.date}: {figures.percent(day.share_dug)} of the design is out",
        f"Bank, in {unit}; since: {since}. * is smaller than its doubt: not significant.",
        [_table(("wall", "dug", "since", "left", "beyond"), rows, _say(console))],
    )
    if day.elsewhere.is_significant:
        told = f"Dug where the design says nothing, in no row: {with_doubt(day.elsewhere)} {unit}."
        _lines(console, [told])
    _lines(console, [rate_words(day.rate, volume_unit)])


def show_asgraded(
    surveys: tuple[GradedSurvey, ...], units: tuple[str, str], console: Console
) -> None:
    """Print the last survey of the lot as graded; `units` are those of length and volume."""
    if not surveys:
        return
    day, (length_unit, volume_unit) = surveys[-1], units
    sides = [graded_side_words(side) for side in (*day.sides, day.total)]
    falls = [fall_words(fall, length_unit) for fall in day.falls]
    say = _say(console)
    _print(
        console,
        f"\nThe lot as graded, {day.date}: {day.shots_within} of {day.shots} shots within "
        f"{day.tolerance:g} {figures.unit_sign(length_unit)}",
        f"In {figures.unit_sign(volume_unit)}, in place. Trim and fill: where it is off by more.",
        [
            _table(
                ("side", "within", "trim", "fill", "net"),
                [(s["name"] or "the lot", s["within"], s["trim"], s["fill"], s["net"])
                 for s in sides],
                say,
            ),
            _table(
                ("wall", "along", "there the ground", "asked", "verdict"),
                [(f["name"], f["where"], f["found"], f["needed"], f["verdict"]) for f in falls],
                say,
            ),
        ],
    )  # fmt: skip
    for fall in day.falls:
        if fall.verdict == "fails":
            text = Text(say(plain(fall.wall)), style="bold")
            text.append(say(f": {fall_fault(fall, length_unit)}"), style="not bold")
            print_listed(text, console, min(console.width, WIDEST))
    _lines(console, _ponds(day, length_unit))


def _ponds(day: GradedSurvey, length_unit: str) -> Iterator[str]:
    sign = figures.unit_sign(length_unit)
    for pond in day.drainage.ponds:
        against = "" if pond.wall is None else f", against wall {plain(pond.wall)}"
        yield (
            f"Water stands at {spot_of(pond.spot)}{against}: up to "
            f"{figures.coordinate(pond.depth, length_unit)} {sign} deep"
        )


def show_piles(surveys: tuple[PilesSurvey, ...], units: tuple[str, str], console: Console) -> None:
    """Print the last survey of piles, stock against need and the swell of the lot."""
    if not surveys:
        return
    day, (length_unit, volume_unit) = surveys[-1], units
    say = _say(console)
    piles = [pile_words(pile, length_unit) for pile in day.piles]
    sides = [side_words(side) for side in day.sides]
    whole = in_all_words(day.in_all, volume_unit)
    stocks = [(s["name"], s["stock"], s["to_come"], s["needs"], s["spare"]) for s in sides]
    if whole["extras"] is not None:
        stocks.append(("pits, ramps …", "–", whole["extras"], "–", whole["extras_spare"]))
    _print(
        console,
        f"\nPiles, {day.date}",
        f"Loose, in {figures.unit_sign(volume_unit)}. To spare: + is left over, − is lacking.",
        [
            _table(
                ("pile", "side", "loose", "height"),
                [(p["name"], p["side"], p["loose"], p["height"]) for p in piles],
                say,
            ),
            _table(
                ("side", "in piles", "to come", "needs", "to spare"),
                [*stocks, ("in all", whole["stock"], *(whole[key] for key in TOTALS))],
                say,
            ),
        ],
    )
    if whole["said"] is not None:
        _lines(console, [f"In all {whole['said']}"], "bold")
    for what, soil in (("Swell", day.soil), ("Swell of the topsoil", day.topsoil_soil)):
        if soil is not None:
            words = soil_words(soil, volume_unit)
            _lines(console, [f"{what} {words['swell']}: {words['made_of']}. {words['use']}"])
    for said in said_once(day.cautions):
        print_listed(caution_text(said, say), console, min(console.width, WIDEST))


def _say(console: Console) -> Say:
    return partial(encodable, encoding=console.encoding)


def _print(console: Console, title: str, note: str, tables: list[Table]) -> None:
    say, width = _say(console), min(console.width, WIDEST)
    console.print(Text(say(title), style="bold"), width=width)
    console.print(Text(say(note), style="dim"), width=width)
    for table in tables:
        console.print(table, width=width)


def _lines(console: Console, lines: Iterable[str], style: str = "") -> None:
    say, width = _say(console), min(console.width, WIDEST)
    for line in lines:
        console.print(Text(say(line), style=style), width=width)


def _table(columns: tuple[str, ...], rows: Sequence[Cells], say: Say) -> Table:
    table = Table(box=SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, 1, 0, 0))
    table.add_column(columns[0], no_wrap=True, overflow="crop")
    for column in columns[1:]:
        table.add_column(column, justify="right")
    for first, *others in rows:
        name = Text(say(shortened(say(plain(first or "")), NAME_ROOM)))
        table.add_row(name, *(Text(say(cell or "–")) for cell in others))
    return table
