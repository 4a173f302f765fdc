"""The tables of a job file: every key, its kind and its default. All lengths in `length_unit`."""

from typing import Annotated, Any, Literal, TypeAlias

from pydantic import Field

from terrain.job.asdug_tables import AsDug as AsDug
from terrain.job.asdug_tables import AsGraded as AsGraded
from terrain.job.asdug_tables import Piles as Piles
from terrain.job.asdug_tables import Verify as Verify
from terrain.job.billing_tables import Billing as Billing
from terrain.job.haul_tables import Machine as Machine
from terrain.job.haul_tables import Spoil as Spoil
from terrain.job.kinds import (
    Corners,
    Geoid,
    Length,
    LengthOverNought,
    Line,
    Name,
    Number,
    Place,
    Position,
    SideList,
    Spot,
)
from terrain.job.lot_tables import House as House
from terrain.job.lot_tables import Lot as Lot
from terrain.job.table import Table as Table

UnitName: TypeAlias = Literal["ft", "ftUS", "m"]
Coordinates: TypeAlias = Literal["degrees", "grid"]
Turn: TypeAlias = Annotated[float, Field(gt=-180.0, lt=180.0)]


class Site(Table):
    """`[site]`: the unit of every length, the projected CRS if the job is on one.

    `vertical_datum` is what elevations are above, in words; it is passed on and not used.
    """

    length_unit: UnitName
    crs: Name | None = None
    vertical_datum: Name | None = None


class Cloud(Table):
    """`existing.cloud`: what a point cloud's own records leave out or contradict."""

    horizontal_unit: UnitName | None = None
    vertical_unit: UnitName | None = None
    crs_record: Literal["wkt", "geotiff"] | None = None


class Mesh(Table):
    """`existing.mesh`: how a mesh stands, what its numbers are in, where its origin is on site.

    `origin` is easting, northing, elevation in the job's unit.
    """

    up: Literal["z", "y"]
    unit: Literal["m", "cm", "mm", "ft", "ftUS", "in"]
    origin: Spot = (0.0, 0.0, 0.0)


class Level(Table):
    """`existing.level`: how level notes are to close, and what tapes were held from.

    `closure` is a published rule or a length; `sight` stands in where no distance is noted; `lines`
    and `points` add to the walls and corners of the foundation.
    """

    closure: Literal["construction", "third order"] | LengthOverNought = "construction"
    rod_accuracy: LengthOverNought | None = None
    sight: LengthOverNought | None = None
    lines: dict[Name, Line] = {}
    points: dict[Name, Position] = {}


class CommonPoint(Table):
    """`existing.phone.common`: a position by name and where it is on the site."""

    point: Name
    site: Place


class Phone(Table):
    """`existing.phone`: what heights of positions are above, in what unit, and what ties them.

    `geoid` is its height over the ellipsoid in `unit`, or the file of a grid of it.
    """

    heights: Literal["ellipsoid", "sea level"] | None = None
    unit: UnitName = "m"
    geoid: Geoid | None = None
    common: list[CommonPoint] = []
    scale: bool = False
    tolerance: LengthOverNought | None = None


class Filter(Table):
    """`existing.ground_filter`: how ground is told in a cloud that is not classed.

    `threshold` is how far above the filter's ground a point may lie; `stiffness` (1 to 3) is the
    cloth's, `widest` and `slope` are for `opening`.
    """

    way: Literal["cloth", "opening", "none"] = "cloth"
    cell: LengthOverNought | None = None
    threshold: LengthOverNought | None = None
    stiffness: Annotated[int, Field(ge=1, le=3)] | None = None
    widest: LengthOverNought | None = None
    slope: LengthOverNought | None = None


class ControlTarget(Table):
    """`existing.control.targets`: where a target is in the scan and on the site."""

    name: Name
    scan: Spot
    site: Spot


class Refine(Table):
    """`existing.control.refine`: shots on ground that has not changed since it was surveyed."""

    shots: Name
    within: LengthOverNought


class Control(Table):
    """`existing.control`: what puts a scan in a frame of its own on the site.

    `files` are such scans; without it every cloud, mesh and .xyz file is.
    """

    targets: list[ControlTarget] = Field(min_length=1)
    files: list[Name] = []
    scale: bool = False
    tolerance: LengthOverNought | None = None
    refine: Refine | None = None


