"""`spoilbank demo [FOLDER]`: a job to try, and what comes of it."""

from pathlib import Path
from typing import Annotated

import typer

from terrain.cli.run import fail, told_plainly

FolderArgument = Annotated[
    Path, typer.Argument(metavar="FOLDER", help="Where the demo job is written.")
]


def demo(folder: FolderArgument = Path("spoilbank-demo")) -> None:
    """Write a demo job, run it, and say which file to open."""
    with told_plainly():
        job = write_demo(folder)
        from terrain.cli.volumes import run_volumes

        written = run_volumes(job, None, "table")
        page = next(path for path in written if path.suffix == ".html")
        typer.echo(f"\nThe job file is {job}\nOpen {page.absolute()}")


def write_demo(folder: Path) -> Path:
    """Copy the demo job into a folder; the path of its job file. Other files stay as they are."""
    from importlib.resources import files

    from terrain.export.write import write_files

    if folder.is_dir() and (folder / "job.toml").exists():
        own = {
            item.name: item.read_bytes()
            for item in files("terrain.cli").joinpath("demo_job").iterdir()
            if item.is_file()
        }
        changed = [n for n, raw in own.items() if _differs(folder / n, raw)]
        if changed:
            fail(
                f"{folder / changed[0]}: is there already and is not the demo's; "
                "name another folder"
            )
    contents = {
        item.name: item.read_bytes()
        for item in files("terrain.cli").joinpath("demo_job").iterdir()
        if item.is_file()
    }
    write_files(folder, contents)
    return folder / "job.toml"


def _differs(path: Path, raw: bytes) -> bool:
    return path.exists() and path.read_bytes() != raw
