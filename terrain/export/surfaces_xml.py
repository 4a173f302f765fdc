"""The existing ground and the dig as TIN surfaces of LandXML 1.2, written as a stream.

The dig jumps where a side stands upright. A TIN of LandXML has no upright faces: there, two points
stand over one spot, each with the faces of its own level, and no face joins them. So the gap is
told, not bridged, and whoever reads every face as it is gets the volume of the ledger. The dig is
written only where it is below the ground: not at all where nothing is dug. Names of units and what
must be there are those of LandXML-1.2.xsd of 2008-07-29.
"""

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, BinaryIO, TypeAlias
from xml.sax.saxutils import quoteattr

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyproj

from terrain.base.arrays import FloatArray, IntArray
from terrain.export.on_site import OnSite
from terrain.export.text import plain
from terrain.job.layers import Layers
from terrain.surface.facets import Facets

Column: TypeAlias = "pa.Array[Any]"

NAMESPACE = "http://www.landxml.org/schema/LandXML-1.2"
CHUNK = 131072
EXISTING = "existing", "The ground before the dig, as surveyed", "existing"
# Elevations left without a unit are metres by the schema, also beside feet: so theirs is written.
UNITS = {
    "ft": '<Imperial linearUnit="foot" areaUnit="squareFoot" volumeUnit="cubicYard" '
    'temperatureUnit="fahrenheit" pressureUnit="inHG" elevationUnit="feet"/>',
    "ftUS": '<Imperial linearUnit="USSurveyFoot" areaUnit="squareFoot" volumeUnit="cubicYard" '
    'temperatureUnit="fahrenheit" pressureUnit="inHG" elevationUnit="feet"/>',
    "m": '<Metric linearUnit="meter" areaUnit="squareMeter" volumeUnit="cubicMeter" '
    'temperatureUnit="celsius" pressureUnit="milliBars" elevationUnit="meter"/>',
}


def write_surfaces_xml(layers: Layers, path: Path) -> None:
    """Write existing ground and dig at `path`; coordinates are those of the site."""
    tin = layers.existing
    used = Facets(points=tin.points, triangles=tin.triangles, label=np.zeros(0, np.int32))
    dig = (
        "dig", "The dig where it is below the existing ground. Upright sides are jumps: two "
        "points over one spot, no face between", "proposed",
    )  # fmt: skip
    write_meshes_xml(layers, [(used, EXISTING), (layers.dug, dig)], path)


def write_meshes_xml(
    site: OnSite, meshes: Sequence[tuple[Facets, tuple[str, str, str]]], path: Path
) -> None:
    """Write surfaces at `path`, each with its name, what it is, and its state; northing first.

    A surface without faces is left out: the schema wants three points in `Pnts`, a face in `Faces`.
    """
    with path.open("xb") as file:
        file.write(_head(site).encode("utf-8"))
        for mesh, told in meshes:
            if len(mesh.triangles):
                _write_surface(file, site, mesh, told)
        file.write(b" </Surfaces>\n</LandXML>\n")


def _head(site: OnSite) -> str:
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<LandXML xmlns="{NAMESPACE}" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" '
        f'xsi:schemaLocation="{NAMESPACE} {NAMESPACE}/LandXML-1.2.xsd" version="1.2" '
        f'date="{site.date}" time="00:00:00" language="English" readOnly="false">\n'
        f" <Units>{UNITS[site.unit.name]}</Units>\n"
        f" {_coordinate_system(site)}\n"
        f" <Project name={_attribute(site.title)}/>\n"
        ' <Application name="spoilbank"/>\n'
        " <Surfaces>\n"
    )


def _coordinate_system(site: OnSite) -> str:
    if site.crs is None:
        return '<CoordinateSystem desc="Local grid without a CRS"/>'
    crs = pyproj.CRS.from_user_input(site.crs)
    plan = (crs.sub_crs_list or [crs])[0]
    code = plan.to_epsg()
    epsg = "" if code is None else f' epsgCode="{code}"'
    wkt = _attribute(plan.to_wkt())
    return f"<CoordinateSystem name={_attribute(plan.name)}{epsg} ogcWktCode={wkt}/>"


def _attribute(text: str) -> str:
    return quoteattr(plain(text))


def _write_surface(file: BinaryIO, site: OnSite, mesh: Facets, told: tuple[str, str, str]) -> None:
    """Write one surface; `told` are its name, what it is, and its state."""
    name, description, state = told
    points = np.column_stack([site.frame.to_site(mesh.points[:, :2]), mesh.points[:, 2]])
    attributes = f"name={_attribute(name)} desc={_attribute(description)} state={_attribute(state)}"
    low, high = points[:, 2].min(), points[:, 2].max()
    heights = f' elevMin="{low}" elevMax="{high}"'
    file.write(f"  <Surface {attributes}>\n".encode())
    file.write(f'   <Definition surfType="TIN"{heights}>\n    <Pnts>\n'.encode("ascii"))
    for text in _point_lines(points):
        file.write(text)
    file.write(b"    </Pnts>\n    <Faces>\n")
    for text in _face_lines(mesh.triangles):
        file.write(text)
    file.write(b"    </Faces>\n   </Definition>\n  </Surface>\n")


def _point_lines(points: FloatArray) -> Iterator[memoryview]:
    """`P` elements in chunks: northing, easting, elevation, each with all its digits."""
    for first in range(0, len(points), CHUNK):
        part = points[first : first + CHUNK]
        number = _texts(np.arange(first + 1, first + 1 + len(part)))
        easting, northing, upward = (_texts(part[:, k]) for k in range(3))
        yield _joined('<P id="', number, '">', northing, " ", easting, " ", upward, "</P>\n")


def _face_lines(triangles: IntArray) -> Iterator[memoryview]:
    """`F` elements in chunks: the numbers of three points, counter-clockwise."""
    for first in range(0, len(triangles), CHUNK):
        part = triangles[first : first + CHUNK].astype(np.int64) + 1
        a, b, c = (_texts(part[:, k]) for k in range(3))
        yield _joined("<F>", a, " ", b, " ", c, "</F>\n")


def _texts(numbers: FloatArray | IntArray) -> Column:
    """Each number as the shortest text that reads back as the same number."""
    column: Column = pa.array(np.ascontiguousarray(numbers))
    return column.cast(pa.string())


def _joined(*pieces: "str | Column") -> memoryview:
    """The pieces side by side, row after row, as one run of bytes."""
    join: Any = pc.binary_join_element_wise
    rows = join(*pieces, "")
    _, starts, text = rows.buffers()
    end = int(np.frombuffer(starts, dtype=np.int32)[len(rows)])
    return memoryview(text)[:end]
