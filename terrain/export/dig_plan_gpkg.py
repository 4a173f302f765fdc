"""The dig plan as a GeoPackage: stands, tracks, ways, ground dug, piles, trucks, rim corners."""

from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
import pyarrow as pa
import shapely

from terrain.export.gpkg import Table, write_tables
from terrain.export.layer_tables import GEOMETRY, numbers, on_site, texts, wkb
from terrain.job.dig_plan_record import DigPlan


def write_dig_plan_gpkg(plan: DigPlan, path: Path) -> None:
    """Write the GeoPackage at `path`, where no file may stand.

    Raises:
        OutputError: GDAL can't write it.
    """
    write_tables(_tables(plan), plan, 0.0, path)


def _tables(plan: DigPlan) -> Iterator[Table]:
    where = "" if plan.crs else " Local grid without a CRS."
    lengths, volume = f" Lengths in {plan.length_unit}.", plan.volume_unit
    yield Table(
        name="stands", geometry_type="Point", table=_stands(plan),
        description="Where the machine stands, in order, its heading in degrees clockwise from "
        f"north, and what it digs there in {volume}.{lengths}{where}",
    )  # fmt: skip
    yield Table(
        name="tracks", geometry_type="Polygon", table=_tracks(plan),
        description=f"The footprint of the tracks at each stand.{where}",
    )  # fmt: skip
    yield Table(
        name="ways", geometry_type="LineString", table=_ways(plan),
        description=f"The machine's way from stand to stand.{where}",
    )  # fmt: skip
    yield Table(
        name="passes", geometry_type="MultiPolygon", table=_passes(plan),
        description=f"The ground dug from each stand; volumes in {volume}.{where}",
    )  # fmt: skip
    yield Table(
        name="piles", geometry_type="MultiPolygon", table=_piles(plan),
        description="The ground that earth may lie on beside each wall, what it needs, gets and "
        f"holds, loose in {volume}.{lengths}{where}",
    )  # fmt: skip
    yield Table(
        name="trucks", geometry_type="Polygon", table=_trucks(plan),
        description="The ground a truck takes where it is loaded, the way it drives out in degrees "
        f"clockwise from north, and what is loaded there, loose in {volume}.{where}",
    )  # fmt: skip
    yield Table(
        name="rim_corners", geometry_type="Point", table=_corners(plan),
        description=f"Corners of the dig line that are finished from the rim.{where}",
    )  # fmt: skip


def _points(plan: DigPlan, spots: Sequence[tuple[float, float]]) -> list[shapely.Geometry]:
    return [shapely.Point(plan.frame.to_site(np.array(spot))) for spot in spots]


def _stands(plan: DigPlan) -> pa.Table:
    passes = plan.passes
    return pa.table(
        {
            GEOMETRY: wkb(_points(plan, [one.stand.spot for one in passes])),
            "stand": pa.array([one.stand.number for one in passes], type=pa.int64()),
            "kind": texts(one.stand.kind for one in passes),
            "wall": texts(one.wall for one in passes),
            "heading": numbers(one.stand.heading for one in passes),
            "station": numbers(one.stand.station for one in passes),
            "bank": numbers(float(one.bank) for one in passes),
            "loose": numbers(float(one.loose) for one in passes),
        }
    )


def _tracks(plan: DigPlan) -> pa.Table:
    return pa.table(
        {
            GEOMETRY: wkb([shapely.Polygon(on_site(plan, p.stand.tracks)) for p in plan.passes]),
            "stand": pa.array([one.stand.number for one in plan.passes], type=pa.int64()),
        }
    )


def _ways(plan: DigPlan) -> pa.Table:
    moves = [one.stand for one in plan.passes if len(one.stand.way) > 1]
    return pa.table(
        {
            GEOMETRY: wkb([shapely.LineString(on_site(plan, stand.way)) for stand in moves]),
            "to_stand": pa.array([stand.number for stand in moves], type=pa.int64()),
        }
    )


def _passes(plan: DigPlan) -> pa.Table:
    return pa.table(
        {
            GEOMETRY: wkb([_moved(plan, one.dug) for one in plan.passes]),
            "stand": pa.array([one.stand.number for one in plan.passes], type=pa.int64()),
            "wall": texts(one.wall for one in plan.passes),
            "bank": numbers(float(one.bank) for one in plan.passes),
            "to": texts(
                ", ".join(f"{cast.place} {cast.loose:.1f}" for cast in one.to)
                for one in plan.passes
            ),
        }
    )


def _piles(plan: DigPlan) -> pa.Table:
    places = [place for place in plan.places if not place.ground.is_empty]
    return pa.table(
        {
            GEOMETRY: wkb([_moved(plan, place.ground) for place in places]),
            "name": texts(place.name for place in places),
            "needed": numbers(float(place.needed) for place in places),
            "cast": numbers(float(place.cast) for place in places),
            "capacity": numbers(float(place.capacity) for place in places),
            "height": numbers(place.height for place in places),
        }
    )


def _trucks(plan: DigPlan) -> pa.Table:
    trucks = plan.trucks
    return pa.table(
        {
            GEOMETRY: wkb([shapely.Polygon(on_site(plan, truck.ring)) for truck in trucks]),
            "truck": pa.array([truck.number for truck in trucks], type=pa.int64()),
            "heading": numbers(truck.heading for truck in trucks),
            "loose": numbers(float(truck.loose) for truck in trucks),
            "stands": texts(", ".join(str(k) for k in truck.stands) for truck in trucks),
        }
    )


def _corners(plan: DigPlan) -> pa.Table:
    corners = plan.rim_corners
    return pa.table(
        {
            GEOMETRY: wkb(_points(plan, [corner.spot for corner in corners])),
            "between": texts(" and ".join(corner.between) for corner in corners),
            "stand": pa.array([corner.stand for corner in corners], type=pa.int64()),
        }
    )


def _moved(plan: DigPlan, shape: shapely.MultiPolygon) -> shapely.Geometry:
    moved = shapely.transform(shape, lambda spots: on_site(plan, spots))
    return shapely.multipolygons(shapely.get_parts(moved))
