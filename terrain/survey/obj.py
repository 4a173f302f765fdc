"""The triangles of an OBJ file; each line that is none of the format is a fault of its own."""

from itertools import chain

import numpy as np

from terrain.base.arrays import FloatArray, IntArray
from terrain.base.errors import MORE_FOLLOW, Fault, SurveyError
from terrain.survey.rows import LARGEST
from terrain.survey.text import as_utf8, printed

# Statements that say nothing of where ground is: texture and normals, groups, materials, display.
_PASSED_OVER = {
    "vt", "vn", "vp", "g", "o", "s", "mg", "usemtl", "mtllib", "usemap", "maplib", "bevel",
    "c_interp", "d_interp", "lod", "shadow_obj", "trace_obj", "l", "p",
}  # fmt: skip
MOST_FAULTS = 1000


def read_obj(name: str, data: bytes) -> tuple[FloatArray, IntArray]:
    """Points (n, 3) as written and triangles (m, 3); faces of more corners are cut into fans.

    Materials are never looked for.

    Errors: `SurveyError` with a fault for every line that can't be understood.
    """
    lines = as_utf8(name, data).decode("utf-8").splitlines()
    points: list[list[float]] = []
    fans: list[tuple[int, list[int]]] = []
    faults: list[Fault] = []
    for number, line in enumerate(_whole(lines), 1):
        word, *values = line.split() or ["#"]
        if word.startswith("#") or word in _PASSED_OVER:
            continue
        try:
            if word == "v":
                points.append(_point(values))
            elif word == "f":
                fans.append((number, _corners(values, len(points))))
            else:
                raise ValueError(f'"{printed(word)}" is no statement of an OBJ mesh.')
        except ValueError as error:
            faults.append(Fault(file=name, line=number, message=str(error)))
            if len(faults) >= MOST_FAULTS:
                break
    faults += [
        Fault(file=name, line=line, message=f"a face names point {max(c) + 1} of {len(points)}.")
        for line, c in fans
        if max(c) >= len(points)
    ]
    if faults:
        told = sorted(faults, key=lambda f: f.line or 0)[:MOST_FAULTS]
        if len(faults) >= MOST_FAULTS:
            told.append(Fault(file=name, message=MORE_FOLLOW))
        raise SurveyError(*told)
    cut = chain.from_iterable(
        zip([c[0]] * (len(c) - 2), c[1:-1], c[2:], strict=True) for _, c in fans
    )
    return (
        np.array(points, dtype=np.float64).reshape(-1, 3),
        np.array(list(cut), dtype=np.int32).reshape(-1, 3),
    )


def _whole(lines: list[str]) -> list[str]:
    """The lines with those that a backslash joins put in the place of the first."""
    if not any(line.endswith("\\") for line in lines):
        return lines
    joined: list[str] = []
    open_at = -1
    for line in lines:
        goes_on = line.endswith("\\")
        text = line.removesuffix("\\")
        joined.append("" if open_at >= 0 else text)
        if open_at >= 0:
            joined[open_at] += " " + text
        open_at = (open_at if open_at >= 0 else len(joined) - 1) if goes_on else -1
    return joined


def _point(values: list[str]) -> list[float]:
    """The three coordinates; a weight or colours may follow them."""
    if not 3 <= len(values) <= 8:
        raise ValueError(f"a point has {len(values)} numbers where three are due.")
    found = []
    for word in values[:3]:
        try:
            value = float(word)
        except ValueError:
            raise ValueError(f'the coordinate "{printed(word)}" is not a number.') from None
        if not abs(value) <= LARGEST:
            raise ValueError(f'the coordinate "{printed(word)}" is not a number that can be.')
        found.append(value)
    return found


def _corners(values: list[str], so_far: int) -> list[int]:
    """Indices from 0 of a face's points; those below nought count back from the last point."""
    if len(values) < 3:
        raise ValueError(f"a face has {len(values)} corners where three or more are due.")
    found = []
    for word in values:
        try:
            index = int(word.partition("/")[0])
        except ValueError:
            raise ValueError(f'the corner "{printed(word)}" of a face is no point.') from None
        position = index - 1 if index > 0 else so_far + index
        if index == 0 or position < 0:
            raise ValueError(f"a face names point {index}, which is not there.")
        found.append(position)
    return found
