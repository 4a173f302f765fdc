"""GeoTIFFs read back by GDAL and by a TIFF reader that is not GDAL: place, unit, gaps, values."""

import json
import subprocess
import sys
import xml.etree.ElementTree as ET

import numpy as np
import pytest
import tifffile

from terrain.base.frame import LocalFrame
from terrain.base.units import FOOT, METRE, US_SURVEY_FOOT
from terrain.export.geotiff import RasterPlace, geotiff
from terrain.job.rasters import Raster
from terrain.surface.gridding import Grid

READ_BY_GDAL = """
import json, sys
import rasterio
with rasterio.open(sys.argv[1]) as file:
    values = file.read(1, masked=True)
    print(json.dumps({
        "transform": file.transform[:6], "crs": file.crs and file.crs.to_epsg(),
        "nodata": str(file.nodata), "unit": file.units[0], "name": file.descriptions[0],
        "tags": file.tags(), "band": file.tags(1), "layout": file.tags(ns="IMAGE_STRUCTURE"),
        "overviews": file.overviews(1), "dtype": file.dtypes[0], "known": int(values.count()),
        "sum": float(values.sum()), "south_west": values.data[-1, 0], "shape": file.shape,
        "linear_unit": file.crs and file.crs.linear_units,
    }))
"""


def raster(rows=40, columns=60, cell=0.5, gaps=True):
    values = np.random.default_rng(4).normal(size=(rows, columns)) + 5000.0
    if gaps:
        values[3:9, 5:20] = np.nan
    grid = Grid(west=-10.0, south=-20.0, cell=cell, rows=rows, columns=columns)
    total = float(np.nansum(values)) * cell**2
    return Raster(
        name="cut_fill_mean", meaning="Means.", grid=grid, values=values,
        volume_by_cells=total, volume=total,
    )  # fmt: skip


def place(crs="EPSG:2223", unit=FOOT, datum="NAVD 88, GEOID18"):
    return RasterPlace(
        title="Lot 7", frame=LocalFrame(easting=700_000.0, northing=1_200_000.0), unit=unit,
        crs=crs, vertical_datum=datum,
    )  # fmt: skip


def by_gdal(path):
    """What GDAL says of a file, in a process of its own."""
    told = subprocess.run(
        [sys.executable, "-c", READ_BY_GDAL, str(path)], check=True, capture_output=True, text=True
    )
    return json.loads(told.stdout)


@pytest.fixture
def written(tmp_path):
    path = tmp_path / "mean.tif"
    path.write_bytes(geotiff(raster(), place()))
    return path


def test_gdal_finds_the_place_the_crs_the_unit_and_the_gaps(written):
    told = by_gdal(written)
    assert told["transform"] == [0.5, 0.0, 699_990.0, 0.0, -0.5, 1_199_980.0 + 20.0]
    assert told["crs"] == 2223
    assert told["linear_unit"] == "foot"
    assert (told["nodata"], told["unit"], told["name"]) == ("nan", "ft", "cut_fill_mean")
    assert told["tags"]["AREA_OR_POINT"] == "Area"
    assert told["tags"]["VERTICAL_DATUM"] == "NAVD 88, GEOID18"
    assert told["tags"]["LENGTH_UNIT"] == "ft: international foot, 381/1250 m"
    assert told["layout"]["LAYOUT"] == "COG"
    assert told["dtype"] == "float64"
    assert told["shape"] == [40, 60]


def test_the_sum_over_cells_holds_to_a_milliardth_after_the_file(written):
    wanted = raster()
    told = by_gdal(written)
    assert told["known"] == int((~np.isnan(wanted.values)).sum()) == 40 * 60 - 90
    assert told["south_west"] == wanted.values[0, 0]
    volume = told["sum"] * 0.25
    assert abs(volume - wanted.volume) <= 1e-9 * wanted.volume
    assert told["tags"]["VOLUME"] == f"{wanted.volume / 27!r} yd3"


def test_statistics_are_those_of_the_known_cells(written):
    known = raster().values[~np.isnan(raster().values)]
    band = by_gdal(written)["band"]
    assert float(band["STATISTICS_MINIMUM"]) == known.min()
    assert float(band["STATISTICS_MAXIMUM"]) == known.max()
    assert float(band["STATISTICS_MEAN"]) == pytest.approx(known.mean(), rel=1e-15)
    assert float(band["STATISTICS_STDDEV"]) == pytest.approx(known.std(), rel=1e-12)


def test_a_reader_that_is_not_gdal_finds_the_same(written):
    with tifffile.TiffFile(written) as file:
        page = file.pages[0]
        values, keys = page.asarray(), page.geotiff_tags
        gap = page.tags["GDAL_NODATA"].value
        metadata = ET.fromstring(page.tags["GDAL_METADATA"].value)
    # rows run from north to south in the file
    np.testing.assert_array_equal(values[::-1], raster().values)
    assert keys["ModelPixelScale"] == [0.5, 0.5, 0.0]
    assert keys["ModelTiepoint"] == [0.0, 0.0, 0.0, 699_990.0, 1_200_000.0, 0.0]
    assert keys["ProjectedCSTypeGeoKey"] == 2223
    assert keys["GTRasterTypeGeoKey"] == 1  # pixel is area, OGC 19-008
    assert keys["ProjLinearUnitsGeoKey"] == 9002  # international foot, EPSG
    assert float(gap) != float(gap)
    told = {item.get("name"): item.text for item in metadata}
    assert told["UNITTYPE"] == "ft"
    assert told["VERTICAL_DATUM"] == "NAVD 88, GEOID18"


def test_a_local_grid_has_a_place_and_no_crs(tmp_path):
    path = tmp_path / "local.tif"
    path.write_bytes(geotiff(raster(), place(crs=None, unit=US_SURVEY_FOOT, datum=None)))
    told = by_gdal(path)
    assert told["crs"] is None
    assert told["transform"][2] == 699_990.0
    assert told["tags"]["CRS"].startswith("none")
    assert told["tags"]["VERTICAL_DATUM"] == "not stated"
    assert told["unit"] == "US survey foot"
    with tifffile.TiffFile(path) as file:
        keys = file.pages[0].geotiff_tags
    assert keys["ModelPixelScale"] == [0.5, 0.5, 0.0]
    assert keys["ProjLinearUnitsGeoKey"] == 9003  # US survey foot, EPSG
    assert "ProjectedCSTypeGeoKey" not in keys


def test_a_large_raster_carries_coarser_ones(tmp_path):
    path = tmp_path / "large.tif"
    large = raster(rows=700, columns=1100)
    path.write_bytes(geotiff(large, place(crs="EPSG:26915", unit=METRE)))
    assert by_gdal(path)["overviews"] == [2, 4]
    with tifffile.TiffFile(path) as file:
        assert [page.shape for page in file.pages] == [(700, 1100), (350, 550), (175, 275)]


def test_a_raster_without_a_known_cell_is_still_a_file(tmp_path):
    path = tmp_path / "empty.tif"
    values = np.full((3, 4), np.nan)
    grid = Grid(west=0.0, south=0.0, cell=1.0, rows=3, columns=4)
    bare = Raster(name="cut_fill", meaning="None.", grid=grid, values=values)
    path.write_bytes(geotiff(bare, place()))
    told = by_gdal(path)
    assert told["known"] == 0
    assert "STATISTICS_MEAN" not in told["band"]


def test_the_same_raster_gives_the_same_bytes():
    assert geotiff(raster(), place()) == geotiff(raster(), place())
