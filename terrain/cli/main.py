"""The command `spoilbank`: one file a command; heavy imports only inside the commands."""

import sys

import typer

from terrain.cli.batch import batch
from terrain.cli.bid import bid
from terrain.cli.check import check
from terrain.cli.demo import demo
from terrain.cli.grade import grade
from terrain.cli.plan import plan
from terrain.cli.stake import stake
from terrain.cli.statement import statement
from terrain.cli.verify import verify
from terrain.cli.volumes import volumes

app = typer.Typer(
    name="spoilbank",
    help="Earth volumes by wall for house basements, from survey shots.",
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
for command in (demo, check, volumes, grade, plan, stake, batch, verify, bid, statement):
    app.command()(command)


def main() -> None:
    """Run the command line; the exit status is 0 done, 1 can't be computed, 2 wrong use."""
    try:
        app(prog_name="spoilbank")
    except KeyboardInterrupt:
        print("Stopped; nothing was written", file=sys.stderr)
        sys.exit(1)


if __name__ == "__main__":
    main()
