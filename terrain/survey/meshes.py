"""Scans as meshes: PLY, OBJ and binary glTF, turned upright and into the job's unit.

No mesh format but glTF says which axis is up or what its numbers are in, and not every writer of
glTF keeps to it: so the job states both, and neither is guessed.
"""

import io
import logging
import struct
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any, Literal

import numpy as np

from terrain.base.arrays import FloatArray, IntArray
from terrain.base.errors import Fault, SurveyError
from terrain.base.units import FOOT, METRE, US_SURVEY_FOOT, LengthUnit
from terrain.survey.files import true_content
from terrain.survey.merge import count
from terrain.survey.obj import read_obj
from terrain.survey.ply import check_ply
from terrain.survey.rows import LARGEST
from terrain.survey.scan_place import Floating, put_on_site
from terrain.survey.text import printed
from terrain.survey.triangles import Triangles, check_size, one_a_place

Up = Literal["y", "z"]
MeshUnit = Literal["m", "cm", "mm", "ft", "ftUS", "in"]
_METRES: dict[str, Fraction] = {
    "m": METRE.metres,
    "cm": Fraction(1, 100),
    "mm": Fraction(1, 1000),
    "ft": FOOT.metres,
    "ftUS": US_SURVEY_FOOT.metres,
    "in": FOOT.metres / 12,
}
_STARTS = {".ply": "a PLY mesh", ".glb": "a glTF mesh", ".obj": None}
# What a mesh reader raises over bytes that are not what they say.
_DAMAGED = (
    ValueError, LookupError, TypeError, AttributeError, ArithmeticError, AssertionError,
    RuntimeError, ImportError, EOFError, OSError, BufferError, struct.error,
)  # fmt: skip
CLOSED = 1e-9
"""A mesh whose faces up and down differ by less than this share in plan closes on itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeshAsRead:
    """What the job says of a mesh.

    Args:
        up: the axis that points up. With "z" the others are easting and northing; with "y", as in
            glTF, easting is x and northing is -z.
        unit: of its numbers.
        origin: easting, northing and elevation of its origin on the site, in the job's unit.
        floating: how it is put on the site, where its origin does not say so.
    """

    up: Up
    unit: MeshUnit
    origin: tuple[float, float, float] = (0.0, 0.0, 0.0)
    floating: Floating | None = None


def read_mesh(name: str, data: bytes, as_read: MeshAsRead, unit: LengthUnit) -> Triangles:
    """The triangles of a mesh on the site, in the job's unit; points at one place are one.

    Errors: `SurveyError` for a file that is damaged, empty, inside out, or no size that ground is.
    """
    points, corners = _load(name, data)
    _check_numbers(name, points, corners)
    points, corners, rows = _joined(points, corners)
    placed, said = placed_points(points, as_read, name, unit)
    said = (*_notes(name, as_read, len(corners)), *said)
    _check_right_side_out(name, placed, corners, as_read.up)
    return Triangles(
        name=name,
        kind=_extension(name).lstrip("."),
        points=placed,
        corners=corners,
        point_row=rows,
        face_row=np.arange(1, len(corners) + 1),
        notes=said,
    )


def placed_points(
    points: FloatArray, as_read: MeshAsRead, name: str, unit: LengthUnit
) -> tuple[FloatArray, tuple[str, ...]]:
    """Points (n, 3) upright on the site, in the job's unit, and what is to be said of their fit.

    Errors: `SurveyError` for targets that don't fit and for no size that ground is.
    """
    factor = float(_METRES[as_read.unit] / unit.metres)
    placed = _upright(points, as_read.up) * factor
    said: tuple[str, ...] = ()
    if as_read.floating is None:
        placed = placed + np.array(as_read.origin)
    else:
        targets = _upright(as_read.floating.targets(), as_read.up) * factor
        placed, said = put_on_site(placed, targets, as_read.floating, name, unit)
    check_size(name, placed, unit, f'the job says mesh = {{unit = "{as_read.unit}"}}')
    return placed, said


def holds_points_only(name: str, data: bytes) -> bool:
    """Whether a file is a PLY of points without faces.

    Errors: `SurveyError` for a PLY file that is damaged.
    """
    is_ply = _extension(name) == ".ply" and true_content(data[:16]) == _STARTS[".ply"]
    return is_ply and not check_ply(name, data)


def ply_points(name: str, data: bytes) -> FloatArray:
    """The points (n, 3) of a PLY file, in its own numbers.

    Errors: `SurveyError` for a file that is damaged.
    """
    points, _ = _load_binary(name, data, "ply")
    _check_places(name, points)
    return points


def _extension(name: str) -> str:
    return Path(name).suffix.casefold()


def _load(name: str, data: bytes) -> tuple[FloatArray, IntArray]:
    """Points (n, 3) and triangles (m, 3) as the file has them, a scene's parts put in place."""
    kind = _extension(name)
    what = true_content(data[:16])
    if what != _STARTS[kind]:
        told = f"this is {what}" if what else f"this is no {kind.lstrip('.').upper()} mesh"
        raise SurveyError(Fault(file=name, message=f"{told}, whatever its name says."))
    if kind == ".obj":
        return read_obj(name, data)
    if kind == ".ply" and not check_ply(name, data):
        raise SurveyError(Fault(file=name, message="holds points but no faces: no mesh."))
    return _load_binary(name, data, kind.lstrip("."))


