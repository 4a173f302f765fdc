"""The summary of a batch, one row a job: CSV, JSON and GeoPackage."""

import csv
import datetime
import io
import json
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyogrio
import pyproj
import shapely
from pyogrio.errors import DataLayerError, DataSourceError, FeatureError, GeometryError

from terrain.base.errors import Fault, OutputError
from terrain.export.layer_tables import GEOMETRY, texts, wkb
from terrain.export.ledger_json import Json
from terrain.export.text import inert, plain
from terrain.job.batch import Outcome
from terrain.job.batch_figures import FIGURES

HEAD = ("job", "status", "title", "length_unit", "volume_unit", "crs")
LOCAL = 'LOCAL_CS["Undefined Cartesian SRS"]'


def summary_csv(question: str, outcomes: Sequence[Outcome]) -> str:
    """A row a job: what became of it, its figures in full, and the message if it has none.

    Volumes are in the row's own `volume_unit`. Text that a spreadsheet would run as a formula gets
    an apostrophe before it.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    names = tuple(FIGURES[question])
    writer.writerow([*HEAD, *names, "seconds", "message"])
    for one in outcomes:
        figures = (one.figures.get(name) for name in names)
        writer.writerow(
            [
                *(inert(text) for text in _head(one)),
                *(inert(v) if isinstance(v, str) else "" if v is None else v for v in figures),
                f"{one.seconds:.2f}",
                inert(one.message),
            ]
        )
    return out.getvalue()


def summary_json(question: str, outcomes: Sequence[Outcome]) -> str:
    """The summary as one JSON object: the question, how many came to what, a row a job."""
    jobs: list[Json] = [_row(one) for one in outcomes]
    counts: dict[str, Json] = {}
    for one in outcomes:
        counts[one.status.value] = sum(other.status is one.status for other in outcomes)
    whole: dict[str, Json] = {"question": question, "counts": counts, "jobs": jobs}
    return json.dumps(whole, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _row(one: Outcome) -> Json:
    head: dict[str, Json] = dict(
        zip(HEAD, (plain(text) or None for text in _head(one)), strict=True)
    )
    figures: dict[str, Json] = dict(one.figures)
    return head | {"figures": figures, "seconds": one.seconds, "message": plain(one.message)}


def _head(one: Outcome) -> tuple[str, ...]:
    return (one.name, one.status.value, one.title, one.length_unit, one.volume_unit, one.crs or "")


def write_summary_gpkg(question: str, outcomes: Sequence[Outcome], path: Path) -> None:
    """Write the GeoPackage at `path`: outlines of foundations with figures, a layer a CRS.

    Jobs without a CRS stand on local grids that have nothing to do with one another; they share
    the layer `lots_local`. The table `jobs` has every job, also those without an outline.

    Raises:
        OutputError: GDAL can't write it.
    """
    today = datetime.date.today().isoformat()
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": f"{today}T00:00:00.000Z"})
    try:
        for count, (layer, crs, rows) in enumerate(_layers(outcomes)):
            shapes = {GEOMETRY: _outlines(rows)} if crs else {}
            pyogrio.write_arrow(
                pa.table(shapes | _columns(question, rows)),
                path,
                layer=layer,
                driver="GPKG",
                geometry_name=GEOMETRY if crs else None,
                geometry_type="Polygon" if crs else None,
                crs=crs,
                append=count > 0,
                layer_options={"SRID": "-1"} if crs == LOCAL else {},
                dataset_options=None if count else {"VERSION": "1.4"},
            )
    except (DataSourceError, DataLayerError, FeatureError, GeometryError) as error:
        message = f"the GeoPackage can't be written ({error}); is the disk full?"
        raise OutputError(Fault(file=path.name, message=message)) from error
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})


def _layers(
    outcomes: Sequence[Outcome],
) -> Iterator[tuple[str, str | None, Sequence[Outcome]]]:
    """Name, CRS as GDAL takes it and rows of each layer; the table without outlines comes last."""
    placed = [one for one in outcomes if len(one.outline) > 2]
    for crs in dict.fromkeys(one.crs for one in placed):
        rows = [one for one in placed if one.crs == crs]
        if crs is None:
            yield "lots_local", LOCAL, rows
        else:
            name = "".join(c if c.isalnum() else "_" for c in crs)[:60]
            yield f"lots_{name}", pyproj.CRS.from_user_input(crs).to_wkt(), rows
    yield "jobs", None, outcomes


def _outlines(rows: Sequence[Outcome]) -> "pa.Array":
    return wkb([shapely.polygons(np.array(one.outline)) for one in rows])


def _columns(question: str, rows: Sequence[Outcome]) -> dict[str, "pa.Array"]:
    heads = list(zip(*(_head(one) for one in rows), strict=True)) or [()] * len(HEAD)
    columns = {name: texts(iter(values)) for name, values in zip(HEAD, heads, strict=True)}
    for name in FIGURES[question]:
        values = [one.figures.get(name) for one in rows]
        if any(isinstance(value, str) for value in values):
            columns[name] = texts("" if value is None else str(value) for value in values)
        else:
            columns[name] = pa.array(
                [None if value is None else float(value) for value in values], type=pa.float64()
            )
    return columns | {"message": texts(one.message for one in rows)}
