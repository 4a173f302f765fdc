"""What must hold between keys of `[house]` and `[lot]`, each rule one function of faults."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Any, TypeAlias

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.job.kinds import shown
from terrain.job.lot_tables import House, Lot, Pad
from terrain.job.places import KeyPath
from terrain.surface.patches import height_on

Found: TypeAlias = Iterable[tuple[KeyPath, str]]

ONE_PLANE = 0.01
"""How far a corner of a pad may lie off the plane of all its corners, in length units."""


def lot_rules(tables: dict[str, Any]) -> Iterator[tuple[KeyPath, str]]:
    """Every broken rule of house and lot as a key path and what is wrong there.

    Args:
        tables: those tables of the job file that are valid.
    """
    lot, house = tables.get("lot"), tables.get("house")
    if house is not None:
        yield from _house_rules(house)
    if lot is None:
        return
    for kind, entries in (("pads", lot.pads), ("swales", lot.swales), ("keep", lot.keep)):
        yield from _twice(("lot", kind), [entry.name for entry in entries])
    for index, pad in enumerate(lot.pads):
        yield from _pad_rules(("lot", "pads", index), pad)
    for index, swale in enumerate(lot.swales):
        if len(swale.inverts) != len(swale.line):
            message = f"{len(swale.inverts)} inverts do not go with {len(swale.line)} points: one"
            yield ("lot", "swales", index, "inverts"), f"{message} for each point of line is wanted"
    yield from _unused_keys(lot)


def _house_rules(house: House) -> Found:
    if house.walls is None:
        return
    if house.corners is None:
        yield ("house", "walls"), "has no use without house.corners"
    elif len(house.walls) != len(house.corners):
        message = f"{len(house.walls)} wall names do not go with {len(house.corners)} walls"
        yield ("house", "walls"), f"{message}: wall i runs from corner i to the next"
    yield from _twice(("house", "walls"), house.walls, "")


def _twice(path: KeyPath, names: Sequence[str | None], key: str = "name") -> Found:
    for index, name in enumerate(names):
        if name is not None and name in names[:index]:
            place = (*path, index, key) if key else (*path, index)
            first = names.index(name) + 1
            yield place, f"{shown(name)} is already the name of number {first}"


def _pad_rules(path: KeyPath, pad: Pad) -> Found:
    if (pad.elevation is None) == (pad.elevations is None):
        message = "give one of elevation, elevations (one a corner)"
        yield (*path, "elevation"), message
    elif pad.elevations is not None and len(pad.elevations) != len(pad.corners):
        message = f"{len(pad.elevations)} elevations do not go with {len(pad.corners)} corners"
        yield (*path, "elevations"), message
    elif pad.elevations is not None:
        corners, upward = np.array(pad.corners), np.array(pad.elevations)
        off = upward - height_on(plane_of(corners, upward), corners)
        worst = int(np.argmax(np.abs(off)))
        if abs(off[worst]) > ONE_PLANE:
            message = (
                f"the elevations do not lie in one plane: corner {worst + 1} is {off[worst]:+.3f} "
                f"off the plane nearest to all, more than {ONE_PLANE:g}; correct it, or make two "
                "pads of it"
            )
            yield (*path, "elevations"), message


def plane_of(corners: FloatArray, upward: FloatArray) -> FloatArray:
    """The plane (5,), as in `Surface.plane`, nearest to corners (n, 2) at heights (n,)."""
    middle = corners.mean(axis=0)
    own = np.column_stack([np.ones(len(corners)), corners - middle])
    found, *_ = np.linalg.lstsq(own, upward - upward[0], rcond=None)
    return np.array([*middle, upward[0] + found[0], *found[1:]])


def _unused_keys(lot: Lot) -> Found:
    """Keys of a finished lot where there is none."""
    if lot.wall_grade is not None or any(w.wall_grade for w in lot.walls.values()):
        return
    for key in ("fall", "fall_distance", "cut_slope", "fill_slope", "pads", "swales", "keep"):
        if key in lot.model_fields_set:
            yield (
                ("lot", key),
                "has no use without lot.wall_grade",
            )
            return
