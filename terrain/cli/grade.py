"""`spoilbank grade JOB`: the finished lot, what each side gives and needs, where it balances."""

from pathlib import Path
from typing import TYPE_CHECKING

from terrain.cli.run import (
    JobArgument,
    JsonOption,
    OutOption,
    Progress,
    as_utf8,
    out_folder,
    print_json,
    tell,
    told_plainly,
)

if TYPE_CHECKING:
    from terrain.job.grade_answer import GradeAnswer
    from terrain.job.graded import Graded
    from terrain.job.rasters import Raster


def grade(job: JobArgument, out: OutOption = None, json: JsonOption = False) -> None:
    """The finished lot: backfill, grade and surplus by side, and where it balances."""
    with told_plainly():
        run_grade(job, out, "json" if json else "table")


def run_grade(job: Path, out: Path | None, shown_as: str) -> tuple[Path, ...]:
    """Grade the lot of a job, write and print it; the paths of the files written."""
    from terrain.base.errors import SpoilbankError
    from terrain.export.grade_json import grade_json
    from terrain.job.grade import graded_told
    from terrain.job.graded import grade_out
    from terrain.job.load import load_job
    from terrain.job.rasters import lot_grid, rasters_of
    from terrain.job.volumes import work_out

    asked = load_job(job)
    folder = out_folder(job, out) if shown_as != "json" or out is not None else None
    written: tuple[Path, ...] = ()
    with Progress().shown() as progress:
        graded = grade_out(work_out(asked, progress), progress)
        frame = graded.worked.layout.frame
        cell = None if asked.lot is None else asked.lot.cell
        try:
            grid = lot_grid(graded.asked.design.boundary, frame, asked.unit, cell)
        except SpoilbankError as error:
            raise asked.located(error) from error
        answer = graded_told(graded, progress)
        progress("laying out cells")
        rasters = rasters_of(graded.worked.existing.ground.surface, graded.lot, grid)
        if folder is not None:
            written = write_grade(graded, answer, rasters, folder)
    paths = {path.stem: str(path) for path in written if path.suffix == ".tif"}
    if shown_as == "json":
        print_json(grade_json(answer, rasters, paths))
        return written
    from rich.console import Console

    from terrain.report.grade_table import show_grade

    show_grade(answer, Console(highlight=False))
    tell(f"\nWritten to {folder}: " + ", ".join(path.name for path in written))
    return written


def write_grade(
    graded: "Graded", answer: "GradeAnswer", rasters: "tuple[Raster, ...]", folder: Path
) -> tuple[Path, ...]:
    """Write the answer, its rasters, its layers and its page, all or none; their paths."""
    from datetime import date
    from functools import partial

    from terrain.export.geotiff import RasterPlace, geotiff
    from terrain.export.grade_json import grade_json
    from terrain.export.lot_gpkg import write_lot_gpkg
    from terrain.export.lot_xml import write_lot_xml
    from terrain.export.write import Content, write_files
    from terrain.job.lot_layers import lot_layers_of
    from terrain.job.lot_pictures import lot_pictures_of
    from terrain.report.lot_page import lot_html

    worked = graded.worked
    place = RasterPlace(
        title=answer.title,
        frame=worked.layout.frame,
        unit=worked.job.unit,
        crs=worked.job.site.crs,
        vertical_datum=worked.job.site.vertical_datum,
    )
    paths = {raster.name: str(folder / f"{raster.name}.tif") for raster in rasters}
    files: dict[str, Content] = {"grade.json": as_utf8(grade_json(answer, rasters, paths))}
    files |= {f"{raster.name}.tif": geotiff(raster, place) for raster in rasters}
    layers = lot_layers_of(graded, answer, date.today().isoformat())
    files |= {
        "grade.gpkg": partial(write_lot_gpkg, layers),
        "grade.xml": partial(write_lot_xml, layers),
        "lot.html": as_utf8(lot_html(answer, lot_pictures_of(graded, layers))),
    }
    return write_files(folder, files, worked.job.read_from)
