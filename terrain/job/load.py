"""A job file to a `Job`: every table checked, every fault gathered, every path made whole."""

import re
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from terrain.base.errors import Fault, JobError, SpoilbankError, SurfaceError
from terrain.base.units import LENGTH_UNITS, LengthUnit
from terrain.job.faults import fault_at, nearest, unknown_key, validation_faults
from terrain.job.kinds import shown
from terrain.job.places import KeyPath, Place, nearest_place, places
from terrain.job.rules import rule_faults
from terrain.job.schema import (
    REQUIRED_TABLES,
    TABLES,
    AsDug,
    AsGraded,
    Billing,
    Dig,
    Existing,
    Foundation,
    Haul,
    House,
    Lot,
    Machine,
    Piles,
    Site,
    Soil,
    Spoil,
    Verify,
)
from terrain.job.toml_text import parsed, text_of

_KEY_STEP = re.compile(r'\[(\d+)\]|"([^"]*)"|([A-Za-z0-9_-]+)')


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A job as its file tells it. `file` is the path as given; `folder` is where it stands."""

    file: str
    folder: Path
    title: str
    site: Site
    existing: Existing
    soil: Soil
    foundation: Foundation
    dig: Dig
    haul: Haul
    places: dict[KeyPath, Place]
    house: House | None = None
    lot: Lot | None = None
    asdug: list[AsDug] = field(default_factory=list)
    verify: Verify = field(default_factory=Verify)
    asgraded: list[AsGraded] = field(default_factory=list)
    piles: list[Piles] = field(default_factory=list)
    machine: Machine = field(default_factory=Machine)
    spoil: Spoil = field(default_factory=Spoil)
    billing: Billing | None = None

    @property
    def unit(self) -> LengthUnit:
        """The unit of every length of the job."""
        return LENGTH_UNITS[self.site.length_unit]

    @property
    def read_from(self) -> tuple[Path, ...]:
        """The job file and every file that it names."""
        return (Path(self.file), *(self.path(name) for name in self.named_files))

    @property
    def named_files(self) -> tuple[str, ...]:
        """Every file that the job names, as it names them."""
        boundary = None if self.lot is None else self.lot.boundary
        named = (self.foundation.outline, boundary if isinstance(boundary, str) else None)
        drawn = [*self.existing.lines, *(name for name in named if name is not None)]
        existing = self.existing
        names = [*existing.shots, *existing.notes, *existing.positions, *drawn]
        if existing.phone is not None and isinstance(existing.phone.geoid, str):
            names.append(existing.phone.geoid)
        if existing.control is not None and existing.control.refine is not None:
            names.append(existing.control.refine.shots)
        if self.billing is not None:
            names += [*self.billing.rock, *filter(None, [self.billing.tickets, self.billing.bid])]
        later = [*self.asdug, *self.asgraded, *self.piles]
        names += [name for survey in later for name in survey.shots]
        return tuple(dict.fromkeys(names))

    def path(self, name: str) -> Path:
        """A file named in the job, found from the job file's folder."""
        return self.folder / name

    def fault(self, key: str, message: str) -> Fault:
        """A fault on a key of the job file, with the line it stands on."""
        return _placed(Fault(key=key, message=message), self.file, self.places)

    def located(self, error: SpoilbankError) -> SpoilbankError:
        """The same error, its faults on keys pointing at the lines of the job file.

        What is wrong with the ground as a whole stands under `existing`, which makes it.
        """
        home = "existing" if isinstance(error, SurfaceError) else None
        faults = (f if f.key or f.file else replace(f, key=home) for f in error.faults)
        return type(error)(*(_placed(f, self.file, self.places) for f in faults))


def _placed(fault: Fault, file: str, found: dict[KeyPath, Place]) -> Fault:
    if fault.key is None or fault.file is not None:
        return fault
    path: KeyPath = tuple(
        int(index) - 1 if index else quoted or bare
        for index, quoted, bare in _KEY_STEP.findall(fault.key)
    )
    place = nearest_place(found, path)
    return Fault(message=fault.message, file=file, key=fault.key, line=place[0] if place else None)


def load_job(path: Path | str) -> Job:
    """The job in a file. Raises JobError with every fault that was found in it."""
    name = str(path)
    return read_job(text_of(Path(path), name), name)


def read_job(text: str, name: str) -> Job:
    """The job in a TOML text; `name` is its file, from whose folder other files are found.

    Raises JobError with every fault that was found.
    """
    data = parsed(text, name)
    found = places(text)
    folder = Path(name).parent
    faults = list(_top_level_faults(data, name, found))
    tables: dict[str, Any] = {}
    for key, model in TABLES.items():
        if key not in data:
            continue
        try:
            tables[key] = TypeAdapter(model).validate_python(data[key])
        except ValidationError as error:
            faults += validation_faults(error, key, file=name, found=found)
    faults += (
        fault_at(path, message, file=name, found=found)
        for path, message in rule_faults(data, tables, folder)
    )
    if faults:
        raise JobError(*sorted(faults, key=lambda f: f.line or 0))
    return _job(data, tables, name=name, found=found)


def _job(
    data: dict[str, Any], tables: dict[str, Any], *, name: str, found: dict[KeyPath, Place]
) -> Job:
    return Job(
        file=name,
        folder=Path(name).parent,
        title=data.get("title", Path(name).stem),
        places=found,
        **{"haul": Haul(), **tables},
    )


def _top_level_faults(data: dict[str, Any], name: str, found: dict[KeyPath, Place]) -> list[Fault]:
    known = ["title", *TABLES]
    faults = [
        fault_at((key,), _unknown_top(key, data[key], known), file=name, found=found)
        for key in data
        if key not in known
    ]
    title = data.get("title", "")
    if not isinstance(title, str):
        message = f"text in quotes is wanted, not {shown(title)}"
        faults.append(fault_at(("title",), message, file=name, found=found))
    faults += (
        fault_at((key,), f"the table [{key}] is required", file=name, found=found)
        for key in REQUIRED_TABLES
        if key not in data
    )
    return faults


def _unknown_top(key: str, value: object, known: list[str]) -> str:
    if not isinstance(value, dict):
        return unknown_key(key, known)
    close = nearest(key, known)
    if close is not None:
        return f"unknown table; did you mean [{close}]?"
    return "unknown table; the tables known here are " + ", ".join(f"[{k}]" for k in TABLES)
