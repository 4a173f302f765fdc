"""The layers as a GeoPackage 1.4 (OGC 12-128), through GDAL: one table a kind of thing drawn."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pyarrow as pa
import pyogrio
import pyproj
from pyogrio.errors import DataLayerError, DataSourceError, FeatureError, GeometryError

from terrain.base.errors import Fault, OutputError
from terrain.export.layer_tables import (
    GEOMETRY,
    contours_table,
    faces_table,
    lines_table,
    parts_table,
    shots_table,
    walls_table,
)
from terrain.export.text import plain
from terrain.job.layers import Layers

UNDEFINED_CARTESIAN = -1
"""The SRS that every GeoPackage has for coordinates on a plane that no CRS describes."""

LOCAL = 'LOCAL_CS["Undefined Cartesian SRS"]'


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layer:
    """One table: its name, geometry type, what it holds in a sentence, and its columns."""

    name: str
    geometry_type: str
    description: str
    table: pa.Table


def write_layers_gpkg(layers: Layers, path: Path) -> None:
    """Write the GeoPackage at `path`, where no file may stand.

    Raises:
        OutputError: GDAL can't write it.
    """
    # the standard wants the time of the last change in the file; the same job gives the same bytes
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": f"{layers.date}T00:00:00.000Z"})
    crs, options = _reference(layers)
    try:
        for count, layer in enumerate(_layers(layers)):
            pyogrio.write_arrow(
                layer.table,
                path,
                layer=layer.name,
                driver="GPKG",
                geometry_name=GEOMETRY,
                geometry_type=layer.geometry_type,
                crs=crs,
                append=count > 0,
                dataset_metadata=None if count else _metadata(layers),
                layer_options=options | {"DESCRIPTION": layer.description},
                dataset_options=None if count else {"VERSION": "1.4"},
            )
    except (DataSourceError, DataLayerError, FeatureError, GeometryError) as error:
        message = f"the GeoPackage can't be written ({error}); is the disk full?"
        raise OutputError(Fault(file=path.name, message=message)) from error
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})


def _reference(layers: Layers) -> tuple[str, dict[str, str]]:
    """The CRS as GDAL takes it, and the options of a table in it."""
    if layers.crs is None:
        return LOCAL, {"SRID": str(UNDEFINED_CARTESIAN)}
    return pyproj.CRS.from_user_input(layers.crs).to_wkt(), {}


def _metadata(layers: Layers) -> dict[str, str]:
    unit = layers.unit
    return {
        "TITLE": plain(layers.title),
        "DATE": layers.date,
        "CRS": plain(layers.crs) if layers.crs else "none: a local grid, easting then northing",
        "LENGTH_UNIT": f"{unit.name}: {unit.long_name}, {unit.metres} m",
        "VOLUME_UNIT": unit.volume_name,
        "AREA_UNIT": unit.area_name,
        "CONTOUR_INTERVAL": f"{layers.contours.interval:g} {unit.name}",
        "GENERATOR": "spoilbank",
    }


def _layers(layers: Layers) -> Iterator[_Layer]:
    where = "" if layers.crs else " Local grid without a CRS."
    unit, volume, area = layers.unit.name, layers.unit.volume_name, layers.unit.area_name
    lengths = f" Lengths and elevations in {unit}."
    volumes = f" Volumes in {volume}, bank unless named otherwise; plan areas in {area}."
    yield _Layer(
        name="shots", geometry_type="Point Z", table=shots_table(layers),
        description=f"Every shot the ground is made from, with its file and row.{lengths}{where}",
    )  # fmt: skip
    drawn = (
        ("breaklines", layers.breaklines, "Lines that no triangle of the ground crosses."),
        ("dig_line", layers.dig_lines, "Round each floor of the dig, at its elevation."),
        ("daylight", layers.daylight, "Where the cut meets the ground; the cut on the left."),
    )
    for name, lines, told in drawn:
        yield _Layer(
            name=name, geometry_type="LineString Z", table=lines_table(layers, lines),
            description=f"{told}{lengths}{where}",
        )  # fmt: skip
    interval = f"{layers.contours.interval:g} {unit}"
    yield _Layer(
        name="existing_contours", geometry_type="LineString Z", table=contours_table(layers),
        description=f"Contours of the existing ground every {interval}; higher ground on the left,"
        f" every fifth an index contour.{lengths}{where}",
    )  # fmt: skip
    yield _Layer(
        name="walls", geometry_type="LineString Z", table=walls_table(layers),
        description="Outside faces of the foundation at the floor of the dig, with what comes out "
        f"along each.{volumes}{lengths}{where}",
    )  # fmt: skip
    yield _Layer(
        name="dig_parts", geometry_type="MultiPolygon", table=parts_table(layers),
        description="Where each wall's parts, pit, ramp and trench take earth out. A footing or an "
        f"extra lies under what was dug before it, so areas overlap.{volumes}{where}",
    )  # fmt: skip
    yield _Layer(
        name="dig_faces", geometry_type="MultiPolygon Z", table=faces_table(layers),
        description="Every plane face of the dig as far as it is below ground; those of a row and "
        f"part sum to the ledger.{volumes}{lengths}{where}",
    )  # fmt: skip
