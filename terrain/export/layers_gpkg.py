"""The layers of a dig as a GeoPackage: one table a kind of thing drawn."""

from collections.abc import Iterator
from pathlib import Path

from terrain.export.gpkg import Table, write_tables
from terrain.export.layer_tables import (
    contours_table,
    faces_table,
    lines_table,
    parts_table,
    shots_table,
    walls_table,
)
from terrain.job.layers import Layers


def write_layers_gpkg(layers: Layers, path: Path) -> None:
    """Write the GeoPackage at `path`, where no file may stand.

    Raises:
        OutputError: GDAL can't write it.
    """
    write_tables(_layers(layers), layers, layers.contours.interval, path)


def _layers(layers: Layers) -> Iterator[Table]:
    where = "" if layers.crs else " Local grid without a CRS."
    unit, volume, area = layers.unit.name, layers.unit.volume_name, layers.unit.area_name
    lengths = f" Lengths and elevations in {unit}."
    volumes = f" Volumes in {volume}, bank unless named otherwise; plan areas in {area}."
    yield Table(
        name="shots", geometry_type="Point Z", table=shots_table(layers),
        description=f"Every shot the ground is made from, with its file and row.{lengths}{where}",
    )  # fmt: skip
    drawn = (
        ("breaklines", layers.breaklines, "Lines that no triangle of the ground crosses."),
        ("dig_line", layers.dig_lines, "Round each floor of the dig, at its elevation."),
        ("daylight", layers.daylight, "Where the cut meets the ground; the cut on the left."),
    )
    for name, lines, told in drawn:
        yield Table(
            name=name, geometry_type="LineString Z", table=lines_table(layers, lines),
            description=f"{told}{lengths}{where}",
        )  # fmt: skip
    interval = f"{layers.contours.interval:g} {unit}"
    yield Table(
        name="existing_contours", geometry_type="LineString Z",
        table=contours_table(layers, layers.contours),
        description=f"Contours of the existing ground every {interval}; higher ground on the left,"
        f" every fifth an index contour.{lengths}{where}",
    )  # fmt: skip
    yield Table(
        name="walls", geometry_type="LineString Z", table=walls_table(layers),
        description="Outside faces of the foundation at the floor of the dig, with what comes out "
        f"along each.{volumes}{lengths}{where}",
    )  # fmt: skip
    yield Table(
        name="dig_parts", geometry_type="MultiPolygon", table=parts_table(layers),
        description="Where each wall's parts, pit, ramp and trench take earth out. A footing or an "
        f"extra lies under what was dug before it, so areas overlap.{volumes}{where}",
    )  # fmt: skip
    yield Table(
        name="dig_faces", geometry_type="MultiPolygon Z", table=faces_table(layers),
        description="Every plane face of the dig as far as it is below ground; those of a row and "
        f"part sum to the ledger.{volumes}{lengths}{where}",
    )  # fmt: skip
