"""The layers of a finished lot as a GeoPackage: contours, areas, faces left, where water stands."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pyarrow as pa
import shapely

from terrain.export.gpkg import Table, write_tables
from terrain.export.layer_tables import GEOMETRY, contours_table, numbers, on_site, texts, wkb
from terrain.job.lot_layers import LotLayers
from terrain.surface.strips import strip_pieces


def write_lot_gpkg(layers: LotLayers, path: Path) -> None:
    """Write the GeoPackage at `path`, where no file may stand.

    Raises:
        OutputError: GDAL can't write it.
    """
    write_tables(_tables(layers), layers, layers.before.interval, path)


def _tables(layers: LotLayers) -> Iterator[Table]:
    where = "" if layers.crs else " Local grid without a CRS."
    unit, volume, area = layers.unit.name, layers.unit.volume_name, layers.unit.area_name
    lengths = f" Lengths and elevations in {unit}."
    interval = f"{layers.before.interval:g} {unit}; higher ground on the left"
    yield Table(
        name="existing_contours", geometry_type="LineString Z",
        table=contours_table(layers, layers.before),
        description=f"Contours of the existing ground every {interval}.{lengths}{where}",
    )  # fmt: skip
    yield Table(
        name="finished_contours", geometry_type="LineString Z",
        table=contours_table(layers, layers.after),
        description="Contours of the finished ground over the lot outside the house every "
        f"{interval}.{lengths}{where}",
    )  # fmt: skip
    yield Table(
        name="cut_fill_areas", geometry_type="MultiPolygon", table=_areas(layers),
        description="What each wall, pad and swale cuts or fills of the existing ground. Volumes "
        f"in place in {volume}, areas in {area}; outlines are drawn to a millionth.{where}",
    )  # fmt: skip
    yield Table(
        name="lot_areas", geometry_type="MultiPolygon", table=_drawn(layers),
        description="The lot, the house, each pad, the bottom of each swale and each area kept as "
        f"they are asked for.{where}",
    )  # fmt: skip
    yield Table(
        name="swales", geometry_type="LineString Z", table=_swales(layers),
        description=f"The bottom line of each swale at its inverts.{lengths}{where}",
    )  # fmt: skip
    yield Table(
        name="untied", geometry_type="LineString", table=_untied(layers),
        description="Vertical faces left where the grading does not tie in. Along the lot line "
        "and round areas kept the height is finished less existing ground, elsewhere the step."
        f"{lengths}{where}",
    )  # fmt: skip
    yield Table(
        name="failing_falls", geometry_type="LineString", table=_falls(layers),
        description="From house walls to where the fall was measured, where it is less than "
        f"needed (IRC R401.3, as quoted).{lengths}{where}",
    )  # fmt: skip
    yield Table(
        name="standing_water", geometry_type="Point", table=_ponds(layers),
        description="Deepest spots of low ground that holds water, found on cells of "
        f"{layers.drainage.cell:g} {unit}. Volumes in {volume}, areas in {area}.{lengths}{where}",
    )  # fmt: skip


def _areas(layers: LotLayers) -> pa.Table:
    areas = layers.areas
    shapes = [
        shapely.multipolygons(
            shapely.get_parts(shapely.transform(one.shape, lambda plan: on_site(layers, plan)))
        )
        for one in areas
    ]
    return pa.table(
        {
            GEOMETRY: wkb(shapes),
            "kind": texts(one.kind for one in areas),
            "cause": texts(layers.causes[one.cause] for one in areas),
            "area": numbers(one.area for one in areas),
            "volume": numbers(layers.unit.volume(one.volume) for one in areas),
            "depth": numbers(one.depth for one in areas),
        }
    )


def _drawn(layers: LotLayers) -> pa.Table:
    design = layers.design
    named = [
        ("lot", "", [design.boundary]),
        ("house", "", [design.house]),
        *(("pad", pad.name, [pad.corners]) for pad in design.pads),
        *(("swale", swale.name, strip_pieces(swale.line, swale.width)) for swale in design.swales),
        *(("keep", keep.name, [keep.corners]) for keep in design.keeps),
    ]
    shapes = [
        shapely.MultiPolygon([shapely.Polygon(on_site(layers, ring)) for ring in rings])
        for _, _, rings in named
    ]
    return pa.table(
        {
            GEOMETRY: wkb(shapes),
            "kind": texts(kind for kind, _, _ in named),
            "name": texts(name for _, name, _ in named),
        }
    )


def _swales(layers: LotLayers) -> pa.Table:
    swales = layers.design.swales
    lines = [
        shapely.linestrings(on_site(layers, np.column_stack([swale.line, swale.inverts])))
        for swale in swales
    ]
    return pa.table(
        {
            GEOMETRY: wkb(lines),
            "name": texts(swale.name for swale in swales),
            "bottom_width": numbers(swale.width for swale in swales),
        }
    )


def _untied(layers: LotLayers) -> pa.Table:
    faces = layers.untied
    return pa.table(
        {
            GEOMETRY: wkb([shapely.linestrings([face.start, face.end]) for face in faces]),
            "where": texts(face.where for face in faces),
            "height": numbers(face.height for face in faces),
        }
    )


def _falls(layers: LotLayers) -> pa.Table:
    failures = layers.drainage.failures
    return pa.table(
        {
            GEOMETRY: wkb([shapely.linestrings([one.spot, one.to]) for one in failures]),
            "wall": texts(one.wall for one in failures),
            "station": numbers(one.station for one in failures),
            "fall": numbers(one.fall for one in failures),
            "needed": numbers(one.needed for one in failures),
            "why": texts(one.why for one in failures),
            "end": texts(one.end for one in failures),
        }
    )


def _ponds(layers: LotLayers) -> pa.Table:
    ponds = layers.drainage.ponds
    return pa.table(
        {
            GEOMETRY: wkb([shapely.points(pond.spot) for pond in ponds]),
            "depth": numbers(pond.depth for pond in ponds),
            "area": numbers(pond.area for pond in ponds),
            "volume": numbers(layers.unit.volume(pond.volume) for pond in ponds),
            "level": numbers(pond.level for pond in ponds),
            "depth_before": numbers(pond.before for pond in ponds),
            "wall": texts(pond.wall or "" for pond in ponds),
        }
    )
