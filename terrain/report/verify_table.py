"""The check of a hole on a terminal of 80 columns."""

from collections.abc import Iterable, Iterator, Sequence
from functools import partial

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from terrain.asdug.walls import Figure
from terrain.job.verify_record import Verified, WallChecked, stake_names
from terrain.report import figures
from terrain.report.names import encodable, plain, shortened
from terrain.report.table import WIDEST, Say, print_listed
from terrain.report.verify_words import (
    LACKING,
    NO_PRICES,
    angle_of,
    batter_asked,
    bow_parts,
    cost_of,
    marked,
    measured,
    stakes_said,
    told,
    unsure,
    with_doubt,
)

NAME_ROOM, MOST_DIAGONALS = 12, 5


def show_verify(found: Verified, console: Console) -> None:
    """Print floor, walls, corners, notes and cautions; no line over 80 columns."""
    say = partial(encodable, encoding=console.encoding)
    width = min(console.width, WIDEST)

    def lines(every: Iterable[str], style: str = "") -> None:
        for line in every:
            console.print(Text(say(line), style=style), width=width)

    lines([f"\nThe hole, {found.date}"], "bold")
    lines(_floor(found))
    lines([_about_lines(found)], "dim")
    console.print(_lines_table(found, say), width=width)
    if any(wall.amounts is not None for wall in found.walls):
        lines([_about_amounts(found)], "dim")
        console.print(_amounts_table(found, say), width=width)
    if found.corners:
        console.print()
        console.print(_corner_table(found, say), width=width)
    lines(_diagonals(found))
    for heading, every in (("Notes", found.notes), ("Be careful", found.cautions)):
        if every:
            console.print(Text(f"\n{heading}", style="bold"))
        for line in every:
            print_listed(Text(say(plain(line))), console, width)


def show_todo(found: Verified, console: Console) -> None:
    """Print what is to do, numbered, in the order of the work, with the points to stake."""
    say, width = partial(encodable, encoding=console.encoding), min(console.width, WIDEST)
    every = zip(found.todo, stake_names(found.todo), strict=True)
    for number, (one, names) in enumerate(every, start=1):
        stakes = stakes_said(names)
        more = "" if stakes is None else f" Stake {stakes}."
        print_listed(Text(say(plain(one.message) + more)), console, width, f"  {number}. ")


def _floor(found: Verified) -> Iterator[str]:
    floor, unit = found.floor, found.length_unit
    if floor is None:
        yield "No shots of the floor."
        return
    volume, sign = figures.unit_sign(found.volume_unit), figures.unit_sign(unit)
    high = figures.signed_fine(floor.worst_high, unit)
    low = figures.signed_fine(floor.worst_low, unit)
    yield (
        f"Floor: {figures.percent(floor.within)} of {floor.area:,.0f} {figures.area_unit(unit)} "
        f"within {found.floor_tolerance:g} {sign}, from {figures.counted(floor.shots, 'shot')}. "
        f"Highest {high}, lowest {low} {sign}."
    )
    yield (
        f"Above it {_told(floor.high_volume, volume)} to trim; below it "
        f"{_told(floor.low_volume, volume)} to fill with stone."
    )
    if floor.thin_cut is not None:
        yield (
            f"Noise of the shots alone shows {floor.thin_cut:.2f} {volume} of each on a perfect "
            f"floor; surely high are {floor.sure_high:.2f}, surely low {floor.sure_low:.2f}."
        )
    if found.undercut is not None:
        yield f"Undercut, dug below the floor: {_told(found.undercut, f'{volume} bank')}."


def _told(figure: Figure, unit: str) -> str:
    said = unsure(figure)
    return f"{told(figure)} {unit}" + ("" if said is None else f" ({said})")


def _about_lines(found: Verified) -> str:
    unit = figures.unit_sign(found.length_unit)
    return (
        f"\nIn {unit}, overdig from the wall's face: asked, least, mean, most. Turn of the dug "
        "line, degrees counter-clockwise. Bow: how far it bends off the straight, out +, and where "
        "from the wall's first corner. Batter: how far the face leans back, run per rise, and "
        "what was asked for."
    )


def _about_amounts(found: Verified) -> str:
    volume = figures.unit_sign(found.volume_unit)
    cost = NO_PRICES if found.currency is None else "Cost: of digging and filling over again."
    return (
        f"\nIn {volume} bank: over is dug too wide, to be filled again; under still stands; net of "
        f"both, undercut with it. Noise adds to over and under, not to net; * is smaller than its "
        f"doubt: not significant. {cost}"
    )


def _table(columns: Sequence[str], padding: int, first: str = "wall") -> Table:
    table = Table(box=SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, padding, 0, 0))
    table.add_column(first, no_wrap=True, overflow="crop")
    for column in columns:
        table.add_column(column, justify="left" if column == "verdict" else "right")
    return table


def _name(wall: WallChecked, say: Say) -> Text:
    return Text(say(shortened(say(plain(wall.wall)), NAME_ROOM)))


def _lines_table(found: Verified, say: Say) -> Table:
    columns = ("asked", "least", "mean", "most", "turn", "bow", "at", "batter", "for", "verdict")
    table = _table(columns, 0)
    for wall in found.walls:
        table.add_row(
            _name(wall, say),
            f"{wall.asked:.2f}",
            *(say(_plain(figure)) for figure in (wall.least, wall.mean, wall.most)),
            say(_signed(wall.turn_degrees)),
            *(say(one) for one in bow_parts(wall, found.length_unit)),
            say(_plain(wall.batter)), "bench" if wall.batter_asked is None else batter_asked(wall),
            "few shots" if wall.verdict == "not enough shots" else wall.verdict,
        )  # fmt: skip
    return table


def _amounts_table(found: Verified, say: Say) -> Table:
    priced = () if found.currency is None else (f"cost, {say(plain(found.currency))}",)
    table = _table(("over", "under", "net", *priced), 2)
    for wall in found.walls:
        own = wall.amounts
        if own is not None:
            told = [with_doubt(own.overdug), with_doubt(own.underdug), marked(own.net)]
            table.add_row(
                _name(wall, say), *(say(one) for one in (*told, cost_of(wall))[: 3 + len(priced)])
            )
    return table


def _corner_table(found: Verified, say: Say) -> Table:
    unit = found.length_unit
    table = _table(("degrees", "asked", f"off, {figures.unit_sign(unit)}"), 2, "corner")
    for corner in found.corners:
        names = (shortened(say(plain(name)), NAME_ROOM) for name in corner.between)
        table.add_row(
            Text(say(" / ".join(names))),
            say(angle_of(corner.angle_degrees)),
            f"{corner.asked_degrees:.2f}",
            say(measured(corner.offset, unit)),
        )
    return table


def _plain(figure: Figure | None) -> str:
    return LACKING if figure is None else f"{figure.value:.2f}"


def _signed(figure: Figure | None) -> str:
    return LACKING if figure is None else figures.signed_hundredths(figure.value)


def _diagonals(found: Verified) -> Iterator[str]:
    unit = found.length_unit
    if len(found.diagonals) > MOST_DIAGONALS:
        yield f"{len(found.diagonals)} diagonals stand in verify.html and verify.json."
        return
    for one in found.diagonals:
        yield (
            f"Diagonal {plain(one.corners[0])} to {plain(one.corners[1])}: "
            f"{measured(one.dug, unit)} {unit} (asked {figures.coordinate(one.asked, unit)})."
        )
