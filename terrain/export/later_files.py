"""What the later surveys of a job tell, as JSON keys and raster files."""

from terrain.export.asgraded_json import asgraded_list
from terrain.export.doubt_json import Json
from terrain.export.geotiff import RasterPlace, geotiff
from terrain.export.progress_json import piles_list, progress_list, soil_dict
from terrain.job.later_told import LaterTold
from terrain.job.worked import Worked


def later_dict(told: LaterTold, length_unit: str, paths: dict[str, str]) -> dict[str, Json]:
    """The keys `progress`, `piles`, `soil` and `asgraded`; `paths` are the files by raster."""
    return {
        "progress": progress_list(told.progress),
        "piles": piles_list(told.piles),
        "soil": soil_dict(told.soil),
        "asgraded": asgraded_list(told.asgraded, length_unit, paths),
    }


def later_rasters(told: LaterTold, worked: Worked) -> dict[str, bytes]:
    """The rasters of the graded lot by file name, with the day of their survey."""
    files: dict[str, bytes] = {}
    for survey in told.asgraded:
        place = RasterPlace(
            title=worked.job.title,
            frame=worked.layout.frame,
            unit=worked.job.unit,
            crs=worked.job.site.crs,
            vertical_datum=survey.vertical_datum,
            survey_date=survey.date,
        )
        files |= {f"{raster.name}.tif": geotiff(raster, place) for raster in survey.rasters}
    return files
