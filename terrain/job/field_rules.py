"""What is wrong between the keys of `[existing]` that say how field data is to be read."""

from collections.abc import Iterator
from itertools import pairwise

from terrain.job.kinds import shown
from terrain.job.places import KeyPath
from terrain.job.schema import Existing

FILTER_KEYS = {
    "cloth": ("cell", "threshold", "stiffness"),
    "opening": ("cell", "threshold", "widest", "slope"),
    "none": (),
}
"""Which settings of a ground filter each way of it looks at."""
SCANS = (".las", ".laz", ".xyz", ".ply")
FLOATING = (*SCANS, ".obj", ".glb", ".gltf")
"""Files that a ground filter looks at, and those that `existing.control` puts on the site."""

Found = Iterator[tuple[KeyPath, str]]


def field_rules(existing: Existing) -> Found:
    """Every key of control, ground filter and level lines that has no use or can't be."""
    yield from _control_rules(existing)
    yield from _filter_rules(existing)
    for name, line in ({} if existing.level is None else existing.level.lines).items():
        if any(one == other for one, other in pairwise(line)):
            path: KeyPath = ("existing", "level", "lines", name)
            yield path, "two points that follow one another are at one spot: leave one out"


def _control_rules(existing: Existing) -> Found:
    control, path = existing.control, ("existing", "control")
    if control is None:
        return
    names = [target.name for target in control.targets]
    for index, name in enumerate(names):
        if name in names[:index]:
            yield (*path, "targets", index, "name"), f"the target {shown(name)} is named twice"
    for index, name in enumerate(control.files):
        if name not in existing.shots:
            yield (*path, "files", index), f"{shown(name)} is not among existing.shots"
    if not control.files and not _any_of(FLOATING, existing):
        yield path, "has no use: none of existing.shots is a scan; if one is, name it in files"
    if existing.mesh is not None and existing.mesh.origin != (0.0, 0.0, 0.0):
        yield ("existing", "mesh", "origin"), "has no use with existing.control"


def _filter_rules(existing: Existing) -> Found:
    asked, path = existing.ground_filter, ("existing", "ground_filter")
    if asked is None:
        return
    if existing.shots and not _any_of(SCANS, existing):
        yield path, "has no use: none of existing.shots is a scan (.las, .laz, .xyz, .ply)"
    for key in sorted(asked.model_fields_set - {"way", *FILTER_KEYS[asked.way]}):
        ways = [way for way, keys in FILTER_KEYS.items() if key in keys]
        wanted = " or ".join(f'"{way}"' for way in ways)
        yield (*path, key), f'has no use with way = "{asked.way}", only with {wanted}'


def _any_of(kinds: tuple[str, ...], existing: Existing) -> bool:
    return any(name.casefold().endswith(kinds) for name in existing.shots)
