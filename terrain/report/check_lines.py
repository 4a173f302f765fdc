"""What was understood of a job, on a terminal of 80 columns."""

import math
from collections.abc import Iterator
from textwrap import wrap

from rich.cells import cell_len
from rich.console import Console
from rich.text import Text

from terrain.job.answer import InputFile
from terrain.job.check import (
    CheckedExtra,
    CheckedFoundation,
    CheckedGround,
    CheckedShot,
    CheckedSpike,
    CheckedWall,
    CheckResult,
)
from terrain.job.notes import is_warning
from terrain.report import figures
from terrain.report.names import encodable, plain, shortened
from terrain.report.scan_words import scan_rows
from terrain.surface.moves import Side

WIDTH = 80
NAME = 21
MOST_SPIKES = 10
FEWEST_WALLS = 3


def show_check(result: CheckResult, console: Console) -> None:
    """Print what was understood, heading by heading; no line is wider than 80 columns."""
    for line in check_lines(result):
        heading = bool(line) and not line.startswith(" ")
        text = Text(encodable(line, console.encoding), style="bold" if heading else "")
        console.print(text, soft_wrap=True)


def check_lines(result: CheckResult) -> Iterator[str]:
    """The lines of the page, each at most 80 columns; those not indented are headings."""
    unit = result.unit.name
    yield shortened(plain(result.title), WIDTH)
    crs = "a local grid" if result.crs is None else plain(result.crs)
    yield from _wrapped(
        f"Lengths in {unit} ({result.unit.long_name}), volumes in {result.unit.volume_sign}, "
        f"positions on {crs}."
    )
    yield "Files"
    for file in result.inputs:
        yield from _file(file)
    warnings = [note for note in result.notes if is_warning(note)]
    if warnings:
        yield "WARNING"
        for note in warnings:
            yield from _wrapped(f"! {note}")
    yield "Existing ground"
    yield from _ground(result.ground, result.unit.area_sign)
    yield from _notes(result)
    yield "Foundation"
    yield from _foundation(result.foundation, unit, result.unit.area_sign)
    yield "Levels"
    for level in result.levels:
        yield from _wrapped(f"{level.elevation:12.3f}  {level.name}: {level.how}", hanging=16)
    yield "Walls"
    yield from _walls(result.walls, result.projection)
    if result.extras:
        yield "Pits, ramps and trenches"
        for extra in result.extras:
            yield from _extra(extra, result.unit.area_sign)
    yield "Soil and haul"
    yield from _soil(result)


def _name(name: str) -> str:
    """A name in its column, whatever its letters are wide."""
    shown = shortened(plain(name), NAME)
    return shown + " " * (NAME - cell_len(shown))


def _wrapped(text: str, hanging: int = 4) -> list[str]:
    return wrap(
        plain(text) if not text.startswith(" ") else "  " + text.strip(),
        width=WIDTH, initial_indent="  ", subsequent_indent=" " * hanging, break_on_hyphens=False,
    )  # fmt: skip


def _file(file: InputFile) -> Iterator[str]:
    yield f"  {shortened(plain(file.name), WIDTH - 2)}"
    one = "corner" if file.kind in ("lines", "outline") else "shot"
    count = figures.counted(file.shots, one)
    yield f"    {file.kind}, {count}, SHA-256 {file.sha256[:16]}..."
    for name, low, high in zip(
        ("easting", "northing", "elevation"), file.low, file.high, strict=True
    ):
        if not math.isnan(low):
            yield f"    {name:9} {low:15.3f} to {high:15.3f}"
    for name, number in scan_rows(file.cloud) if file.cloud is not None else ():
        yield f"    {number:>14}  {name}"


def _ground(ground: CheckedGround, area_name: str) -> Iterator[str]:
    yield from _wrapped(
        f"{figures.counted(ground.shots, 'shot')} and "
        f"{figures.counted(ground.breaklines, 'breakline')} make {ground.triangles:,} "
        f"triangles over {ground.area:,.1f} {area_name}, from {ground.low:.3f} to "
        f"{ground.high:.3f}."
    )
    first = ground.first
    yield from _wrapped(
        f"The first shot, {_named(first)}, is read as {first.easting:.3f} east, "
        f"{first.northing:.3f} north, {first.elevation:.3f} up."
    )


def _named(shot: CheckedShot) -> str:
    return f"point {shot.point} ({shot.place})" if shot.point else shot.place


def _notes(result: CheckResult) -> Iterator[str]:
    for note in result.notes:
        if not is_warning(note):
            yield from _wrapped(f"- {note}")
    if not result.spikes:
        yield "  No spikes: no shot stands out from the ground round it."
        return
    if len(result.spikes) == 1:
        yield "  1 shot stands out from the ground round it; look at it:"
    else:
        yield f"  {len(result.spikes)} shots stand out from the ground round them; look at each:"
    for spike in result.spikes[:MOST_SPIKES]:
        yield from _wrapped(_spike(spike), hanging=6)
    if len(result.spikes) > MOST_SPIKES:
        yield f"    ... and {len(result.spikes) - MOST_SPIKES} more"


