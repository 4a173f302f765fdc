"""`spoilbank volumes JOB`: earth out by wall, in bank, loose and compacted measure."""

from collections.abc import Callable
from functools import partial
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
    from terrain.job.answer import Volumes
    from terrain.job.volumes import Worked


def volumes(job: JobArgument, out: OutOption = None, json: JsonOption = False) -> None:
    """Earth out by wall, in bank, loose and compacted measure."""
    with told_plainly():
        run_volumes(job, out, "json" if json else "table")


def run_volumes(job: Path, out: Path | None, shown_as: str) -> tuple[Path, ...]:
    """Compute, write and print the volumes of a job; the paths of the files written."""
    from terrain.job.load import load_job
    from terrain.job.volumes import told, work_out

    asked = load_job(job)
    folder = out_folder(job, out) if shown_as != "json" or out is not None else None
    written: tuple[Path, ...] = ()
    lacking = None
    with Progress().shown() as progress:
        worked = work_out(asked, progress=progress)
        answer = told(worked)
        if folder is not None:
            written, lacking = write_answer(worked, answer, folder, progress)
    if shown_as == "json":
        from terrain.export.ledger_json import ledger_json

        print_json(ledger_json(answer))
        return written
    from rich.console import Console

    from terrain.report.table import show_volumes

    show_volumes(answer, Console(highlight=False))
    tell(f"\nWritten to {folder}: " + ", ".join(path.name for path in written))
    if lacking is not None:
        tell(f"No plan.geojson: {lacking}.")
        if written[0].with_name("plan.geojson").exists():
            tell("The plan.geojson that stands there is from before; don't use it.")
    return written


def write_answer(
    worked: "Worked", answer: "Volumes", folder: Path, progress: Callable[[str], None]
) -> tuple[tuple[Path, ...], str | None]:
    """Write ledger, page, solid and layers, all or none.

    Returns their paths, and why there is no plan.geojson where there is none.
    """
    from terrain.export.layers_gpkg import write_layers_gpkg
    from terrain.export.ledger_csv import ledger_csv
    from terrain.export.ledger_json import ledger_json
    from terrain.export.plan_dxf import plan_dxf
    from terrain.export.plan_geojson import no_geojson_because, plan_geojson
    from terrain.export.solid_glb import solid_glb
    from terrain.export.solid_ply import solid_ply
    from terrain.export.surfaces_xml import write_surfaces_xml
    from terrain.export.write import Content, write_files
    from terrain.job.layers import layers_of
    from terrain.job.pictures import pictures_of
    from terrain.report.page import report_html

    progress("drawing")
    layers = layers_of(worked, answer)
    lacking = no_geojson_because(layers)
    files: dict[str, Content] = {
        "report.html": as_utf8(report_html(answer, pictures_of(worked))),
        "ledger.csv": as_utf8(ledger_csv(answer)),
        "ledger.json": as_utf8(ledger_json(answer)),
        "dig.glb": solid_glb(layers),
        "dig.ply": solid_ply(layers),
        "layers.gpkg": partial(write_layers_gpkg, layers),
        "surfaces.xml": partial(write_surfaces_xml, layers),
        "plan.dxf": plan_dxf(layers),
    }
    if lacking is None:
        files["plan.geojson"] = as_utf8(plan_geojson(layers))
    progress("writing")
    return write_files(folder, files, worked.job.read_from), lacking
