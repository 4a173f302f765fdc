"""What must hold between keys of a job file, each rule one function that yields its faults.

Rules about names and files look at the data as read, so that they speak even where another key
of the same table is wrong; rules about meaning take tables that are valid.
"""

import os
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, TypeAlias

from terrain.base.errors import JobError
from terrain.base.units import LENGTH_UNITS
from terrain.job.billing_rules import billing_rules
from terrain.job.faults import nearest
from terrain.job.field_rules import field_rules
from terrain.job.haul_rules import haul_rules
from terrain.job.kinds import shown
from terrain.job.later_rules import later_rules
from terrain.job.lot_rules import lot_rules
from terrain.job.places import KeyPath
from terrain.job.ready import ready_rules
from terrain.job.schema import Dig, Existing, Foundation, Site, Soil
from terrain.ledger.soil import soil_factors
from terrain.survey.columns import CANONICAL, NEEDED

Found: TypeAlias = Iterable[tuple[KeyPath, str]]

FORMS = ("corners", "outline", "first_corner", "stakes")
_FORM_KEYS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "corners": ((), ()),
    "outline": ((), ("coordinates",)),
    "first_corner": (("bearing", "lengths"), ("turns", "closure_tolerance")),
    "stakes": (("lengths",), ("turns", "closure_tolerance", "stake_tolerance")),
}
"""Keys each form of a foundation needs, and keys it may have."""

_EVERY_FORM_KEY = tuple(
    dict.fromkeys(key for needed, may in _FORM_KEYS.values() for key in needed + may)
)


def rule_faults(
    data: dict[str, Any], tables: dict[str, Any], folder: Path
) -> Iterator[tuple[KeyPath, str]]:
    """Every broken rule as a key path and what is wrong there."""
    foundation, dig = tables.get("foundation"), tables.get("dig")
    yield from _file_rules(data, folder)
    yield from _name_rules(data)
    yield from _wall_exception_rules(data)
    if "site" in tables:
        yield from _crs_rules(tables["site"])
    if "existing" in tables:
        yield from _existing_rules(tables["existing"])
    if "soil" in tables:
        yield from _soil_rules(tables["soil"])
    if foundation is not None:
        yield from _form_rules(foundation)
        yield from _wall_rules(foundation)
        yield from _footing_rules(foundation)
    if foundation is not None and dig is not None:
        yield from _level_rules(foundation, dig)
    yield from lot_rules(tables)
    yield from later_rules(tables)
    yield from haul_rules(tables)
    yield from billing_rules(tables)


def _table(data: Any, *keys: str) -> dict[str, Any]:
    for key in keys:
        data = data.get(key) if isinstance(data, dict) else None
    return data if isinstance(data, dict) else {}


def _texts(value: Any) -> list[str]:
    return [v for v in value if isinstance(v, str)] if isinstance(value, list) else []


def _file_rules(data: dict[str, Any], folder: Path) -> Found:
    existing = _table(data, "existing")
    for key in ("shots", "notes", "positions", "lines"):
        names = existing.get(key)
        for index, name in enumerate(names if isinstance(names, list) else []):
            if isinstance(name, str):
                yield from _missing(("existing", key, index), name, folder)
    stable = _table(existing, "control", "refine").get("shots")
    if isinstance(stable, str):
        yield from _missing(("existing", "control", "refine", "shots"), stable, folder)
    outline = _table(data, "foundation").get("outline")
    if isinstance(outline, str):
        yield from _missing(("foundation", "outline"), outline, folder)
    boundary = _table(data, "lot").get("boundary")
    if isinstance(boundary, str):
        yield from _missing(("lot", "boundary"), boundary, folder)


