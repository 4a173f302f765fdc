"""Text files: one call from bytes to shots, by the quick reader or the careful one."""

from dataclasses import replace

from terrain.survey.layout import Asked, Layout, find_layout
from terrain.survey.merge import count
from terrain.survey.rows import Table, read_rows
from terrain.survey.shots import Shots, plain_shots
from terrain.survey.text import as_utf8


def read_table(name: str, data: bytes, asked: Asked) -> tuple[Layout, Table]:
    """The layout and the columns of one text file.

    Errors: `SurveyError` with all faults of the file.
    """
    text = as_utf8(name, data)
    layout = find_layout(name, text, asked)
    # Loading pyarrow takes memory that a job of clouds alone does without.
    from terrain.survey.quick import read_quickly

    table = read_quickly(layout, text)
    return layout, table if table is not None else read_rows(layout, text)


def read_text(name: str, data: bytes, asked: Asked) -> tuple[Layout, Shots]:
    """The shots of one text file, in its own numbers, and how it was laid out.

    A file that gives latitude and longitude only has them in northing and easting; whoever
    calls must project them (`layout.columns` says so).
    """
    layout, table = read_table(name, data, asked)
    numbers = table.numbers
    degrees = "latitude" in numbers
    east, north = ("longitude", "latitude") if degrees else ("easting", "northing")
    shots = plain_shots((numbers[east], numbers[north]), numbers["elevation"], table.row, name)
    for column in table.names:
        ids, names = table.names[column]
        shots = (
            replace(shots, code=ids, code_names=names)
            if column == "code"
            else replace(shots, line=ids, line_names=names)
        )
    notes = layout.notes
    if table.comments[0]:
        notes += (
            f"{name}: {count(table.comments[0], 'comment line')} among the shots left out, "
            f"the first is line {table.comments[1]}.",
        )
    return layout, replace(shots, point=table.point, notes=notes)