def _spike(spike: CheckedSpike) -> str:
    shot = spike.shot
    return (
        f"- {_named(shot)} at {shot.easting:.2f}, {shot.northing:.2f}: elevation "
        f"{shot.elevation:.2f}, {abs(spike.off):.2f} {'above' if spike.off > 0 else 'below'}"
    )


def _foundation(foundation: CheckedFoundation, unit: str, area_name: str) -> Iterator[str]:
    size = foundation.dimensions
    yield from _wrapped(
        f"{len(foundation.walls)} walls from {foundation.form}: perimeter {size.perimeter:.3f} "
        f"{unit}, area {size.area:,.2f} {area_name}."
    )
    if len(foundation.walls) == FEWEST_WALLS:
        yield "  Only three walls: is a corner missing?"
    west, south, east, north = foundation.beyond
    yield from _wrapped(
        f"The survey reaches past its outermost corners by {west:.1f} {unit} to the west, "
        f"{south:.1f} south, {east:.1f} east, {north:.1f} north."
    )
    if foundation.misclosure is not None:
        yield f"  Lengths and turns miss closing by {foundation.misclosure:.3f} {unit}, spread."
    yield f"  {'':3} {'wall':{NAME}} {'length':>10} {'from corner':>26} {'angle':>7} {'off':>6}"
    for i, name in enumerate(foundation.walls):
        easting, northing = foundation.corners[i]
        off = size.out_of_square[i]
        yield (
            f"  {i + 1:3} {_name(name)} {size.lengths[i]:10.3f} "
            f"{easting:13.3f},{northing:12.3f} {size.angles[i]:7.2f} "
            + (f"{off:+6.2f}" if not math.isnan(off) else f"{'-':>6}")
        )
    yield "  Angle: inside, at the wall's first corner; off: out of square, in degrees."
    if size.diagonals:
        told = (f"{i + 1} to {j + 1}: {length:.3f}" for i, j, length in size.diagonals)
        yield from _wrapped("Diagonals from corner " + ", ".join(told))
    if foundation.residuals is not None:
        told = (f"{i + 1}: {miss:.3f}" for i, miss in enumerate(foundation.residuals))
        yield from _wrapped(f"Stakes stand off their corners by ({unit}) " + ", ".join(told))


def side_words(side: Side) -> str:
    """A side in words: `vertical`, `1.5 per 1`, or its steps."""
    if all(run == 0.0 for run, _ in side):
        return "vertical"
    if len(side) == 1:
        run, rise = side[0]
        return f"{run / rise:g} per 1"
    steps = []
    for run, rise in side:
        if run == 0.0:
            steps.append(f"up {rise:g}")
        elif rise == 0.0:
            steps.append(f"out {run:g}")
        else:
            steps.append(f"{run / rise:g} per 1 for {rise:g}")
    run, rise = side[-1]
    if run > 0.0 and rise > 0.0:
        return ", ".join([*steps[:-1], f"then {run / rise:g} per 1"])
    return ", ".join(steps) + ", repeated"


def _walls(walls: tuple[CheckedWall, ...], projection: float) -> Iterator[str]:
    yield f"  {'wall':{NAME}} {'overdig':>8} {'room':>8}  side (run per rise)"
    for wall in walls:
        head = f"  {_name(wall.name)} {wall.overdig:8.3f} "
        head += f"{wall.working_room:8.3f}  "
        first, *rest = wrap(side_words(wall.side), width=WIDTH - len(head))
        yield head + first
        yield from (" " * len(head) + line for line in rest)
    if projection:
        yield f"  Room: overdig less the footing's projection of {projection:g}."


def _extra(extra: CheckedExtra, area_name: str) -> Iterator[str]:
    floor = f"floor {extra.low:.3f}"
    if extra.high > extra.low:
        floor = f"floor from {extra.low:.3f} to {extra.high:.3f}"
    yield from _wrapped(
        f"{extra.kind} {shortened(plain(extra.name), NAME)}: {floor}, {extra.area:,.1f} "
        f"{area_name}, overdig {extra.overdig:g}, side {side_words(extra.side)}"
    )


def _soil(result: CheckResult) -> Iterator[str]:
    soil = result.soil
    kind = f", class {result.soil_class}" if result.soil_class else ""
    yield from _wrapped(
        f"{plain(soil.material)}{kind}: swell {soil.swell:g}, shrink {soil.shrink:g} "
        f"({soil.source})."
    )
    if result.truck is None:
        yield "  No truck given: loads are not counted."
    else:
        yield f"  Truck of {result.truck:g} {result.unit.volume_sign}, heaped and loose."
