"""The table as text of 100 columns and as Markdown."""

from collections.abc import Sequence
from dataclasses import dataclass

from scripts.benchmarks.case import Measured
from scripts.benchmarks.rows import Growing

TEXT = "  {:<33}{:>10}{:>10}{:>9}{:>6}{:>9}{:>10}{:>9}"
MARKDOWN = "| {} | {} | {} | {} | {} | {} | {} | {} | {} |"
HEADS = ("seconds", "fastest", "cores s", "runs", "ratio", "error", "peak MB")
GROWTH_TEXT = "  {:<18}{:>21}{:>12}{:>12}{:>12}{:>12}{:>10}"
GROWTH_HEADS = ("job", "size", "seconds", "fastest", "cores s", "us each", "peak MB")


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One engine of a row: its figures, or what is missing for them."""

    engine: str
    measured: Measured | None
    missing: str | None = None


def cells(line: Line, ours: Measured | None) -> tuple[str, ...]:
    """The figures of an engine under HEADS, as text; the ratio is to ours."""
    if line.measured is None:
        return (f"{line.missing} is not installed", *[""] * 6)
    of = line.measured
    return (
        f"{of.seconds:.3f}",
        f"{of.fastest:.3f}",
        f"{of.busy:.2f}",
        str(of.runs),
        "" if ours is None else f"{of.seconds / ours.seconds:.1f}",
        "" if of.error is None else f"{of.error:.1e}",
        f"{of.peak:,.0f}",
    )


def text_head() -> str:
    """The heads of the columns."""
    return TEXT.format("", *HEADS)


def text_line(line: Line, ours: Measured | None) -> str:
    """One line of the text."""
    if line.measured is None:
        return f"  {line.engine:<33}{line.missing} is not installed"
    said = f"\n    {line.measured.note}" if line.measured.note else ""
    return TEXT.format(line.engine, *cells(line, ours)) + said


def markdown_table(rows: Sequence[tuple[str, Sequence[Line]]]) -> str:
    """All rows, each with its job's title and its engines, ours first."""
    lines = [MARKDOWN.format("job", "engine", *HEADS), "|---|---|" + "---:|" * len(HEADS)]
    for title, engines in rows:
        ours = engines[0].measured
        for k, line in enumerate(engines):
            shown = cells(line, ours if k else None)
            said = f" ({line.measured.note})" if line.measured and line.measured.note else ""
            lines.append(MARKDOWN.format("" if k else title, line.engine + said, *shown))
    return "\n".join(lines)


def growth_cells(growing: Growing, size: int, measured: Measured) -> tuple[str, ...]:
    """The figures under GROWTH_HEADS as text."""
    each = measured.busy / size * 1e6
    time = (f"{measured.seconds:.3f}", f"{measured.fastest:.3f}", f"{measured.busy:.3f}")
    return (growing.job, f"{size:,} {growing.of}", *time, f"{each:.3f}", f"{measured.peak:,.0f}")


def growth_text(shown: Sequence[str]) -> str:
    """One line of the text."""
    return GROWTH_TEXT.format(*shown)


def growth_markdown(rows: Sequence[Sequence[str]]) -> str:
    """How time and memory grow, as Markdown."""
    lines = ["| " + " | ".join(GROWTH_HEADS) + " |", "|---|" + "---:|" * (len(GROWTH_HEADS) - 1)]
    lines += ["| " + " | ".join(row) + " |" for row in rows]
    return "\n".join(lines)
