"""The check of a hole on a terminal of 80 columns."""

from collections.abc import Iterator
from functools import partial

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from terrain.asdug.walls import Figure
from terrain.job.verify_record import Verified, WallChecked
from terrain.report import figures
from terrain.report.names import encodable, plain, shortened
from terrain.report.table import WIDEST, Say, print_listed
from terrain.report.verify_words import BIG, SAID

COLUMNS = ("asked", "least", "mean", "most", "turn", "bow", "over", "under", "net")
NAME_ROOM, MOST_DIAGONALS = 12, 5


def show_verify(found: Verified, console: Console) -> None:
    """Print the verdict, what to do, floor, walls and corners; no line over 80 columns."""
    say = partial(encodable, encoding=console.encoding)
    width = min(console.width, WIDEST)
    console.print(Text(say(f"{plain(found.title)}, hole of {found.date}"), style="bold"))
    console.print(
        Text(say(f"{BIG[found.verdict]}: {SAID[found.verdict]}"), style="bold"), width=width
    )
    for number, one in enumerate(found.todo, start=1):
        console.print(Text(say(f"  {number}. {plain(one.message)}")), width=width)
    for line in _floor(found):
        console.print(Text(say(line)), width=width)
    unit, volume = found.length_unit, figures.unit_sign(found.volume_unit)
    told = (
        f"Overdig from the wall's face in {unit}, turn in degrees (counter-clockwise +), bow in "
        f"{unit} (out +), over- and under-dug and net of both in {volume} bank: noise adds to over "
        "and under, not to net."
    )
    console.print(Text(say(f"\n{told}"), style="dim"), width=width)
    console.print(_table(found.walls, say), width=width)
    for line in (*_excess(found), *_corners(found)):
        console.print(Text(say(line)), width=width)
    for heading, lines in (("Notes", found.notes), ("Be careful", found.cautions)):
        if lines:
            console.print(Text(f"\n{heading}", style="bold"))
        for line in lines:
            print_listed(Text(say(plain(line))), console, width)


def _floor(found: Verified) -> Iterator[str]:
    floor, unit = found.floor, found.length_unit
    if floor is None:
        yield "\nNo shots of the floor."
        return
    volume = figures.unit_sign(found.volume_unit)
    yield (
        f"\nFloor: {floor.within:.0%} of {floor.area:,.0f} square {unit} within "
        f"{found.floor_tolerance:g} {unit}, from {figures.counted(floor.shots, 'shot')}. Highest "
        f"{floor.worst_high:+.2f}, lowest {floor.worst_low:+.2f} {unit}."
    )
    yield (
        f"Above it {floor.high_volume:.2f} {volume} to trim, below it {floor.low_volume:.2f} "
        f"{volume} to fill with stone."
    )
    if floor.thin_cut is not None:
        yield (
            f"Noise of the shots alone shows {floor.thin_cut:.2f} {volume} of each on a perfect "
            f"floor; surely high are {floor.sure_high:.2f}, surely low {floor.sure_low:.2f}."
        )
    if found.undercut is not None:
        yield f"Dug below the floor: {_told(found.undercut, 2)} {volume} bank."


def _table(walls: tuple[WallChecked, ...], say: Say) -> Table:
    table = Table(box=SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, 0))
    table.add_column("wall", no_wrap=True, overflow="crop")
    for column in COLUMNS:
        table.add_column(column, justify="right")
    table.add_column("verdict", no_wrap=True)
    for wall in walls:
        table.add_row(
            Text(say(shortened(say(plain(wall.wall)), NAME_ROOM))),
            f"{wall.asked:.2f}",
            _plain(wall.least), _plain(wall.mean), _plain(wall.most),
            _signed(wall.turn_degrees), _signed(wall.bow),
            _plain(None if wall.amounts is None else wall.amounts.overdug),
            _plain(None if wall.amounts is None else wall.amounts.underdug),
            _signed(None if wall.amounts is None else wall.amounts.net),
            "few shots" if wall.verdict == "not enough shots" else wall.verdict,
        )  # fmt: skip
    return table


def _plain(figure: Figure | None) -> str:
    return "-" if figure is None else f"{figure.value:.2f}"


def _signed(figure: Figure | None) -> str:
    return "-" if figure is None else figures.signed_hundredths(figure.value)


def _told(figure: Figure, places: int) -> str:
    if figure.plus_minus_95 is None:
        return f"{figure.value:.{places}f}"
    return f"{figure.value:.{places}f} \N{PLUS-MINUS SIGN} {figure.plus_minus_95:.{places}f}"


def _excess(found: Verified) -> Iterator[str]:
    """What digging too wide costs, most first."""
    priced = [(w.amounts.cost, w) for w in found.walls if w.amounts and w.amounts.cost]
    for cost, wall in sorted(priced, key=lambda one: -one[0])[:3]:
        yield (
            f"Dug too wide along {plain(wall.wall)}: {cost:,.2f} {plain(found.currency or '')} to "
            "dig it and to fill it again."
        )


def _corners(found: Verified) -> Iterator[str]:
    unit = found.length_unit
    for corner in found.corners:
        yield (
            f"Corner {plain(corner.between[0])} / {plain(corner.between[1])}: "
            f"{corner.angle_degrees:.2f} degrees (asked {corner.asked_degrees:.2f}), "
            f"{corner.offset:.2f} {unit} off."
        )
    if len(found.diagonals) > MOST_DIAGONALS:
        yield f"{len(found.diagonals)} diagonals stand in verify.html and verify.json."
        return
    for one in found.diagonals:
        yield (
            f"Diagonal {plain(one.corners[0])} to {plain(one.corners[1])}: {one.dug:.2f} {unit} "
            f"(asked {one.asked:.2f})."
        )
