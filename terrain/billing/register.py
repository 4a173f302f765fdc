"""The register of issued statements: numbered, never changed, each bound to the one before.

An SQLite file in a folder beside the job, and the files that each statement rests on, kept by their
checksums. A statement is in the register or it is not: its row is written in one transaction, after
the files it rests on are kept. Files kept for a statement that then was not written do no harm.
"""

import hashlib
import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from pathlib import Path
from uuid import uuid4

from terrain.base.errors import Fault, OutputError, SpoilbankError
from terrain.billing.binding import FIRST, bound, canonical, hash_of, read_canonical
from terrain.billing.record import Statement

FILE, KEPT = "register.sqlite", "kept"
_TABLE = (
    """CREATE TABLE IF NOT EXISTS statements (
    number INTEGER PRIMARY KEY AUTOINCREMENT CHECK (number > 0),
    period INTEGER NOT NULL,
    corrects INTEGER REFERENCES statements (number),
    text TEXT NOT NULL,
    hash TEXT NOT NULL UNIQUE
)""",
    """CREATE TRIGGER IF NOT EXISTS never_changed BEFORE UPDATE ON statements
BEGIN SELECT RAISE(ABORT, 'an issued statement is never changed'); END""",
    """CREATE TRIGGER IF NOT EXISTS never_removed BEFORE DELETE ON statements
BEGIN SELECT RAISE(ABORT, 'an issued statement is never removed'); END""",
)
_HIGHEST = "SELECT seq FROM sqlite_sequence WHERE name = 'statements'"


