"""`spoilbank demo [FOLDER]`: a job to try, and what comes of it."""

from pathlib import Path
from typing import Annotated

import typer

from terrain.cli.run import OutOption, fail, tell, told_plainly

FolderArgument = Annotated[
    Path, typer.Argument(metavar="FOLDER", help="Where the demo job is written.")
]


def demo(folder: FolderArgument = Path("spoilbank-demo"), out: OutOption = None) -> None:
    """Write a demo job, run it, and say which file to open."""
    with told_plainly():
        job = write_demo(folder)
        from terrain.cli.volumes import run_volumes

        written = run_volumes(job, out, "table")
        page = next(path for path in written if path.suffix == ".html")
        tell(f"\nThe job file is {job}\nOpen {page.absolute()}")


def write_demo(folder: Path) -> Path:
    """Copy the demo job into a folder; the path of its job file. Other files stay as they are."""
    from importlib.resources import files

    from terrain.export.write import write_files

    own = {
        item.name: item.read_bytes()
        for item in files("terrain.cli").joinpath("demo_job").iterdir()
        if item.is_file()
    }
    for name, content in own.items():
        path = folder / name
        if path.exists() and (not path.is_file() or path.read_bytes() != content):
            fail(f"{path}: is there already and is not the demo's; name another folder")
    write_files(folder, own)
    return folder / "job.toml"