def _missing(path: KeyPath, name: str, folder: Path) -> Found:
    if "\0" in name or not name.strip():
        return
    try:
        target = folder / name
        if target.is_dir():
            yield path, f"{shown(name)} is a folder, not a file"
        elif not target.exists():
            yield path, f"there is no file {shown(name)} in the folder of the job file"
        elif not target.is_file():
            yield path, f"{shown(name)} is not a file but a pipe or a device"
        elif not os.access(target, os.R_OK):
            yield path, f"the file {shown(name)} may not be read"
    except OSError as error:
        yield path, f"the file {shown(name)} can't be read: {error.strerror}"


def _name_rules(data: dict[str, Any]) -> Found:
    first: dict[str, str] = {}
    dig = _table(data, "dig")
    for kind in ("pits", "ramps", "trenches"):
        entries = dig.get(kind)
        for index, entry in enumerate(entries if isinstance(entries, list) else []):
            name = _table(entry).get("name")
            if not isinstance(name, str):
                continue
            key = f"dig.{kind}[{index + 1}]"
            if name in first:
                message = f"{shown(name)} is already the name of {first[name]}"
                yield ("dig", kind, index, "name"), message
            first.setdefault(name, key)
    walls = _texts(_table(data, "foundation").get("walls"))
    for index, wall in enumerate(walls):
        if wall in walls[:index]:
            yield ("foundation", "walls", index), f"{shown(wall)} names two walls"
    shots = _texts(_table(data, "existing").get("shots"))
    for index, name in enumerate(shots):
        if name in shots[:index]:
            yield ("existing", "shots", index), f"{shown(name)} is listed twice"


def _wall_exception_rules(data: dict[str, Any]) -> Found:
    walls = _texts(_table(data, "foundation").get("walls"))
    if not walls:
        return
    for name in _table(data, "dig", "walls"):
        yield from ((("dig", "walls", name), m) for m in unknown_wall(name, walls))
    walls += _texts(_table(data, "house").get("walls"))
    for name in _table(data, "lot", "walls"):
        yield from ((("lot", "walls", name), m) for m in unknown_wall(name, walls))


def unknown_wall(name: str, walls: list[str]) -> Iterator[str]:
    """What to say of a wall name that the foundation does not have; nothing if it does."""
    if name in walls:
        return
    close = nearest(name, walls)
    hint = f"did you mean {shown(close)}?" if close else "the walls are " + ", ".join(walls)
    yield f"the foundation has no wall {shown(name)}; {hint}"


def _crs_rules(site: Site) -> Found:
    if site.crs is None:
        return
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    path: KeyPath = ("site", "crs")
    try:
        crs = CRS.from_user_input(site.crs)
    except CRSError:
        yield path, f"{shown(site.crs)} is not a coordinate reference system that PROJ knows"
        return
    if not crs.is_projected:
        yield path, f"{shown(site.crs)} ({crs.name}) is not projected: name one in feet or metres"
        return
    metres = float(LENGTH_UNITS[site.length_unit].metres)
    for axis in crs.axis_info:
        if abs(axis.unit_conversion_factor - metres) > 1e-9 * metres:
            unit = _unit_name(axis.unit_conversion_factor) or axis.unit_name
            message = f"{shown(site.crs)} ({crs.name}) is in {unit} along its {axis.name.lower()}"
            yield path, f"{message}, but length_unit is {shown(site.length_unit)}"
            return


def _unit_name(metres: float) -> str | None:
    return next(
        (shown(n) for n, u in LENGTH_UNITS.items() if abs(float(u.metres) - metres) < 1e-9), None
    )


def _existing_rules(existing: Existing) -> Found:
    yield from field_rules(existing)
    if not existing.shots and not existing.notes and not existing.positions:
        yield ("existing", "shots"), "names no file: give shots, notes or positions"
    for key, files in (("level", "notes"), ("phone", "positions")):
        if getattr(existing, key) is not None and not getattr(existing, files):
            yield ("existing", key), f"has no use without existing.{files}"
    if existing.mark_tolerance is not None and not existing.marks:
        yield ("existing", "mark_tolerance"), "has no use without existing.marks"
    if existing.coordinates is not None and not existing.lines:
        yield ("existing", "coordinates"), "has no use without existing.lines"
    for one, other in (
        ("correlated_accuracy", "correlation_range"),
        ("correlation_range", "correlated_accuracy"),
    ):
        if getattr(existing, one) is not None and getattr(existing, other) is None:
            yield ("existing", one), f"has no use without existing.{other}"
    if existing.columns is not None:
        yield from _column_rules(existing.columns)
    yield from ready_rules(existing)