class Existing(Table):
    """`[existing]`: the ground before the dig, and how its shots are to be read.

    `lines` are files of lines without elevations; `coordinates` is what GeoJSON among them is in,
    by default the grid where the job has no CRS, else degrees as RFC 7946 has it. `notes` are level
    notes read as `level` says, `positions` those of a phone read as `phone` says. `surface` is
    which surface of a LandXML file, `mesh` how a mesh is to be taken. Accuracies are standard
    deviations: of elevations each for itself, of all elevations together, of places in plan each
    way, and of what elevations of shots nearer one another than `correlation_range` share.
    """

    shots: list[Name] = []
    notes: list[Name] = []
    positions: list[Name] = []
    columns: list[Name] | None = Field(default=None, min_length=3)
    breaklines: list[Name] = []
    lines: list[Name] = []
    coordinates: Coordinates | None = None
    boundary_code: Name | None = None
    hole_codes: list[Name] = []
    marks: dict[Name, Number] = {}
    mark_tolerance: Length | None = None
    same_spot: Literal["refuse", "lowest", "mean", "last"] = "refuse"
    same_spot_tolerance: Length | None = None
    max_edge: LengthOverNought | None = None
    accuracy: Length | None = None
    datum_accuracy: Length | None = None
    horizontal_accuracy: Length | None = None
    correlated_accuracy: Length | None = None
    correlation_range: LengthOverNought | None = None
    cloud: Cloud | None = None
    surface: Name | None = None
    mesh: Mesh | None = None
    level: Level | None = None
    phone: Phone | None = None
    control: Control | None = None
    thin: Length | None = None
    ground_filter: Filter | None = None


class Soil(Table):
    """`[soil]`: a material of the soil table, or any name with swell and shrink given.

    With `measured` the swell is the one that `[[piles]]` show, once it is surer than the tables.
    """

    material: Name
    swell: Number | None = None
    shrink: Number | None = None
    measured: bool = False
    soil_class: Literal["stable rock", "A", "B", "C"] | None = Field(default=None, alias="class")


class Footing(Table):
    """`foundation.footing`: it sits on the floor, or at `bottom` in a trench below the floor."""

    width: LengthOverNought
    depth: LengthOverNought
    projection: Length | None = None
    bottom: Number | None = None


class Stone(Table):
    """`foundation.stone`: drain stone past and over the footing, and the base under the slab."""

    beyond: Length = 0.0
    over: Length = 0.0
    under_slab: Length = 0.0


class Foundation(Table):
    """`[foundation]`: the outside faces in one of four forms, the walls' names, the levels.

    The forms: `corners`; an `outline` file (`coordinates` as for lines); `first_corner` with the
    `bearing` of the first wall (degrees clockwise from north), `lengths` and `turns` (degrees,
    counter-clockwise positive); or `stakes`, the code of the shots that the same lengths and
    turns are fitted to.
    """

    corners: Corners | None = None
    outline: Name | None = None
    coordinates: Coordinates | None = None
    first_corner: Position | None = None
    stakes: Name | None = None
    bearing: float | None = Field(default=None, ge=-360.0, le=360.0)
    lengths: list[LengthOverNought] | None = Field(default=None, min_length=3)
    turns: list[Turn] | None = None
    closure_tolerance: Length | None = None
    stake_tolerance: Length | None = None
    walls: list[Name] | None = None
    top: Number | None = None
    wall_height: LengthOverNought | None = None
    wall_thickness: LengthOverNought | None = None
    footing: Footing | None = None
    stone: Stone | None = None


class WallDig(Table):
    """`[dig.walls.NAME]`: what one wall has otherwise; the rest it takes from `[dig]`."""

    overdig: Length | None = None
    side: SideList | None = None


class Pit(Table):
    """`[[dig.pits]]`: another floor over an outline of its own."""

    name: Name
    corners: Corners
    floor: Number
    overdig: Length = 0.0
    side: SideList = ((0.0, 1.0),)


class Ramp(Table):
    """`[[dig.ramps]]`: a way in that climbs from the floor along its line."""

    name: Name
    line: Line
    width: LengthOverNought
    run_per_rise: LengthOverNought
    floor: Number | None = None
    overdig: Length = 0.0
    side: SideList = ((0.0, 1.0),)


class Trench(Table):
    """`[[dig.trenches]]`: a strip with a level floor along a line, square at its ends."""

    name: Name
    line: Line
    width: LengthOverNought
    floor: Number
    overdig: Length = 0.0
    side: SideList = ((0.0, 1.0),)


class Dig(Table):
    """`[dig]`: the floor, how far beyond the faces and how steeply it is dug, and exceptions."""

    floor: Number | None = None
    overdig: Length
    side: SideList
    topsoil_strip: Length = 0.0
    walls: dict[Name, WallDig] = {}
    pits: list[Pit] = []
    ramps: list[Ramp] = []
    trenches: list[Trench] = []


class Haul(Table):
    """`[haul]`: the truck's heaped loose capacity, in the job's volume unit, and a load's price."""

    truck: LengthOverNought | None = None
    price_per_load: Length | None = None


TABLES: dict[str, Any] = {
    "site": Site,
    "existing": Existing,
    "soil": Soil,
    "foundation": Foundation,
    "dig": Dig,
    "haul": Haul,
    "house": House,
    "lot": Lot,
    "asdug": list[AsDug],
    "verify": Verify,
    "asgraded": list[AsGraded],
    "piles": list[Piles],
    "machine": Machine,
    "spoil": Spoil,
    "billing": Billing,
}
"""Every top-level table by its key; a list is one that is written with `[[ ]]`, any number."""

REQUIRED_TABLES = ("site", "existing", "soil", "foundation", "dig")