class Register:
    """The register in a folder; the folder is made when the first statement is issued."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def statements(self) -> tuple[Statement, ...]:
        """All issued statements in order, held to their hashes and to one another.

        Raises:
            OutputError: the register can't be read, or a statement is not as it was issued.
        """
        if not (self.folder / FILE).exists():
            return ()
        with self._open() as opened:
            table = "SELECT 1 FROM sqlite_master WHERE name = 'statements'"
            if opened.execute(table).fetchone() is None:
                return ()  # the very first issue was stopped before anything was in it
            rows = opened.execute("SELECT number, text, hash FROM statements ORDER BY number")
            found = tuple(self._read(*row) for row in rows.fetchall())
            highest = opened.execute(_HIGHEST).fetchone()
        previous = FIRST
        for place, statement in enumerate(found, start=1):
            if statement.number != place or statement.previous_hash != previous:
                raise self._broken(f"statement {place} is missing or not bound to the one before")
            if hash_of(statement) != statement.hash:
                raise self._broken(f"statement {place} is not as it was issued")
            previous = statement.hash
        if highest != (len(found),):  # the highest number ever entered, which SQLite keeps itself
            up_to = "" if highest is None else f" up to {highest[0]}"
            raise self._broken(f"statements{up_to} were issued, {len(found)} of them stand here")
        return found

    def issue(self, draft: Statement, inputs: dict[str, bytes]) -> Statement:
        """Enter a statement, with the files it rests on by name; the statement as issued.

        The number it gets is the next; the draft must have been made for that number.

        Raises:
            OutputError: it can't be written, or another statement was issued meanwhile.
        """
        before = self.statements()
        number = len(before) + 1
        if draft.number != number:
            raise self._broken(f"statement {number} was issued meanwhile; make this one again")
        issued = bound(draft, before[-1].hash if before else FIRST)
        try:
            kept = self.folder / KEPT
            kept.mkdir(parents=True, exist_ok=True)
            for one in issued.inputs:
                _keep(kept / one.sha256, inputs[one.name])
            for folder in (kept, self.folder, self.folder.absolute().parent):
                _flush(folder)  # the row must not outlive a file that it names
        except OSError as error:
            raise self._broken(f"the files can't be kept ({error.strerror or error})") from error
        with self._open() as opened:
            opened.execute("BEGIN IMMEDIATE")
            for made in _TABLE:  # with the first statement or not at all
                opened.execute(made)
            (last,) = opened.execute("SELECT max(number) FROM statements").fetchone()
            if (last or 0) + 1 != number:
                opened.execute("ROLLBACK")
                raise self._broken(f"statement {number} was issued meanwhile; make this one again")
            opened.execute(
                "INSERT INTO statements VALUES (?, ?, ?, ?, ?)",
                (number, issued.period, issued.corrects, canonical(issued), issued.hash),
            )
            opened.execute("COMMIT")
        return issued

    def kept_file(self, sha256: str) -> Path:
        """Where the file of this checksum is kept."""
        return self.folder / KEPT / sha256

    def damaged_inputs(self, statement: Statement) -> tuple[str, ...]:
        """Names of the files a statement rests on that are not kept as they were."""
        return tuple(
            one.name
            for one in statement.inputs
            if _sha256(self.kept_file(one.sha256)) != one.sha256
        )

    def require_inputs(self, statement: Statement) -> None:
        """Hold the files a statement rests on to be kept as they were. Raises OutputError."""
        damaged = self.damaged_inputs(statement)
        if damaged:
            names = ", ".join(damaged)
            raise self._broken(f"of statement {statement.number} is not as it was kept: {names}")

    def _read(self, number: int, text: str, own_hash: str) -> Statement:
        try:
            return read_canonical(text, own_hash)
        except (ValueError, KeyError, TypeError, ArithmeticError):
            raise self._broken(f"statement {number} can't be read") from None

    @contextmanager
    def _open(self) -> Iterator[sqlite3.Connection]:
        try:
            with closing(
                sqlite3.connect(self.folder / FILE, isolation_level=None, timeout=10.0)
            ) as opened:
                opened.execute("PRAGMA synchronous = FULL")
                opened.execute("PRAGMA foreign_keys = ON")
                yield opened
        except sqlite3.Error as error:
            raise self._broken(f"can't be used ({error})") from error

    def _broken(self, message: str) -> OutputError:
        return OutputError(Fault(file=str(self.folder / FILE), message=message))


def _sha256(path: Path) -> str | None:
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return None


def _keep(path: Path, content: bytes) -> None:
    """Write a file that then stands under its checksum whole or not at all."""
    if _sha256(path) == path.name:
        return
    new = path.with_name(f".new-{uuid4().hex}")
    try:
        with new.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.replace(new, path)
    finally:
        new.unlink(missing_ok=True)


def _flush(folder: Path) -> None:
    """See that the names in a folder are on the disk; not every system can open one."""
    if os.name == "nt":
        return
    opened = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)


def disagreements(
    register: Register, again: Callable[[Statement], Statement]
) -> tuple[tuple[int, str], ...]:
    """Every statement worked out again from its kept files: number and what no longer agrees.

    Args:
        register: the register.
        again: makes the draft of an issued statement anew from the files that it rests on; what it
            raises is told as it is.
    """
    found = []
    for statement in register.statements():
        damaged = register.damaged_inputs(statement)
        if damaged:
            found += [(statement.number, f"{name} is not the file it was") for name in damaged]
            continue
        try:
            fresh = again(statement)
        except SpoilbankError as error:
            found.append((statement.number, f"can't be worked out again: {error}"))
            continue
        same = fresh.version == statement.version
        like = replace(
            fresh,
            previous_hash=statement.previous_hash,
            version=statement.version,
            notes=fresh.notes if same else statement.notes,  # a newer version may word them anew
        )
        if canonical(like) != canonical(statement):
            found.append((statement.number, _difference(like, statement)))
    return tuple(found)


def _difference(fresh: Statement, issued: Statement) -> str:
    if [line.item for line in fresh.lines] != [line.item for line in issued.lines]:
        return "it has other items now than when it was issued"
    for one, other in zip(fresh.lines, issued.lines, strict=True):
        if one != other:
            now, then = (f"{k.quantity} {k.unit} for {k.amount}" for k in (one, other))
            return f"{one.item}: {now} now, {then} when it was issued"
    if fresh.total != issued.total:
        return f"its total comes to {fresh.total} now, {issued.total} when it was issued"
    return "its figures agree, but not its parties, days, inputs or notes"
