"""Every error a user can cause: one root, faults as data, text made in one place."""

from dataclasses import dataclass

MOST_FAULTS_SHOWN = 20

MORE_FOLLOW = "more faults may follow: reading stopped here."
"""The message of a last fault where a reader gave up after so many."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing that is wrong, where it stands, and what to do about it.

    Args:
        message: what is wrong and what to do, in one or two plain sentences.
        file: the file as the user wrote it.
        line: line number in that file, from 1.
        column: column in that line, from 1; a caret is drawn under it when `text` is given.
        key: key path in the job file, for instance `dig.walls.back.side`.
        text: the line at fault.
    """

    message: str
    file: str | None = None
    line: int | None = None
    column: int | None = None
    key: str | None = None
    text: str | None = None

    def __str__(self) -> str:
        place = ":".join(str(p) for p in (self.file, self.line, self.column) if p is not None)
        head = ": ".join(p for p in (place, self.key) if p)
        body = f"{head}: {self.message}" if head else self.message
        if self.text is None:
            return body
        shown = self.text[:200].expandtabs(1)
        shown = "".join(c if c.isprintable() else "?" for c in shown)
        body += f"\n    {shown}"
        if self.column is not None and self.column <= len(shown) + 1:
            body += "\n    " + " " * (self.column - 1) + "^"
        return body


class SpoilbankError(Exception):
    """Root of all errors a user can cause; `faults` holds every one that was found.

    A last one of `MORE_FOLLOW` says that whoever looked stopped there: there may be others.
    """

    def __init__(self, *faults: Fault | str) -> None:
        self.faults = tuple(f if isinstance(f, Fault) else Fault(message=f) for f in faults)
        super().__init__(*self.faults)

    def __str__(self) -> str:
        found = [f for f in self.faults if f.message != MORE_FOLLOW]
        shown = [str(f) for f in found[:MOST_FAULTS_SHOWN]]
        left, stopped = len(found) - len(shown), len(found) < len(self.faults)
        if left:
            least = "at least " if stopped else ""
            shown.append(f"... and {least}{left} more of the same kind")
        elif stopped:
            shown.append("... and there may be more of the same kind")
        return "\n".join(shown)


class JobError(SpoilbankError):
    """The job file can't be read or says something that can't be."""


class SurveyError(SpoilbankError):
    """A survey file can't be read or can't be trusted as it stands."""


class SurfaceError(SpoilbankError):
    """The shots do not make one ground surface."""


class DesignError(SpoilbankError):
    """The foundation or the dig is impossible as drawn."""


class EdgeError(SpoilbankError):
    """The survey ends before the dig does."""


class OutputError(SpoilbankError):
    """An output can't be written."""