def _load_binary(name: str, data: bytes, kind: str) -> tuple[FloatArray, IntArray]:
    # Loading the mesh reader takes a while, and most jobs have no mesh.
    import trimesh

    # Its own warnings would stand beside the one message that tells what is wrong.
    logging.getLogger("trimesh").addHandler(logging.NullHandler())
    try:
        # From memory and without a resolver: nothing the file points to is opened.
        scene: Any = trimesh.load_scene(
            io.BytesIO(data), file_type=kind, process=False, skip_materials=True
        )
        kinds = (trimesh.Trimesh, trimesh.PointCloud)
        parts = [part for part in scene.dump() if isinstance(part, kinds)]
        points = [np.asarray(part.vertices, dtype=np.float64).reshape(-1, 3) for part in parts]
        faces = [
            np.asarray(getattr(part, "faces", ()), dtype=np.int64).reshape(-1, 3) for part in parts
        ]
    except _DAMAGED as error:
        # Of its own words only those that are meant for a reader.
        words = printed(" ".join(str(error).split()), 120)
        said = f" ({words})" if words and isinstance(error, ValueError | RuntimeError) else ""
        message = f"is damaged, cut off or no {kind.upper()} mesh whole in one file{said}."
        raise SurveyError(Fault(file=name, message=f"{message} Export it again.")) from error
    before = np.cumsum([0, *(len(p) for p in points)])
    for own, part in zip(points, faces, strict=True):
        _check_corners(name, own, part)
    moved = [part + first for part, first in zip(faces, before[:-1], strict=True)]
    return (
        np.concatenate([np.zeros((0, 3)), *points]),
        np.concatenate([np.zeros((0, 3), dtype=np.int64), *moved]).astype(np.int32),
    )


def _check_numbers(name: str, points: FloatArray, corners: IntArray) -> None:
    if not len(corners):
        what = "points but no faces" if len(points) else "no mesh"
        raise SurveyError(Fault(file=name, message=f"holds {what}."))
    _check_corners(name, points, corners)
    _check_places(name, points)


def _check_places(name: str, points: FloatArray) -> None:
    good = (np.abs(points) <= LARGEST).all(axis=1)  # false for NaN
    if not good.all():
        first = int(np.flatnonzero(~good)[0])
        raise SurveyError(
            Fault(
                file=name,
                message=f"{count(int((~good).sum()), 'point')} without a place: the "
                f"first is number {first + 1}, at {', '.join(f'{v:g}' for v in points[first])}.",
            )
        )


def _check_corners(name: str, points: FloatArray, corners: IntArray) -> None:
    if len(corners) and not 0 <= corners.min() <= corners.max() < len(points):
        wrong = np.flatnonzero(((corners < 0) | (corners >= len(points))).any(axis=1))
        raise SurveyError(
            Fault(
                file=name,
                message=f"{count(len(wrong), 'face')} of the mesh with corners at points "
                f"that are not there: the first is face {wrong[0] + 1}: the file is damaged. "
                "Export it again.",
            )
        )


def _joined(points: FloatArray, corners: IntArray) -> tuple[FloatArray, IntArray, IntArray]:
    """The mesh with one point a place and no face of two corners, and each point's number."""
    first, place = one_a_place(points)
    corners = place[corners]
    three = (corners != np.roll(corners, 1, axis=1)).all(axis=1)
    return points[first], corners[three], first + 1


def _upright(points: FloatArray, up: Up) -> FloatArray:
    """Easting, northing, elevation from x, y, z."""
    if up == "z":
        return points
    return np.column_stack([points[:, 0], -points[:, 2], points[:, 1]])


def _check_right_side_out(name: str, points: FloatArray, corners: IntArray, up: Up) -> None:
    """Faces of ground turn left seen from above; a body that closes must hold what is inside it."""
    a, b, c = (points[corners[:, k]] - points.mean(axis=0) for k in range(3))
    doubled = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    gross, net = float(np.abs(doubled).sum()), float(doubled.sum())
    held = float((doubled * (a + b + c)[:, 2]).sum())
    closed = abs(net) <= CLOSED * gross
    if gross and ((net < 0 and not closed) or (closed and held < 0)):
        down = float(-doubled[doubled < 0].sum() / gross)
        raise SurveyError(
            Fault(
                file=name,
                message=f"its faces look down ({down:.0%} of their plan): the mesh is inside out, "
                f'or "{up}" is not its axis up. Turn its faces over and export it again.',
            )
        )


def _notes(name: str, as_read: MeshAsRead, faces: int) -> tuple[str, ...]:
    notes = [
        f"{name}: mesh of {count(faces, 'face')} taken in {as_read.unit} with {as_read.up} up, as "
        "the job says."
    ]
    if _extension(name) == ".glb" and (as_read.up, as_read.unit) != ("y", "m"):
        notes.append(
            f"{name}: glTF is by its standard in metres with y up; the job says otherwise."
        )
    return tuple(notes)
