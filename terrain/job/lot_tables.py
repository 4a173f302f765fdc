"""The tables of the finished lot: `[house]` and `[lot]`. All lengths in `length_unit`."""

from typing import Annotated, TypeAlias

from pydantic import BeforeValidator, Discriminator, Field, Tag
from pydantic_core import PydanticCustomError

from terrain.job.kinds import (
    Corners,
    Length,
    LengthOverNought,
    Line,
    Name,
    Number,
    SideList,
    is_number,
)
from terrain.job.table import Table

CORNERS_TAG, FILE_TAG = "[corners]", "[file]"


def _outline_form(value: object) -> str:
    return FILE_TAG if isinstance(value, str) else CORNERS_TAG


def _wall_grade(value: object) -> tuple[float, float]:
    if is_number(value):
        value = [value, value]
    if isinstance(value, list) and len(value) == 2 and all(is_number(v) for v in value):
        return float(value[0]), float(value[1])
    raise PydanticCustomError(
        "wall_grade", "an elevation, or two [at the first corner, at the last], is wanted"
    )


Outline: TypeAlias = Annotated[
    Annotated[Corners, Tag(CORNERS_TAG)] | Annotated[Name, Tag(FILE_TAG)],
    Discriminator(_outline_form),
]
"""An outline: its corners, or the name of a file with them."""

WallGrade: TypeAlias = Annotated[tuple[float, float], BeforeValidator(_wall_grade)]
"""Finished ground along a wall: at its first corner and at its last."""

Share: TypeAlias = Annotated[float, Field(ge=0.0, lt=1.0)]
"""A share of one: 0.05 is five in a hundred."""


class House(Table):
    """`[house]`: what the ground is to fall away from, where it is more than the foundation.

    `walls` names the walls of `corners`; without it a wall is called as the foundation's wall that
    faces the same way and lies nearest.
    """

    corners: Corners | None = None
    slab_fill: Length = 0.0
    walls: list[Name] | None = None


class LotWall(Table):
    """`[lot.walls.NAME]`: finished ground along one wall; `step` lets it leave its neighbours."""

    wall_grade: WallGrade | None = None
    step: bool = False


class Pad(Table):
    """`[[lot.pads]]`: a drive, patio or walk-out at one `elevation`, or at one a corner."""

    name: Name | None = None
    corners: Corners
    elevation: Number | None = None
    elevations: list[Number] | None = None


class Swale(Table):
    """`[[lot.swales]]`: a ditch along a line, its bottom at an invert a point of the line."""

    name: Name | None = None
    line: Line
    inverts: list[Number]
    bottom_width: LengthOverNought
    side: SideList = ((3.0, 1.0),)


class Keep(Table):
    """`[[lot.keep]]`: ground that must not change."""

    name: Name
    corners: Corners


class Lot(Table):
    """`[lot]`: the lot line, the buildings on or beside it, and the lot as it is to be finished.

    `cell` is the side of a raster's cell. Without `wall_grade` there is no finished lot.
    """

    boundary: Outline | None = None
    buildings: dict[Name, Corners] = {}
    wall_grade: WallGrade | None = None
    fall: Share | None = None
    fall_distance: LengthOverNought | None = None
    cut_slope: LengthOverNought | None = None
    fill_slope: LengthOverNought | None = None
    settlement: Share = 0.0
    topsoil_respread: Length = 0.0
    unsuitable: Share = 0.0
    cell: LengthOverNought | None = None
    walls: dict[Name, LotWall] = {}
    pads: list[Pad] = []
    swales: list[Swale] = []
    keep: list[Keep] = []
