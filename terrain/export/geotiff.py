"""Rasters as cloud-optimised GeoTIFF (OGC 19-008; layout OGC 21-026), through GDAL.

All values are float64: a sum over a raster must hold to 1e-9, and at an elevation of 5,000 a
float32 steps by half a thousandth. They are deflated without a predictor, which every reader knows.
"""

from dataclasses import dataclass

import numpy as np
from rasterio import Affine
from rasterio.io import MemoryFile

from terrain.base.frame import LocalFrame
from terrain.base.units import LengthUnit
from terrain.export.text import plain
from terrain.job.rasters import Raster

NODATA = np.nan
"""A reader that does not know of it gets no sum at all rather than a wrong one."""

BAND_UNIT = {"ft": "ft", "ftUS": "US survey foot", "m": "m"}
"""Units of heights as GDAL writes them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RasterPlace:
    """Where and in what a job's rasters are: `crs` and `vertical_datum` as the job states them.

    `survey_date` is the day of the survey that they show, None for a design.
    """

    title: str
    frame: LocalFrame
    unit: LengthUnit
    crs: str | None
    vertical_datum: str | None
    survey_date: str | None = None


def geotiff(raster: Raster, place: RasterPlace) -> bytes:
    """The raster as a file, north up, with what it means, its unit and its statistics."""
    grid = raster.grid
    west, south = place.frame.to_site(np.array(grid.origin))
    north = south + grid.rows * grid.cell
    with MemoryFile() as memory:
        with memory.open(
            driver="COG", dtype="float64", count=1, width=grid.columns, height=grid.rows,
            crs=place.crs or _local_crs(place.unit), nodata=NODATA,
            transform=Affine(grid.cell, 0.0, float(west), 0.0, -grid.cell, float(north)),
            COMPRESS="DEFLATE", PREDICTOR="NO", OVERVIEWS="AUTO", RESAMPLING="AVERAGE",
        ) as file:  # fmt: skip
            file.write(raster.values[::-1], 1)
            file.set_band_description(1, raster.name)
            file.set_band_unit(1, BAND_UNIT[place.unit.name])
            file.update_tags(AREA_OR_POINT="Area", **_told(raster, place))
            file.update_tags(1, **_statistics(raster))
        return bytes(memory.read())


def _local_crs(unit: LengthUnit) -> str:
    """A plane without a place on earth, in the job's unit: without any CRS GDAL writes no key."""
    return f'LOCAL_CS["local grid",UNIT["{unit.long_name}",{float(unit.metres)!r}]]'


def _told(raster: Raster, place: RasterPlace) -> dict[str, str]:
    unit = place.unit
    told = {
        "TITLE": plain(place.title),
        "MEANING": raster.meaning,
        "LENGTH_UNIT": f"{unit.name}: {unit.long_name}, {unit.metres} m",
        "VERTICAL_DATUM": plain(place.vertical_datum) if place.vertical_datum else "not stated",
        "CRS": plain(place.crs) if place.crs else "none: a local grid, easting then northing",
        "GENERATOR": "spoilbank",
    }
    if place.survey_date is not None:
        told["SURVEY_DATE"] = place.survey_date
    if raster.volume is not None and raster.volume_by_cells is not None:
        told |= {
            "VOLUME": f"{unit.volume(raster.volume)!r} {unit.volume_name}",
            "VOLUME_BY_CELLS": f"{unit.volume(raster.volume_by_cells)!r} {unit.volume_name}",
        }
    return told


def _statistics(raster: Raster) -> dict[str, str]:
    """What GDAL keeps of a band, over its cells with a value."""
    known = raster.values[~np.isnan(raster.values)]
    if not len(known):
        return {}
    return {
        "STATISTICS_MINIMUM": repr(float(known.min())),
        "STATISTICS_MAXIMUM": repr(float(known.max())),
        "STATISTICS_MEAN": repr(float(known.mean())),
        "STATISTICS_STDDEV": repr(float(known.std())),
        "STATISTICS_VALID_PERCENT": f"{100.0 * len(known) / raster.values.size:.4g}",
    }