def _column_rules(columns: list[str]) -> Found:
    path: KeyPath = ("existing", "columns")
    names = [name.strip().casefold() for name in columns]
    for index, name in enumerate(names):
        if name not in CANONICAL:
            known = ", ".join(CANONICAL)
            yield (
                (*path, index),
                f"{shown(columns[index])} is not a column; the columns are {known}",
            )
        elif name != "skip" and name in names[:index]:
            yield (*path, index), f"the column {shown(name)} is named twice"
    missing = [name for name in NEEDED if name not in names]
    if missing and set(names) <= set(CANONICAL):
        yield path, "not named: " + ", ".join(missing)


def _soil_rules(soil: Soil) -> Found:
    try:
        soil_factors(soil.material, soil.swell, soil.shrink)
    except JobError as error:
        for fault in error.faults:
            yield tuple((fault.key or "soil").split(".")), fault.message


def _form_rules(foundation: Foundation) -> Found:
    given = [form for form in FORMS if getattr(foundation, form) is not None]
    if not given:
        yield ("foundation",), "give one of " + ", ".join(FORMS) + ": the outside faces"
        return
    if len(given) > 1:
        yield ("foundation", given[1]), f"give one form only; {given[0]} is given too"
        return
    needed, allowed = _FORM_KEYS[given[0]]
    for key in needed:
        if getattr(foundation, key) is None:
            yield ("foundation", key), f"this key is required with {given[0]}"
    for key in _EVERY_FORM_KEY:
        if getattr(foundation, key) is not None and key not in needed + allowed:
            yield ("foundation", key), f"has no use with {given[0]}"
    sides, turns = foundation.lengths, foundation.turns
    if sides and turns is not None and len(turns) not in (len(sides) - 1, len(sides)):
        message = f"{len(turns)} turns do not go with {len(sides)} lengths: one turn between"
        yield ("foundation", "turns"), f"{message} each wall and the next is wanted"
    elif sides and turns is None and len(sides) != 4:
        yield ("foundation", "turns"), f"this key is required with {len(sides)} lengths"


def _wall_rules(foundation: Foundation) -> Found:
    walls = foundation.walls
    if walls is None:
        yield ("foundation", "walls"), "this key is required: a name for each wall"
        return
    drawn = foundation.corners or foundation.lengths
    if drawn is not None and len(walls) != len(drawn):
        message = f"{len(walls)} wall names do not go with {len(drawn)} walls"
        yield ("foundation", "walls"), f"{message}: wall i runs from corner i to the next"


def _footing_rules(foundation: Foundation) -> Found:
    footing, thickness = foundation.footing, foundation.wall_thickness
    path: KeyPath = ("foundation", "footing")
    if footing is None:
        return
    if footing.projection is None and thickness is None:
        yield (*path, "projection"), "this key is required where wall_thickness is not given"
    elif footing.projection is None and thickness is not None and thickness > footing.width:
        yield (*path, "width"), f"the footing is narrower than the wall ({thickness:g})"
    elif footing.projection is not None and footing.projection >= footing.width:
        message = f"{footing.projection:g} is not less than the footing's width"
        yield (*path, "projection"), f"{message} ({footing.width:g}): no wall would stand on it"


def _level_rules(foundation: Foundation, dig: Dig) -> Found:
    if dig.floor is None and (foundation.top is None or foundation.wall_height is None):
        yield ("dig", "floor"), "give it here, or give foundation.top and foundation.wall_height"
