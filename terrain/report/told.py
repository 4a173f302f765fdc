"""What every page shares: its template, and the words of cautions and of files that were read."""

from functools import cache
from typing import TypeAlias

from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from terrain.job.answer import InputFile
from terrain.report import figures
from terrain.report.grouping import Said
from terrain.report.names import plain
from terrain.report.scan_words import scan_rows

WIDE_PLAN, NARROW_PLAN = 720.0, 344.0
"""Widths in pixels for which each drawing is made: a page shows the one that fits."""

Words: TypeAlias = dict[str, str | None]
FileWords: TypeAlias = dict[str, str | list[tuple[str, str]]]


@cache
def page_template(name: str) -> Template:
    """A template of the package; what is put into it is escaped."""
    environment = Environment(
        loader=PackageLoader("terrain.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template(name)


def caution_words(said: Said) -> dict[str, object]:
    """A caution, the wall it is of, the other walls it holds for; its points and rows."""
    return {
        "wall": None if said.wall is None else plain(said.wall),
        "message": plain(said.message),
        "also": ", ".join(map(plain, said.also)) if said.also else None,
        "points": [plain(point) for point in said.points],
        "rows": [
            {"names": ", ".join(map(plain, names)), "own": plain(own)} for names, own in said.rows
        ],
    }


def input_words(file: InputFile, length_unit: str) -> FileWords:
    """A file that was read: what it held, where, and its checksum."""
    low = [figures.coordinate(value, length_unit) for value in file.low]
    high = [figures.coordinate(value, length_unit) for value in file.high]
    return {
        "name": plain(file.name),
        "kind": plain(file.kind),
        "sha256": file.sha256,
        "shots": figures.count(file.shots),
        "easting": f"{low[0]} to {high[0]}",
        "northing": f"{low[1]} to {high[1]}",
        "elevation": f"{low[2]} to {high[2]}",
        "points": [] if file.cloud is None else scan_rows(file.cloud),
    }
