"""What every command shares: errors to text and exit status, output choices, progress."""

import os
import sys
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn, TextIO, TypeAlias

import typer

if TYPE_CHECKING:
    from rich.status import Status

FAILED = 1
PROGRESS_AFTER = 1.0

JobArgument: TypeAlias = Annotated[Path, typer.Argument(metavar="JOB", help="The job file.")]
OutOption: TypeAlias = Annotated[
    Path | None,
    typer.Option(
        "--out",
        metavar="FOLDER",
        help="Where files are written: out/ beside the job file, nowhere with --json.",
    ),
]
JsonOption: TypeAlias = Annotated[
    bool, typer.Option("--json", help="Print the result as JSON, and nothing else.")
]


def say(text: str) -> None:
    """Write a line to standard error, in whatever letters the terminal has."""
    _write(text, sys.stderr)


def tell(text: str) -> None:
    """Write a line to standard output, in whatever letters the terminal has."""
    _write(text, sys.stdout)


def _write(text: str, stream: TextIO) -> None:
    encoding = stream.encoding or "ascii"
    print(text.encode(encoding, "backslashreplace").decode(encoding), file=stream)


def fail(text: str) -> NoReturn:
    """End with exit status 1 and a message on standard error."""
    say(text)
    raise typer.Exit(FAILED)


@contextmanager
def told_plainly() -> Iterator[None]:
    """Turn every error a user can cause into text on standard error and exit status 1."""
    from terrain.base.errors import SpoilbankError

    if not sys.warnoptions:
        warnings.simplefilter("ignore")
    try:
        yield
        sys.stdout.flush()
    except SpoilbankError as error:
        fail(str(error))
    except BrokenPipeError:
        # The reader of our output has gone; keep Python from flushing into the closed pipe.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise typer.Exit(FAILED) from None
    except OSError as error:
        named = f"{error.filename}: " if error.filename else ""
        fail(f"{named}{error.strerror or error}")
    except MemoryError:
        fail("There is not enough memory for this job; thin out its clouds of points")
    except KeyboardInterrupt:
        fail("Stopped; nothing was written")


def print_json(text: str) -> None:
    """Write JSON text to standard output as UTF-8, whatever the terminal's encoding."""
    sys.stdout.flush()
    sys.stdout.buffer.write(as_utf8(text))
    sys.stdout.buffer.flush()


def as_utf8(text: str) -> bytes:
    """The text as UTF-8; file names that are no text keep their bytes as escapes."""
    return text.encode("utf-8", "backslashreplace")


def out_folder(job: Path, out: Path | None) -> Path:
    """Where the files of a job go: as asked, or `out` beside the job file.

    Raises:
        OutputError: a file stands there; told now rather than after the work.
    """
    from terrain.base.errors import Fault, OutputError

    folder = job.parent / "out" if out is None else out
    if folder.exists() and not folder.is_dir():
        message = "is a file; name a folder to write the results to"
        raise OutputError(Fault(file=str(folder), message=message))
    return folder


class Progress:
    """Says on a terminal what is being done, once it has taken over a second."""

    def __init__(self) -> None:
        self.stage = "reading the job"
        self._status: Status | None = None

    def __call__(self, stage: str) -> None:
        """Note the stage now begun."""
        self.stage = stage
        if self._status is not None:
            self._status.update(f"{stage} ...")

    @contextmanager
    def shown(self) -> Iterator["Progress"]:
        """Show the stage on standard error while the work goes on, and then wipe it."""
        if not sys.stderr.isatty():
            yield self
            return
        from threading import Timer

        from rich.console import Console
        from rich.status import Status

        status = Status(f"{self.stage} ...", console=Console(stderr=True))
        self._status = status

        timer = Timer(PROGRESS_AFTER, status.start)
        timer.daemon = True
        timer.start()
        try:
            yield self
        finally:
            timer.cancel()
            timer.join()
            status.stop()
