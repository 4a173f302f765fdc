"""The kinds of value a job file holds, each with the words for what is wanted."""

from typing import Annotated, TypeAlias

from pydantic import AfterValidator, BeforeValidator, Field
from pydantic_core import PydanticCustomError

from terrain.surface.moves import Side

LARGEST = 1e9
STEEPEST_RUN = 1000.0
LEAST_LIFT = 0.1

SIDE_WANTED = (
    "a run per rise such as 1.0, or a list of [run, rise] steps such as [[0, 4], [4, 0]], is wanted"
)


def printable(text: str) -> str:
    """The text with a question mark for whatever would move a terminal's cursor."""
    return "".join(c if c.isprintable() else "?" for c in text)


def shown(value: object) -> str:
    """The value as a message shows it: short, with text in quotes."""
    match value:
        case bool():
            return "true" if value else "false"
        case str():
            text = f'"{printable(value)}"'
        case dict():
            text = "a table"
        case list():
            text = "[" + ", ".join(shown(v) for v in value[:4])
            text += ", ...]" if len(value) > 4 else "]"
        case _:
            text = str(value) if not isinstance(value, int) else _shown_int(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _shown_int(value: int) -> str:
    return str(value) if abs(value) < 10**30 else "a number too large to use"


def is_number(value: object) -> bool:
    """Whether a TOML value is a finite number this program can use; true and false are not."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return False
    return abs(value) <= LARGEST  # false for NaN


def _looks_split(value: object, fields: int) -> bool:
    """Whether a list is what decimal commas make of half as many numbers: all of them whole."""
    return isinstance(value, list) and len(value) == fields and all(type(v) is int for v in value)


def _position(value: object) -> tuple[float, float]:
    if isinstance(value, list) and len(value) == 2 and all(is_number(v) for v in value):
        return float(value[0]), float(value[1])
    hint = " (a decimal is written with a point)" if _looks_split(value, 4) else ""
    raise PydanticCustomError("position", "a position [easting, northing] is wanted" + hint)


def _spot(value: object) -> tuple[float, float, float]:
    if isinstance(value, list) and len(value) == 3 and all(is_number(v) for v in value):
        return float(value[0]), float(value[1]), float(value[2])
    raise PydanticCustomError("spot", "a spot [easting, northing, elevation] is wanted")


def _place(value: object) -> tuple[float, ...]:
    if isinstance(value, list) and len(value) in (2, 3) and all(is_number(v) for v in value):
        return tuple(float(v) for v in value)
    raise PydanticCustomError(
        "place", "a place [easting, northing] or [easting, northing, elevation] is wanted"
    )


def _geoid(value: object) -> float | str:
    if is_number(value):
        return float(str(value))
    if isinstance(value, str):
        return _name(value)
    raise PydanticCustomError("geoid", "a height, or the name of a file in quotes, is wanted")


def read_side(value: object) -> Side:
    """The `(run, rise)` steps of a side from a number or a list, as DESIGN says under Side."""
    if is_number(value):
        value = [[value, 1.0]]
    if not isinstance(value, list) or not value:
        raise PydanticCustomError("side", SIDE_WANTED)
    steps = [_step(step) for step in value]
    lift = sum(rise for _, rise in steps)
    runs = any(run > 0.0 for run, _ in steps)
    if lift == 0.0:
        raise PydanticCustomError("side", "this side never rises: give at least one step a rise")
    if runs and 0.0 in steps[-1] and lift < LEAST_LIFT:
        raise PydanticCustomError(
            "side", f"the steps repeat and rise only {lift:g} in all: give them {LEAST_LIFT:g}"
        )
    return tuple(steps)


def _step(step: object) -> tuple[float, float]:
    if not isinstance(step, list) or len(step) != 2 or not all(is_number(v) for v in step):
        raise PydanticCustomError("side", SIDE_WANTED)
    run, rise = float(step[0]), float(step[1])
    if run < 0.0 or rise < 0.0:
        raise PydanticCustomError("side", "run and rise of a step can't be less than 0")
    if run == 0.0 and rise == 0.0:
        raise PydanticCustomError("side", "the step [0, 0] goes nowhere: leave it out")
    if rise > 0.0 and run > STEEPEST_RUN * rise:
        raise PydanticCustomError(
            "side", f"a slope flatter than {STEEPEST_RUN:g} to 1 is not a side of a dig"
        )
    return run, rise


def _name(value: str) -> str:
    if not value.strip() or not value.isprintable():
        raise PydanticCustomError("name", "a name that can be read is wanted, not blank")
    return value


Number: TypeAlias = Annotated[float, Field(ge=-LARGEST, le=LARGEST)]
"""Any finite number: an elevation, a coordinate, an angle."""

Length: TypeAlias = Annotated[float, Field(ge=0.0, le=LARGEST)]
"""A length that may be nought."""

LengthOverNought: TypeAlias = Annotated[float, Field(gt=0.0, le=LARGEST)]
"""A length that must be more than nought."""

Position: TypeAlias = Annotated[tuple[float, float], BeforeValidator(_position)]
"""A plan position `[easting, northing]`."""

Spot: TypeAlias = Annotated[tuple[float, float, float], BeforeValidator(_spot)]
"""A spot in space `[easting, northing, elevation]`."""

Place: TypeAlias = Annotated[tuple[float, ...], BeforeValidator(_place)]
"""A place on the site, with or without an elevation."""

Geoid: TypeAlias = Annotated[float | str, BeforeValidator(_geoid)]
"""A height of the geoid over the ellipsoid, or the file of a grid of it."""

Corners: TypeAlias = Annotated[list[Position], Field(min_length=3)]
"""An outline: three corners or more."""

Line: TypeAlias = Annotated[list[Position], Field(min_length=2)]
"""A centre line: two positions or more."""

SideList: TypeAlias = Annotated[Side, BeforeValidator(read_side)]
"""A side, read from its number or its list."""

Name: TypeAlias = Annotated[str, Field(max_length=80), AfterValidator(_name)]
"""The name of a wall, pit, ramp, trench, code or file."""
