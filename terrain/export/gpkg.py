"""Tables of drawn things as a GeoPackage 1.4 (OGC 12-128), through GDAL."""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import pyarrow as pa
import pyogrio
import pyproj
from pyogrio.errors import DataLayerError, DataSourceError, FeatureError, GeometryError

from terrain.base.errors import Fault, OutputError
from terrain.export.layer_tables import GEOMETRY
from terrain.export.on_site import OnSite
from terrain.export.text import plain

UNDEFINED_CARTESIAN = -1
"""The SRS that every GeoPackage has for coordinates on a plane that no CRS describes."""

LOCAL = 'LOCAL_CS["Undefined Cartesian SRS"]'


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table: its name, geometry type, what it holds in a sentence, and its columns."""

    name: str
    geometry_type: str
    description: str
    table: pa.Table


def write_tables(tables: Iterable[Table], site: OnSite, interval: float, path: Path) -> None:
    """Write the GeoPackage at `path`, where no file may stand; `interval` is that of contours.

    Raises:
        OutputError: GDAL can't write it.
    """
    # the standard wants the time of the last change in the file; the same job gives the same bytes
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": f"{site.date}T00:00:00.000Z"})
    crs, options = _reference(site)
    try:
        for count, layer in enumerate(tables):
            pyogrio.write_arrow(
                layer.table,
                path,
                layer=layer.name,
                driver="GPKG",
                geometry_name=GEOMETRY,
                geometry_type=layer.geometry_type,
                crs=crs,
                append=count > 0,
                dataset_metadata=None if count else _metadata(site, interval),
                layer_options=options | {"DESCRIPTION": layer.description},
                dataset_options=None if count else {"VERSION": "1.4"},
            )
    except (DataSourceError, DataLayerError, FeatureError, GeometryError) as error:
        message = f"the GeoPackage can't be written ({error}); is the disk full?"
        raise OutputError(Fault(file=path.name, message=message)) from error
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})


def _reference(site: OnSite) -> tuple[str, dict[str, str]]:
    """The CRS as GDAL takes it, and the options of a table in it."""
    if site.crs is None:
        return LOCAL, {"SRID": str(UNDEFINED_CARTESIAN)}
    return pyproj.CRS.from_user_input(site.crs).to_wkt(), {}


def _metadata(site: OnSite, interval: float) -> dict[str, str]:
    unit = site.unit
    return {
        "TITLE": plain(site.title),
        "DATE": site.date,
        "CRS": plain(site.crs) if site.crs else "none: a local grid, easting then northing",
        "LENGTH_UNIT": f"{unit.name}: {unit.long_name}, {unit.metres} m",
        "VOLUME_UNIT": unit.volume_name,
        "AREA_UNIT": unit.area_name,
        "CONTOUR_INTERVAL": f"{interval:g} {unit.name}",
        "GENERATOR": "spoilbank",
    }
